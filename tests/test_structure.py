"""One thing broken by its bytes in a good package: the code, the line and the column it is found under, and nothing else."""

from __future__ import annotations

import os
import re

import pytest

from gapbook.intake.findings import Severity
from gapbook.intake.rules import RULES
from gapbook.intake.rules.structure import RULES as STRUCTURE
from structured import Broken, at_line, places, swap

ROW = b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,12.5,mm"
"""Line 5 of spacings.csv."""


def row(new: bytes):
    return swap(ROW, new)


CELLS = [
    ("required", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,,mm"), 5, "value"),
    ("required", "spacings", row(b"one-a,main,0,gap,3,ida,cal,NA,1,12.5,mm"), 5, "taken_on"),
    ("required", "frames", swap(b"\none,Nobody,", b"\none,,"), 2, "maker"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,nan,mm"), 5, "value"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,inf,mm"), 5, "value"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,1e400,mm"), 5, "value"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,1_2.5,mm"), 5, "value"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1, 12.5,mm"), 5, "value"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,0x10,mm"), 5, "value"),
    ("type", "spacings", row(b'one-a,main,0,gap,3,ida,cal,2026-03-01,1,"12,5",mm'), 5, "value"),
    ("type", "spacings", row(b"one-a,main,0,gap,3.0,ida,cal,2026-03-01,1,12.5,mm"), 5, "no"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-02-30,1,12.5,mm"), 5, "taken_on"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,01.03.2026,1,12.5,mm"), 5, "taken_on"),
    ("type", "spacings", row(b"one-a,main,0,gap,3,ida,cal,0000-03-01,1,12.5,mm"), 5, "taken_on"),
    ("type", "readings", swap(b",true,", b",yes,"), 2, "strung"),
    ("enum", "spacings", row(b"one-a,mains,0,gap,3,ida,cal,2026-03-01,1,12.5,mm"), 5, "family"),
    ("enum", "frames", swap(b",retail,", b",Retail,"), 2, "edition"),
    ("pattern", "spacings", row(b"one-a,main,0,gap,3,Ida,cal,2026-03-01,1,12.5,mm"), 5, "contributor_id"),
    ("pattern", "spacings", row(b"One-a,main,0,gap,3,ida,cal,2026-03-01,1,12.5,mm"), 5, "specimen_id"),
    ("pattern", "testers", swap(b"\nann,", "\nänn,".encode()), 2, "tester_id"),
    ("limit", "spacings", row(b"one-a,main,0,gap,3,ida,cal,2026-03-01,1,1250,mm"), 5, "value"),
    ("limit", "spacings", row(b"one-a,main,0,gap,-3,ida,cal,2026-03-01,1,12.5,mm"), 5, "no"),
    ("limit", "spacings", row(b"one-a,main,0,gap,99999999999999999999,ida,cal,2026-03-01,1,12.5,mm"), 5, "no"),
    ("limit", "spacings", row(b"one-a,main,171,gap,3,ida,cal,2026-03-01,1,12.5,mm"), 5, "station_mm"),
    ("too-long", "testers", swap(b",none\n", b"," + b"x" * 81 + b"\n"), 2, "own_frame"),
    ("too-long", "testers", swap(b",none\n", b"," + b"x" * 200_000 + b"\n"), 2, "own_frame"),
    ("too-long", "testers", swap(b",none\n", b',"' + b"x" * 200_000 + b'"\n'), 2, "own_frame"),
    (
        "too-long",
        "spacings",
        row(ROW + b"x" * 15),
        5,
        "unit",
    ),
    ("formula", "testers", swap(b",none\n", b",=1+1\n"), 2, "own_frame"),
    ("formula", "testers", swap(b",none\n", b",+none\n"), 2, "own_frame"),
    ("formula", "testers", swap(b",none\n", b",-none\n"), 2, "own_frame"),
    ("formula", "testers", swap(b",none\n", b",@none\n"), 2, "own_frame"),
    ("formula", "testers", swap(b",none\n", b",\tnone\n"), 2, "own_frame"),
    ("formula", "testers", swap(b",none\n", b',"\rnone"\n'), 2, "own_frame"),
    ("control-character", "testers", swap(b",none\n", b",no\x00ne\n"), 2, "own_frame"),
    ("control-character", "testers", swap(b",none\n", b",no\x1b[31mne\n"), 2, "own_frame"),
    ("control-character", "testers", swap(b",none\n", b",no\x7fne\n"), 2, "own_frame"),
    ("control-character", "testers", swap(b",none\n", ",no\x9bne\n".encode()), 2, "own_frame"),
    ("control-character", "testers", swap(b",none\n", ",no\u202ene\n".encode()), 2, "own_frame"),
    ("control-character", "testers", swap(b",none\n", b",no\tne\n"), 2, "own_frame"),
]
KEYS = [
    ("repeated-key", "spacings", lambda text: text + ROW + b"\n", 132, "repeat"),
    ("repeated-key", "spacings", lambda text: text + ROW.replace(b",0,", b",-0.0,").replace(b"12.5", b"13.5"), 132, "repeat"),
    ("repeated-key", "testers", lambda text: text + b"ann,mixed,another\n", 3, "tester_id"),
    ("reference", "spacings", row(b"one-x,main,0,gap,3,ida,cal,2026-03-01,1,12.5,mm"), 5, "specimen_id"),
    ("reference", "spacings", row(b"one-a,main,0,gap,3,ada,cal,2026-03-01,1,12.5,mm"), 5, "contributor_id"),
    ("reference", "spacings", row(b"one-a,main,0,gap,3,ida,ruler-9,2026-03-01,1,12.5,mm"), 5, "instrument_id"),
    ("reference", "spacings", lambda text: text.replace(b",cal,", b",cal-9,"), 2, "instrument_id"),
    ("reference", "specimens", swap(b"two-a,two,", b"two-a,three,"), 3, "frame_id"),
]
FILES = [
    ("width", "spacings", row(ROW + b","), 5, None),
    ("width", "spacings", row(ROW.rpartition(b",")[0]), 5, None),
    ("width", "spacings", row(b" "), 5, None),
    ("width", "specimens", swap(b"one-a,one,1.25,\n", b'one-a,one,1.25,"a note",\n'), 2, None),
    ("header", "spacings", swap(b"family,station_mm", b"station_mm,family"), 1, None),
    ("header", "spacings", swap(b"family,", b"family,family,"), 1, None),
    ("header", "testers", lambda text: b"", 1, None),
    ("header", "testers", lambda text: b"\n\n", 1, None),
    ("header", "testers", lambda text: b"\n" + text.upper(), 2, None),
    ("header", "testers", lambda text: b"x" * 100_000, 1, None),
    ("header", "testers", lambda text: text.decode().encode("utf-16-le"), 1, None),
    ("encoding", "testers", lambda text: text.decode().encode("utf-16"), 1, None),
    ("encoding", "testers", swap(b"own", b"\xf6wn"), 1, None),
    ("encoding", "testers", swap(b",none", b",n\xf6ne"), 2, None),
    ("encoding", "spacings", at_line(90, lambda line: line.replace(b"mm", b"\xb5m")), 90, None),
    ("unreadable", "specimens", swap(b"two-a,two,1.25,", b'two-a,two,1.25,"no end'), 3, None),
    ("unreadable", "specimens", swap(b"one-a,one,1.25,", b'one-a,one,1.25,"no" end'), 2, None),
    ("unreadable", "spacings", row(ROW.replace(b"gap", b'"gap')), 5, None),
    ("unreadable", "testers", swap(b"tester_id", b'"tester_id'), 1, None),
]
CASES = [*CELLS, *KEYS, *FILES]


@pytest.mark.parametrize(
    ("code", "table", "change", "line", "column"), CASES, ids=[f"{case[0]}-{n}" for n, case in enumerate(CASES)]
)
def test_one_fault_is_one_finding(tmp_path, code, table, change, line, column):
    broken = Broken(tmp_path)
    broken.change(table, change)
    report = broken.checked(RULES).report
    assert places([item for item in report.findings if item.severity is Severity.error]) == [(code, table, line, column)]
    assert report.findings[0].file == f"catalogue/{table}.csv"
    assert report.findings[0].fix
    assert report.findings[0].found
    assert report.findings[0].expected


def test_every_code_of_a_file_has_a_case():
    elsewhere = {"path", "missing-file", "unknown-file", "conflicting-key"}
    assert {case[0] for case in CASES} | elsewhere == {rule.code for rule in STRUCTURE}


def test_a_good_package_has_none(tmp_path):
    checked = Broken(tmp_path).checked()
    assert checked.report.findings == ()
    assert checked.report.rows == 144
    assert checked.context.read.doubtful_specimens == frozenset()


SPELLINGS = {
    "CRLF": lambda text: text.replace(b"\n", b"\r\n"),
    "CR": lambda text: text.replace(b"\n", b"\r"),
    "a byte-order mark": lambda text: b"\xef\xbb\xbf" + text,
    "no newline at the end": lambda text: text.rstrip(b"\n"),
    "blank lines": lambda text: text.replace(b"\n", b"\n\n"),
    "blank lines, CRLF": lambda text: text.replace(b"\n", b"\r\n\r\n"),
    "a blank line first": lambda text: b"\n" + text,
    "quoted cells": lambda text: re.sub(rb"([^,\n]+)", rb'"\1"', text),
}
LINES = {"blank lines": 9, "blank lines, CRLF": 9, "a blank line first": 6}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_how_a_file_is_spelt_is_no_finding(tmp_path, spelling):
    broken = Broken(tmp_path)
    for table in ("spacings", "frames", "specimens"):
        broken.change(table, SPELLINGS[spelling])
    assert broken.findings() == ()


@pytest.mark.parametrize("spelling", SPELLINGS)
@pytest.mark.parametrize(("code", "new"), [("type", b",twelve,"), ("width", b","), ("unreadable", b',"12.5,')])
def test_lines_are_physical_however_a_file_is_spelt(tmp_path, spelling, code, new):
    broken = Broken(tmp_path)
    broken.change("spacings", row(ROW.replace(b",12.5,", new)))
    broken.change("spacings", SPELLINGS[spelling])
    assert [(finding.code, finding.line) for finding in broken.findings()] == [(code, LINES.get(spelling, 5))]


def test_lines_are_counted_through_a_cell_of_two_lines(tmp_path):
    broken = Broken(tmp_path)
    broken.change("specimens", swap(b"one-a,one,1.25,", b'one-a,one,1.25,"found in\nthe attic"'))
    assert broken.findings() == ()
    broken.change("specimens", swap(b"two-a,two,1.25", b"two-a,two,thick"))
    assert places(broken.findings()) == [("type", "specimens", 4, "string_gauge_mm")]


def test_every_fault_of_a_file_is_found_at_once(tmp_path):
    broken = Broken(tmp_path)
    broken.change("spacings", lambda text: text.replace(b",12.5,", b",twelve,"))
    broken.change("spacings", at_line(2, lambda line: b"One,rows,x,gaps,-1,,cal,soon,0,99999,=mm"))
    findings = broken.findings()
    second = [(finding.code, finding.column) for finding in findings if finding.line == 2]
    assert sorted(second) == [
        ("enum", "family"), ("enum", "kind"), ("formula", "unit"), ("limit", "no"), ("limit", "repeat"), ("limit", "value"),
        ("pattern", "specimen_id"), ("required", "contributor_id"), ("type", "station_mm"), ("type", "taken_on"),
    ]  # fmt: skip
    assert sum(finding.column == "value" and finding.code == "type" for finding in findings) == 66


def test_a_value_in_another_unit_is_told(tmp_path):
    broken = Broken(tmp_path)
    broken.change("frames", swap(b",620.0,", b",98,"))
    (finding,) = broken.findings()
    assert places([finding]) == [("limit", "frames", 2, "head_area_cm2")]
    assert "632.26 if 98 is in sq in" in finding.fix  # 98 · 6.4516 cm² [NIST SP 811]


def test_a_file_too_large_is_not_opened(tmp_path):
    broken = Broken(tmp_path)
    os.truncate(broken.tables / "testers.csv", 1 << 31)
    assert places(broken.findings()) == [("unreadable", "testers", None, None)]


def test_a_missing_file_and_what_is_no_file(tmp_path):
    broken = Broken(tmp_path)
    (broken.tables / "frames.csv").unlink()
    (broken.tables / "testers.csv").unlink()
    (broken.tables / "testers.csv").mkdir()
    (broken.tables / "playtests.csv").unlink()
    os.mkfifo(broken.tables / "playtests.csv")
    assert places(broken.findings()) == [
        ("missing-file", "frames", None, None),
        ("unreadable", "playtests", None, None),
        ("unreadable", "testers", None, None),
    ]
    tables = broken.checked().context.tables
    assert tables["frames"].num_rows == 0
    assert tables["spacings"].num_rows == 130
