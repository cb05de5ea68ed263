"""What follows from the catalogue, computed anew and written: the whole of `gapbook derive`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import pyarrow as pa

from gapbook.errors import fail
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.derived import beds_table, measure_beds, scores_table
from gapbook.tables.handling import handling_table
from gapbook.tables.mechanics import mechanics_table
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.reading import read_table
from gapbook.tables.swapping import Change, changing
from gapbook.tables.writing import write_csv

PARTS = ("beds", "handling", "mechanics")
"""What can be derived on its own; `beds` gives beds and scores."""


def compute(package: Package, parts: Sequence[str] | None = None) -> dict[str, pa.Table]:
    """The derived tables by name: of `parts`, or of every part the package describes. GapbookError on a catalogue that
    cannot be used.
    """
    if parts is None:
        parts = [part for part in PARTS if part in package.resources]
    if unknown := [part for part in parts if part not in PARTS]:
        raise fail("no-part", f"no part {unknown[0]!r} to derive", expected="one of " + ", ".join(PARTS))
    tables: dict[str, pa.Table] = {}
    with ThreadPoolExecutor(1) as pool:  # the spacings are nearly all there is to read
        spacings = pool.submit(read_table, package, "spacings") if "beds" in parts else None
        catalogue = read_catalogue(package)
    if spacings is not None:
        measured = measure_beds(package, catalogue, spacings.result())
        tables["beds"] = beds_table(package, catalogue, measured)
        tables["scores"] = scores_table(package, catalogue, measured)
    if "handling" in parts:
        tables["handling"] = handling_table(package, catalogue)
    if "mechanics" in parts:
        tables["mechanics"] = mechanics_table(package, catalogue)
    return tables


def derive(package: Package, parts: Sequence[str] | None = None) -> dict[str, int]:
    """Recompute and write the derived tables; rows written by table. Nothing is written unless all can be computed."""
    must_be_writable(package)
    with changing(package, "gapbook derive") as change:
        tables = compute(package, parts)
        write_derived(change, tables)
        change.swap()
    return {name: data.num_rows for name, data in tables.items()}


def write_derived(change: Change, tables: Mapping[str, pa.Table]) -> None:
    """Make derived tables part of a change."""
    for name, data in tables.items():
        change.write(name, partial(write_csv, data=data))
