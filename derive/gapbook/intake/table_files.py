"""One file of a check, read: its sound rows as a typed table, and a finding for everything else."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import GapbookError, Problem
from gapbook.intake.findings import Finding
from gapbook.intake.mending import BLANK_ROW, mend_cell, mend_row, own_key
from gapbook.science.grouping import BoolArray, IntArray
from gapbook.tables import files
from gapbook.tables.cells import SHOWN, quoted
from gapbook.tables.csv_text import MANY, CsvText, TextColumn, read_body
from gapbook.tables.reader import Column, judge, repeated_keys, typed
from gapbook.tables.records import BadRecord, schema_header, without_bom
from gapbook.tables.schemas import FALSE_VALUES, TRUE_VALUES, Field, Schema

_SAYS = {
    "formula": "text that does not start with =, +, -, @, a tab or a carriage return",
    "control-character": "text without control characters",
}


class Source(NamedTuple):
    """One file to read.

    table: the table it is a file of
    schema: what it may hold
    layer: the number of its layer
    path: where it is
    shown: how people are shown it
    root: the folder that must hold it, without a link on the way from there; None: the folder it is in
    """

    table: str
    schema: Schema
    layer: int
    path: Path
    shown: str
    root: Path | None = None

    def read(self) -> bytes:
        """All of it; GapbookError as of `files.open_file`."""
        return files.read_bytes(self.path, self.shown, self.root)


class Named(NamedTuple):
    """An id as a referring column names it, the first row that does, and how many rows do."""

    value: str
    first: int
    rows: int


@dataclass
class TableFile:
    """A file of one layer, read. Rows are left out of the sound ones while files are compared with each other.

    source: which file it is
    text: its rows as they are written [T]
    columns: its columns, each distinct text judged
    data: its sound rows, typed [R]
    rows: for each sound row its row in `text` [R]
    findings: what is wrong with the file and with its other rows
    repeated: rows of `text` that have sound cells and the key of another row, in order
    in_doubt: whether the specimen of each row must not be computed with [T]
    passed_over: whether the catalogue has the key of each row already [T]
    """

    source: Source
    text: CsvText
    columns: list[Column]
    data: pa.Table
    rows: IntArray
    findings: list[Finding]
    repeated: IntArray
    in_doubt: BoolArray
    passed_over: BoolArray

    @property
    def record(self) -> IntArray:
        """The record of each sound row [R]; 0 is the first below the header."""
        return self.text.record[self.rows]

    def column(self, name: str) -> Column:
        """The column called `name`."""
        return self.columns[self.source.schema.names.index(name)]

    def unknown(self, name: str, known: set[str]) -> list[Named]:
        """The values of a referring column that are not `known`, rows that the catalogue has aside."""
        column = self.column(name)
        is_unknown = column.stated & np.array([text not in known for text in column.texts], dtype=bool)
        if not is_unknown.any():
            return []
        rows = np.flatnonzero(is_unknown[column.codes] & ~self.passed_over)
        codes, first, number = np.unique(column.codes[rows], return_index=True, return_counts=True)
        listed = zip(codes.tolist(), rows[first].tolist(), number.tolist(), strict=True)
        return [Named(column.texts[code], row, count) for code, row, count in listed]

    def ids(self, name: str) -> set[str]:
        """Every value of a column as it is written, those in rows that are not sound included."""
        return {*self.column(name).texts, *(cell_of(self.source.schema, bad.cells, name) for bad in self.text.bad)}

    def with_repeated(self) -> tuple[pa.Table, IntArray]:
        """The sound rows and the repeated ones, typed, and for each its row in `text`, in order."""
        if not len(self.repeated):
            return self.data, self.rows
        rows = np.sort(np.concatenate([self.rows, self.repeated]))
        return typed(self.columns).take(pa.array(rows)).unify_dictionaries(), rows

    def leave_out(self, bad: BoolArray) -> None:
        """Take the rows `bad` [R] out of the sound ones; their specimens are in doubt."""
        self.in_doubt[self.rows[bad]] = True
        self._keep(~bad)

    def pass_over(self, known: BoolArray, conflicting: BoolArray) -> None:
        """Take the rows whose key the catalogue has out of the sound ones.

        known: whether the catalogue has the key of each sound row [R]
        conflicting: whether it has it with other values [R]; the specimens of these rows are in doubt
        """
        self.passed_over[self.rows[known]] = True
        self.in_doubt[self.rows[conflicting]] = True
        self._keep(~known)

    def _keep(self, rows: BoolArray) -> None:
        if not rows.all():
            self.data = self.data.filter(pa.array(rows)).unify_dictionaries()
            self.rows = self.rows[rows]

    def finding(self, code: str, row: int, column: str | None, found: str, expected: str, fix: str | None = None) -> Finding:
        """A finding at a row of the text, about what that row is about.

        code: the rule's code
        row: the row of the text
        column: the column; None: the whole row
        found: what the file says
        expected: what it may say
        fix: how to mend it; None: as the rule says
        """
        return _finding(self.source, code, self.text.line(row), column, found, expected, fix, self.text.cells(row))


def read_table_file(source: Source) -> TableFile:
    """Read one file. Whatever is wrong with it becomes a finding."""
    try:
        if (finding := _not_to_be_read(source)) is not None:
            return _nothing(source, finding)
        data = without_bom(source.read())
        header = schema_header(data, source.shown, source.schema)
    except GapbookError as error:
        return _nothing(source, _of_problem(source, error.problems[0]))
    except OSError as error:
        found, fix = error.strerror or "an error of the system", "See that whoever checks may read it"
        return _nothing(source, _finding(source, "unreadable", None, None, found, "a file that can be read", fix))
    return _judged(source, read_body(data, header))


def _judged(source: Source, text: CsvText) -> TableFile:
    """The rows of a file judged: cells by their fields, and keys by each other."""
    columns = judge(text.columns, source.schema)
    data = typed(columns)
    is_sound = ~np.logical_or.reduce([column.bad_rows for column in columns])
    rows, first = repeated_keys(data, source.schema.primary_key)
    repeated = np.union1d(rows, first)
    repeated = repeated[is_sound[repeated]]
    is_sound[repeated] = False  # nobody can tell which of two rows with one key holds, so neither is computed with
    if not is_sound.all():
        data = data.filter(pa.array(is_sound)).unify_dictionaries()
    none = np.zeros(len(is_sound), dtype=bool)
    file = TableFile(source, text, columns, data, np.flatnonzero(is_sound), [], repeated, ~is_sound, none)
    file.findings = [*_record_findings(file), *_cell_findings(file), *_key_findings(file, rows, first)]
    return file


def _nothing(source: Source, finding: Finding) -> TableFile:
    """A file of which no row could be read."""
    none = np.zeros(0, dtype=np.int64)
    text = CsvText([TextColumn([], none.astype(np.int32))] * len(source.schema.fields), none, none, [], False)
    return replace(_judged(source, text), findings=[finding])


def _not_to_be_read(source: Source) -> Finding | None:
    """Why a file is not opened: it is missing, a link, no plain file, or too large. OSError if that cannot be found out."""
    try:
        state = source.path.lstat()
    except FileNotFoundError:
        return _finding(source, "missing-file", None, None, "no file", source.shown)
    if stat.S_ISLNK(state.st_mode):
        return _finding(source, "path", None, None, f"a link to {quoted(os.readlink(source.path))}", "the file itself")
    if not stat.S_ISREG(state.st_mode):
        found, fix = "a folder" if stat.S_ISDIR(state.st_mode) else "no plain file", "Put the file itself there"
        return _finding(source, "unreadable", None, None, found, "a file of comma-separated text", fix)
    if state.st_size > files.LARGEST_TABLE:
        found, expected = (f"{size / 1e9:.1f} GB" for size in (state.st_size, files.LARGEST_TABLE))
        return _finding(source, "unreadable", None, None, found, f"at most {expected}", "Send it in several contributions")
    return None


def _of_problem(source: Source, problem: Problem) -> Finding:
    """The finding for a file that cannot be opened, or whose header cannot be used."""
    line = None if problem.place is None else problem.place.line
    found, expected = problem.found or problem.message, problem.expected or "a file that can be read"
    return _finding(source, problem.code, line, None, found, expected, problem.fix)


def _record_findings(file: TableFile) -> Iterator[Finding]:
    """A finding for each record that is no row: too many cells, another encoding, ..."""
    schema = file.source.schema
    for bad in file.text.bad:
        if bad.is_told:
            column = _longest(schema, bad) if bad.code == "too-long" else None
            fix = mend_row(schema, bad.cells) if bad.code == "width" else None
            yield _finding(file.source, bad.code, bad.line, column, bad.found, bad.expected, fix, bad.cells)


def _longest(schema: Schema, bad: BadRecord) -> str | None:
    """The column of the longest cell, if the record has a cell for each."""
    if len(bad.cells) != len(schema.names):
        return None
    return schema.names[max(range(len(bad.cells)), key=lambda place: len(bad.cells[place]))]


def _cell_findings(file: TableFile) -> list[Finding]:
    """A finding for each cell that is not allowed, row by row."""
    bad = [(row, place) for place, column in enumerate(file.columns) for row in np.flatnonzero(column.bad_rows).tolist()]
    bad.sort()
    findings: list[Finding] = []
    blank = -1
    for row, place in bad[:MANY]:
        if row == blank:
            continue
        finding = _cell_finding(file, row, file.columns[place])
        if not any(file.text.cells(row)):  # one finding for a blank row, not one for each cell
            blank, finding = row, replace(finding, fix=BLANK_ROW)
        findings.append(finding)
    return and_more(findings, len(bad) - MANY, "cells more are no better")


def _cell_finding(file: TableFile, row: int, column: Column) -> Finding:
    field, text, code = column.field, column.texts[column.codes[row]], column.problems[column.codes[row]]
    assert code is not None
    found = quoted(text) if text else "nothing"
    return file.finding(code, row, field.name, found, _SAYS.get(code, field.says()), mend_cell(code, field, text))


def _key_findings(file: TableFile, rows: IntArray, first: IntArray) -> list[Finding]:
    """A finding for each row whose key an earlier row has."""
    schema = file.source.schema
    findings = []
    for row, before in zip(rows[:MANY].tolist(), first[:MANY].tolist(), strict=True):
        found = f"the key of line {file.text.line(before)} again: {row_key(schema, file.text.cells(row))}"
        column = schema.primary_key[-1]
        findings.append(file.finding("repeated-key", row, column, found, "each key once", own_key(schema)))
    return and_more(findings, len(rows) - MANY, "rows more are no better")


def and_more(findings: list[Finding], number: int, words: str) -> list[Finding]:
    """The findings; if there are more that are not listed, the last one says how many."""
    if number > 0:
        findings[-1] = replace(findings[-1], found=f"{findings[-1].found}; and {number} {words}")
    return findings


def _finding(
    source: Source,
    code: str,
    line: int | None,
    column: str | None,
    found: str,
    expected: str,
    fix: str | None = None,
    cells: Sequence[str] = (),
) -> Finding:
    schema = source.schema
    return Finding(
        source.table,
        column,
        found,
        expected,
        fix or "",
        _subject(schema, cells),
        code=code,
        line=line,
        row_key=row_key(schema, cells),
        contributor=cell_of(schema, cells, "contributor_id") or None,
    )


def cell_of(schema: Schema, cells: Sequence[str], name: str) -> str:
    """A row's cell as written; empty if the row is too short, or if the table has no such column."""
    if name not in schema.names:
        return ""
    place = schema.names.index(name)
    return cells[place] if place < len(cells) else ""


def _subject(schema: Schema, cells: Sequence[str]) -> str:
    """The id of what a row is about: its specimen if it names one, else the first column of its key. A playtest is about
    itself, although it names a specimen.
    """
    name = "specimen_id" if schema.primary_key[:1] != ("playtest_id",) and "specimen_id" in schema.names else ""
    return cell_of(schema, cells, name or next(iter(schema.primary_key), ""))


def row_key(schema: Schema, cells: Sequence[str]) -> str:
    """The row's primary key as findings write it, joined by slashes; empty for a file as a whole."""
    if not cells:
        return ""
    return "/".join(_written(cell_of(schema, cells, name), schema.field(name)) for name in schema.primary_key)[:SHOWN]


def _written(text: str, field: Field) -> str:
    """A key cell in its usual spelling, if it is of its type: numbers without needless zeros, true in small letters."""
    if field.type == "boolean":
        return str(text in TRUE_VALUES).lower() if text in TRUE_VALUES + FALSE_VALUES else text
    if field.type in ("number", "integer") and len(text) < SHOWN:
        try:
            return f"{float(text):g}"
        except ValueError:
            return text
    return text
