"""The records of a CSV file, read strictly by Python's csv: its header, its lines, and what may be wrong with a record.

Nothing here imports numpy or Arrow, because a question must not wait for them.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from gapbook.errors import GapbookError, Place, Problem
from gapbook.tables.cells import quoted
from gapbook.tables.schemas import Schema

LONGEST_HEADER = 1 << 16
"""Bytes down to the end of the header."""
NOT_CLOSED = "a quotation mark is not closed"
_MESSAGES = {
    "header": "the header is not the schema's",
    "width": "the row has another number of cells",
    "unreadable": "the row cannot be read",
    "encoding": "the file is not UTF-8 text",
    "too-long": "the row is too long to be read",
}


class Header(NamedTuple):
    """The first record of a file that is not blank.

    cells: the names of columns in it
    line: the physical line on which it starts
    end: bytes of the file down to the rows
    lines: physical lines down to the rows
    """

    cells: list[str]
    line: int
    end: int
    lines: int


class BadRecord(NamedTuple):
    """A record that is not a row.

    code: what is wrong: header, width, unreadable, encoding or too-long
    line: the physical line on which it starts
    found: what is there
    expected: what may be there
    cells: its cells, as far as they can be made out
    record: its number; 0 is the first below the header, None the header itself
    is_told: whether it is reported; if not, an earlier one is reported for both
    """

    code: str
    line: int
    found: str
    expected: str
    cells: Sequence[str] = ()
    record: int | None = None
    is_told: bool = True

    def problem(self, shown: str) -> Problem:
        """The problem as it is raised; `shown` is how errors name the file."""
        return Problem(self.code, _MESSAGES[self.code], Place(shown, self.line), self.found, self.expected)


def without_bom(data: bytes) -> bytes:
    """A file's bytes without the byte-order mark."""
    return data.removeprefix(codecs.BOM_UTF8)


class Record(NamedTuple):
    """A record of a file, or a blank line.

    line: the physical line on which it starts
    text: what is written there, with the line end
    cells: its cells; none of a blank line
    """

    line: int
    text: str
    cells: list[str]


def records(data: bytes) -> Iterator[Record]:
    """Every record of a file below the byte-order mark, the header and blank lines included: together they are the whole file.

    UnicodeDecodeError or csv.Error if a record cannot be read.
    """
    taken: list[str] = []

    def lines() -> Iterator[str]:
        for line in io.TextIOWrapper(io.BytesIO(without_bom(data)), encoding="utf-8", newline=""):
            taken.append(line)
            yield line

    start, reader = 1, csv.reader(lines(), strict=True)
    for cells in reader:
        yield Record(start, "".join(taken), cells)
        taken.clear()
        start = reader.line_num + 1


def read_header(data: bytes) -> Header | BadRecord:
    """The header of a file without byte-order mark: one without cells if there is none, a BadRecord if it cannot be read."""
    start = data[:LONGEST_HEADER]
    if len(start) == LONGEST_HEADER and b"\n" not in start and b"\r" not in start:
        return BadRecord("header", 1, f"a first line of more than {LONGEST_HEADER} characters", "a header")
    lines = start.splitlines(keepends=True)
    reader = csv.reader((line.decode() for line in lines), strict=True)
    line = 1
    try:
        for cells in reader:
            if cells:
                return Header(cells, line, sum(map(len, lines[: reader.line_num])), reader.line_num)
            line = reader.line_num + 1
    except UnicodeDecodeError:
        return bad_encoding(line, undecodable_lines(data))
    except csv.Error as error:
        text = lines[line - 1].decode(errors="replace").rstrip("\r\n")
        return BadRecord("unreadable", line, reason_of(error), "a header", text.split(","))
    return Header([], 1, len(start), len(lines))


def schema_header(data: bytes, shown: str, schema: Schema) -> Header:
    """The header of a file, from its first LONGEST_HEADER bytes or more. GapbookError if it is not the schema's."""
    header = read_header(without_bom(data))
    if isinstance(header, BadRecord):
        expected = ",".join(schema.names) if header.code == "header" else header.expected
        raise GapbookError(replace(header.problem(shown), expected=expected))
    if header.cells != schema.names:
        found = quoted(",".join(header.cells)).strip("'\"") or "nothing"
        fix = _header_fix(header.cells, schema.names)
        raise GapbookError(replace(BadRecord("header", header.line, found, ",".join(schema.names)).problem(shown), fix=fix))
    return header


def _header_fix(header: list[str], names: list[str]) -> str:
    if not any(header):
        return "Write the header, and the rows below it: the file is empty"
    if header[0].startswith("sep="):
        return f"Take out the first line, {','.join(header)}: only spreadsheets read it"
    missing = [name for name in names if name not in header]
    unknown = [name for name in header if name not in names]
    for mark, called in ((";", "semicolons"), ("\t", "tabs")):
        if len(header) == 1 and header[0].split(mark)[: len(names)] == names:
            return f"Save the file with commas between the cells, not {called}"
    if header[: len(names)] == names and not any(header[len(names) :]):
        return "Take out the commas at the end of the rows"
    if spelt := _spelling_fix(header, names):
        return spelt
    if missing and len(missing) == len(names):
        return "Write the header as the first line; none of these columns is named there"
    if missing:
        return f"Add the {_counted(missing)}" + (f", and remove the {_counted(unknown)}" if unknown else "")
    if unknown:
        return f"Remove the {_counted(unknown)}"
    return "Put the columns in this order" if sorted(header) == sorted(names) else "Name each column once"


def _spelling_fix(header: list[str], names: list[str]) -> str | None:
    """How to mend a header in which only blanks or capital letters are wrong."""
    if [name.strip() for name in header] == names:
        return "Take out the blanks around the names, and around the cells below"
    if [name.strip().lower() for name in header] == names:
        bare = [name.strip() for name in header]
        return "Write the names in small letters" + ("" if bare == header else ", without blanks around them")
    return None


def _counted(columns: list[str]) -> str:
    return ("column " if len(columns) == 1 else "columns ") + ", ".join(map(repr, columns) if "" in columns else columns)


def undecodable_lines(data: bytes) -> dict[int, int]:
    """The physical lines that are not UTF-8, and the first wrong byte of each."""
    try:
        data.decode()
    except UnicodeDecodeError:
        pass
    else:
        return {}
    bytes_at = {}
    for number, line in enumerate(data.splitlines(), 1):
        try:
            line.decode()
        except UnicodeDecodeError as error:
            bytes_at[number] = line[error.start]
    return bytes_at


def bad_encoding(line: int, undecodable: dict[int, int], cells: Sequence[str] = (), is_told: bool = True) -> BadRecord:
    """A record with bytes that are not UTF-8.

    line: the physical line that is named
    undecodable: what `undecodable_lines` says of the file
    cells: of the record
    is_told: whether it is reported
    """
    byte = undecodable.get(line, next(iter(undecodable.values())))
    more = "" if len(undecodable) == 1 else f", and {len(undecodable) - 1} more lines like it"
    return BadRecord("encoding", line, f"the byte 0x{byte:02x}{more}", "UTF-8 text", cells, is_told=is_told)


def reason_of(error: csv.Error) -> str:
    """What people are told of a record that cannot be read."""
    return NOT_CLOSED if "unexpected end of data" in str(error) else str(error)
