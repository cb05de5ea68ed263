"""Beds from spacings that come in batches of whole specimens, for data that outgrow one machine: the same derivation, in
two passes, each a function of one Arrow table.

Readings repeat as well in one batch as in another, so repeatability is pooled over all of them first: `repeat_sums` of
each batch, added up, give `deviation`, with which `beds_of` scores each batch on its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import numpy as np
import pyarrow as pa

from gapbook.science.grouping import FloatArray
from gapbook.tables import spacings
from gapbook.tables.catalogue import RawTables, read_catalogue
from gapbook.tables.derived import beds_table, gather, score_spacings
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.reading import arrow_type

SUMS = pa.schema([("pool", pa.int64()), ("squares", pa.float64()), ("freedom", pa.int64())])
"""Columns of `repeat_sums`: sums of squares are in mm²."""


@cache
def small_tables(path: str) -> tuple[Package, RawTables]:
    """The package at `path` and its tables but the spacings, read once by each process."""
    package = open_package(path)
    return package, read_catalogue(package)


def repeat_sums(package: Package, catalogue: RawTables, batch: pa.Table) -> pa.Table:
    """What the repeats in a batch of spacings say of repeatability, as SUMS, one row a pool."""
    gathered = gather(package, catalogue, _coded(package, batch))
    squares, freedom = spacings.repeat_sums(gathered.blocks, catalogue)
    return pa.table([np.arange(len(squares)), squares, freedom], schema=SUMS)


def deviation(sums: Iterable[pa.Table]) -> FloatArray:
    """Repeatability [mm] by pool from the `repeat_sums` of every batch."""
    whole = pa.concat_tables(sums).group_by("pool").aggregate([("squares", "sum"), ("freedom", "sum")]).sort_by("pool")
    return spacings.repeatability_from(np.asarray(whole["squares_sum"]), np.asarray(whole["freedom_sum"]))


def beds_of(package: Package, catalogue: RawTables, repeatability: FloatArray, batch: pa.Table) -> pa.Table:
    """The rows of beds.csv for a batch of spacings of whole specimens. GapbookError for a bed that is not whole."""
    gathered = gather(package, catalogue, _coded(package, batch))._replace(deviation=repeatability)
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
