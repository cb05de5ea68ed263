"""One file read: its sound rows typed, its faults, and what its columns name. The fast way first, then the exact one."""

from __future__ import annotations

import csv
import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.layers import lines_of_records
from gapbook.intake.structure.fault import Fault, Source, cell
from gapbook.intake.structure.files import header_fault, not_to_be_read, wrong_header
from gapbook.intake.structure.gate import clean
from gapbook.intake.structure.judging import Coded, Judge, cells_at, empty, typed
from gapbook.intake.structure.mending import mend_row
from gapbook.intake.structure.text import Texts, read_text
from gapbook.science.grouping import BoolArray, IntArray
from gapbook.tables.reading import texts as distinct_texts
from gapbook.tables.units import codes


class Named(NamedTuple):
    """A value that a column names: the first record that does, and how many do."""

    value: str
    first: int
    rows: int


@dataclass
class Part:
    """A file of one layer: its sound rows and the record of each [R]; whether every row of it is known, and records in all;
    faults; the physical line of every record (None: to be looked up); the text and which of its rows are sound, where it was
    needed; the specimens of rows left out later on, with their records.
    """

    source: Source
    data: pa.Table
    record: IntArray
    whole: bool
    total: int = 0
    faults: list[Fault] = field(default_factory=list)
    lines: IntArray | None = None
    texts: Texts | None = None
    sound: BoolArray | None = None
    columns: list[Coded] | None = None
    left_out: list[tuple[int, str]] = field(default_factory=list)

    def unknown(self, column: str, known: set[str]) -> list[Named]:
        """The values of a referring column of text that are not `known`."""
        if self.columns is not None and self.texts is not None:
            coded = self.columns[self.source.schema.names.index(column)]
            strange = [n for n in np.flatnonzero(coded.stated).tolist() if coded.texts[n] not in known]
            return _named(coded.texts, coded.code, strange, self.texts.record)
        values = distinct_texts(self.data[column])
        strange = [number for number, value in enumerate(values) if value not in known]
        return _named(values, codes(self.data[column]), strange, self.record) if strange else []

    def ids(self, column: str) -> set[str]:
        """Every value of a column as written, also in rows that are not sound."""
        if self.texts is None:
            return set(distinct_texts(self.data[column]))
        place = self.source.schema.names.index(column)
        broken = {cell(self.source.schema, fault.cells, column) for fault in self.texts.faults}
        return set(self.texts.columns[place].unique().to_pylist()) | broken

    def drop(self, bad: BoolArray, doubted: BoolArray | None = None) -> None:
        """Leave the rows `bad` [R] out of the sound ones. What else was read of the specimens of those `doubted` [R] (None: of
        all of them) is not to be computed with.
        """
        if not bad.any():
            return
        if "specimen_id" in self.data.column_names:
            listed = bad if doubted is None else doubted
            specimens = self.data["specimen_id"].filter(pa.array(listed)).to_pylist()
            self.left_out += zip(self.record[listed].tolist(), specimens, strict=True)
        self.data = self.data.filter(pa.array(~bad)).unify_dictionaries()
        self.record = self.record[~bad]

    def line_of(self, records: list[int]) -> dict[int, int]:
        """The physical line of each record."""
        if self.lines is not None:
            return {record: int(self.lines[record]) for record in records}
        return lines_of_records(self.source.path, np.array(records, dtype=np.int64))

    def cells(self, record: int) -> tuple[str, ...]:
        """The cells of a row: as written where the text was needed, else nearly so; none where it has been left out. For few
        rows of which every letter counts there is `written`.
        """
        if self.texts is not None:
            return cells_at(self.texts.columns, int(np.searchsorted(self.texts.record, record)))
        row = int(np.searchsorted(self.record, record))
        if row == len(self.record) or self.record[row] != record:
            return ()
        return tuple(_spelt(column[row].as_py()) for column in self.data.columns)

    def written(self, records: list[int]) -> dict[int, tuple[str, ...]]:
        """The cells of rows exactly as the file has them."""
        if self.texts is not None:
            return {record: self.cells(record) for record in records}
        lines = self.line_of(records)
        rows = _rows_at(self.source.path, set(lines.values()))
        return {record: rows[line] for record, line in lines.items()}


def _rows_at(path: Path, lines: set[int]) -> dict[int, tuple[str, ...]]:
    """The records that start on these physical lines, in one look at the file."""
    found: dict[int, tuple[str, ...]] = {}
    number = 0
    with path.open(encoding="utf-8-sig", newline="") as stream:
        for text in stream:
            number += 1
            if number in lines:
                reader = csv.reader(chain([text], stream), strict=True)
                found[number] = tuple(next(reader))
                number += reader.line_num - 1
                if len(found) == len(lines):
                    break
    return found


def _named(values: list[str], code: IntArray, wanted: list[int], record: IntArray) -> list[Named]:
    """The values numbered `wanted`, where and how often the rows name them; `record` of each row [R]."""
    if not wanted:
        return []
    rows = np.flatnonzero(np.isin(code, wanted))
    found, first, number = np.unique(code[rows], return_index=True, return_counts=True)
    listed = zip(found.tolist(), record[rows[first]].tolist(), number.tolist(), strict=True)
    return [Named(values[one], start, count) for one, start, count in listed]


def _spelt(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime.date):
        return value.isoformat()
    return f"{value:.15g}" if isinstance(value, float) else str(value)


def read_part(source: Source, judge: Callable[[], Judge]) -> Part:
    """Read one file, whatever it holds. `judge` gives the database, which is only needed where the fast way finds a fault."""
    try:
        return _read(source, judge)
    except OSError as error:
        expected, fix = "a file that can be read", "See that whoever checks may read it"
        fault = Fault("unreadable", None, None, error.strerror or "an error of the system", expected, fix)
        return _nothing(source, fault)


def _read(source: Source, judge: Callable[[], Judge]) -> Part:
    if (fault := not_to_be_read(source) or wrong_header(source)) is not None:
        return _nothing(source, fault)
    if (data := clean(source)) is not None:
        return Part(source, data, np.arange(data.num_rows), True, data.num_rows)
    texts = read_text(source.path.read_bytes(), len(source.schema.fields))
    if (fault := _no_header(source, texts)) is not None:
        return _nothing(source, fault)
    _name_columns(texts, source)
    _mend_widths(texts, source)
    judged = judge().judge(source, texts)
    data = typed(texts.columns.filter(pa.array(judged.sound)), source.schema)
    return Part(
        source,
        data,
        texts.record[judged.sound],
        texts.whole,
        len(texts.lines),
        [*texts.faults, *judged.faults],
        texts.lines,
        texts,
        judged.sound,
        judged.columns,
    )


def _name_columns(texts: Texts, source: Source) -> None:
    """Give cells that are too long to be read at all their column, where the row has a cell for each."""
    for fault in texts.faults:
        if fault.code == "too-long" and len(fault.cells) == len(source.schema.names):
            fault.column = source.schema.names[max(range(len(fault.cells)), key=lambda place: len(fault.cells[place]))]


def _mend_widths(texts: Texts, source: Source) -> None:
    """Say of rows of another width what is likely to mend them."""
    for fault in texts.faults:
        if fault.code == "width":
            fault.fix = mend_row(source.schema, fault.cells)


def _nothing(source: Source, fault: Fault) -> Part:
    return Part(source, empty(source.schema), np.zeros(0, dtype=np.int64), False, faults=[fault])


def _no_header(source: Source, texts: Texts) -> Fault | None:
    """Why the rows below cannot be told: the header could not be read, is not UTF-8, or is not the schema's."""
    if texts.header == source.schema.names:
        return None
    if texts.header is None:
        return texts.faults[0] if texts.faults else header_fault(1, "nothing", source)
    at_header = [fault for fault in texts.faults if fault.record is None and fault.line == texts.header_line]
    return at_header[0] if at_header else header_fault(texts.header_line, ",".join(texts.header), source)
