"""A contribution's rows held against the catalogue's: the same row again is passed over, the same key otherwise is an error."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.findings import Finding
from gapbook.intake.mending import own_key
from gapbook.intake.table_files import TableFile, and_more, row_key
from gapbook.science.grouping import BoolArray, IntArray, combine
from gapbook.tables.cells import quoted
from gapbook.tables.csv_text import MANY
from gapbook.tables.reader import value_numbers
from gapbook.tables.schemas import Schema
from gapbook.tables.units import renumber


class _Pairs(NamedTuple):
    """Rows of a contribution [P] and of the catalogue [P] that have one key, and whether their cells are the same [P, C]."""

    own: IntArray
    other: IntArray
    is_same: BoolArray


def check_conflicts(own: TableFile, catalogue: TableFile) -> None:
    """Take the rows that the catalogue has out of a contribution's file; a finding for each that it has otherwise.

    If the catalogue itself has several rows of one key, the last of them counts.
    """
    schema = own.source.schema
    known, rows = catalogue.with_repeated()
    if not schema.primary_key or not own.data.num_rows or not known.num_rows:
        return
    pairs = _pairs(own.data, known, schema)
    differing = np.flatnonzero(~pairs.is_same.all(axis=1))
    findings = [
        _conflict(own, catalogue, int(own.rows[pairs.own[at]]), int(rows[pairs.other[at]]), pairs.is_same[at])
        for at in differing[:MANY].tolist()
    ]
    own.findings += and_more(findings, len(differing) - MANY, "rows more that the catalogue has otherwise")
    own.pass_over(_marked(pairs.own, own), _marked(pairs.own[differing], own))


def _marked(rows: IntArray, file: TableFile) -> BoolArray:
    marks = np.zeros(file.data.num_rows, dtype=bool)
    marks[rows] = True
    return marks


def _pairs(own: pa.Table, catalogue: pa.Table, schema: Schema) -> _Pairs:
    rows = _candidates(own, catalogue, schema.primary_key[0])
    both = pa.concat_tables([own, catalogue.take(pa.array(rows))])
    number = np.stack([value_numbers(column) for column in both.columns])
    key = number[[schema.names.index(name) for name in schema.primary_key]]
    whole = np.where(np.all(key > 0, axis=0), combine(*key), -1 - np.arange(key.shape[1]))  # without a key, a row is like none
    mine, theirs = whole[: own.num_rows], whole[own.num_rows :]
    order = np.argsort(theirs, kind="stable")
    place = (np.searchsorted(theirs, mine, side="right", sorter=order) - 1).clip(0)  # of several rows the last
    is_there = theirs[order][place] == mine if len(rows) else np.zeros(len(mine), dtype=bool)
    known, other = np.flatnonzero(is_there), order[place[is_there]]
    is_same = number[:, known] == number[:, own.num_rows + other]
    return _Pairs(known, rows[other], is_same.T)


def _candidates(own: pa.Table, catalogue: pa.Table, first: str) -> IntArray:
    """Rows of the catalogue whose first key column a row of the contribution shares; all if that column is not text."""
    if not pa.types.is_dictionary(own[first].type):
        return np.arange(catalogue.num_rows)
    named = own[first].unique().cast(pa.string()).drop_null().to_pylist()
    return np.flatnonzero(renumber(catalogue[first], named) >= 0)


def _conflict(own: TableFile, catalogue: TableFile, row: int, other: int, is_same: BoolArray) -> Finding:
    """The finding for a row that the catalogue has otherwise, at the first cell that differs."""
    schema, cells, theirs = own.source.schema, own.text.cells(row), catalogue.text.cells(other)
    places = np.flatnonzero(~is_same).tolist()
    found, expected = (
        ", ".join(f"{schema.names[place]} {quoted(one[place]) if one[place] else 'nothing'}" for place in places)
        for one in (cells, theirs)
    )
    expected = f"as the catalogue has it for {row_key(schema, theirs)}: {expected}"
    return own.finding("conflicting-key", row, schema.names[places[0]], found, expected, own_key(schema))
