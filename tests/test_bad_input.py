"""A good package with one thing broken: the error's code, and the file, physical line and column it points at."""

from __future__ import annotations

import pytest

from damaged import Folder, good, line_of

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
    ("spacings", GAP, {"value": "0x10"}, "type", "value"),
    ("spacings", GAP, {"value": "१२"}, "type", "value"),
    ("spacings", GAP, {"value": ""}, "required", "value"),
    ("spacings", GAP, {"value": "NA"}, "required", "value"),
    ("spacings", GAP, {"value": "-0.1"}, "limit", "value"),
    ("spacings", GAP, {"value": "1000.1"}, "limit", "value"),
    ("spacings", GAP, {"no": "3.7"}, "type", "no"),
    ("spacings", GAP, {"no": "3.0"}, "type", "no"),
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
    ("frames", 3, {"edition": "club"}, "enum", "edition"),
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


def only(problems, code: str):
    """The one problem there is."""
    assert [problem.code for problem in problems] == [code]
    return problems[0]


@pytest.mark.parametrize("blank", [False, True], ids=["", "blank line before"])
@pytest.mark.parametrize(("table", "line", "cells", "code", "column"), CELLS, ids=lambda value: str(value)[:40])
def test_one_bad_cell(tmp_path, table, line, cells, code, column, blank):
    folder = Folder(tmp_path / "package")
    folder.edit(table, line, **cells)
    if table == "spacings" and code in ("gap-not-positive", "instrument-dimension", "reference", "unit-unknown"):
        # The first of two repeats: that the average is positive all the same would hide a gap of 0.
        folder.drop(table, *twice(line))
    if blank:
        lines = folder.lines(table)
        folder.rewrite(table, [lines[0], "", *lines[1:]])
    place = only(folder.refused(), code).place
    assert (place.file, place.line, place.column) == (f"catalogue/{table}.csv", line + blank, column)


def twice(line: int) -> list[int]:
    """The lines of the second repeats, where the row on `line` is a first one."""
    return [n for n, row in enumerate(GOOD.tables["spacings"], 2) if row["repeat"] == "2" and n > line]
