"""Whole-frame readings as numbers, before any repeat is averaged; and days, and rows of the layer checked."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.study import Study
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, starts_of
from gapbook.tables.units import codes, renumber


def days(column: pa.ChunkedArray) -> IntArray:
    """Dates [R] as days since 1970; null as day 0."""
    return np.asarray(column.cast(pa.int32()).fill_null(0)).astype(np.int64)


class Readings(NamedTuple):
    """Whole-frame readings that can be computed with [R]: the row of the study's table, numbers of what the row names, `day`
    since 1970, and `value` in the quantity's computing unit. `person` numbers the codes of the contributor column.
    """

    row: IntArray
    specimen: IntArray
    quantity: IntArray
    strung: IntArray
    person: IntArray
    instrument: IntArray
    day: IntArray
    repeat: IntArray
    value: FloatArray

    def take(self, rows: BoolArray | IntArray) -> Readings:
        """The same for some of the rows."""
        return Readings(*(column[rows] for column in self))  # type: ignore[arg-type]


def readings(study: Study) -> Readings:
    """Every whole-frame reading that can be computed with."""
    rows = study.usable_rows("readings")
    catalogue = study.catalogue
    data = catalogue.tables["readings"]
    return Readings(
        rows,
        renumber(data["specimen_id"], catalogue.specimens.ids),
        renumber(data["quantity"], list(catalogue.quantities)),
        np.asarray(data["strung"].combine_chunks().to_numpy(zero_copy_only=False), dtype=bool).astype(np.int64),
        codes(data["contributor_id"]),
        renumber(data["instrument_id"], catalogue.instruments.ids),
        days(data["taken_on"]),
        np.asarray(data["repeat"]).astype(np.int64),
        np.asarray(data["value"], dtype=float) * study.units["readings"].factor[rows],
    )


def groups(number: IntArray) -> list[IntArray]:
    """The places [any] of each number that occurs in `number` [R], in ascending order of both."""
    order = np.argsort(number, kind="stable")
    return np.split(order, starts_of(number[order])[1:]) if len(order) else []


def first_own(study: Study, table: str, rows: IntArray) -> tuple[int, ...]:
    """The first of `rows` that stands in the layer checked, for a finding's `rows`; empty if none does."""
    own = rows[study.read.layer[table][rows] == study.own]
    return tuple(own[:1].tolist())
