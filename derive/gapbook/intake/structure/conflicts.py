"""A contribution's rows held against the catalogue's: the same row again is passed over, the same key otherwise is a fault."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.structure.fault import MANY, Fault, quoted, row_key
from gapbook.intake.structure.judging import Judge
from gapbook.intake.structure.mending import own_key
from gapbook.intake.structure.part import Part
from gapbook.science.grouping import BoolArray, IntArray
from gapbook.tables.schemas import Schema
from gapbook.tables.units import renumber

Cells = tuple[str, ...]


class _Pairs(NamedTuple):
    """Rows of a contribution [P] and of the catalogue [P] that have one key, and whether their cells are the same [P, C]."""

    own: IntArray
    other: IntArray
    same: BoolArray


def check_conflicts(own: Part, catalogue: Part, judge: Callable[[], Judge]) -> None:
    """Leave out of a contribution's table the rows that the catalogue has, and give each that it has otherwise its fault."""
    schema = own.source.schema
    if not schema.primary_key or not own.data.num_rows or not catalogue.data.num_rows:
        return
    pairs = _pairs(own.data, catalogue.data, schema, judge)
    differs = ~pairs.same.all(axis=1)
    listed = np.flatnonzero(differs)
    told = listed[:MANY]
    if len(told):
        records, others = (part.record[rows[told]].tolist() for part, rows in ((own, pairs.own), (catalogue, pairs.other)))
        lines, cells, theirs = own.line_of(records), own.written(records), catalogue.written(others)
        for at, record, other in zip(told.tolist(), records, others, strict=True):
            own.faults.append(_fault(schema, record, lines[record], cells[record], theirs[other], pairs.same[at]))
    if len(listed) > MANY:
        own.faults[-1].found += f"; and {len(listed) - MANY} rows more that the catalogue has otherwise"
    known = np.zeros(own.data.num_rows, dtype=bool)
    known[pairs.own] = True
    doubted = np.zeros(own.data.num_rows, dtype=bool)
    doubted[pairs.own[listed]] = True
    own.drop(known, doubted)


def _pairs(own: pa.Table, catalogue: pa.Table, schema: Schema, judge: Callable[[], Judge]) -> _Pairs:
    rows = _candidates(own, catalogue, schema.primary_key[0])
    if not len(rows):
        none = np.zeros(0, dtype=np.int64)
        return _Pairs(none, none, np.zeros((0, len(schema.fields)), dtype=bool))
    key = " AND ".join(f"own.c{place} = other.c{place}" for place in map(schema.names.index, schema.primary_key))
    same = ", ".join(f"own.c{place} IS NOT DISTINCT FROM other.c{place} AS s{place}" for place in range(len(schema.fields)))
    connection = judge().connection
    connection.register("own", _plain(own))
    connection.register("other", _plain(catalogue.take(pa.array(rows))))
    sql = f"SELECT own.n AS own_row, other.n AS other_row, {same} FROM own JOIN other ON {key} ORDER BY own.n"
    found = connection.execute(sql).fetchnumpy()
    cells = np.stack([np.asarray(found[f"s{place}"], dtype=bool) for place in range(len(schema.fields))], axis=1)
    return _Pairs(np.asarray(found["own_row"]), rows[np.asarray(found["other_row"])], cells)


def _candidates(own: pa.Table, catalogue: pa.Table, first: str) -> IntArray:
    """Rows of the catalogue whose first key column a row of the contribution shares; all, where that column is not text."""
    if not pa.types.is_dictionary(own[first].type):
        return np.arange(catalogue.num_rows)
    named = own[first].unique().cast(pa.string()).drop_null().to_pylist()
    return np.flatnonzero(renumber(catalogue[first], named) >= 0)


def _plain(data: pa.Table) -> pa.Table:
    """The columns as c0, c1, ..., text uncoded, and the number n of each row."""
    columns = [column.cast(pa.string()) if pa.types.is_dictionary(column.type) else column for column in data.columns]
    names = [f"c{place}" for place in range(len(columns))]
    return pa.table([*columns, pa.array(np.arange(data.num_rows))], names=[*names, "n"])


def _fault(schema: Schema, record: int, line: int, cells: Cells, other: Cells, same: BoolArray) -> Fault:
    """The fault of a row that the catalogue has otherwise, at the first cell that differs."""
    places = np.flatnonzero(~same).tolist()
    found = ", ".join(f"{schema.names[place]} {_quoted(cells[place])}" for place in places)
    expected = ", ".join(f"{schema.names[place]} {_quoted(other[place])}" for place in places)
    return Fault(
        "conflicting-key",
        line,
        schema.names[places[0]],
        found,
        f"as the catalogue has it for {row_key(schema, other)}: {expected}",
        own_key(schema),
        record,
        cells,
    )


def _quoted(text: str) -> str:
    return quoted(text) if text else "nothing"
