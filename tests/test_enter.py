"""Figures typed at a prompt: a row on a line, each judged, each line kept at once, going on where it stopped."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from demo_rows import ROOT, rows_of
from gapbook.errors import GapbookError
from gapbook.intake.entering import Entry, enter, split
from gapbook.questions.measuring_sheet import Wishes, session, tables, write_tables
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store

MAINS = "20.5 " + "11.5 " * 15 + "20.5"
CROSSES = "25.5 " + "12.5 " * 18 + "25.5"


@pytest.fixture(scope="module")
def store():
    return Store(open_package(ROOT))


@pytest.fixture
def sheet(store, tmp_path):
    """A sheet for gaps at station 0: two readings, 17 gaps of mains, 20 of crosses."""

    def make(kind: str = "gap", unit: str = "mm") -> Path:
        planned = session(
            store, "fern-98", Wishes(contributor="ada-moss", kind=kind, unit=unit, stations="0", taken_on="2026-05-04")
        )
        write_tables(tables(planned), store.package, tmp_path / "sheet-csv")
        return tmp_path / "sheet-csv"

    return make


def typed(store, folder: Path, *lines: str) -> tuple[bool, str]:
    """Whether the sheet is full after these lines, and what was said."""
    said: list[str] = []
    waiting = iter(lines)
    return enter(Entry(store.package, folder), lambda: next(waiting, None), said.append), "".join(said)


def values(folder: Path, table: str = "spacings") -> list[str]:
    return [row["value"] for row in rows_of(folder, table)]


def test_a_whole_row_goes_on_one_line(store, sheet):
    folder = sheet()
    full, said = typed(store, folder, "276,0", "213.0", MAINS, CROSSES)
    assert full
    assert values(folder, "readings") == ["276.0", "213.0"]
    assert values(folder) == [*MAINS.split(), *CROSSES.split()]
    assert "out of line" not in said
    # by hand: 41 + 15 * 11.5 = 213.5 mm, 0.5 more than 213.0; 51 + 18 * 12.5 = 276.0 mm
    assert "mains at station 0: 213.5 mm from edge to edge, 0.5 mm more than the width read directly (within" in said


def test_a_head_that_does_not_close_is_told(store, sheet):
    _, said = typed(store, sheet(), "276", "230", MAINS, CROSSES)
    assert "16.5 mm less than the width read directly; more than" in said


def test_it_goes_on_where_it_stopped(store, sheet):
    folder = sheet()
    assert not typed(store, folder, "276", "213", "20.5 11.5 11.5", "stop")[0]
    assert [value for value in values(folder) if value] == ["20.5", "11.5", "11.5"]
    full, said = typed(store, folder, MAINS.split(maxsplit=3)[3], CROSSES)
    assert full
    assert "gaps 0 to 16 [mm], from 3 on" in said
    assert values(folder) == [*MAINS.split(), *CROSSES.split()]


def test_the_end_of_input_stops_and_keeps(store, sheet):
    folder = sheet()
    assert typed(store, folder, "276")[0] is False
    assert values(folder, "readings") == ["276", ""]


ODD = MAINS.split()
ODD[9] = "15.1"


@pytest.mark.parametrize(
    ("answer", "kept"), [("", ODD), ("9=11.5", MAINS.split()), ("no", [""] * 17)], ids=["kept", "mended", "dropped"]
)
def test_a_gap_out_of_line_is_asked_about(store, sheet, answer, kept):
    folder = sheet()
    _, said = typed(store, folder, "276", "213", " ".join(ODD), answer, "stop")
    assert "gap 9: 15.1 is out of line with its neighbours; 11.5 would fit" in said
    assert values(folder)[:17] == kept


def test_a_gap_typed_alone_is_judged_by_those_before_it(store, sheet):
    folder = sheet()
    _, said = typed(store, folder, "276", "213", *MAINS.split()[:10], "15.1", "", "stop")
    assert "gap 10: 15.1 makes a gap of 15.1 mm after one of 11.5 mm" in said
    assert values(folder)[10] == "15.1"


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("10 11 x", "holds no figure"),
        ("5 16 15", "does not lie beyond mark 1"),
        ("5 16 1600", "nothing of that size"),
        (" ".join(map(str, range(1, 30))), "more figures than are read here"),
        ("5 - 28", "must be read"),
        ("5in 16 28", "another unit"),
        ("", "Type figures"),
    ],
)
def test_a_line_that_cannot_be_is_refused_whole(store, sheet, line, words):
    folder = sheet("mark")
    _, said = typed(store, folder, "276", "213", line, "stop")
    assert words in said
    assert set(values(folder)) == {""}


def test_edges_that_were_not_read_are_taken_out(store, sheet):
    folder = sheet()
    full, _ = typed(store, folder, "276", "-", "- " + " ".join(["11.5"] * 15) + " -", CROSSES)
    assert full
    assert [row["quantity"] for row in rows_of(folder, "readings")] == ["head_length"]
    assert [row["no"] for row in rows_of(folder, "spacings") if row["family"] == "main"] == [str(no) for no in range(1, 16)]


def test_back_blanks_the_line_before(store, sheet):
    folder = sheet()
    full, _ = typed(store, folder, "275", "back", "276", "213", MAINS, CROSSES)
    assert full
    assert values(folder, "readings") == ["276", "213"]


@pytest.mark.parametrize(
    ("line", "parts"),
    [
        ("10.5 11,5  12", ["10.5", "11,5", "12"]),
        ("1/8 15/16 1 3/16 2", ["1/8", "15/16", "1 3/16", "2"]),
        ("10.5;11.5\t12", ["10.5", "11.5", "12"]),
        ("- 10 -", ["-", "10", "-"]),
    ],
)
def test_how_a_line_is_cut(line, parts):
    assert split(line, 9) == parts


def test_inches_in_fractions(store, sheet):
    folder = sheet("mark", "in")
    typed(store, folder, "10 7/8", "8 3/8", "1/8 15/16 1 3/8 1 13/16", "stop")
    assert values(folder, "readings") == ["10.875", "8.375"]
    assert values(folder)[:5] == ["0.125", "0.9375", "1.375", "1.8125", ""]


def test_a_folder_that_is_no_sheet_is_told(store, tmp_path):
    with pytest.raises(GapbookError) as stop:
        Entry(store.package, tmp_path)
    assert stop.value.problems[0].code == "no-sheet"


def test_the_command_reads_a_pipe(store, sheet):
    folder = sheet()
    lines = "\n".join(["276", "213", MAINS, CROSSES]) + "\n"
    command = [sys.executable, "-m", "gapbook", "enter", str(folder), "--json", "--package", str(ROOT)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "derive")}
    run = subprocess.run(command, input=lines, env=environment, capture_output=True, text=True)
    assert run.returncode == 0, run.stderr
    assert json.loads(run.stdout) == {"folder": str(folder), "typed": 39, "left": 0, "doubts": 0}
    assert "(39 left) head length [mm]: " in run.stderr
    with (folder / "spacings.csv").open(encoding="utf-8") as stream:
        assert [row["value"] for row in csv.DictReader(stream)] == [*MAINS.split(), *CROSSES.split()]
