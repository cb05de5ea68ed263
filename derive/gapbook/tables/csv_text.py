"""A CSV file as columns of text: the distinct texts of each column, the number of each row's text, and what is no row.

Arrow reads a million rows in half a second, but it does not count lines, does not say everything that is wrong, and accepts
text after a closing quotation mark. So a file that Arrow cannot read, or that Python's csv reads in another way, is read a
second time, strictly, by csv: slowly, but with the physical line of every record. This module knows nothing of fields: no
type is guessed, and no text counts as missing.
"""

from __future__ import annotations

import csv
import io
from array import array
from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.csv
from numpy.typing import NDArray

from gapbook.science.grouping import IntArray
from gapbook.tables.cells import LONGEST, quoted
from gapbook.tables.records import (
    NOT_CLOSED,
    BadRecord,
    Header,
    bad_encoding,
    reason_of,
    records,
    undecodable_lines,
    without_bom,
)

MANY = 100_000
"""Faults of one kind that are reported of a file; the last one reported says how many more there are."""
_GIVE_UP = 20
"""After so many records that cannot be read, the rest of a file is not looked at."""
_BLOCK = 1 << 23
_LARGE = 1 << 26
"""Bytes from which a file is read by all threads. A smaller file is read without waiting for threads busy with a larger one."""
_BATCH = 10_000
_CODED = pa.dictionary(pa.int32(), pa.string())


class TextColumn(NamedTuple):
    """A column: its distinct texts in order of first appearance, and the number of each row's text [R]."""

    texts: list[str]
    codes: NDArray[np.int32]


class CsvText(NamedTuple):
    """What is below the header of a file.

    columns: the columns of its R rows
    record: the record of each row [R]; 0 is the first below the header
    lines: the physical line on which each record starts
    bad: the records that are not rows
    is_whole: whether the file was read to its end
    """

    columns: list[TextColumn]
    record: IntArray
    lines: IntArray
    bad: list[BadRecord]
    is_whole: bool

    def line(self, row: int) -> int:
        """The physical line on which a row starts."""
        return int(self.lines[self.record[row]])

    def cells(self, row: int) -> tuple[str, ...]:
        """A row as it is written."""
        return tuple(column.texts[column.codes[row]] for column in self.columns)


def record_lines(data: bytes) -> IntArray:
    """The physical line on which each record below the header starts; raises as `records`."""
    if b'"' in data:
        return np.array([record.line for record in records(data) if record.cells][1:], dtype=np.int64)
    return np.flatnonzero([bool(line) for line in without_bom(data).splitlines()])[1:] + 1


def read_body(data: bytes, header: Header) -> CsvText:
    """The rows below the header of a file without byte-order mark, which have as many cells as the header."""
    body, is_quoted = memoryview(data)[header.end :], data.find(b'"', header.end) >= 0
    columns = _arrow_columns(body, len(header.cells), is_quoted)
    if columns is None:
        return _without_bad_widths(data, header) or _read_by_csv(data, header)
    rows = len(columns[0].codes)
    lines = _lines_below(data, header, rows)
    if lines is None or len(lines) != rows:
        return _read_by_csv(data, header)
    return CsvText(columns, np.arange(rows), lines, [], True)


def _arrow_columns(
    body: bytes | memoryview, width: int, is_quoted: bool, invalid: Callable[[Any], str] | None = None
) -> list[TextColumn] | None:
    """Whole lines of a file as columns; None if they are not UTF-8, or if one has another width.

    body: the lines
    width: how many cells a row must have
    is_quoted: whether they hold quotation marks. Arrow is not strict about them, so `read_body` compares with csv
    invalid: called with each record of another width, which is then left out; without it, such a record means None
    """
    buffer = pa.py_buffer(body)
    names = [str(place) for place in range(width)]
    at_once = buffer.size > _LARGE and invalid is None
    quote = '"' if is_quoted else False
    try:
        data = pa.csv.read_csv(
            pa.BufferReader(buffer),
            pa.csv.ReadOptions(block_size=_BLOCK, use_threads=at_once, column_names=names),
            pa.csv.ParseOptions(quote_char=quote, newlines_in_values=is_quoted, invalid_row_handler=invalid),
            pa.csv.ConvertOptions(column_types=dict.fromkeys(names, _CODED), strings_can_be_null=False),
            pa.system_memory_pool(),  # Arrow's own asks for huge pages; a virtual machine is slow to give them
        )
    except pa.ArrowInvalid:
        is_empty = not bytes(body).strip(b"\r\n")  # Arrow refuses that as well
        return [TextColumn([], np.zeros(0, dtype=np.int32))] * width if is_empty else None
    return [_text_column(column) for column in data.unify_dictionaries().columns]


def _without_bad_widths(data: bytes, header: Header) -> CsvText | None:
    """The rows of a file without quotation marks, and its records of another width; None if anything else is wrong with it."""
    if data.find(b'"', header.end) >= 0 or undecodable_lines(data):
        return None
    width, wrong = len(header.cells), list[tuple[int, list[str]]]()

    def pass_over(record: Any) -> str:
        wrong.append((record.number - 1, record.text.split(",")))
        return "skip"

    columns = _arrow_columns(memoryview(data)[header.end :], width, False, pass_over)
    if columns is None:
        return None
    is_row = np.ones(len(columns[0].codes) + len(wrong), dtype=bool)
    is_row[[record for record, _ in wrong]] = False
    lines = _lines_below(data, header, len(is_row))
    if lines is None or len(lines) != len(is_row):
        return None
    bad = [_bad_width(int(lines[record]), cells, width)._replace(record=record) for record, cells in wrong[:MANY]]
    return CsvText(columns, np.flatnonzero(is_row), lines, _with_the_rest(bad, len(wrong)), True)


def _with_the_rest(bad: list[BadRecord], number: int) -> list[BadRecord]:
    """The bad records that are reported of `number` in all; the last one says how many more there are."""
    if number > len(bad):
        bad[-1] = bad[-1]._replace(found=bad[-1].found + f"; and {number - len(bad)} rows more are no better")
    return bad


def _text_column(column: pa.ChunkedArray) -> TextColumn:
    texts = column.chunk(0).dictionary.to_pylist() if column.num_chunks else []
    codes = [np.asarray(part.indices) for part in column.chunks]
    return TextColumn(texts, np.concatenate([np.zeros(0, dtype=np.int32), *codes]))


def _lines_below(data: bytes, header: Header, rows: int) -> IntArray | None:
    """The physical line of each of the records below the header; None if csv cannot read them all."""
    ends = data.count(b"\n", header.end)
    are_alike = data.find(b"\r", header.end) < 0 or data.count(b"\r", header.end) == ends == data.count(b"\r\n", header.end)
    if are_alike and ends == rows - (not data.endswith(b"\n")) and data.find(b'"', header.end) < 0:
        return np.arange(rows) + (header.lines + 1)  # no line is blank
    try:
        return record_lines(data)
    except csv.Error:
        return None


def _read_by_csv(data: bytes, header: Header) -> CsvText:
    """Read any file slowly and exactly."""
    undecodable = undecodable_lines(data)
    body = io.BytesIO(memoryview(data)[header.end :])
    lines = list(io.TextIOWrapper(body, encoding="utf-8", errors="replace", newline=""))
    rows = _Rows(len(header.cells))
    unreadable, encoding = 0, False
    for place, cells, reason in _records_of(lines, rows.width):
        line = header.lines + place + 1
        if reason is not None:
            rows.refuse(line, _too_long(line, cells) if "field limit" in reason else _unreadable(line, cells, reason))
            unreadable += 1
        elif undecodable and (number := _first_within(undecodable, line, cells)):
            rows.refuse(line, bad_encoding(number, undecodable, cells, is_told=not encoding))
            encoding = True
        elif len(cells) != rows.width:
            rows.refuse(line, _bad_width(line, cells, rows.width))
        else:
            rows.add(line, cells)
        if unreadable == _GIVE_UP:
            rows.say(f"; after {_GIVE_UP} such rows the rest was not read")
            break
    return rows.text(is_whole=unreadable < _GIVE_UP)


def _records_of(lines: list[str], width: int) -> Iterator[tuple[int, list[str], str | None]]:
    """Each record: the index in `lines` of its first line, its cells, and why it cannot be read (None if it can be).

    After a record that cannot be read, reading starts again on the line after its first one.
    """
    start = 0
    while start < len(lines):
        reader = csv.reader(islice(lines, start, None), strict=True)
        offset = begin = start
        start = len(lines)
        try:
            for cells in reader:
                end = offset + reader.line_num
                if len(cells) != width and any(
                    line.partition('"')[0].count(",") >= width - 1 for line in lines[begin + 1 : end]
                ):
                    raise csv.Error(NOT_CLOSED)  # the open quotation mark took in a row
                if cells:
                    yield begin, cells, None
                begin = end
        except csv.Error as error:
            yield begin, lines[begin].rstrip("\r\n").split(","), reason_of(error)
            start = begin + 1


class _Numbers(dict[str, int]):
    """Distinct texts, numbered in order of first appearance."""

    def __missing__(self, text: str) -> int:
        self[text] = number = len(self)
        return number


class _Rows:
    """Collects rows and bad records."""

    def __init__(self, width: int) -> None:
        self.width = width
        self._bad: list[BadRecord] = []
        self._refused = 0
        self._record, self._lines = array("q"), array("q")
        self._waiting: list[list[str]] = []
        self._columns = [(_Numbers(), array("i")) for _ in range(width)]

    def add(self, line: int, cells: list[str]) -> None:
        """Add a row."""
        self._record.append(len(self._lines))
        self._lines.append(line)
        self._waiting.append(cells)
        if len(self._waiting) == _BATCH:
            self._number()

    def refuse(self, line: int, bad: BadRecord) -> None:
        """Add a record that is not a row."""
        if len(self._bad) < MANY:
            self._bad.append(bad._replace(record=len(self._lines)))
        self._lines.append(line)
        self._refused += 1

    def say(self, more: str) -> None:
        """Add words to the last bad record."""
        self._bad[-1] = self._bad[-1]._replace(found=self._bad[-1].found + more)

    def text(self, is_whole: bool) -> CsvText:
        """Everything that was added."""
        self._number()
        columns = [TextColumn(list(numbers), np.array(codes, dtype=np.int32)) for numbers, codes in self._columns]
        record, lines = (np.array(one, dtype=np.int64) for one in (self._record, self._lines))
        return CsvText(columns, record, lines, _with_the_rest(self._bad, self._refused), is_whole)

    def _number(self) -> None:
        for (numbers, codes), cells in zip(self._columns, zip(*self._waiting, strict=True), strict=False):
            codes.extend(map(numbers.__getitem__, cells))
        self._waiting = []


def _first_within(undecodable: dict[int, int], line: int, cells: Sequence[str]) -> int | None:
    """The first line that is not UTF-8 among those a record spans."""
    last = line + sum(text.count("\n") + text.replace("\r\n", "").count("\r") for text in cells)
    return next((number for number in range(line, last + 1) if number in undecodable), None)


def _bad_width(line: int, cells: Sequence[str], width: int) -> BadRecord:
    return BadRecord("width", line, f"{len(cells)} cells", f"{width} cells", cells)


def _unreadable(line: int, cells: Sequence[str], reason: str) -> BadRecord:
    return BadRecord("unreadable", line, reason, "cells separated by commas, every quotation mark closed", cells)


def _too_long(line: int, cells: Sequence[str]) -> BadRecord:
    return BadRecord("too-long", line, quoted(max(cells, key=len)), f"at most {LONGEST} characters in a row", cells)
