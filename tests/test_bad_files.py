"""Tables broken as a whole, cells on which readers could differ, and what is accepted all the same."""

from __future__ import annotations

import csv
import hashlib

import pytest

from damaged import KEPT, Folder, good, only
from gapbook.errors import GapbookError, fail
from gapbook.tables import derived
from gapbook.tables.cells import cell_problem
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.reader import read_table
from gapbook.tables.store import Store


def swap_header(lines: list[str]) -> list[str]:
    return [lines[0].replace("family,station_mm", "station_mm,family"), *lines[1:]]


FILES = [
    ("spacings", swap_header, "header", 1),
    ("spacings", lambda lines: [line.rsplit(",", 1)[0] for line in lines], "header", 1),
    ("spacings", lambda lines: [f"{line},x" for line in lines], "header", 1),
    ("frames", lambda lines: [lines[0].upper(), *lines[1:]], "header", 1),
    ("frames", lambda lines: lines[1:], "header", 1),
    ("frames", lambda lines: [], "header", 1),
    ("spacings", lambda lines: [*lines[:6], lines[6] + ",", *lines[7:]], "width", 7),
    ("spacings", lambda lines: [*lines[:6], lines[6].rsplit(",", 1)[0], *lines[7:]], "width", 7),
    ("specimens", lambda lines: [*lines[:2], 'two-a,two,1.25,"no end'], "unreadable", 3),
]


@pytest.mark.parametrize(("table", "change", "code", "line"), FILES)
def test_one_bad_file(tmp_path, table, change, code, line):
    folder = Folder(tmp_path / "package")
    folder.rewrite(table, change(folder.lines(table)))
    place = only(folder.refused(), code).place
    assert (place.file, place.line) == (f"catalogue/{table}.csv", line)


def test_a_header_says_how_to_mend_it(tmp_path):
    folder = Folder(tmp_path / "package")
    folder.rewrite("spacings", [line.rsplit(",", 1)[0] for line in folder.lines("spacings")])
    assert "unit" in only(folder.refused(), "header").fix


@pytest.mark.parametrize("table", ["frames", "specimens", "spacings", "readings", "instruments", "contributors"])
def test_a_missing_file(tmp_path, table):
    folder = Folder(tmp_path / "package")
    folder.table(table).unlink()
    assert only(folder.refused(), "missing-file").place.file == f"catalogue/{table}.csv"


@pytest.mark.parametrize("table", ["spacings", "readings"])
def test_a_header_without_a_line_end_is_a_table_without_rows(tmp_path, table):
    folder = Folder(tmp_path / "package")
    folder.table(table).write_text(folder.lines(table)[0], encoding="utf-8")
    rows = derive(open_package(folder.path))
    assert rows["beds"] == (0 if table == "spacings" else 2)


@pytest.mark.parametrize(
    ("table", "code", "column"),
    [("contributors", "pattern", "orcid"), ("frames", "type", "strung"), ("readings", "unit-unknown", "unit")],
)
@pytest.mark.parametrize("end", ["", "\n"])
def test_a_blank_at_the_very_end_is_seen(tmp_path, table, code, column, end):
    folder = Folder(tmp_path / "package")
    path = folder.table(table)
    path.write_text(path.read_text(encoding="utf-8").rstrip("\n") + " " + end, encoding="utf-8")
    assert only(folder.refused(), code).place.column == column


def test_text_that_is_not_utf8(tmp_path):
    folder = Folder(tmp_path / "package")
    folder.table("frames").write_bytes(folder.table("frames").read_bytes() + "three,Öhm,x".encode("latin-1"))
    assert only(folder.refused(), "encoding").place.file == "catalogue/frames.csv"


# The fast reader, the database and the slow look at a cell judge alike

TEXTS = {
    "value": ["12.5", "+12.5", "-0", ".5", "5.", "1E+1", "1e", "--1", "1.2.3", "12.5f", "1d3", " 12.5", "12.5 ", "\t9",
              "1e-400", "1e400", "infinity", "nan", "0x10", "1,5", "12.5\n", "null", "N/A"],
    "no": ["7", "07", "+7", "-0", "7.0", "7e0", "0x7", " 7", "7 ", "٧", "7\n", "1_0"],
    "taken_on": ["2026-03-01", "2026-02-30", "2026-3-1", "20260301", " 2026-03-01", "2026-03-01 ", "2026/03/01", "10000-01-01"],
    "strung": ["true", "True", "TRUE", "1", "false", "0", "tRUE", "yes", "t", " true", "2"],
}  # fmt: skip


@pytest.mark.parametrize(("column", "text"), [(column, text) for column, texts in TEXTS.items() for text in texts])
def test_three_readers_judge_alike(tmp_path, column, text):
    table = "readings" if column == "strung" else "spacings"
    folder = Folder(tmp_path / "package")
    folder.edit(table, 3, **{column: text})
    package = open_package(folder.path)
    schema = package.schema(table)
    code = cell_problem(schema.field(column), text)
    assert code in (None, "type")
    for read in (lambda: read_table(package, table), lambda: Store(package).load(table)):
        if code is None:
            read()
        else:
            with pytest.raises(GapbookError) as stop:
                read()
            assert [(problem.code, problem.place.line) for problem in stop.value.problems] == [("type", 3)]


# What is accepted, and what is refused though the tables are good

BOM = b"\xef\xbb\xbf"
SPELLINGS = {
    "CRLF": lambda text: text.replace(b"\n", b"\r\n"),
    "a byte-order mark": lambda text: BOM + text,
    "both": lambda text: BOM + text.replace(b"\n", b"\r\n"),
    "no newline at the end": lambda text: text.rstrip(b"\n"),
    "blank lines": lambda text: text.replace(b"\n", b"\n\n"),
    "a blank line first": lambda text: b"\n" + text,
    "quoted cells": lambda text: text.replace(b",main,", b',"main",'),
}


def derived_files(folder: Folder) -> dict[str, bytes]:
    derive(open_package(folder.path))
    return {path.name: path.read_bytes() for path in (folder.path / "catalogue" / "derived").iterdir()}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_files_may_be_spelt_otherwise(tmp_path, spelling):
    plain, other = Folder(tmp_path / "plain"), Folder(tmp_path / "other")
    for path in (other.path / "catalogue").glob("*.csv"):
        path.write_bytes(SPELLINGS[spelling](path.read_bytes()))
    found, expected = derived_files(other), derived_files(plain)
    digests = list(csv.DictReader(found.pop("digests.csv").decode().splitlines()))  # of the bytes: they tell spellings apart
    expected.pop("digests.csv")
    assert found == expected
    assert set(found) == {"beds.csv", "scores.csv", "handling.csv", "mechanics.csv"}
    assert KEPT not in found.values()
    assert {("beds", "spacings"), ("handling", "frames"), ("mechanics", "mechanics")} <= {
        (row["table"], row["source"]) for row in digests
    }
    for row in digests:
        text = found.get(f"{row['source']}.csv") or other.table(row["source"]).read_bytes()
        assert (int(row["bytes"]), row["sha256"]) == (len(text), hashlib.sha256(text).hexdigest()), row


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_the_database_reads_them_too(tmp_path, spelling):
    plain, other = Folder(tmp_path / "plain"), Folder(tmp_path / "other")
    for path in (other.path / "catalogue").glob("*.csv"):
        path.write_bytes(SPELLINGS[spelling](path.read_bytes()))
    for table in ("frames", "specimens", "spacings"):
        rows = []
        for folder in (plain, other):
            store = Store(open_package(folder.path))
            rows.append(store.rows(f"SELECT * FROM {store.load(table)} ORDER BY ALL"))
        assert rows[0] == rows[1], table
        assert rows[0]


@pytest.mark.parametrize("spelling", ["CRLF", "a byte-order mark", "both", "blank lines", "a blank line first"])
def test_lines_are_those_of_the_file_however_it_is_spelt(tmp_path, spelling):
    folder = Folder(tmp_path / "package")
    folder.edit("spacings", 9, value="twelve")
    path = folder.table("spacings")
    path.write_bytes(SPELLINGS[spelling](path.read_bytes()))
    line = {"blank lines": 17, "a blank line first": 10}.get(spelling, 9)
    assert only(folder.refused(), "type").place.line == line


def test_lines_are_counted_through_a_cell_of_two_lines(tmp_path):
    folder = Folder(tmp_path / "package")
    folder.edit("specimens", 3, string_gauge_mm="thick")
    folder.edit("specimens", 2, note="found in the attic,\nstrung by nobody knows whom")
    assert only(folder.refused(), "type").place.line == 4
    folder.edit("specimens", 4, string_gauge_mm="1.25")
    assert derive(open_package(folder.path))["beds"] == 2


def test_nothing_is_written_unless_every_part_can_be_computed(tmp_path, monkeypatch):
    def stop(*_):
        raise fail("handling", "cannot be computed")

    monkeypatch.setattr(derived, "handling_table", stop)
    assert only(Folder(tmp_path / "package").refused(), "handling")


def test_an_installed_package_is_read_only(tmp_path):
    folder = Folder(tmp_path / "package")
    opened = open_package(folder.path)
    with pytest.raises(GapbookError) as stop:
        derive(Package(opened.root, opened.descriptor, installed=True))
    assert [problem.code for problem in stop.value.problems] == ["read-only"]
    assert all(path.read_bytes() == KEPT for path in (folder.path / "catalogue" / "derived").iterdir())


def test_a_folder_that_cannot_be_written_to(tmp_path):
    folder = good().write(tmp_path / "package")
    (folder / "catalogue" / "derived").rmdir()
    (folder / "catalogue" / "derived").write_text("in the way", encoding="utf-8")
    with pytest.raises(GapbookError) as stop:
        derive(open_package(folder))
    assert stop.value.problems[0].code == "unwritable"
    assert (folder / "catalogue" / "derived").read_text(encoding="utf-8") == "in the way"


def test_nothing_is_left_lying_about(tmp_path):
    folder = Folder(tmp_path / "package")
    before = set(folder.path.rglob("*"))
    derived_files(folder)
    assert set(folder.path.rglob("*")) == before


def test_an_unknown_part_is_refused(tmp_path):
    folder = Folder(tmp_path / "package")
    with pytest.raises(GapbookError) as stop:
        derive(open_package(folder.path), ["bed"])
    assert stop.value.problems[0].code == "no-part"
