"""Beds from spacings that come in batches of whole specimens, for data that outgrow one machine: the two passes of
`derivation`, each a function of one Arrow table that Spark can map.

`repeat_sums` of each batch, together, give `deviation`, with which `beds_of` scores each batch on its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np
import pyarrow as pa

from gapbook.science.grouping import FloatArray
from gapbook.tables.catalogue import RawTables, read_catalogue
from gapbook.tables.derivation import Sums, added, beds_table, gather, must_be_whole, pooled, score_spacings, sums_of
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.reader import arrow_type

SUMS = pa.schema([("pool", pa.int64()), ("squares", pa.float64()), ("freedom", pa.int64())])
"""Columns of `repeat_sums`: number of the pool, sum of squared residuals [mm²], degrees of freedom."""


@cache
def small_tables(path: str) -> tuple[Package, RawTables]:
    """The package at `path` and its tables but the spacings, read once by each process."""
    package = open_package(path)
    return package, read_catalogue(package)


def repeat_sums(package: Package, catalogue: RawTables, batch: pa.Table) -> pa.Table:
    """The first pass: how the repeats in a batch scatter, with the columns of SUMS, one row for each pool."""
    squares, freedom = sums_of(catalogue, gather(package, catalogue, _coded(package, batch)).blocks)
    return pa.table([np.arange(len(squares)), squares, freedom], schema=SUMS)


def deviation(sums: Iterable[pa.Table]) -> FloatArray:
    """Repeatability [mm] by pool from the `repeat_sums` of every batch."""
    whole = pa.concat_tables(sums).sort_by("pool")
    pools = int(np.asarray(whole["pool"])[-1]) + 1
    columns = (np.asarray(whole[name]).reshape(pools, -1).T for name in ("squares", "freedom"))
    return pooled(added([Sums(*pair) for pair in zip(*columns, strict=True)]))


def beds_of(package: Package, catalogue: RawTables, repeatability: FloatArray, batch: pa.Table) -> pa.Table:
    """The second pass: the rows of beds.csv for a batch. GapbookError if a bed is not whole.

    package: whose small tables are used
    catalogue: those tables
    repeatability: of each pool over all batches [mm], as `deviation` gives it
    batch: spacings of whole specimens
    """
    gathered = gather(package, catalogue, _coded(package, batch))._replace(deviation=repeatability)
    must_be_whole(catalogue, gathered)
    return beds_table(package, catalogue, score_spacings(catalogue, gathered))


def beds_schema(package: Package) -> pa.Schema:
    """The columns of `beds_of`."""
    plain = {"string": pa.string(), "integer": pa.int64(), "number": pa.float64()}
    return pa.schema([(field.name, plain[field.type]) for field in package.schema("beds").fields])


def _coded(package: Package, batch: pa.Table) -> pa.Table:
    """The batch with its columns in file order and of the types they are read as."""
    fields = package.schema("spacings").fields
    columns = [batch[field.name] for field in fields]
    made = [
        column.dictionary_encode() if pa.types.is_string(column.type) or pa.types.is_large_string(column.type) else column
        for column in columns
    ]
    types = pa.schema([(field.name, arrow_type(field)) for field in fields])
    return pa.table(made, names=types.names).cast(types).unify_dictionaries()
