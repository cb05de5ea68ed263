"""Rows of text judged by the compiled schema in DuckDB: a fault for every bad cell and every repeated key."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.errors import fail
from gapbook.intake.structure.compiled import CODES, texts_query
from gapbook.intake.structure.fault import MANY, Fault, Source, quoted, row_key
from gapbook.intake.structure.mending import BLANK_ROW, mend_cell, own_key
from gapbook.intake.structure.text import Texts
from gapbook.science.grouping import BoolArray, IntArray, combine, numbered, starts_of
from gapbook.tables.reading import arrow_type
from gapbook.tables.schemas import TRUE_VALUES, Field, Schema

_SAYS = {
    "formula": "text that does not start with =, +, -, @, a tab or a carriage return",
    "control-character": "text without control characters",
}


class Coded(NamedTuple):
    """One column of text: its distinct texts, the number of the text of each row [R], the number of the code of what is wrong
    with each text (0: nothing), and its value as a part of a key.
    """

    texts: list[str]
    code: IntArray
    verdict: IntArray
    value: list[str | None]

    @property
    def stated(self) -> BoolArray:
        """Whether each text is sound and states something."""
        return (self.verdict == 0) & np.array([value is not None for value in self.value], dtype=bool)


class Judged(NamedTuple):
    """Which rows [R] are sound, what is wrong with the others, and the columns."""

    sound: BoolArray
    faults: list[Fault]
    columns: list[Coded]


class Judge:
    """An in-memory DuckDB that reads no files: texts go in, numbers of codes come out."""

    def __init__(self) -> None:
        self.connection = duckdb.connect(":memory:", config={"autoload_known_extensions": False})
        self.connection.execute("SET enable_progress_bar = false")
        self.connection.execute("SET enable_external_access = false")
        self.connection.execute("SET lock_configuration = true")

    def judge(self, source: Source, texts: Texts) -> Judged:
        """What the schema says of the rows of a file."""
        schema = source.schema
        columns = self._coded(source, texts)
        faults = _cell_faults(schema, texts, columns)
        sound = np.ones(texts.columns.num_rows, dtype=bool)
        for column in columns:
            if column.verdict.any():
                sound &= column.verdict[column.code] == 0
        rows, first = repeats([columns[schema.names.index(name)] for name in schema.primary_key])
        faults += _key_faults(schema, texts, rows, first)
        sound[rows] = sound[first] = False  # rows with one key cannot be told apart: none is computed with
        return Judged(sound, faults, columns)

    def _coded(self, source: Source, texts: Texts) -> list[Coded]:
        coded = [column.combine_chunks().dictionary_encode() for column in texts.columns.columns]
        distinct = [column.dictionary for column in coded]
        places = np.repeat(np.arange(len(distinct)), [len(one) for one in distinct])
        numbers = np.concatenate([np.arange(len(one)) for one in distinct])
        self.connection.register("texts", pa.table({"place": places, "number": numbers, "c": pa.concat_arrays(distinct)}))
        query = texts_query(source.schema)
        try:
            found = self.connection.execute(query.sql, query.values).fetchall()
        except duckdb.Error as error:
            raise fail("schema", f"the schema of {source.table} cannot be used: {str(error).splitlines()[0]}") from None
        starts = np.searchsorted(places, np.arange(len(distinct) + 1)).tolist()
        return [
            Coded(
                distinct[place].to_pylist(),
                np.asarray(coded[place].indices).astype(np.int64),
                np.array([row[2] for row in found[low:high]], dtype=np.int64),
                [row[3] for row in found[low:high]],
            )
            for place, (low, high) in enumerate(pairwise(starts))
        ]


def repeats(key: list[Coded]) -> tuple[IntArray, IntArray]:
    """The rows whose key an earlier row has [D], in order, and the first row that has it [D].

    Rows with a part of the key bad or missing have none.
    """
    none = np.zeros(0, dtype=np.int64)
    if not key or not len(key[0].code):
        return none, none
    keyed = np.ones(len(key[0].code), dtype=bool)
    numbers = []
    for column in key:
        if not column.stated.all():
            keyed &= column.stated[column.code]
        _, number = np.unique(np.array([value or "" for value in column.value], dtype=np.object_), return_inverse=True)
        numbers.append(number.astype(np.int64)[column.code])
    rows = np.flatnonzero(keyed)
    if not len(rows):
        return none, none
    number = combine(*(one[rows] for one in numbers))
    order = np.argsort(number, kind="stable")
    starts = starts_of(number[order])
    first = order[starts][numbered(starts, len(order))]
    again = order != first
    by_row = np.argsort(order[again], kind="stable")
    return rows[order[again][by_row]], rows[first[again][by_row]]


def _cell_faults(schema: Schema, texts: Texts, columns: list[Coded]) -> list[Fault]:
    found: list[tuple[int, int]] = []
    for place, column in enumerate(columns):
        if column.verdict.any():
            found += ((row, place) for row in np.flatnonzero(column.verdict[column.code]).tolist())
    found.sort()
    faults: list[Fault] = []
    written: dict[int, tuple[str, ...]] = {}
    for row, place in found[:MANY]:
        cells = written.get(row) or written.setdefault(row, cells_at(texts.columns, row))
        code = CODES[columns[place].verdict[columns[place].code[row]]]
        fault = _cell_fault(code, schema.fields[place], texts, row, cells, cells[place])
        if not any(cells):  # a blank row is one slip
            fault.fix, fault.told = BLANK_ROW, not (faults and faults[-1].record == fault.record)
        faults.append(fault)
    if len(found) > MANY:
        faults[-1].found += f"; and {len(found) - MANY} cells more are no better"
    return faults


def _cell_fault(code: str, item: Field, texts: Texts, row: int, cells: tuple[str, ...], text: str) -> Fault:
    return Fault(
        code,
        int(texts.lines[texts.record[row]]),
        item.name,
        quoted(text) if text else "nothing",
        _SAYS.get(code, item.says()),
        mend_cell(code, item, text),
        int(texts.record[row]),
        cells,
    )


def _key_faults(schema: Schema, texts: Texts, rows: IntArray, first: IntArray) -> list[Fault]:
    faults: list[Fault] = []
    for row, before in zip(rows[:MANY].tolist(), first[:MANY].tolist(), strict=True):
        cells = cells_at(texts.columns, row)
        line, earlier = (int(texts.lines[texts.record[one]]) for one in (row, before))
        found = f"the key of line {earlier} again: {row_key(schema, cells)}"
        record = int(texts.record[row])
        fault = Fault("repeated-key", line, schema.primary_key[-1], found, "each key once", own_key(schema), record, cells)
        faults.append(fault)
    if len(rows) > MANY:
        faults[-1].found += f"; and {len(rows) - MANY} rows more are no better"
    return faults


def cells_at(columns: pa.Table, row: int) -> tuple[str, ...]:
    """One row of columns of text as its cells."""
    return tuple(column[row].as_py() for column in columns.columns)


def typed(columns: pa.Table, schema: Schema) -> pa.Table:
    """Sound rows of text as the strict reader types them."""
    missing = pa.array(schema.missing, pa.string())
    cast = [_cast(column.combine_chunks(), item, missing) for column, item in zip(columns.columns, schema.fields, strict=True)]
    return pa.table(cast, names=schema.names)


def _cast(column: pa.Array, item: Field, missing: pa.Array) -> pa.Array:
    blank = pa.scalar(None, pa.string())
    stated = pc.if_else(pc.is_in(column, value_set=missing), blank, column)
    if item.type == "string":
        return stated.dictionary_encode()
    if item.type == "boolean":
        true = pc.is_in(stated, value_set=pa.array(TRUE_VALUES))
        return pc.if_else(pc.is_null(stated), pa.scalar(None, pa.bool_()), true)
    return stated.cast(arrow_type(item))


def empty(schema: Schema) -> pa.Table:
    """The typed table of no rows."""
    return pa.table([pa.array([], arrow_type(item)) for item in schema.fields], names=schema.names)
