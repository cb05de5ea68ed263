"""The usual slips of people and spreadsheets: what the advice must hold, by what was written. Expected by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from contributed import even_bed, package_in, sent
from damaged import good
from gapbook.intake.check import check
from gapbook.intake.table_files import row_key
from gapbook.tables.opening import open_package

ROOT = Path(__file__).resolve().parents[1]
GAP = b"new-a,main,0,gap,3,ida,cal,2026-03-01,1,12.5,mm"
HEADER = b"specimen_id,family,station_mm,kind,no,contributor_id,instrument_id,taken_on,repeat,value,unit\n"


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    return package_in(tmp_path_factory.mktemp("mending") / "package", good())


def found(package, folder: Path, table: str, old: bytes, new: bytes):
    """What a check finds in the contribution of one new bed with a piece of a table replaced."""
    path = sent(even_bed("new", "new-a"), folder / "sent") / f"{table}.csv"
    text = path.read_bytes()
    assert text.count(old) == 1
    path.write_bytes(text.replace(old, new))
    report = check(path.parent, package).report
    assert report.broken == ()
    return report.findings


@pytest.mark.parametrize(
    ("table", "old", "new", "code", "column", "advice"),
    [
        ("spacings", GAP, GAP.replace(b"12.5", b"12,5"), "width", None, "12.5 with a point"),
        ("spacings", GAP, GAP.replace(b"12.5", b'"12,5"'), "type", "value", "12.5, with a point"),
        ("spacings", GAP, GAP.replace(b"12.5", b"12.5mm"), "type", "value", "the number alone, 12.5"),
        ("spacings", GAP, GAP.replace(b"12.5", b" 12.5"), "type", "value", "blanks"),
        ("spacings", GAP, GAP.replace(b"12.5", b"7/16"), "type", "value", "0.4375"),  # 7 / 16
        ("spacings", GAP, GAP.replace(b"12.5", b"12 15/16"), "type", "value", "12.9375"),  # 12 + 15 / 16
        ("spacings", GAP, GAP.replace(b"12.5", b"12-15/16 in"), "type", "value", "12.9375"),
        ("spacings", GAP, GAP.replace(b"12.5", "9½".encode()), "type", "value", "9.5"),
        ("spacings", GAP, GAP.replace(b"2026-03-01", b"13.03.2026"), "type", "taken_on", "2026-03-13"),
        ("spacings", GAP, GAP.replace(b"2026-03-01", b"3/13/2026"), "type", "taken_on", "2026-03-13"),
        ("spacings", GAP, GAP.replace(b"2026-03-01", b"1/3/2026"), "type", "taken_on", "2026-03-01 or 2026-01-03"),
        ("spacings", GAP, GAP.replace(b"2026-03-01", b"2026.3.1"), "type", "taken_on", "2026-03-01"),
        ("spacings", GAP, GAP + b",", "width", None, "the commas at the end of the row"),
        ("spacings", GAP, GAP + b"\n,,,,,,,,,,", "required", "specimen_id", "take the row out"),
        ("spacings", GAP, GAP.replace(b"new-a", b"New A"), "pattern", "specimen_id", "new-a"),
        ("spacings", HEADER, HEADER.replace(b",", b";"), "header", None, "not semicolons"),
        ("spacings", HEADER, HEADER.replace(b",", b"\t"), "header", None, "not tabs"),
        ("spacings", HEADER, HEADER.replace(b"unit\n", b"unit,,\n"), "header", None, "the commas at the end of the rows"),
        ("spacings", HEADER, HEADER.replace(b",", b", "), "header", None, "Take out the blanks"),
        ("spacings", HEADER, HEADER.upper(), "header", None, "small letters"),
        ("spacings", HEADER, b"sep=,\n" + HEADER, "header", None, "Take out the first line, sep=,"),
        (
            "spacings",
            HEADER,
            HEADER.replace(b"value,unit", b"reading,in"),
            "header",
            None,
            "Add the columns value, unit, and remove the columns reading, in",
        ),
        ("spacings", GAP, GAP.replace(b",1,12.5", b",0,12.5"), "limit", "repeat", "Write a whole number from 1 to 99"),
        ("spacings", GAP, GAP.replace(b"12.5", b"-12.5"), "limit", "value", "its unit stands in unit"),
        ("frames", b"16,19,620.0,", b"16,19,620,0,", "width", None, "620.0 with a point for head_area_cm2"),
        ("frames", b"16,19,620.0,", b"16,19,96,", "limit", "head_area_cm2", "sq in"),
    ],
)
def test_advice_names_what_to_write(package, tmp_path, table, old, new, code, column, advice):
    (finding,) = found(package, tmp_path, table, old, new)
    assert (finding.code, finding.table, finding.column) == (code, table, column)
    assert advice in finding.fix


def test_an_empty_file_is_called_empty(package, tmp_path):
    folder = sent(even_bed("new", "new-a"), tmp_path / "sent")
    (folder / "spacings.csv").write_bytes(b"")
    fixes = [one.fix for one in check(folder, package).report.findings if one.code == "header"]
    assert fixes == ["Write the header, and the rows below it: the file is empty"]


def test_a_row_whose_id_is_taken_is_given_its_own(package, tmp_path):
    path = sent(even_bed("new", "new-a"), tmp_path / "sent") / "specimens.csv"
    path.write_bytes(path.read_bytes() + path.read_bytes().splitlines(keepends=True)[1])
    (finding,) = check(path.parent, package).report.findings
    assert finding.code == "repeated-key"
    assert finding.fix == "Take the row out, or give the new one its own specimen_id"


def test_advice_is_not_made_up(package, tmp_path):
    # Two cells too many are no decimal comma; a day that no calendar has in any order is none.
    for number, (text, code) in enumerate([(b"1,2,5", "width"), (b"12;5", "type")]):
        (finding,) = found(package, tmp_path / str(number), "spacings", GAP, GAP.replace(b"12.5", text))
        assert finding.code == code
        assert "point" not in finding.fix
    (finding,) = found(package, tmp_path / "day", "spacings", GAP, GAP.replace(b"2026-03-01", b"31.02.2026"))
    assert "2026" not in finding.fix


@pytest.mark.parametrize(
    ("name", "advice"), [("~$spacings.csv", "Close"), (".~lock.frames.csv#", "Close"), ("Readings.csv", "readings.csv")]
)
def test_files_beside_the_tables(package, tmp_path, name, advice):
    folder = sent(even_bed("new", "new-a"), tmp_path / "sent")
    (folder / name).write_bytes(b"")
    (finding,) = check(folder, package).report.findings
    assert (finding.code, Path(finding.file).name) == ("unknown-file", name)
    assert advice in finding.fix


@pytest.mark.parametrize(
    ("text", "written"), [("true", "true"), ("TRUE", "true"), ("1", "true"), ("0", "false"), ("yes", "yes"), ("", "")]
)
def test_a_key_keeps_a_word_that_is_no_truth_value(text, written):
    # `true` and `false` are the words of the Table Schema's boolean; any other word stands as it was written.
    schema = open_package(ROOT).schema("readings")
    cells = [text if name == "strung" else name for name in schema.names]
    place = schema.primary_key.index("strung")
    assert row_key(schema, cells).split("/")[place] == written
