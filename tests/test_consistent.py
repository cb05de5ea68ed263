"""Readers beside a writer: what they read belongs together, or they are told."""

from __future__ import annotations

import threading
import time

import pytest

from contributed import even_bed, journal, package_in, sent
from gapbook.catalogue import open_catalogue
from gapbook.errors import GapbookError
from gapbook.intake.admit import Terms, admit
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.store import Store


@pytest.fixture
def package(tmp_path) -> Package:
    return package_in(tmp_path / "package")


def test_a_reader_notices_a_change_between_two_tables(package, tmp_path):
    store = Store(open_package(package.root))
    store.load("frames", ["frame_id"])
    admit(package, sent(even_bed("three", "three-a"), tmp_path / "sent"), Terms(rules=()))
    with pytest.raises(GapbookError) as stop:
        store.load("scores", ["frame_id"])
    assert stop.value.problems[0].code == "package-changed"


def test_a_reader_notices_a_change_under_way(package):
    opened = open_package(package.root)
    opened_catalogue = open_catalogue(package.root)
    path = journal(package, testers=package.path("testers").read_bytes())
    with pytest.raises(GapbookError) as stop:
        Store(opened).load("frames")
    assert stop.value.problems[0].code == "package-changed"
    with pytest.raises(GapbookError):
        opened_catalogue.table("frames")
    path.unlink()


def test_ones_own_change_is_no_surprise(package, tmp_path):
    catalogue = open_catalogue(package.root)
    assert catalogue.table("scores").num_rows == 2
    admit(catalogue.package, sent(even_bed("three", "three-a"), tmp_path / "sent"), Terms(rules=()))
    assert catalogue.table("scores").num_rows == 3


@pytest.mark.slow
def test_readers_see_whole_packages_while_frames_are_admitted(package, tmp_path):
    """Each admission adds one frame with one copy and its bed; a reader counts the three again and again."""
    sheets = [sent(even_bed(f"more-{n}", f"more-{n}-a"), tmp_path / f"sent-{n}") for n in range(4)]
    wrong: list[object] = []
    seen: set[int] = set()
    busy = threading.Event()

    def read() -> None:
        while not busy.is_set():
            try:
                catalogue = open_catalogue(package.root)
                counts = tuple(catalogue.table(name).num_rows for name in ("beds", "specimens", "scores"))
            except GapbookError as error:
                if error.problems[0].code != "package-changed":
                    wrong.append(error)
                continue
            seen.add(counts[0])
            if len(set(counts)) > 1:
                wrong.append(counts)
            time.sleep(0.001)

    reader = threading.Thread(target=read)
    reader.start()
    for sheet in sheets:
        assert admit(open_package(package.root), sheet, Terms(rules=())).status == "admitted"
    busy.set()
    reader.join()
    assert wrong == []
    assert len(seen) > 1


def test_a_command_reads_anew_when_the_package_was_changed(monkeypatch):
    from gapbook.commands import app
    from gapbook.errors import fail

    calls = []

    def build(names):
        def command(prog_name):
            assert prog_name == "gapbook"
            calls.append(names)
            if len(calls) < 3:
                raise fail("package-changed", "changed")

        return command

    monkeypatch.setattr(app, "build", build)
    app._run(("ask",))
    assert len(calls) == 3
    monkeypatch.setattr(app, "build", lambda names: _always_changed)
    with pytest.raises(GapbookError):
        app._run(("ask",))


def _always_changed(prog_name: str) -> None:
    from gapbook.errors import fail

    raise fail("package-changed", "changed")
