"""The derived tables in a folder of their own, so that a package stays as it is; by this machine or by Spark."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pyarrow as pa

from gapbook.errors import fail
from gapbook.tables.batches import REJECTS
from gapbook.tables.catalogue import must_have_heads, read_catalogue
from gapbook.tables.derivation import BEDS, MECHANICS
from gapbook.tables.derived import PARTS, compute, tables_of
from gapbook.tables.export import CSV, PARQUET, Item, write_folder
from gapbook.tables.opening import own_package
from gapbook.tables.package import DERIVED_TABLES, Package
from gapbook.tables.views import Column, View, columns_of, labelled
from gapbook.tables.writing import write_csv

_WORDS = {
    "specimen_id": "The specimen; none of its rows is used.",
    "code": "What is wrong, in one word, as errors and findings have it.",
    "column": "The column that it is in; blank if it is in no one column.",
    "reason": "What is wrong.",
    "found": "The first such cell.",
    "expected": "What may be there.",
    "fix": "How to mend it.",
    "rows": "How many rows of the specimen are wrong in this way.",
}
_REJECTS = View(
    "rejects",
    "Specimens that cannot be used, a row a specimen and fault.",
    tuple(
        Column(field.name, "integer" if pa.types.is_integer(field.type) else "string", "", _WORDS[field.name])
        for field in REJECTS
    ),
    sql="",
)


class Cluster(NamedTuple):
    """How Spark is to go over the spacings.

    master: Spark's master; all cores of this machine if None
    parts: partitions that specimens are dealt into; if None, by the size of spacings
    spacings: Parquet at any path that Spark can read, in place of the package's own spacings
    """

    master: str | None = None
    parts: int | None = None
    spacings: str | None = None


def derive_into(
    package: Package,
    out: Path,
    parts: Sequence[str] | None = None,
    form: str = PARQUET,
    cluster: Cluster | None = None,
    memory: int | None = None,
) -> dict[str, int]:
    """Derive tables into a folder, whole or not at all; rows written by table.

    package: what they follow from; it stays as it is
    out: the folder, as of `export.write_folder`
    parts: of derived.PARTS; all if None
    form: PARQUET or CSV
    cluster: how Spark goes over the spacings, which gives a table of rejects, too; None for this machine alone
    memory: as of `derived.compute`

    GapbookError on a catalogue that cannot be used; with Spark, only if it is one of the small tables.
    """
    shaped = with_derived(package)
    wanted = parts or PARTS
    tables = compute(shaped, wanted, memory=memory) if cluster is None else _by_spark(shaped, wanted, cluster)
    return write_folder(shaped, out, _items(shaped, tables, form), form=form)


def with_derived(package: Package) -> Package:
    """The package with derived tables, shaped as this version writes them, if its descriptor names none."""
    if missing := [name for name in DERIVED_TABLES if name not in package.resources]:
        own = own_package()
        added = [{**own.resource(name), "schema": own.schema_descriptor(name)} for name in missing]
        return replace(package, descriptor={**package.descriptor, "resources": [*package.descriptor["resources"], *added]})
    return package


def _by_spark(package: Package, parts: Sequence[str], cluster: Cluster) -> dict[str, pa.Table]:
    """The derived tables, and the rejects."""
    from gapbook.tables import spark  # late: an extra

    if unknown := [part for part in parts if part not in PARTS]:
        raise fail("no-part", f"no part {unknown[0]!r} to derive", expected="one of " + ", ".join(PARTS))
    catalogue = read_catalogue(package)
    must_have_heads(catalogue)
    passes = [part for part in parts if part in (BEDS, MECHANICS)]
    found = spark.measure(package, catalogue, passes, *cluster) if passes else spark.Found([], REJECTS.empty_table())
    return {**dict(tables_of(package, catalogue, parts, lambda part: found.measured)), _REJECTS.name: found.rejects}


def _items(package: Package, tables: dict[str, pa.Table], form: str) -> Iterator[Item]:
    for name, data in tables.items():
        if name == _REJECTS.name:
            yield Item(_REJECTS, data)
            continue
        view = View(name, package.schema(name).description, columns_of(package, name))
        text = io.BytesIO()
        if form == CSV:
            write_csv(text, data)
        yield Item(view, labelled(data, package, name, package.schema(name).fields), text.getvalue() if form == CSV else None)
