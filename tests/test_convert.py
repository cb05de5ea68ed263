"""What strangers send becomes the rows of a contribution, or is refused with its sheet and cell; nothing is guessed unseen."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import zipfile
from collections.abc import Iterator
from decimal import Decimal
from itertools import cycle
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from demo_rows import ROOT
from gapbook.errors import GapbookError
from gapbook.intake.converting import convert as converting
from gapbook.intake.converting.convert import Wishes, convert
from gapbook.questions import measuring_sheet, measuring_workbook
from gapbook.questions.measuring_sheet import Wishes as SheetWishes
from gapbook.questions.measuring_sheet import session
from gapbook.tables import workbooks
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store
from running import gapbook
from sent_files import CASES, REFUSED, WIDE, ods, written, xlsx


@pytest.fixture(scope="module")
def package():
    return open_package(ROOT)


def wishes(folder: Path, said: dict[str, str], mapping: str = "") -> Wishes:
    given = {name: text for name, text in said.items() if name not in ("dates", "decimal")}
    path = folder / "names.toml" if mapping else None
    if path is not None:
        path.write_text(mapping, encoding="utf-8")
    return Wishes(said.get("dates"), said.get("decimal"), path, given)


def lines(package, converted) -> dict[str, list[str]]:
    return {
        table: [",".join(row.get(name, "") for name in package.schema(table).names) for row in rows]
        for table, rows in converted.rows.items()
    }


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_what_is_sent_becomes_these_rows(package, tmp_path, case):
    converted = convert(written(case.files, tmp_path / "sent"), package, wishes(tmp_path, case.wishes, case.mapping))
    assert lines(package, converted) == case.expected
    told = "\n".join(converted.guesses)
    assert [word for word in case.guesses if word not in told] == []


def test_nothing_is_guessed_of_exact_rows(package, tmp_path):
    converted = convert(written(CASES[0].files, tmp_path), package, Wishes())
    assert (converted.guesses, converted.changes) == ((), ())


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case.name)
def test_what_cannot_be_read_is_an_error_with_its_cell(package, tmp_path, case):
    with pytest.raises(GapbookError) as stop:
        convert(written(case.files, tmp_path), package, wishes(tmp_path, case.wishes))
    assert {problem.code for problem in stop.value.problems} == {case.code}
    assert [word for word in case.words if word not in str(stop.value)] == []


# Files made to harm


def parts(data: bytes, **changed: bytes) -> bytes:
    """A workbook with other parts; those that it lacks are added."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in dict.fromkeys([*old.namelist(), *changed]):
            new.writestr(name, changed.get(name) or old.read(name))
    return out.getvalue()


GOOD = xlsx(Bed=[WIDE.split(","), ["fern-98-a", "2026-04-03", 10.5, 10.25]])
SHEET = "xl/worksheets/sheet1.xml"
FAR = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="1"><c r="A1"><v>1</v></c></row><row r="%d"><c r="%s"><v>1</v></c></row></sheetData></worksheet>'
)


def repeated(times: str) -> bytes:
    """An ods whose one cell claims to stand in a million rows."""
    content = zipfile.ZipFile(io.BytesIO(ods(a=[["x"]]))).read("content.xml")
    return parts(ods(a=[["x"]]), **{"content.xml": content.replace(b"<table:table-row>", times.encode())})


def lying() -> bytes:
    """A bomb whose directory says that it is small."""
    bomb = parts(GOOD, **{SHEET: b" " * 5_000_000})
    return bomb.replace((5_000_000).to_bytes(4, "little"), (4000).to_bytes(4, "little"))


HOSTILE = {
    "a zip bomb": (lambda: parts(GOOD, **{SHEET: b" " * 2_000_001}), "larger than any file"),
    "a bomb that lies": (lying, "cannot be read"),
    "a cell a million rows down": (lambda: parts(GOOD, **{SHEET: FAR % (1048576, b"A1048576")}), "row 1,048,576"),
    "a cell in the last column": (lambda: parts(GOOD, **{SHEET: FAR % (2, b"XFD2")}), "column 16,384"),
    "a cell repeated down an ods": (
        lambda: repeated('<table:table-row table:number-rows-repeated="1048576">'), "row 1,048,576"
    ),
    "entities": (lambda: parts(GOOD, **{"xl/sharedStrings.xml": b'<!DOCTYPE a [<!ENTITY b "c">]><sst/>'}), "entities"),
    "an archive": (lambda: _archive({"readme.txt": b"x"}), "no xlsx"),
    "many parts": (lambda: _archive({f"{number}": b"" for number in range(workbooks.MOST_PARTS + 1)}), "parts"),
    "half a file": (lambda: GOOD[: len(GOOD) // 2], "cannot be read"),
    "an xls of nothing": (lambda: workbooks.OLE + bytes(2000), "cannot be read"),
    "a picture": (lambda: b"\x89PNG\r\n\x1a\n\x00\x00", "neither a spreadsheet nor text"),
}  # fmt: skip


def _archive(files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_is_refused(package, tmp_path, monkeypatch, name):
    make, words = HOSTILE[name]
    monkeypatch.setattr(workbooks, "LARGEST_UNPACKED", 2_000_000)
    with pytest.raises(GapbookError) as stop:
        convert(written({"sent.xlsx": make()}, tmp_path), package, Wishes())
    assert stop.value.problems[0].code == "unreadable"
    assert words in str(stop.value)


def test_macros_and_links_to_other_files_are_left_alone_and_told(package, tmp_path):
    target = b'<Relationships><Relationship Target="file:///etc/passwd" TargetMode="External"/></Relationships>'
    more = {"xl/vbaProject.bin": b"x", "xl/externalLinks/externalLink1.xml": target}
    converted = convert(written({"sent.xlsm": parts(GOOD, **more)}, tmp_path), package, wishes(tmp_path, ILSA))
    assert [row["value"] for row in converted.rows["spacings"]] == ["10.5", "10.25"]
    told = "\n".join(converted.guesses)
    assert "macros are not run" in told
    assert "links to other files are not followed" in told


def test_a_link_and_a_file_too_large_are_not_opened(package, tmp_path):
    (file,) = written({"sent.xlsx": GOOD}, tmp_path)
    (tmp_path / "link.xlsx").symlink_to(file)
    with (tmp_path / "large.xlsx").open("wb") as large:
        large.truncate(workbooks.LARGEST_FILE + 1)
    for name, code in (("link.xlsx", "path"), ("large.xlsx", "unreadable"), ("none.xlsx", "missing-file")):
        with pytest.raises(GapbookError) as stop:
            convert([tmp_path / name], package, Wishes())
        assert stop.value.problems[0].code == code


ILSA = {"contributor": "ilsa-quarrow", "instrument": "calliper-ilsa"}


# The command


def bed(**more: object) -> bytes:
    """A whole bed, one row a family, as a club member types it: 16 mains and 19 crosses, in mm, with edges."""
    mains, crosses = [20.5, *[11.5] * 15, 20.5], [25.5, *[12.5] * 18, 25.5]
    heads = ["Racquet", "Measured by", "Date", "Strings", *(f"gap {number}" for number in range(20))]
    rows = [["Fern 98", "Ada Moss", "3.4.2026", "mains", *mains], ["Fern 98", "Ada Moss", "3.4.2026", "crosses", *crosses]]
    return xlsx(Tabelle1=[["Club night"], heads, *rows])


@pytest.mark.slow
def test_a_club_member_converts_a_list(tmp_path):
    written({"night.xlsx": bed()}, tmp_path)
    options = ("--out", "ada", "--unit", "mm", "--dates", "day-first")
    asked = gapbook("convert", "night.xlsx", *options, cwd=tmp_path)
    assert asked.returncode == 2
    assert [word for word in ("Racquet", "ada-moss is new", "--yes") if word not in asked.stderr] == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["night.xlsx"]
    done = gapbook("convert", "night.xlsx", *options, "--yes", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "ada-sent" / "night.xlsx").read_bytes() == (tmp_path / "night.xlsx").read_bytes()
    assert "ada-moss is new" in (tmp_path / "ada-sent" / "report.md").read_text(encoding="utf-8")
    changed = list(csv.DictReader((tmp_path / "ada-sent" / "changes.csv").open(encoding="utf-8")))
    assert {"cell": "C3", "column": "taken_on", "sent": "3.4.2026", "written": "2026-04-03"}.items() <= changed[2].items()
    again = gapbook("convert", "night.xlsx", *options, "--yes", cwd=tmp_path)
    assert again.returncode == 2
    assert "nothing was written" in again.stderr


@pytest.mark.slow
def test_what_was_converted_is_checked_compared_and_shown(tmp_path):
    written({"night.xlsx": bed()}, tmp_path)
    options = ("--out", "ada", "--unit", "mm", "--dates", "day-first", "--yes")
    for command in (("convert", "night.xlsx", *options), ("check", "ada"), ("compare", "fern-98", "ada"), ("show", "./ada")):
        run = gapbook(*command, cwd=tmp_path)
        assert run.returncode == 0, run.stdout + run.stderr


def test_the_example_of_a_mapping_file_can_be_used(tmp_path):
    example = gapbook("convert", "--map-example")
    (tmp_path / "names.toml").write_text(example.stdout, encoding="utf-8")
    text = "Rahmen;Gemessen von;Gemessen am;Bespannung;Abstand 1;Abstand 2\nfern-98;ada-moss;2026-04-03;längs;10,5;10,25\n"
    (tmp_path / "a.csv").write_text(text, encoding="utf-8")
    run = gapbook("convert", "a.csv", "--map", "names.toml", "--out", "a", "--yes", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert [row["value"] for row in csv.DictReader((tmp_path / "a" / "spacings.csv").open())] == ["10.5", "10.25"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[columns]\nA = 'wert'\n", "wert"),
        ("[column]\nA = 'value'\n", "column"),
        ("[units]\nA = 'ell'\n", "ell"),
        ("[given]\nwho = 'x'\n", "who"),
        ("[columns\n", "TOML"),
    ],
)
def test_a_mapping_file_that_means_nothing_is_refused(package, tmp_path, text, words):
    with pytest.raises(GapbookError) as stop:
        convert(written(CASES[0].files, tmp_path), package, wishes(tmp_path, {}, text))
    assert stop.value.problems[0].code == "mapping"
    assert words in str(stop.value)


def test_a_folder_is_no_file(package, tmp_path):
    with pytest.raises(GapbookError) as stop:
        convert([tmp_path], package, Wishes())
    assert "it is a folder" in str(stop.value)


def test_a_row_without_figures_and_a_cell_without_a_name_are_told(package, tmp_path):
    text = f"{WIDE}\nfern-98-a,2026-04-03,10,11,late\nTotal,,,\n"
    converted = convert(written({"a.csv": text.encode()}, tmp_path), package, wishes(tmp_path, ILSA))
    told = "\n".join(converted.guesses)
    assert "row 3: left out, because no figure stands in it ('Total')" in told
    assert "line 2, cell 5: 1 cells below no name of a column are left out" in told


def test_without_the_extra_it_says_what_to_install(package, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "python_calamine", None)
    with pytest.raises(GapbookError) as stop:
        convert(written({"a.xlsx": GOOD}, tmp_path), package, Wishes())
    assert stop.value.problems[0].code == "no-reader"


@pytest.mark.parametrize("at", [1, 2], ids=["what was sent", "the tables"])
def test_a_failure_while_writing_leaves_nothing(package, tmp_path, monkeypatch, at):
    converted = convert(written(CASES[0].files, tmp_path / "f"), package, Wishes())

    rename, calls = os.rename, []

    def full(*paths: Path) -> None:
        calls.append(paths)
        if len(calls) == at:
            raise OSError(28, "No space left on device")
        rename(*paths)

    monkeypatch.setattr(os, "rename", full)
    with pytest.raises(GapbookError):
        converting.write(converted, package, tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["f"]


# The sheet as a spreadsheet


@pytest.fixture(scope="module")
def store(package):
    return Store(package)


def filled(path: Path, figures: Iterator[float]) -> None:
    """Fill in a spreadsheet of `sheet --xlsx` as a person does: every marked cell in order, and the name of the frame."""
    book = openpyxl.load_workbook(path)
    for name in ("bed", "readings"):
        for row in book[name].iter_rows():
            for cell in row:
                if cell.fill.fill_type == "solid":
                    cell.value = next(figures)
    if "frames" in book.sheetnames:
        sheet = book["frames"]
        sheet["B2"], sheet["C2"] = "Lorrimer", "Wren"
    book.save(path)


WISHED = st.builds(
    SheetWishes,
    contributor=st.sampled_from(["ada-moss", "ilsa-quarrow"]),
    kind=st.sampled_from([None, "mark", "gap"]),
    unit=st.sampled_from([None, "mm", "in"]),
    stations=st.sampled_from(["0", "0,80,-80", "0,62.5"]),
    repeats=st.integers(1, 2),
    taken_on=st.just("2026-05-04"),
    handling=st.booleans(),
)


@settings(deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(["fern-98", "fern-98-a", "16x19", "18x20 98 sq in"]),
    wished=WISHED,
    steps=st.lists(st.integers(1, 99999), min_size=1, max_size=30),
)
def test_a_spreadsheet_that_was_filled_in_is_the_same_contribution(store, package, tmp_path_factory, name, wished, steps):
    planned = session(store, name, wished)
    path = tmp_path_factory.mktemp("sheet") / "sheet.xlsx"
    measuring_workbook.write(planned, package, path)
    filled(path, (step / 1000 for step in cycle(steps)))
    converted = convert([path], package, Wishes())
    expected = measuring_sheet.tables(planned)
    rows = [row for table in ("spacings", "readings") for row in expected[table]]
    for row, step in zip(rows, cycle(steps), strict=False):
        row["value"] = format(Decimal(step).scaleb(-3).normalize(), "f")
    if "frames" in expected:
        expected["frames"][0] |= {"maker": "Lorrimer", "model": "Wren"}
    stated = {table: [{name: row[name] for name in row if row[name]} for row in rows] for table, rows in converted.rows.items()}
    assert stated == expected
    assert converted.guesses == ()


def test_a_spreadsheet_has_the_limits_of_the_schema_and_is_not_written_over(tmp_path):
    options = ("--contributor", "ada-moss", "--out", tmp_path / "sheet.svg", "--xlsx", "--package", ROOT)
    run = gapbook("sheet", "fern-98", *options)
    assert run.returncode == 0, run.stderr
    (rule,) = openpyxl.load_workbook(tmp_path / "sheet.xlsx")["bed"].data_validations.dataValidation
    fields = json.loads((ROOT / "schema" / "spacings.json").read_text(encoding="utf-8"))["fields"]
    limits = next(item["constraints"] for item in fields if item["name"] == "value")
    assert (float(rule.formula1), float(rule.formula2)) == (limits["minimum"], limits["maximum"])
    assert "mm" in rule.prompt
    (tmp_path / "sheet.svg").unlink()
    shutil.rmtree(tmp_path / "sheet-csv")
    again = gapbook("sheet", "fern-98", *options)
    assert again.returncode == 2
    assert "may hold readings" in again.stderr
