"""Spreadsheet files of strangers (xlsx, xls, ods), read as bare cells.

Nothing in them is run or followed: no macro, no link to another file. An xlsx or ods is an archive; it is unpacked here within
limits, and only the parts that hold cells are handed on, repacked, so that what was counted is what is read. A sheet may claim
a cell a million rows down, for which a reader would make room; how far its cells reach is therefore looked at first.
"""

from __future__ import annotations

import datetime
import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from typing import NamedTuple

from gapbook.errors import GapbookError, Place, fail

LARGEST_FILE = 1 << 25
"""Bytes of the largest spreadsheet or CSV that is converted."""
LARGEST_UNPACKED = 1 << 28
"""Bytes of all parts of an xlsx or ods together; 10,000 rows of spacings have some 8 million."""
MOST_PARTS = 1000
MOST_SHEETS = 50
MOST_ROWS = 200_000
MOST_COLUMNS = 500
MOST_CELLS = 4_000_000
"""Cells from the first to the last of a sheet, blank ones included."""
ZIP, OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
"""How an xlsx or ods, and how an xls, begins."""
Cell = str | float | bool | datetime.date | datetime.datetime | datetime.time | datetime.timedelta | None
_KEPT = re.compile(
    r"\[Content_Types\]\.xml|_rels/\.rels|mimetype|content\.xml|META-INF/manifest\.xml"
    r"|xl/(?:workbook|styles|sharedStrings)\.xml|xl/_rels/workbook\.xml\.rels|xl/worksheets/[^/]+\.xml"
)
"""The parts that hold cells."""
_SHEET = re.compile(r"xl/worksheets/[^/]+\.xml")
_REFERENCE = re.compile(rb'<(?:\w+:)?c\b[^>]*?\br\s*=\s*["\']([A-Za-z]+)([0-9]+)["\']')
_ROW = re.compile(rb'<(?:\w+:)?row\b[^>]*?\br\s*=\s*["\']([0-9]+)["\']')
_ODS = re.compile(rb"<table:(table-row|table-cell|covered-table-cell|table)\b([^>]*)>")
_REPEATED = re.compile(rb'table:number-(?:rows|columns)-repeated\s*=\s*["\']([0-9]+)["\']')


class Sheet(NamedTuple):
    """One sheet: its name, and its rows from the first row and column of the sheet on."""

    name: str
    rows: list[list[Cell]]


def sheets(data: bytes, shown: str) -> tuple[list[Sheet], list[str]]:
    """The sheets of a workbook, and what of the file was left alone, in words.

    data: the file's bytes.
    shown: how errors name it.

    GapbookError: `unreadable` if it is damaged, locked by a password, or larger than the limits; `no-reader` if the extra
    `spreadsheets` is not installed.
    """
    left: list[str] = []
    if data.startswith(ZIP):
        data, left = _repacked(data, shown)
    try:
        from python_calamine import CalamineError, CalamineWorkbook, PasswordError  # here: an extra, and only needed here
    except ImportError:
        fix = "pip install 'gapbook[spreadsheets]', or save the sheets as CSV"
        raise fail("no-reader", "spreadsheets are read with python-calamine", place=Place(shown), fix=fix) from None
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(data))
        names = book.sheet_names
        if len(names) > MOST_SHEETS:
            raise _beyond(shown, f"{len(names)} sheets", f"at most {MOST_SHEETS}")
        return [Sheet(name, _rows(book.get_sheet_by_name(name), name, shown)) for name in names], left
    except GapbookError:
        raise
    except PasswordError:
        raise _unreadable(shown, "it is locked by a password", "Save it without a password") from None
    except (CalamineError, OSError, ValueError, zipfile.BadZipFile) as error:
        raise _unreadable(shown, str(error)) from None
    except BaseException as error:  # the reader's own faults, which are no Exception
        if type(error).__name__ != "PanicException":
            raise
        raise _unreadable(shown, "the reader broke off") from None


def _rows(sheet: object, name: str, shown: str) -> list[list[Cell]]:
    height, width = int(sheet.total_height), int(sheet.total_width)  # type: ignore[attr-defined]
    _must_fit(height, width, f"{shown}, sheet {name}")
    rows = sheet.to_python(skip_empty_area=False)  # type: ignore[attr-defined]
    cells = [[None if cell == "" else cell for cell in row] for row in rows]
    for (top, left), (bottom, right) in sheet.merged_cell_ranges or ():  # type: ignore[attr-defined]
        if left == right < width:  # cells merged down a column hold one value for all their rows
            for row in range(top + 1, min(bottom + 1, len(cells))):
                cells[row][left] = cells[top][left]
    return cells


def _must_fit(height: int, width: int, shown: str) -> None:
    if height > MOST_ROWS or width > MOST_COLUMNS or height * width > MOST_CELLS:
        limits = f"at most {MOST_ROWS:,} rows, {MOST_COLUMNS} columns and {MOST_CELLS:,} cells"
        raise _beyond(shown, f"cells down to row {height:,} and column {width:,}", limits)


def _beyond(shown: str, found: str, expected: str) -> GapbookError:
    fix = "Copy the cells that matter into a new sheet"
    return fail(
        "unreadable", "it is larger than any file of readings", place=Place(shown), found=found, expected=expected, fix=fix
    )


def _unreadable(
    shown: str, why: str, fix: str = "Open it in a spreadsheet program and save it anew, or save it as CSV"
) -> GapbookError:
    return fail("unreadable", f"the spreadsheet cannot be read: {why}", place=Place(shown), fix=fix)


def _repacked(data: bytes, shown: str) -> tuple[bytes, list[str]]:
    """The parts of an xlsx or ods that hold cells, as a new archive, and what was left out, in words."""
    left: set[str] = set()
    out = io.BytesIO()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive, zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as kept:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or len({part.filename for part in parts}) < len(parts):
                raise _beyond(shown, f"{len(parts)} parts", f"at most {MOST_PARTS}, each of another name")
            if not any(part.filename in ("xl/workbook.xml", "content.xml") for part in parts):
                raise _unreadable(shown, "it is an archive, but no xlsx or ods", "Unpack it and give the files themselves")
            room = LARGEST_UNPACKED
            for part in parts:
                left |= _left_alone(part.filename)
                if part.flag_bits & 1:
                    raise _unreadable(shown, "it is locked by a password", "Save it without a password")
                if _KEPT.fullmatch(part.filename):
                    text = _unpacked(archive, part, room, shown)
                    room -= len(text)
                    _look(part.filename, text, shown)
                    kept.writestr(part.filename, text)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError, RuntimeError, OSError) as error:
        raise _unreadable(shown, str(error) or type(error).__name__) from None
    return out.getvalue(), sorted(left)


def _left_alone(part: str) -> set[str]:
    if part.endswith("vbaProject.bin") or part.startswith("Basic/"):
        return {"its macros are not run"}
    if part.startswith("xl/externalLinks/"):
        return {"its links to other files are not followed; cells that use them have the figures that were saved with the file"}
    return set()


def _unpacked(archive: zipfile.ZipFile, part: zipfile.ZipInfo, room: int, shown: str) -> bytes:
    """A part's bytes; no more is unpacked than there is room for, whatever the archive says of its size."""
    with archive.open(part) as stream:
        text = stream.read(room + 1) if part.file_size <= room else b""
    if part.file_size > room or len(text) > room:
        raise _beyond(shown, f"{part.filename} of {part.file_size:,} bytes", f"at most {LARGEST_UNPACKED:,} bytes unpacked")
    return text


def _look(part: str, text: bytes, shown: str) -> None:
    """GapbookError if a part declares entities, or a sheet's cells reach further than the limits."""
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        raise _unreadable(shown, f"{part} declares entities")
    if _SHEET.fullmatch(part):
        columns, cells = set(), 0
        for found in _REFERENCE.finditer(text):
            columns.add(found[1])
            cells = max(cells, int(found[2][-8:]))
        rows = max((int(found[1][-8:]) for found in _ROW.finditer(text)), default=0)
        _must_fit(max(rows, cells), max(map(_column, columns), default=0), f"{shown}, {part}")
    elif part == "content.xml":
        for height, width in _reach(text):
            _must_fit(height, width, shown)


def _column(letters: bytes) -> int:
    number = 0
    for sign in letters.upper()[:6]:
        number = number * 26 + sign - 64
    return number


def _reach(text: bytes) -> Iterator[tuple[int, int]]:
    """How far the filled cells of each table of an ods reach: rows and columns."""
    height = width = row = column = repeated = 0
    for found in _ODS.finditer(text):
        kind, attributes = found[1], found[2]
        times = int(number[1][-8:]) if (number := _REPEATED.search(attributes)) else 1
        if kind == b"table":
            yield height, width
            height = width = row = column = repeated = 0
        elif kind == b"table-row":
            row, column, repeated = row + repeated, 0, times
        else:
            column += times
            if b"office:value-type" in attributes:
                height, width = max(height, row + repeated), max(width, column)
    yield height, width
