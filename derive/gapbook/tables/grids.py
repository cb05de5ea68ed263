"""Files that people send, as grids of cells: the sheets of a workbook, or a text file whatever parts its cells."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import dataclass

from gapbook.errors import Place, fail
from gapbook.tables.records import reason_of
from gapbook.tables.workbooks import MOST_COLUMNS, MOST_ROWS, OLE, ZIP, Cell, sheets

_SEPARATORS = (",", ";", "\t", "|")
_CALLED = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars"}
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Grid:
    """One sheet, or one text file.

    file: how people are shown the file.
    sheet: the sheet's name; None for a text file.
    rows: its cells; None is a blank one.
    lines: of a text file, the physical line on which each row starts.
    guesses: how the file was read where it does not say so itself, in words.
    """

    file: str
    sheet: str | None
    rows: list[list[Cell]]
    lines: list[int]
    guesses: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What people call it."""
        return self.file if self.sheet is None else f"{self.file}, sheet {self.sheet}"

    def cell(self, row: int, column: int) -> str:
        """A cell as people call it: C7 of a sheet, `line 7, cell 3` of a text file."""
        return f"line {self.lines[row]}, cell {column + 1}" if self.sheet is None else f"{letters(column)}{row + 1}"

    def place(self, row: int, column: int | None = None, name: str | None = None) -> Place:
        """A cell or a row as errors name it; `name` is that of the cell's column."""
        if self.sheet is None:
            return Place(self.file, self.lines[row], name)
        where = f"row {row + 1}" if column is None else f"cell {self.cell(row, column)}"
        return Place(f"{self.name}, {where}", None, name)


def letters(column: int) -> str:
    """A column as spreadsheets name it: A, B, ..., Z, AA."""
    text, left = "", column + 1
    while left:
        left, sign = divmod(left - 1, 26)
        text = _LETTERS[sign] + text
    return text


def grids_of(data: bytes, shown: str) -> list[Grid]:
    """The grids of a file's bytes; errors name it as `shown`. GapbookError as `workbooks.sheets`, or `unreadable`."""
    if data.startswith((ZIP, OLE)):
        found, left = sheets(data, shown)
        guesses = tuple(f"{shown}: {one}" for one in left)
        return [Grid(shown, sheet.name, sheet.rows, [], guesses if not number else ()) for number, sheet in enumerate(found)]
    return [_text_grid(data, shown)]


def _text_grid(data: bytes, shown: str) -> Grid:
    text, guesses = _decoded(data, shown)
    lines, first = text.splitlines(keepends=True), 1
    if lines and lines[0].strip().lower().startswith("sep="):
        del lines[0]
        first = 2
    separator = max(_SEPARATORS, key=lambda one: _fitness(lines[:200], one))
    if separator != ",":
        guesses.append(f"{shown}: its cells are parted by {_CALLED[separator]}")
    rows: list[list[Cell]] = []
    numbers: list[int] = []
    reader = csv.reader(lines, delimiter=separator, strict=True)
    line = 0
    try:
        for cells in reader:
            rows.append([cell if cell.strip() else None for cell in cells])
            numbers.append(first + line)
            line = reader.line_num
            if len(rows) > MOST_ROWS or len(cells) > MOST_COLUMNS:
                limits = f"at most {MOST_ROWS:,} rows and {MOST_COLUMNS} columns"
                raise fail("unreadable", "it is larger than any file of readings", place=Place(shown), expected=limits)
    except csv.Error as error:
        fix = "Close the quotation mark, or save the file anew from a spreadsheet"
        raise fail(
            "unreadable", "the row cannot be read", place=Place(shown, first + line), found=reason_of(error), fix=fix
        ) from None
    return Grid(shown, None, rows, numbers, tuple(guesses))


def _decoded(data: bytes, shown: str) -> tuple[str, list[str]]:
    """The text, and what was guessed of its encoding. GapbookError if it is no text."""
    encodings = ["utf-16"] if data.startswith((b"\xff\xfe", b"\xfe\xff")) else ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" in text:
            break
        told = [f"{shown}: it is not UTF-8; its letters are read as Windows' cp1252"] if encoding == "cp1252" else []
        return text, told
    expected = "xlsx, xls, ods, or text in UTF-8 or cp1252"
    raise fail("unreadable", "it is neither a spreadsheet nor text", place=Place(shown), expected=expected)


def _fitness(lines: list[str], separator: str) -> tuple[int, int]:
    """How well a separator fits: the rows that have its most common number of cells (two or more), and that number."""
    try:
        widths = Counter(len(cells) for cells in csv.reader(io.StringIO("".join(lines)), delimiter=separator) if len(cells) > 1)
    except csv.Error:
        return 0, 0
    width, rows = max(widths.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
    return rows, width
