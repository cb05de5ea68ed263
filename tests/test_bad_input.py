"""A good package with one thing broken: the error's code, and the file, physical line and column it points at."""

from __future__ import annotations

import pytest

from damaged import Folder, good, line_of, only

GOOD = good()
GAP = line_of(GOOD, "spacings", specimen_id="one-a", family="main", no=7)
CROSS_GAP = line_of(GOOD, "spacings", specimen_id="one-a", family="cross", no=7)
MARKS = line_of(GOOD, "spacings", specimen_id="two-a")
UP = line_of(GOOD, "spacings", specimen_id="two-a", station_mm=80)
MARK_CROSSES = line_of(GOOD, "spacings", specimen_id="two-a", family="cross")

# table, line, cells put there, code, column
CELLS = [
    ("spacings", GAP, {"value": "nan"}, "type", "value"),
    ("spacings", GAP, {"value": "NaN"}, "type", "value"),
    ("spacings", GAP, {"value": "inf"}, "type", "value"),
    ("spacings", GAP, {"value": "-Infinity"}, "type", "value"),
    ("spacings", GAP, {"value": "1_000"}, "type", "value"),
    ("spacings", GAP, {"value": "1e400"}, "type", "value"),
    ("spacings", GAP, {"value": "12,5"}, "type", "value"),
    ("spacings", GAP, {"value": "12.5 mm"}, "type", "value"),
    ("spacings", GAP, {"value": " 12.5"}, "type", "value"),
    ("spacings", GAP, {"value": "12.5\t"}, "type", "value"),
    ("spacings", GAP, {"value": "0x10"}, "type", "value"),
    ("spacings", GAP, {"value": "१२"}, "type", "value"),
    ("spacings", GAP, {"value": ""}, "required", "value"),
    ("spacings", GAP, {"value": "NA"}, "required", "value"),
    ("spacings", GAP, {"value": "-0.1"}, "limit", "value"),
    ("spacings", GAP, {"value": "1000.1"}, "limit", "value"),
    ("spacings", GAP, {"no": "3.7"}, "type", "no"),
    ("spacings", GAP, {"no": "3.0"}, "type", "no"),
    ("spacings", GAP, {"no": "0x7"}, "type", "no"),
    ("spacings", GAP, {"no": "+7"}, "type", "no"),
    ("spacings", GAP, {"no": "99999999999999999999"}, "limit", "no"),
    ("spacings", GAP, {"repeat": "0"}, "limit", "repeat"),
    ("spacings", GAP, {"station_mm": "170.5"}, "limit", "station_mm"),
    ("spacings", GAP, {"family": "mian"}, "enum", "family"),
    ("spacings", GAP, {"family": "Main"}, "enum", "family"),
    ("spacings", GAP, {"kind": "gaps"}, "enum", "kind"),
    ("spacings", GAP, {"taken_on": "2026-02-30"}, "type", "taken_on"),
    ("spacings", GAP, {"taken_on": "2026-3-1"}, "type", "taken_on"),
    ("spacings", GAP, {"taken_on": "01.03.2026"}, "type", "taken_on"),
    ("spacings", GAP, {"taken_on": "2026-03-01T10:00"}, "type", "taken_on"),
    ("spacings", GAP, {"specimen_id": "One-A"}, "pattern", "specimen_id"),
    ("frames", 2, {"mains": "16.5"}, "type", "mains"),
    ("frames", 2, {"mains": "7"}, "limit", "mains"),
    ("frames", 3, {"crosses": "41"}, "limit", "crosses"),
    ("frames", 3, {"head_area_cm2": "98"}, "limit", "head_area_cm2"),
    ("frames", 3, {"strung": "yes"}, "type", "strung"),
    ("frames", 3, {"edition": "lent"}, "enum", "edition"),
    ("frames", 3, {"maker": ""}, "required", "maker"),
    ("frames", 3, {"maker": "x" * 81}, "too-long", "maker"),
    ("specimens", 2, {"string_gauge_mm": "2.5"}, "limit", "string_gauge_mm"),
    ("specimens", 3, {"note": "n" * 401}, "too-long", "note"),
    ("readings", 2, {"quantity": "weight"}, "enum", "quantity"),
    ("readings", 3, {"strung": "2"}, "type", "strung"),
    ("instruments", 2, {"resolution": "fine"}, "type", "resolution"),
    ("instruments", 3, {"max_error": "-1"}, "limit", "max_error"),
    ("contributors", 2, {"since": "2020"}, "type", "since"),
    # units
    ("spacings", GAP, {"unit": "furlong"}, "unit-unknown", "unit"),
    ("spacings", GAP, {"unit": "MM"}, "unit-unknown", "unit"),
    ("spacings", GAP, {"unit": "g"}, "unit-dimension", "unit"),
    ("spacings", GAP, {"unit": "cm2"}, "unit-dimension", "unit"),
    ("readings", 2, {"unit": "oz"}, "unit-dimension", "unit"),
    ("readings", 3, {"unit": "mm"}, "unit-dimension", "unit"),
    ("readings", 3, {"unit": "lb"}, "unit-dimension", "unit"),
    ("readings", 3, {"unit": "stone"}, "unit-unknown", "unit"),
    ("instruments", 4, {"unit": "ells"}, "unit-unknown", "unit"),
    ("spacings", GAP, {"instrument_id": "scale"}, "instrument-dimension", "instrument_id"),
    ("readings", 3, {"instrument_id": "rule"}, "instrument-dimension", "instrument_id"),
    # references
    ("spacings", GAP, {"specimen_id": "one-b"}, "reference", "specimen_id"),
    ("spacings", GAP, {"contributor_id": "idas"}, "reference", "contributor_id"),
    ("spacings", GAP, {"instrument_id": "call"}, "reference", "instrument_id"),
    ("specimens", 3, {"frame_id": "too"}, "reference", "frame_id"),
    ("readings", 2, {"specimen_id": "one"}, "reference", "specimen_id"),
    # spacings that do not make a bed
    ("spacings", GAP, {"value": "0"}, "gap-not-positive", "value"),
    ("spacings", MARKS + 5, {"value": "54.0"}, "marks-not-rising", "value"),
    ("spacings", MARKS + 5, {"value": "53.9"}, "marks-not-rising", "value"),
]


def second_repeats(line: int) -> list[int]:
    """The lines of second repeats below a line: without them the run's first repeat stands alone."""
    return [number for number, row in enumerate(GOOD.tables["spacings"], 2) if row["repeat"] == "2" and number > line]


def put_blank_line(folder: Folder, table: str) -> None:
    lines = folder.lines(table)
    folder.rewrite(table, [lines[0], "", *lines[1:]])


def test_the_package_is_good_to_begin_with(tmp_path):
    tables = GOOD.derived(["beds", "handling"])
    assert [len(tables[name]) for name in ("beds", "scores", "handling")] == [2, 2, 1]
    with pytest.raises(pytest.fail.Exception):
        Folder(tmp_path / "package").refused()


@pytest.mark.parametrize("blank", [False, True], ids=["", "blank line before"])
@pytest.mark.parametrize(("table", "line", "cells", "code", "column"), CELLS, ids=lambda value: str(value)[:40])
def test_one_bad_cell(tmp_path, table, line, cells, code, column, blank):
    folder = Folder(tmp_path / "package")
    folder.edit(table, line, **cells)
    if code == "gap-not-positive":  # averaged with a good repeat it would be half a gap
        folder.drop(table, *second_repeats(line))
    if blank:
        put_blank_line(folder, table)
    problem = only(folder.refused(), code)
    place = problem.place
    assert (place.file, place.line, place.column) == (f"catalogue/{table}.csv", line + blank, column)
    assert problem.message
    (bad,) = cells.values()
    if code not in ("gap-not-positive", "marks-not-rising", "instrument-dimension"):
        assert problem.found == repr(bad)


@pytest.mark.parametrize(
    ("table", "line", "cells", "nearest"),
    [
        ("spacings", GAP, {"specimen_id": "one-b"}, "one-a"),
        ("spacings", GAP, {"contributor_id": "idas"}, "ida"),
        ("specimens", 3, {"frame_id": "twoo"}, "two"),
        ("readings", 2, {"instrument_id": "ruler"}, "rule"),
    ],
)
def test_an_unknown_reference_offers_the_nearest(tmp_path, table, line, cells, nearest):
    folder = Folder(tmp_path / "package")
    folder.edit(table, line, **cells)
    assert nearest in only(folder.refused(), "reference").fix


LAST_OF_KEY = {
    "frames": "frame_id", "specimens": "specimen_id", "instruments": "instrument_id", "contributors": "contributor_id",
    "readings": "repeat", "spacings": "repeat",
}  # fmt: skip


@pytest.mark.parametrize(("table", "key"), LAST_OF_KEY.items())
def test_a_key_stands_once(tmp_path, table, key):
    folder = Folder(tmp_path / "package")
    more = {"value": "12.6"} if table == "spacings" else {}
    at = folder.repeat(table, 2, **more)
    place = only(folder.refused(), "repeated-key").place
    assert (place.file, place.line, place.column) == (f"catalogue/{table}.csv", at, key)


def test_a_unit_of_the_wrong_dimension_is_told_what_would_do(tmp_path):
    folder = Folder(tmp_path / "package")
    folder.edit("spacings", GAP, unit="g")
    expected = only(folder.refused(), "unit-dimension").expected
    assert "mm" in expected
    assert "[in_i]" in expected


# Runs that do not make a bed


def lines_with(**cells: object) -> list[int]:
    """The physical lines of the good spacings that have these cells."""
    rows = enumerate(GOOD.tables["spacings"], 2)
    return [number for number, row in rows if all(row[name] == str(value) for name, value in cells.items())]


MAINS_OF_ONE = {"specimen_id": "one-a", "family": "main"}
OF_TWO = {"specimen_id": "two-a"}


def drop(**cells: object):
    """Take every row with these cells out."""
    return lambda folder: folder.drop("spacings", *lines_with(**cells))


def add(line: int, **cells: object):
    """Put a row in once more with other cells."""
    return lambda folder: folder.repeat("spacings", line, **cells)


def move_crosses(folder: Folder) -> None:
    for line in lines_with(**OF_TWO, family="cross"):
        folder.edit("spacings", line, station_mm=40)


# what is done, code, line pointed at, what is said to be found
RUNS = {
    "a gap is missing": (drop(**MAINS_OF_ONE, no=7), "missing-numbers", 2, "missing 7"),
    "two gaps are missing": (lambda folder: folder.drop("spacings", *lines_with(**MAINS_OF_ONE, no=3), *lines_with(
        **MAINS_OF_ONE, no=15)), "missing-numbers", 2, "missing 3, 15"),
    "one edge only": (drop(**MAINS_OF_ONE, no=16), "missing-numbers", 2, "missing 16"),
    "the other edge only": (drop(**MAINS_OF_ONE, no=0), "missing-numbers", 2, "missing 0"),
    "a mark is missing": (drop(**OF_TWO, family="main", station_mm=0, no=4), "missing-numbers", MARKS, "missing 4"),
    "one edge of marks only": (add(MARKS, no=19, value=900), "missing-numbers", MARKS, "missing 0"),
    "a gap too many": (add(GAP, no=17), "surplus-numbers", 2, "surplus 17"),
    "a mark too many": (add(MARKS, no=20, value=900), "surplus-numbers", MARKS, "surplus 20"),
    "crosses at another station": (move_crosses, "station", MARK_CROSSES, "40"),
    "no mains at station 0": (drop(**OF_TWO, family="main", station_mm=0), "missing-station", MARKS, None),
    "no crosses": (drop(**OF_TWO, family="cross"), "missing-station", MARKS, None),
    "another count of strings": (lambda folder: folder.edit("frames", 3, mains=20), "missing-numbers", MARKS, "missing 19, 20"),
}  # fmt: skip


@pytest.mark.parametrize("blank", [False, True], ids=["", "blank line before"])
@pytest.mark.parametrize("case", RUNS)
def test_a_run_that_is_not_whole(tmp_path, case, blank):
    damage, code, line, found = RUNS[case]
    folder = Folder(tmp_path / "package")
    damage(folder)
    if blank:
        put_blank_line(folder, "spacings")
    problem = folder.refused()[0]
    assert problem.code == code
    assert (problem.place.file, problem.place.line) == ("catalogue/spacings.csv", line + blank)
    assert problem.found == found
