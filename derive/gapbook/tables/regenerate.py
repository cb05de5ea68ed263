"""What follows from the catalogue, computed anew and written: the whole of `gapbook derive`."""

from __future__ import annotations

from collections.abc import Sequence

import pyarrow as pa

from gapbook.errors import fail
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.derived import beds_table, measure_beds, scores_table
from gapbook.tables.handling import handling_table
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.writing import write_csv

PARTS = ("beds", "handling")
"""What can be derived on its own; `beds` gives beds and scores."""


def compute(package: Package, parts: Sequence[str] = PARTS) -> dict[str, pa.Table]:
    """The derived tables by name. GapbookError on a catalogue that cannot be used."""
    if unknown := [part for part in parts if part not in PARTS]:
        raise fail("no-part", f"no part {unknown[0]!r} to derive", expected="one of " + ", ".join(PARTS))
    catalogue = read_catalogue(package)
    tables: dict[str, pa.Table] = {}
    if "beds" in parts:
        measured = measure_beds(package, catalogue)
        tables["beds"] = beds_table(package, catalogue, measured)
        tables["scores"] = scores_table(package, catalogue, measured)
    if "handling" in parts:
        tables["handling"] = handling_table(package, catalogue)
    return tables


def derive(package: Package, parts: Sequence[str] = PARTS) -> dict[str, int]:
    """Recompute and write the derived tables; rows written by table. Nothing is written unless all can be computed."""
    must_be_writable(package)
    tables = compute(package, parts)
    for name, data in tables.items():
        write_csv(package.path(name), package.shown(name), data)
    return {name: data.num_rows for name, data in tables.items()}
