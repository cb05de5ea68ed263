"""A CSV file as columns of text, whatever it holds: its rows with the physical line of each, and faults for what is no row.

A plain file (no quotation marks) is cut with arrays, a million rows a second; any other is read by Python's csv, strictly,
and taken up again on the next line where a record cannot be read.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
import pyarrow as pa
import pyarrow.csv
from numpy.typing import NDArray

from gapbook.intake.structure.fault import MANY, Fault, quoted
from gapbook.science.grouping import BoolArray, IntArray

LONGEST = csv.field_size_limit()
"""Bytes a line without quotation marks, and characters any cell, may have."""
GIVE_UP = 20
"""Records that cannot be read, after which the rest of a file is not looked at."""
_BATCH = 50_000
_NOT_CLOSED = "a quotation mark is not closed"


@dataclass
class Texts:
    """The rows of a file: columns c0, c1, ... [R], the record of each row [R]; the physical line of every record; faults of
    records that are no rows; whether the file was read to its end, and its header's record.
    """

    columns: pa.Table
    record: IntArray
    lines: IntArray
    faults: list[Fault]
    whole: bool
    header: list[str] | None
    header_line: int = 1


@dataclass
class _Gathered:
    """Rows and faults as they come in."""

    width: int
    record: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    batches: list[pa.RecordBatch] = field(default_factory=list)
    rows: list[list[str]] = field(default_factory=list)
    refused: int = 0

    def add(self, line: int, cells: list[str]) -> None:
        """A record that could be read."""
        if len(cells) == self.width:
            self.record.append(len(self.lines))
            self.rows.append(cells)
            if len(self.rows) == _BATCH:
                self.flush()
            self.lines.append(line)
        else:
            self.refuse(line, width_fault(line, cells, self.width))

    def refuse(self, line: int, fault: Fault) -> None:
        """A record that is no row."""
        fault.record = len(self.lines)
        self.lines.append(line)
        self.refused += 1
        if len(self.faults) < MANY:
            self.faults.append(fault)

    def flush(self) -> None:
        """Rows so far as a batch of columns."""
        if self.rows:
            arrays = [pa.array(column, pa.string()) for column in zip(*self.rows, strict=True)]
            self.batches.append(pa.record_batch(arrays, names=[f"c{place}" for place in range(self.width)]))
            self.rows = []

    def table(self) -> pa.Table:
        """All rows as columns of text."""
        self.flush()
        return pa.Table.from_batches(self.batches, text_schema(self.width))


def text_schema(width: int) -> pa.Schema:
    """Columns of text c0, c1, ..."""
    return pa.schema([(f"c{place}", pa.string()) for place in range(width)])


def width_fault(line: int, cells: Sequence[str], width: int) -> Fault:
    """A row with another number of cells than the table has columns."""
    return Fault("width", line, None, f"{len(cells)} cells", f"{width} cells", cells=cells)


def read_text(data: bytes, width: int) -> Texts:
    """The text of a file whose table has `width` columns."""
    data = data.removeprefix(codecs.BOM_UTF8)
    undecodable = _undecodable_lines(data)
    if not undecodable and b'"' not in data:
        plain = data.replace(b"\r\n", b"\n")
        if b"\r" not in plain:
            return _cut(plain, width)
    return _parse(data.decode("utf-8", "replace"), width, undecodable)


def _undecodable_lines(data: bytes) -> dict[int, int]:
    """The physical lines that are not UTF-8, each with its first byte that is not."""
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return {}
    found = {}
    for number, line in enumerate(data.splitlines(), 1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as error:
            found[number] = line[error.start]
    return found


def _cut(data: bytes, width: int) -> Texts:
    """A file without quotation marks, cut at line feeds and commas."""
    letters = np.frombuffer(data, dtype=np.uint8)
    ends = np.flatnonzero(letters == ord("\n"))
    if len(letters) and (not len(ends) or ends[-1] != len(letters) - 1):
        ends = np.append(ends, len(letters))
    starts = np.concatenate(([0], ends[:-1] + 1)) if len(ends) else ends
    commas = np.flatnonzero(letters == ord(","))
    cells = np.searchsorted(commas, ends) - np.searchsorted(commas, starts) + 1
    full = np.flatnonzero(ends > starts)
    if not len(full):
        return Texts(text_schema(width).empty_table(), full, full, [], True, None)
    head, body = full[0], full[1:]
    header = data[starts[head] : ends[head]].decode().split(",")
    bad = (cells[body] != width) | (ends[body] - starts[body] > LONGEST)
    gathered = _Gathered(width)
    listed = np.flatnonzero(bad)
    for record in listed[:MANY].tolist():
        line = body[record]
        row = data[starts[line] : ends[line]].decode().split(",")
        fault = width_fault(line + 1, row, width) if len(row) != width else _too_long(int(line) + 1, row)
        fault.line, fault.record = int(line) + 1, record
        gathered.faults.append(fault)
    _tell_surplus(gathered.faults, len(listed))
    kept = body[~bad]
    columns = _columns(letters, starts, kept, len(full) == len(ends) and not bad.any(), width)
    return Texts(columns, np.flatnonzero(~bad), body + 1, gathered.faults, True, header, int(head) + 1)


def _tell_surplus(faults: list[Fault], number: int) -> None:
    if number > len(faults):
        faults[-1].found += f"; and {number - len(faults)} rows more are no better"


def _columns(letters: NDArray[np.uint8], starts: IntArray, kept: IntArray, all_kept: bool, width: int) -> pa.Table:
    """The cells of the lines `kept`, as columns of text; `all_kept`: every line below the first is."""
    if not len(kept):
        return text_schema(width).empty_table()
    if all_kept:
        body = letters[starts[kept[0]] :]
    else:
        wanted: BoolArray = np.zeros(len(starts), dtype=bool)
        wanted[kept] = True
        body = letters[np.repeat(wanted, np.diff(np.append(starts, len(letters))))]
    names = [f"c{place}" for place in range(width)]
    return pa.csv.read_csv(
        pa.BufferReader(pa.py_buffer(body)),
        read_options=pa.csv.ReadOptions(column_names=names, block_size=max(1 << 21, 2 * LONGEST)),
        parse_options=pa.csv.ParseOptions(quote_char=False),
        convert_options=pa.csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False),
    )


def _too_long(line: int, cells: Sequence[str]) -> Fault:
    longest = max(cells, key=len)
    return Fault("too-long", line, None, quoted(longest), f"at most {LONGEST} characters in a row", cells=cells)


def _parse(text: str, width: int, undecodable: dict[int, int]) -> Texts:
    """Any other file, by csv."""
    lines = list(io.StringIO(text, newline=""))
    gathered = _Gathered(width)
    header: list[str] | None = None
    header_line, refused, encoding = 1, 0, None
    for line, cells, reason in _records(lines, width):
        if header is None and reason is None:
            header, header_line = cells, line
            if any(number <= line for number in undecodable):
                gathered.faults.append(_encoding(line, undecodable, ()))
            continue
        if header is None:
            gathered.faults.append(Fault("unreadable", line, None, reason or "", "a header", cells=cells))
            break
        if reason is not None:
            fault = _too_long(line, cells) if "field limit" in reason else _unreadable(line, cells, reason)
            gathered.refuse(line, fault)
            refused += 1
        elif undecodable and (number := _first_within(undecodable, line, cells)):
            encoding = encoding or _encoding(number, undecodable, cells)
            gathered.refuse(line, Fault("encoding", line, None, "", "", cells=cells, told=False))
        else:
            gathered.add(line, cells)
        if refused >= GIVE_UP:
            break
    return _told(gathered, encoding, header, header_line, refused < GIVE_UP)


def _told(gathered: _Gathered, encoding: Fault | None, header: list[str] | None, header_line: int, whole: bool) -> Texts:
    """The rows; bytes that are not UTF-8 are told once, and so is reading that stopped early."""
    if encoding is not None:
        gathered.faults.append(encoding)
    _tell_surplus(gathered.faults, gathered.refused)
    if not whole:
        gathered.faults[-1].found += f"; after {GIVE_UP} such rows the rest was not read"
    table = gathered.table()
    record, lines = np.array(gathered.record, dtype=np.int64), np.array(gathered.lines, dtype=np.int64)
    return Texts(table, record, lines, gathered.faults, whole, header, header_line)


def _first_within(undecodable: dict[int, int], line: int, cells: Sequence[str]) -> int | None:
    """The first line that is not UTF-8 among those a record spans."""
    last = line + sum(text.count("\n") + text.replace("\r\n", "").count("\r") for text in cells)
    return next((number for number in range(line, last + 1) if number in undecodable), None)


def _encoding(line: int, undecodable: dict[int, int], cells: Sequence[str]) -> Fault:
    byte = undecodable.get(line, next(iter(undecodable.values())))
    more = "" if len(undecodable) == 1 else f", and {len(undecodable) - 1} more lines like it"
    return Fault("encoding", line, None, f"the byte 0x{byte:02x}{more}", "UTF-8 text", cells=cells)


def _unreadable(line: int, cells: Sequence[str], reason: str) -> Fault:
    return Fault("unreadable", line, None, reason, "cells separated by commas, every quotation mark closed", cells=cells)


def _records(lines: list[str], width: int) -> Iterator[tuple[int, list[str], str | None]]:
    """Each record: the line it starts on, its cells, and why it cannot be read (None: it can).

    After one that cannot, reading starts again on the line below the one it starts on.
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
                    raise csv.Error(_NOT_CLOSED)  # it swallowed a row
                if cells:
                    yield begin + 1, cells, None
                begin = end
        except csv.Error as error:
            yield begin + 1, lines[begin].rstrip("\r\n").split(","), _reason(str(error))
            start = begin + 1


def _reason(error: str) -> str:
    if "field limit" in error:
        return error
    return _NOT_CLOSED if "unexpected end of data" in error else error
