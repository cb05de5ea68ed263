"""Links and other things planted where gapbook writes: the lock's folder, and new versions beside tables."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from contributed import state
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from hostile import EMPTY_JOURNAL, LINKS, POSIX, code_of, gapbook, journal, refused

pytestmark = POSIX


@pytest.fixture
def package(spoilt) -> Package:
    """A derived package, to be spoilt."""
    return spoilt


# What is written in .gapbook


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
