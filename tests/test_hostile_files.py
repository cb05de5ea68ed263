"""Paths that lead out of a package, and pipes, devices and huge files in the place of files that gapbook reads."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest

from contributed import even_bed, package_in, sent
from gapbook.errors import GapbookError
from gapbook.tables.derived import derive
from gapbook.tables.locking import locked
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package, inside
from hostile import POSIX, gapbook, gapbook_alone, journal, refused

pytestmark = POSIX


@pytest.fixture
def package(spoilt) -> Package:
    """A derived package, to be spoilt."""
    return spoilt


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
@pytest.mark.slow_after(2)
def test_an_earlier_export_is_looked_at_with_care(package, tmp_path, make, name):
    out = tmp_path / "out"
    assert gapbook("export", "--out", out, "--package", package.root).status == 0
    (out / name).unlink()
    make(out / name)
    refused(gapbook("export", "--out", out, "--package", package.root), "not empty")
