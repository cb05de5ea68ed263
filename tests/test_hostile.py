"""Packages and contributions of strangers, who put links, pipes and devices where gapbook reads and writes.

Each command is refused or does its work: no file outside is changed or read, nothing is waited for, memory stays small, and
no traceback is shown.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NamedTuple

import pytest

from contributed import even_bed, package_in, sent, state
from gapbook.commands import app
from gapbook.errors import GapbookError
from gapbook.tables.derived import derive
from gapbook.tables.locking import locked
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package, inside

pytestmark = pytest.mark.skipif(os.name == "nt", reason="makes links and special files as POSIX has them")
ROOT = Path(__file__).resolve().parents[1]
SECONDS = 20
"""After which a command is taken to hang; the machine may be busy."""
LARGEST_MEMORY = 500.0
"""MB that a command may have before it refuses something."""
SECRET = b"what is kept elsewhere\n"
EMPTY_JOURNAL = '{"format":1,"tables":[]}'


class Run(NamedTuple):
    """How a command ended (negative: it was stopped), what it printed, and the most memory it had [MB]."""

    status: int
    out: str
    error: str
    memory: float = 0.0


class Hangs(BaseException):
    """A command waits for what never comes; no error that a command may handle."""


def gapbook(*arguments: object) -> Run:
    """A command in this process, which is stopped if it waits for what never comes."""

    def stop(*_: object) -> None:
        raise Hangs(arguments)

    out, error = io.StringIO(), io.StringIO()
    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(SECONDS)
    try:
        with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(error):
            patch.setattr(sys, "argv", ["gapbook", *map(str, arguments)])
            status = app._status()
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    return Run(status, out.getvalue(), error.getvalue())


def gapbook_alone(*arguments: object, cwd: Path = ROOT) -> Run:
    """A command in a process of its own, as a user runs it."""
    env = {name: value for name, value in os.environ.items() if name not in ("GAPBOOK_PACKAGE", "COLUMNS")}
    env |= {"PYTHONPATH": str(ROOT / "derive"), "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "gapbook", *map(str, arguments)]
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as error:
        process = subprocess.Popen(command, cwd=cwd, env=env, stdout=out, stderr=error)
        stop = threading.Timer(SECONDS, process.kill)
        stop.start()
        _, status, used = os.wait4(process.pid, 0)
        stop.cancel()
        process.returncode = os.waitstatus_to_exitcode(status)
        for stream in (out, error):
            stream.seek(0)
        memory = used.ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
        return Run(process.returncode, out.read(), error.read(), memory)


def refused(run: Run, *words: str) -> None:
    """It ended as bad input does, without much memory, in words that name what was found."""
    assert run.status == 2, run
    assert run.memory < LARGEST_MEMORY, run
    assert "Traceback" not in run.error
    assert all(word in run.error for word in words), run.error


@pytest.fixture(scope="module")
def whole(tmp_path_factory) -> Path:
    return package_in(tmp_path_factory.mktemp("whole") / "package").root


@pytest.fixture
def package(tmp_path, whole) -> Package:
    """A derived package, to be spoilt."""
    return open_package(shutil.copytree(whole, tmp_path / "package"))


@pytest.fixture
def victim(tmp_path) -> Iterator[Path]:
    """A file of the user's outside the package, which must stay as it is."""
    path = tmp_path / "victim"
    path.write_bytes(SECRET)
    yield path
    assert path.read_bytes() == SECRET
    assert not path.is_symlink()


def journal(package: Package, text: str = EMPTY_JOURNAL) -> Path:
    folder = package.root / ".gapbook"
    folder.mkdir(exist_ok=True)
    (folder / "journal.json").write_text(text, encoding="utf-8")
    return folder


# What is written in .gapbook

LINKS: dict[str, Callable[[Path, Path], None]] = {
    "a link": lambda path, victim: path.symlink_to(victim),
    "another name of the file": lambda path, victim: path.hardlink_to(victim),
}


@pytest.mark.parametrize("name", ["holder.json", "lock", "journal.json.new"])
@pytest.mark.parametrize("kind", LINKS)
@pytest.mark.parametrize("command", [["ask", "measured"], ["derive"]], ids=" ".join)
def test_nothing_in_the_locks_folder_leads_elsewhere(package, victim, name, kind, command):
    LINKS[kind](journal(package) / name, victim)
    run = gapbook(*command, "--package", package.root)
    if name == "lock" and kind == "a link":
        refused(run, ".gapbook/lock", "link")
    else:
        assert run.status == 0, run
        assert not (package.root / ".gapbook").exists()


@pytest.mark.parametrize("text", [None, EMPTY_JOURNAL], ids=["a file", "a journal"])
def test_a_journal_that_is_a_link_is_not_read(package, victim, text):
    if text is not None:
        victim = victim.with_name("journal elsewhere")
        victim.write_text(text, encoding="utf-8")
    folder = journal(package)
    (folder / "journal.json").unlink()
    (folder / "journal.json").symlink_to(victim)
    refused(gapbook("ask", "measured", "--package", package.root), "journal.json", "link")
    assert (folder / "journal.json").is_symlink()


def test_the_locks_folder_may_not_be_a_link(package, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "journal.json").write_text(EMPTY_JOURNAL, encoding="utf-8")
    (elsewhere / "lock").write_bytes(b"")
    (package.root / ".gapbook").symlink_to(elsewhere)
    for command in (["ask", "measured"], ["derive"]):
        refused(gapbook(*command, "--package", package.root), ".gapbook", "link")
    assert sorted(path.name for path in elsewhere.iterdir()) == ["journal.json", "lock"]


@pytest.mark.parametrize("make", [os.mkfifo, Path.touch], ids=["a pipe", "a file"])
def test_the_locks_folder_is_a_folder(package, make):
    make(package.root / ".gapbook")
    assert gapbook("ask", "measured", "--package", package.root).status == 0
    refused(gapbook("derive", "--package", package.root), ".gapbook")


# New versions beside tables


@pytest.mark.parametrize("kind", LINKS)
@pytest.mark.parametrize("table", ["frames", "scores"])
def test_new_versions_are_new_files(package, victim, kind, table):
    before = state(package.root)
    path = package.path(table)
    LINKS[kind](path.with_name(path.name + ".new"), victim)
    assert gapbook("derive", "--package", package.root).status == 0
    assert state(package.root) == before


def test_a_link_in_a_tables_place_is_not_written_through(package, victim):
    """Nor is a folder on the way to it, though it is put there only when the change has begun."""
    path = package.path("scores")
    path.unlink()
    path.symlink_to(victim)
    refused(gapbook("derive", "--package", package.root), "link")
    path.unlink()
    outside = package.root.parent / "outside"
    path.parent.rename(outside)
    path.parent.symlink_to(outside)
    before = state(outside)
    refused(gapbook("derive", "--package", package.root), "link")
    assert state(outside) == before


@pytest.mark.parametrize("name", [".gapbook/journal.json.new", "catalogue/derived/scores.csv.new", "catalogue/frames.csv.new"])
def test_a_folder_that_cannot_be_cleared_away_is_told(package, name):
    (package.root / name).mkdir(parents=True)
    before = state(package.root)
    assert code_of(lambda: derive(package)) == "unwritable"
    refused(gapbook("derive", "--package", package.root), Path(name).name)
    if "journal" in name:
        journal(package)
        assert code_of(lambda: open_package(package.root)) == "unfinished"
    assert state(package.root) == before


# A package that is only found


@pytest.fixture
def checkout(package) -> Package:
    """A package that is found by whoever works below it."""
    (package.root / "derive" / "gapbook").mkdir(parents=True)
    (package.root / "below").mkdir()
    return package


@pytest.fixture
def stranger(monkeypatch) -> None:
    """Every file there is belongs to somebody else."""
    theirs = os.geteuid() + 1
    monkeypatch.setattr(os, "geteuid", lambda: theirs)


def code_of(act: Callable[[], object]) -> str:
    with pytest.raises(GapbookError) as stop:
        act()
    return stop.value.problems[0].code


def test_a_package_of_ones_own_is_found_and_finished(checkout, monkeypatch):
    journal(checkout)
    monkeypatch.chdir(checkout.root / "below")
    opened = open_package()
    assert opened.root == checkout.root.resolve()
    assert not opened.is_changing
    assert derive(opened)["beds"] == 2


@pytest.mark.usefixtures("stranger")
def test_a_package_of_somebody_elses_is_not_written_to_unless_it_is_named(checkout, monkeypatch):
    monkeypatch.chdir(checkout.root / "below")
    opened = open_package()
    assert opened.read("frames").startswith(b"frame_id")
    assert code_of(lambda: derive(opened)) == "read-only"
    journal(checkout)
    before = sorted(path for path in checkout.root.rglob("*"))
    assert code_of(open_package) == "unfinished"
    assert sorted(path for path in checkout.root.rglob("*")) == before
    assert not open_package(checkout.root).is_changing
    assert derive(open_package(checkout.root))["beds"] == 2


def test_the_locks_folder_has_to_be_the_users_too(checkout, monkeypatch):
    folder, real = str(journal(checkout).resolve()), os.lstat

    def theirs(path: str | Path) -> os.stat_result:
        state = real(path)
        return os.stat_result((*state[:4], state.st_uid + (str(path) == folder), *state[5:]))

    monkeypatch.setattr(os, "lstat", theirs)
    monkeypatch.chdir(checkout.root / "below")
    assert code_of(open_package) == "unfinished"


def test_where_the_system_tells_no_owner_a_package_has_to_be_named(checkout, monkeypatch):
    monkeypatch.delattr(os, "geteuid")  # as on Windows
    monkeypatch.chdir(checkout.root / "below")
    assert code_of(lambda: derive(open_package())) == "read-only"
    assert derive(open_package(checkout.root))["beds"] == 2


def test_version_below_a_folder_of_somebody_elses_writes_nothing(checkout, victim):
    (journal(checkout) / "holder.json").symlink_to(victim)
    if os.geteuid() == 0:
        for path in (checkout.root, *checkout.root.rglob("*")):
            os.chown(path, 65534, 65534, follow_symlinks=False)
    run = gapbook_alone("--version", cwd=checkout.root / "below")
    if os.geteuid() == 0:
        refused(run, "not known to be yours")
        assert (checkout.root / ".gapbook" / "holder.json").is_symlink()
    else:
        assert run.status == 0


# Paths


@pytest.mark.parametrize("character", "*?[]{}=")
@pytest.mark.parametrize("key", ["path", "schema"])
def test_a_path_that_can_be_read_as_a_pattern_is_refused(package, character, key):
    descriptor = json.loads((package.root / "datapackage.json").read_text(encoding="utf-8"))
    path = f"catalogue/openness{character}1/frames.csv"
    next(item for item in descriptor["resources"] if item["name"] == "frames")[key] = path
    (package.root / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    with pytest.raises(GapbookError) as stop:
        open_package(package.root).schema("frames")
    (problem,) = stop.value.problems
    assert (problem.code, problem.place.file, problem.found) == ("path", "datapackage.json", path)
    assert character in problem.expected


def test_a_folder_with_such_a_name_may_hold_a_package(tmp_path):
    package = package_in(tmp_path / "basis=counted [st*r]")
    assert inside(package.root, "catalogue/frames.csv").is_file()
    assert derive(package)["beds"] == 2


@pytest.mark.slow_after(3)
@pytest.mark.parametrize("command", ["compare", "draw", "retension"])
@pytest.mark.parametrize("schema", ["../outside/secret.json", "/dev/zero", "schema/link.json"])
def test_a_schema_outside_is_not_read_where_a_contribution_is_joined(package, tmp_path, schema, command):
    (tmp_path / "outside").mkdir()
    shutil.copy(package.root / "schema" / "testers.json", tmp_path / "outside" / "secret.json")
    (package.root / "schema" / "link.json").symlink_to(tmp_path / "outside" / "secret.json")
    descriptor = json.loads((package.root / "datapackage.json").read_text(encoding="utf-8"))
    next(item for item in descriptor["resources"] if item["name"] == "testers")["schema"] = schema
    (package.root / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    mine = sent(even_bed("three", "three-a"), tmp_path / "mine")
    more = {"draw": ["--out", tmp_path / "bed.svg"], "retension": ["--at", "24kg"]}.get(command, [])
    names = [mine] if command == "draw" else ["one", mine]
    refused(gapbook(command, *names, *more, "--package", package.root), schema)
    assert not (tmp_path / "bed.svg").exists()


# What stands in the place of a file


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    try:
        os.mknod(path, 0o666 | 0o020000, os.makedev(1, 5))  # as /dev/zero
    except OSError:
        pytest.skip("only the system's administrator can make a device")


def endless(path: Path) -> None:
    path.symlink_to("/dev/zero")


def sparse(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(5 << 30)


def folder(path: Path) -> None:
    path.mkdir()


INSTEAD = [pipe, device, endless, sparse, folder]
FILES = {
    "datapackage.json": ["ask", "derive", "check"],
    "schema/scores.json": ["ask"],
    "schema/frames.json": ["derive", "check"],
    ".gapbook/journal.json": ["ask", "derive", "check"],
}
"""Files, and commands that read them."""


@pytest.mark.parametrize("make", [device, sparse], ids=lambda make: make.__name__)
@pytest.mark.slow_after(1)
def test_a_command_of_its_own_takes_no_memory_for_it(package, tmp_path, make):
    mine = sent(even_bed("three", "three-a"), tmp_path / "mine")
    (mine / "specimens.csv").unlink()
    make(mine / "specimens.csv")
    refused(gapbook_alone("compare", "one", mine, "--package", package.root), "specimens.csv")
    (package.root / "schema" / "scores.json").unlink()
    make(package.root / "schema" / "scores.json")
    refused(gapbook_alone("ask", "measured", "--package", package.root), "schema/scores.json")


@pytest.mark.slow_after(10)
@pytest.mark.parametrize("make", INSTEAD, ids=lambda make: make.__name__)
@pytest.mark.parametrize("name", FILES)
def test_what_stands_in_the_place_of_a_file_is_refused_at_once(package, make, name):
    path = package.root / name
    path.parent.mkdir(exist_ok=True)
    path.unlink(missing_ok=True)
    make(path)
    for command in FILES[name]:
        refused(gapbook(command, *(["measured"] if command == "ask" else []), "--package", package.root), name)


@pytest.mark.parametrize("make", INSTEAD, ids=lambda make: make.__name__)
@pytest.mark.parametrize("table", ["scores", "frames", "spacings"])
def test_what_stands_in_the_place_of_a_table_is_refused_at_once(package, make, table):
    path = package.path(table)
    path.unlink()
    make(path)
    command = ["ask", "measured"] if table == "scores" else ["derive"]
    refused(gapbook(*command, "--package", package.root), f"{table}.csv")
    if make is endless:  # a link: the package itself is refused when it is opened
        refused(gapbook("check", "--package", package.root), f"{table}.csv")
    elif table != "scores":
        run = gapbook("check", "--json", "--package", package.root)
        assert (run.status, run.error) == (1, "")


@pytest.mark.slow_after(5)
@pytest.mark.parametrize("make", INSTEAD, ids=lambda make: make.__name__)
@pytest.mark.parametrize("name", ["lock", "holder.json"])
def test_what_stands_in_the_place_of_the_lock_or_its_holder(package, make, name):
    make(journal(package) / name)
    run = gapbook("derive", "--package", package.root)
    if name == "lock" and make is not sparse:
        refused(run, ".gapbook/lock")
    else:
        assert run.status in (0, 2)  # a lock may have any size, and a folder cannot be taken away
        assert "Traceback" not in run.error


@pytest.mark.parametrize("make", INSTEAD, ids=lambda make: make.__name__)
def test_who_waits_for_the_lock_reads_its_holder_with_care(package, make):
    with locked(package.root, "test") as held:
        held.remove("holder.json")
        make(package.root / ".gapbook" / "holder.json")
        with pytest.raises(GapbookError) as stop, locked(package.root, "test", wait=0.1):
            pass
    assert stop.value.problems[0].code == "locked"
    assert stop.value.problems[0].found == "another gapbook command at work"


@pytest.mark.parametrize("make", INSTEAD, ids=lambda make: make.__name__)
def test_what_stands_in_the_place_of_a_contributions_table(package, tmp_path, make):
    mine = sent(even_bed("three", "three-a"), tmp_path / "mine")
    (mine / "specimens.csv").unlink()
    make(mine / "specimens.csv")
    refused(gapbook("compare", "one", mine, "--package", package.root), "specimens.csv")
    for command in ("check", "admit"):
        run = gapbook(command, mine, "--json", "--package", package.root)
        assert (run.status, run.error) == (1, "")
        report = json.loads(run.out)
        findings = report["check"]["findings"] if command == "admit" else report["findings"]
        assert "specimens.csv" in {Path(finding["file"]).name for finding in findings if finding["severity"] == "error"}


@pytest.mark.parametrize("make", [pipe, device, endless], ids=lambda make: make.__name__)
@pytest.mark.parametrize("name", ["datapackage.json", "SHA256SUMS"])
def test_an_earlier_export_is_looked_at_with_care(package, tmp_path, make, name):
    out = tmp_path / "out"
    assert gapbook("export", "--out", out, "--package", package.root).status == 0
    (out / name).unlink()
    make(out / name)
    refused(gapbook("export", "--out", out, "--package", package.root), "not empty")
