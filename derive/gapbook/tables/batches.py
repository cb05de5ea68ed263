"""Beds from spacings that come in batches of whole specimens, for data that outgrow one machine: the two passes of
`derivation`, each a function of one Arrow table that Spark can map.

`repeat_sums` of each batch, together, give `pooled`, with which `beds_of` scores each batch on its own.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

import pyarrow as pa

from gapbook.science.pooling import MeanGaps, Relaid
from gapbook.tables import derivation
from gapbook.tables.catalogue import RawTables, read_catalogue
from gapbook.tables.derivation import Pooled, Sums, added, beds_table, gather, must_be_whole, score_spacings, sums_of
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.reader import arrow_type

_WHOLE = {"freedom", "part", "person", "kind", "bed", "is_mark", "pool"}
SUMS = pa.schema(
    [
        (f"{name}{separator}{column}", pa.list_(pa.int64() if column in _WHOLE or name in _WHOLE else pa.float64()))
        for name, separator, columns in (
            ("squares", "", [""]),
            ("freedom", "", [""]),
            ("mean_gaps", "_", MeanGaps._fields),
            ("relaid", "_", Relaid._fields),
        )
        for column in columns
    ]
)
"""Columns of `repeat_sums`: those of `derivation.Sums`, one row a batch with a list in each column."""


@cache
def small_tables(path: str) -> tuple[Package, RawTables]:
    """The package at `path` and its tables but the spacings, read once by each process."""
    package = open_package(path)
    return package, read_catalogue(package)


def repeat_sums(package: Package, catalogue: RawTables, batch: pa.Table) -> pa.Table:
    """The first pass: what a batch says of errors, one row with the columns of SUMS."""
    sums = sums_of(catalogue, gather(package, catalogue, _coded(package, batch)).blocks)
    columns = [sums.squares, sums.freedom, *sums.mean_gaps, *sums.relaid]
    return pa.table([pa.array([column], kind) for column, kind in zip(columns, SUMS.types, strict=True)], schema=SUMS)


def pooled(catalogue: RawTables, sums: Iterable[pa.Table]) -> Pooled:
    """What all batches say of errors, from the `repeat_sums` of each."""
    parts = []
    for batch in pa.concat_tables(sums).to_batches(max_chunksize=1):
        squares, freedom, *rest = (column.flatten().to_numpy(zero_copy_only=False) for column in batch.columns)
        of_people = len(MeanGaps._fields)
        parts.append(Sums(squares, freedom, MeanGaps(*rest[:of_people]), Relaid(*rest[of_people:])))
    return derivation.pooled(catalogue, added(parts))


def beds_of(package: Package, catalogue: RawTables, known: Pooled, batch: pa.Table) -> pa.Table:
    """The second pass: the rows of beds.csv for a batch. GapbookError if a bed is not whole.

    package: whose small tables are used
    catalogue: those tables
    known: what all batches say of errors, as `pooled` gives it
    batch: spacings of whole specimens
    """
    gathered = gather(package, catalogue, _coded(package, batch))._replace(pooled=known)
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
