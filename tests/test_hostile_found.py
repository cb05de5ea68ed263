"""A package of somebody else's, found by whoever works below it: it is read, but not written to."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from hostile import POSIX, code_of, gapbook_alone, journal, refused

pytestmark = POSIX


@pytest.fixture
def package(spoilt) -> Package:
    """A derived package, to be spoilt."""
    return spoilt


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
