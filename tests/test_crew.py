"""A large table of spacings read and scored by several processes: the same bytes and the same errors as by one.

The demo stands in for a large package: what counts as large, and how long a stretch is, are made small.
"""

from __future__ import annotations

import os
import random
import subprocess
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from gapbook.errors import GapbookError
from gapbook.tables import crew, hands, regenerate, shares
from gapbook.tables.catalogue import read_tools
from gapbook.tables.derived import Measured
from gapbook.tables.opening import open_package
from gapbook.tables.reading import read_table

ROOT = Path(__file__).resolve().parents[1]
SHORT = 40_000
"""Bytes in a stretch: the demo's spacings make thirteen or so."""
Lines = list[str]


class Watched:
    """What the crews of a test gave: the beds, or None where the spacings had to be read at once."""

    def __init__(self) -> None:
        self.scored: list[Measured | None] = []


@pytest.fixture
def shared(monkeypatch: pytest.MonkeyPatch) -> Watched:
    """Every package counts as large, and two hands share it."""
    watched = Watched()
    score = crew.Crew.score

    def watch(self: crew.Crew, catalogue: object, rows: bool) -> Measured | None:
        watched.scored.append(score(self, catalogue, rows))
        return watched.scored[-1]

    monkeypatch.setattr(regenerate, "WORTH_SHARING", 0)
    monkeypatch.setattr(shares, "STRETCH", SHORT)
    monkeypatch.setattr(regenerate, "cores", lambda: 2)
    monkeypatch.setattr(crew, "cores", lambda: 2)
    monkeypatch.setattr(crew.Crew, "score", watch)
    return watched


def derived(folder: Path) -> dict[str, bytes]:
    regenerate.derive(open_package(folder), ["beds"])
    return {name: (folder / "catalogue" / "derived" / f"{name}.csv").read_bytes() for name in ("beds", "scores")}


def rewritten(folder: Path, change: Callable[[Lines], object], end: str = "\n") -> None:
    path = folder / "catalogue" / "spacings.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    change(lines)
    path.write_bytes("".join(line + end for line in lines).encode())


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(("cores", "hires"), [(2, 2), (3, 3), (64, crew.MOST)])
def test_several_processes_give_the_bytes_of_one(copied, shared, monkeypatch, cores, hires):
    kept = {name: (ROOT / "catalogue" / "derived" / f"{name}.csv").read_bytes() for name in ("beds", "scores")}
    monkeypatch.setattr(crew, "cores", lambda: cores)
    hired = watch_hiring(monkeypatch)
    assert derived(copied) == kept
    assert [one is not None for one in shared.scored] == [True]
    assert len(hired) == hires
    assert all(hand.poll() is not None for hand in hired)  # nobody is left behind


def watch_hiring(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[bytes]]:
    """The processes that are started from now on."""
    hired: list[subprocess.Popen[bytes]] = []
    start = hands.subprocess.Popen
    monkeypatch.setattr(hands.subprocess, "Popen", lambda *given, **more: hired.append(start(*given, **more)) or hired[-1])
    monkeypatch.setattr(hands, "_is_alone", lambda: False)
    return hired


def test_tables_that_are_not_to_be_written_are_the_same(copied, shared):
    assert {name: table.to_pylist() for name, table in regenerate.compute(open_package(copied), ["beds"]).items()} == {
        name: read_table(open_package(ROOT), name).to_pylist() for name in ("beds", "scores")
    }
    assert [one is not None for one in shared.scored] == [True]


def test_a_small_package_and_one_core_need_nobody(copied, shared, monkeypatch):
    monkeypatch.setattr(regenerate, "cores", lambda: 1)
    derived(copied)
    monkeypatch.setattr(regenerate, "cores", lambda: 2)
    monkeypatch.setattr(regenerate, "WORTH_SHARING", 1 << 26)
    derived(copied)
    assert shared.scored == []


def cell(line: int, column: int, text: str) -> Callable[[Lines], None]:
    """Write another text into a cell; line 1 is the header."""

    def change(lines: Lines) -> None:
        cells = lines[line - 1].split(",")
        cells[column] = text
        lines[line - 1] = ",".join(cells)

    return change


def again(line: int, below: int) -> Callable[[Lines], None]:
    return lambda lines: lines.insert(below, lines[line - 1])


def gone(line: int) -> Callable[[Lines], object]:
    return lambda lines: lines.pop(line - 1)


def renamed(lines: Lines) -> None:
    lines[1:] = [line.replace(",ilsa-quarrow,", ",nobody,") for line in lines[1:]]


COLUMNS = ("specimen_id", "family", "station_mm", "kind", "no", "contributor_id", "instrument_id", "taken_on", "repeat")
VALUE, UNIT = 9, 10
BROKEN = {
    "a word for a number": (cell(500, VALUE, "wide"), "type"),
    "a blank before a number": (cell(500, VALUE, " 12.5"), "type"),
    "not a number": (cell(500, VALUE, "nan"), "type"),
    "no number": (cell(500, VALUE, ""), "required"),
    "a gap of nothing": (cell(500, VALUE, "0"), "gap-not-positive"),
    "an unknown family": (cell(500, COLUMNS.index("family"), "diagonal"), "enum"),
    "an unknown specimen": (cell(500, COLUMNS.index("specimen_id"), "nobodys-98-a"), "reference"),
    "an unknown contributor": (cell(500, COLUMNS.index("contributor_id"), "nobody"), "reference"),
    "an unknown contributor throughout": (renamed, "reference"),
    "an unknown instrument": (cell(500, COLUMNS.index("instrument_id"), "eye"), "reference"),
    "an unknown unit": (cell(500, UNIT, "ells"), "unit-unknown"),
    "a mass": (cell(500, UNIT, "g"), "unit-dimension"),
    "a cell too many": (cell(500, UNIT, "mm,mm"), "width"),
    "a reading given twice": (again(500, 500), "repeated-key"),
    "a reading given again far below": (again(500, 6000), "repeated-key"),
    "a reading left out": (gone(500), "missing-numbers"),
    "another header": (cell(1, VALUE, "reading"), "header"),
}


@pytest.mark.slow_after(2)
@pytest.mark.parametrize(("change", "code"), BROKEN.values(), ids=BROKEN)
def test_what_is_wrong_is_told_as_by_one(copied, shared, monkeypatch, change, code):
    rewritten(copied, change)
    before = (copied / "catalogue" / "derived" / "beds.csv").read_bytes()
    with pytest.raises(GapbookError) as told:
        derived(copied)
    assert shared.scored == ([] if code == "header" else [None])
    monkeypatch.setattr(regenerate, "WORTH_SHARING", 1 << 26)
    with pytest.raises(GapbookError) as alone:
        derived(copied)
    assert told.value.problems == alone.value.problems
    assert told.value.problems[0].code == code
    assert (copied / "catalogue" / "derived" / "beds.csv").read_bytes() == before


def shuffled(lines: Lines) -> None:
    rows = lines[1:]
    random.Random(7).shuffle(rows)
    lines[1:] = rows


def quoted(lines: Lines) -> None:
    lines[499] = '"' + '","'.join(lines[499].split(",")) + '"'


def emptied(lines: Lines) -> None:
    lines[1:] = [""] * len(lines)


ALIKE = {
    "blank lines alone": (emptied, "\n", False),
    "rows in any order": (shuffled, "\n", False),
    "a row in quotation marks": (quoted, "\n", False),
    "lines ended as elsewhere": (lambda lines: None, "\r\n", True),
    "a blank line": (lambda lines: lines.insert(300, ""), "\n", True),
}


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(("change", "end", "by_shares"), ALIKE.values(), ids=ALIKE)
def test_other_ways_to_write_the_same_give_the_same(copied, shared, monkeypatch, change, end, by_shares):
    rewritten(copied, change, end)
    found = derived(copied)
    assert [one is not None for one in shared.scored] == [by_shares]
    monkeypatch.setattr(regenerate, "WORTH_SHARING", 1 << 26)
    assert derived(copied) == found


LOST = {
    "never starts": [True],
    "dies at once": [True, False],
    "answers nonsense": [True, False],
    "is killed before it scores": [True, False],
    "is killed before it writes": [True, True],
}
"""Whether the crew scored the beds, first with everybody there."""


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(("doing", "scored"), LOST.items(), ids=LOST)
def test_without_a_hand_it_only_takes_longer(copied, shared, monkeypatch, doing, scored):
    kept = derived(copied)
    hired, numbers_of = watch_hiring(monkeypatch), crew.numbers_of

    def kill_first(*given: object) -> object:
        hired[-1].kill()
        hired[-1].wait()
        return numbers_of(*given)

    if doing == "never starts":
        monkeypatch.setattr(hands.sys, "executable", str(copied / "no-such-program"))
    elif doing == "dies at once":
        monkeypatch.setattr(hands, "_SERVE", "raise SystemExit(3)")
    elif doing == "answers nonsense":
        monkeypatch.setattr(hands, "_SERVE", "print('good morning')")
    elif doing == "is killed before it scores":
        monkeypatch.setattr(crew, "numbers_of", kill_first)
    else:
        rows = crew._rows
        monkeypatch.setattr(crew, "_rows", lambda hand, stretches: hand.end() or rows(hand, stretches))
    assert derived(copied) == kept
    assert [one is not None for one in shared.scored] == scored


@pytest.mark.slow_after(1)
@pytest.mark.parametrize("step", ["packed", "Assembly"])
def test_nobody_waits_for_what_never_comes(copied, shared, monkeypatch, step):
    told: list[BaseException] = []

    def fail(*given: object) -> None:
        time.sleep(1)  # until somebody waits for it
        raise MemoryError(step)

    def derive() -> None:
        try:
            derived(copied)
        except MemoryError as error:
            told.append(error)

    monkeypatch.setattr(crew, step, fail)
    running = threading.Thread(target=derive, daemon=True)
    running.start()
    running.join(timeout=60)
    assert not running.is_alive()
    assert [str(error) for error in told] == [step]


@pytest.mark.slow
def test_a_module_that_lies_about_is_not_run(copied, shared, monkeypatch, tmp_path):
    kept = derived(copied)
    (tmp_path / "json.py").write_text("open('ran', 'w'); raise SystemExit(1)")
    monkeypatch.chdir(tmp_path)
    assert derived(copied) == kept
    assert not (tmp_path / "ran").exists()
    assert [one is not None for one in shared.scored] == [True, True]


def test_a_hand_ends_when_nobody_waits_for_it(monkeypatch):
    package = open_package(ROOT)
    tools = read_tools(package)
    share = shares.Share(tools, shares.parents_of(tools))
    monkeypatch.setattr(os, "getppid", lambda: 1)
    with pytest.raises(SystemExit):
        share.average(shares.stretches(package.path("spacings"))[0])
