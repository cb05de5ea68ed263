"""Several tables changed together: the journal, and what becomes of a change that was broken off."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest

from contributed import journal, package_in, state
from gapbook.errors import GapbookError
from gapbook.tables.derived import derive
from gapbook.tables.locking import locked
from gapbook.tables.opening import open_package
from gapbook.tables.package import JOURNAL, Package
from gapbook.tables.transactions import changing
from running import gapbook

NEW_FRAMES = b"new frames\n"
NEW_TESTERS = b"new testers\n"


@pytest.fixture
def package(tmp_path) -> Package:
    return package_in(tmp_path / "package")


def code_of(package: Package) -> str:
    """The code of the error that opening gives."""
    with pytest.raises(GapbookError) as stop:
        open_package(package.root)
    return stop.value.problems[0].code


def test_a_decided_change_is_finished_on_opening(package):
    journal(package, frames=NEW_FRAMES, testers=NEW_TESTERS)
    os.replace(f"{package.path('frames')}.new", package.path("frames"))  # broken off after the first swap
    opened = open_package(package.root)
    assert opened.path("frames").read_bytes() == NEW_FRAMES
    assert opened.path("testers").read_bytes() == NEW_TESTERS
    assert not opened.is_changing
    assert not list(package.root.rglob("*.new"))
    assert not (package.root / ".gapbook").exists()


def test_every_reading_command_finishes_it(package, tmp_path):
    before = package.path("testers").read_bytes()
    journal(package, testers=before + b"bo,flat,none\n")
    run = gapbook("sql", "select tester_id from testers", "--json", "--package", str(package.root))
    assert [row["tester_id"] for row in json.loads(run.stdout)["rows"]] == ["ann", "bo"]


def test_a_spoilt_new_version_is_rolled_back_while_nothing_was_swapped(package):
    before = state(package.root)
    journal(package, frames=NEW_FRAMES, testers=NEW_TESTERS)
    Path(f"{package.path('testers')}.new").write_bytes(b"half")
    open_package(package.root)
    assert state(package.root) == before
    assert not package.is_changing


def test_a_spoilt_new_version_after_a_swap_is_told(package):
    journal(package, frames=NEW_FRAMES, testers=NEW_TESTERS)
    os.replace(f"{package.path('frames')}.new", package.path("frames"))
    Path(f"{package.path('testers')}.new").write_bytes(b"half")
    assert code_of(package) == "torn"
    assert package.path("frames").read_bytes() == NEW_FRAMES  # nothing more was touched


def refusing(monkeypatch: pytest.MonkeyPatch, number: int, before: bool) -> None:
    """The `number`th rename fails once, before it did its work or after."""
    replace, seen = os.replace, 0

    def refused(*arguments: str, **named: int) -> None:
        nonlocal seen
        seen += 1
        if seen != number or not before:
            replace(*arguments, **named)
        if seen == number:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(os, "replace", refused)


@pytest.mark.parametrize("before", [True, False])
def test_a_recovery_that_fails_does_not_take_back_half_of_the_change(package, monkeypatch, before):
    journal(package, frames=NEW_FRAMES, testers=NEW_TESTERS)
    os.replace(f"{package.path('frames')}.new", package.path("frames"))  # broken off after the first swap
    refusing(monkeypatch, 1, before)
    assert code_of(package) == "unfinished"
    assert package.is_changing
    opened = open_package(package.root)
    assert (opened.read("frames"), opened.read("testers")) == (NEW_FRAMES, NEW_TESTERS)


@pytest.mark.parametrize(("number", "before"), [(2, True), (2, False), (3, True), (3, False)])
def test_a_rename_that_fails_leaves_the_old_or_the_new_package(package, monkeypatch, number, before):
    """The first rename puts the journal in place, the second the first table."""
    old = (package.read("frames"), package.read("testers"))
    refusing(monkeypatch, number, before)

    def change_both() -> None:
        with changing(package, "test") as change:
            change.write("frames", lambda stream: stream.write(NEW_FRAMES))
            change.write("testers", lambda stream: stream.write(NEW_TESTERS))
            change.swap()

    with pytest.raises(GapbookError) as stop:
        change_both()
    taken_back = (number, before) == (2, True)
    assert stop.value.problems[0].code == ("unwritable" if taken_back else "unfinished")
    opened = open_package(package.root)
    assert (opened.read("frames"), opened.read("testers")) == (old if taken_back else (NEW_FRAMES, NEW_TESTERS))
    assert not list(package.root.rglob("*.new"))


@pytest.mark.parametrize("path", ["../outside.csv", "{folder}/outside.csv", "datapackage.json", "catalogue/other.csv"])
def test_a_journal_from_elsewhere_cannot_write_other_files(package, tmp_path, path):
    path = path.format(folder=tmp_path)
    written = journal(package, testers=NEW_TESTERS)
    content = json.loads(written.read_text(encoding="utf-8"))
    content["tables"][0]["path"] = path
    written.write_text(json.dumps(content), encoding="utf-8")
    target = package.root / path
    target.with_name(target.name + ".new").write_bytes(NEW_TESTERS)
    before = target.read_bytes() if target.exists() else None
    assert code_of(package) == "journal"
    assert (target.read_bytes() if target.exists() else None) == before


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"format": 3, "tables": []}', '{"format": 1}', '{"format": 1, "tables": [1]}']
)
def test_a_journal_that_cannot_be_read_is_told(package, text):
    journal(package).write_text(text, encoding="utf-8")
    assert code_of(package) == "journal"


def test_new_versions_are_not_taken_through_links(package, tmp_path):
    journal(package, testers=NEW_TESTERS)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.write_bytes(NEW_TESTERS)
    new = Path(f"{package.path('testers')}.new")
    new.unlink()
    new.symlink_to(elsewhere)
    before = package.path("testers").read_bytes()
    open_package(package.root)
    assert package.path("testers").read_bytes() == before


def test_the_folder_of_the_lock_may_not_be_a_link(package, tmp_path):
    folder = package.root / ".gapbook"
    (tmp_path / "elsewhere").mkdir()
    folder.symlink_to(tmp_path / "elsewhere")
    with pytest.raises(GapbookError) as stop, locked(package.root, "test"):
        pass
    assert stop.value.problems[0].code == "path"


def test_leftovers_that_were_never_decided_are_cleared_away(package):
    left = Path(f"{package.path('frames')}.new")
    left.write_bytes(b"half")
    open_package(package.root)
    before = package.path("frames").read_bytes()
    derive(package)
    assert not left.exists()
    assert package.path("frames").read_bytes() == before


def test_everything_is_flushed_before_the_change_is_decided(package, monkeypatch):
    """The journal may only be put in place when every new version, and the names in its folder, are on the disk."""
    done: list[tuple[str, str]] = []
    fsync, replace = os.fsync, os.replace

    def noting_fsync(handle: int) -> None:
        done.append(("flushed", os.readlink(f"/proc/self/fd/{handle}")))
        fsync(handle)

    def noting_replace(old: str, new: str, *, src_dir_fd: int, dst_dir_fd: int) -> None:
        done.append(("renamed", f"{os.readlink(f'/proc/self/fd/{dst_dir_fd}')}/{new}"))
        replace(old, new, src_dir_fd=src_dir_fd, dst_dir_fd=dst_dir_fd)

    if not Path("/proc/self/fd").exists():
        pytest.skip("the system does not tell which file a handle is of")
    monkeypatch.setattr(os, "fsync", noting_fsync)
    monkeypatch.setattr(os, "replace", noting_replace)
    derive(package)
    decided = done.index(("renamed", str(package.root / JOURNAL)))
    derived = package.root / "catalogue" / "derived"
    targets = [str(path) for path in sorted(derived.glob("*.csv"))]
    assert {path for what, path in done[:decided] if what == "flushed"} >= {str(derived), *(f"{path}.new" for path in targets)}
    assert sorted(path for what, path in done[decided + 1 :] if what == "renamed") == targets
    assert ("flushed", str(derived)) in done[decided + 1 :]


def test_what_is_not_swapped_is_cleared_away(package):
    before = state(package.root)
    with changing(package, "test") as change:
        change.write("testers", lambda stream: stream.write(NEW_TESTERS))
        assert state(package.root) != before
    assert state(package.root) == before


def test_what_the_disk_does_not_take_is_told(package, monkeypatch):
    before, fsync, full = state(package.root), os.fsync, [True]

    def full_once(handle: int) -> None:
        if full and full.pop():
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        fsync(handle)

    monkeypatch.setattr(os, "fsync", full_once)
    with changing(package, "test") as change, pytest.raises(GapbookError) as told:
        change.write("testers", lambda stream: stream.write(NEW_TESTERS))
    assert told.value.problems[0].code == "unwritable"
    assert state(package.root) == before
