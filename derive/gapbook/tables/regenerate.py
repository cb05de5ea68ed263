"""What follows from the catalogue, computed anew and written: the whole of `gapbook derive`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
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
from gapbook.tables.transactions import Change, changing, consistent
from gapbook.tables.writing import THREADS, write_csv, write_rows

PARTS = ("beds", "handling", "mechanics")
"""What can be derived on its own; `beds` gives beds and scores."""


_NOTHING = np.zeros(0)


def compute(package: Package, parts: Sequence[str] | None = None) -> dict[str, pa.Table]:
    """The derived tables by name: of `parts`, or of every part the package describes. GapbookError on a catalogue that
    cannot be used.
    """
    with _crew(package, wanted := _wanted(package, parts)) as crew:
        return {name: table() for name, table in _to_compute(package, wanted, crew, rows=False).items()}


def _wanted(package: Package, parts: Sequence[str] | None) -> list[str]:
    if unknown := [part for part in parts or () if part not in PARTS]:
        raise fail("no-part", f"no part {unknown[0]!r} to derive", expected="one of " + ", ".join(PARTS))
    return [part for part in PARTS if part in package.resources] if parts is None else list(parts)


def _to_compute(package: Package, parts: Sequence[str], crew: Crew, rows: bool) -> dict[str, Callable[[], pa.Table]]:
    """What gives each table, once the catalogue is read and its beds are scored; with `rows`, the crew can write beds.csv."""
    tables: dict[str, Callable[[], pa.Table]] = {}
    catalogue, measured = _with_beds(package, crew, rows) if "beds" in parts else (read_catalogue(package), None)
    if measured is not None:
        tables["beds"] = partial(beds_table, package, catalogue, measured)
        tables["scores"] = partial(scores_table, package, catalogue, measured)
    if "handling" in parts:
        tables["handling"] = partial(handling_table, package, catalogue)
    if "mechanics" in parts:
        tables["mechanics"] = partial(mechanics_table, package, catalogue)
    return tables


def _with_beds(package: Package, crew: Crew, rows: bool) -> tuple[RawTables, Measured]:
    """The catalogue, and every measured bed scored: by the crew, if there is one and all is sound."""
    if crew.hands:
        with consistent(package, "spacings"):
            tools = read_tools(package)
            crew.average(tools)
            catalogue = read_bodies(tools)
            measured = crew.score(catalogue, rows)
        if measured is not None:
            return catalogue, measured
        crew.send_home()  # what they hold takes room
    with ThreadPoolExecutor(1) as pool:  # the spacings are nearly all there is to read
        spacings = pool.submit(read_table, package, "spacings")
        catalogue = read_catalogue(package)
    return catalogue, measure_beds(package, catalogue, spacings.result())


def _crew(package: Package, parts: Sequence[str]) -> Crew:
    """Hands for the spacings, where there is much to read; else nobody."""
    return Crew(stretches(package.path("spacings")) if "beds" in parts and _worth_sharing(package) else [])


def _worth_sharing(package: Package) -> bool:
    """Whether the spacings are many and several processes can read them."""
    path = package.path("spacings")
    large = path.is_file() and path.stat().st_size > WORTH_SHARING and cores() > 1
    return large and header_problem(path, package.shown("spacings"), package.schema("spacings")) is None


def derive(package: Package, parts: Sequence[str] | None = None) -> dict[str, int]:
    """Recompute and write the derived tables; rows written by table. Nothing is written unless all can be computed."""
    must_be_writable(package)
    pa.array(_NOTHING)  # pyarrow then imports numpy.ma, and pandas if there is any: once, and where an interrupt is not lost
    with changing(package, "gapbook derive") as change, _crew(package, wanted := _wanted(package, parts)) as crew:
        tables = _to_compute(package, wanted, crew, rows=True)
        with ThreadPoolExecutor(THREADS) as pool:
            try:
                rows = dict(pool.map(lambda name: (name, _set_aside(change, name, tables[name], crew)), tables))
            except BaseException:
                pool.shutdown(cancel_futures=True)  # nobody writes once the lock is free
                raise
        change.swap()
    return rows


def _set_aside(change: Change, name: str, table: Callable[[], pa.Table], crew: Crew) -> int:
    if name == "beds" and (rows := crew.rows()) is not None:
        change.write(name, partial(write_rows, names=change.package.schema(name).names, rows=rows))
        return len(rows)
    write_derived(change, {name: (data := table())})
    return int(data.num_rows)


def write_derived(change: Change, tables: Mapping[str, pa.Table]) -> None:
    """Make derived tables part of a change."""
    for name, data in tables.items():
        change.write(name, partial(write_csv, data=data))
