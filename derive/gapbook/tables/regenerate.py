"""What follows from the catalogue, computed anew and written: the whole of `gapbook derive`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import pyarrow as pa

from gapbook.errors import fail
from gapbook.tables.catalogue import RawTables, read_bodies, read_catalogue, read_tools
from gapbook.tables.crew import WORTH_SHARING, Crew, cores
from gapbook.tables.derived import Measured, beds_table, measure_beds, scores_table
from gapbook.tables.faults import header_problem
from gapbook.tables.handling import handling_table
from gapbook.tables.mechanics import mechanics_table
from gapbook.tables.package import Package, must_be_writable
from gapbook.tables.reading import read_table
from gapbook.tables.shares import stretches
from gapbook.tables.steady import steady
from gapbook.tables.swapping import Change, changing
from gapbook.tables.writing import THREADS, write_csv

PARTS = ("beds", "handling", "mechanics")
"""What can be derived on its own; `beds` gives beds and scores."""


def compute(package: Package, parts: Sequence[str] | None = None) -> dict[str, pa.Table]:
    """The derived tables by name: of `parts`, or of every part the package describes. GapbookError on a catalogue that
    cannot be used.
    """
    return {name: table() for name, table in _to_compute(package, parts).items()}


def _to_compute(package: Package, parts: Sequence[str] | None) -> dict[str, Callable[[], pa.Table]]:
    """What gives each table, once the catalogue is read and its beds are scored."""
    if parts is None:
        parts = [part for part in PARTS if part in package.resources]
    if unknown := [part for part in parts if part not in PARTS]:
        raise fail("no-part", f"no part {unknown[0]!r} to derive", expected="one of " + ", ".join(PARTS))
    tables: dict[str, Callable[[], pa.Table]] = {}
    catalogue, measured = _with_beds(package) if "beds" in parts else (read_catalogue(package), None)
    if measured is not None:
        tables["beds"] = partial(beds_table, package, catalogue, measured)
        tables["scores"] = partial(scores_table, package, catalogue, measured)
    if "handling" in parts:
        tables["handling"] = partial(handling_table, package, catalogue)
    if "mechanics" in parts:
        tables["mechanics"] = partial(mechanics_table, package, catalogue)
    return tables


def _with_beds(package: Package) -> tuple[RawTables, Measured]:
    """The catalogue, and every measured bed scored: by several processes where there is much to read."""
    if _worth_sharing(package):
        with steady(package, "spacings"), Crew(stretches(package.path("spacings"))) as crew:
            tools = read_tools(package)
            crew.average(tools)
            catalogue = read_bodies(tools)
            measured = crew.score(catalogue)
        if measured is not None:
            return catalogue, measured
    with ThreadPoolExecutor(1) as pool:  # the spacings are nearly all there is to read
        spacings = pool.submit(read_table, package, "spacings")
        catalogue = read_catalogue(package)
    return catalogue, measure_beds(package, catalogue, spacings.result())


def _worth_sharing(package: Package) -> bool:
    """Whether the spacings are many and several processes can read them."""
    path = package.path("spacings")
    large = path.is_file() and path.stat().st_size > WORTH_SHARING and cores() > 1
    return large and header_problem(path, package.shown("spacings"), package.schema("spacings")) is None


def derive(package: Package, parts: Sequence[str] | None = None) -> dict[str, int]:
    """Recompute and write the derived tables; rows written by table. Nothing is written unless all can be computed."""
    must_be_writable(package)
    pa.array([])  # pyarrow then looks for pandas; an interrupt while it is imported would be lost
    with changing(package, "gapbook derive") as change:
        tables = _to_compute(package, parts)
        with ThreadPoolExecutor(THREADS) as pool:
            try:
                rows = dict(pool.map(lambda name: (name, _set_aside(change, name, tables[name]())), tables))
            except BaseException:
                pool.shutdown(cancel_futures=True)  # nobody writes once the lock is free
                raise
        change.swap()
    return rows


def _set_aside(change: Change, name: str, data: pa.Table) -> int:
    change.write(name, partial(write_csv, data=data))
    return int(data.num_rows)


def write_derived(change: Change, tables: Mapping[str, pa.Table]) -> None:
    """Make derived tables part of a change."""
    for name, data in tables.items():
        _set_aside(change, name, data)
