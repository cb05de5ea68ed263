"""What follows from the catalogue, computed anew and written: the whole of `gapbook derive`; and scores.csv.

Beds and mechanics come of the two passes of `derivation`, which an engine maps (`engines`); frames' scores and handling
follow from what comes back.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Generator, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from functools import partial
from typing import Any

import numpy as np
import pyarrow as pa

from gapbook.errors import Place, fail
from gapbook.progress import counted, report
from gapbook.science import outline, scores
from gapbook.science.beds import SCORE_NAMES
from gapbook.science.grouping import FloatArray, IntArray
from gapbook.science.mechanics import RESPONSES
from gapbook.science.scores import LN10, frame_scores, specimen_spread
from gapbook.tables import dealing, derivation
from gapbook.tables.catalogue import RawTables, must_have_heads, read_catalogue
from gapbook.tables.copies import MECHANICS_COLUMNS
from gapbook.tables.derivation import BEDS, MECHANICS, Measured, beds_table, order_of, score_columns, shared_texts
from gapbook.tables.engines import engine, workers_for
from gapbook.tables.files import LARGEST_TABLE
from gapbook.tables.freshness import write_digests
from gapbook.tables.handling import handling_table
from gapbook.tables.package import DIGESTS, Package, must_be_writable
from gapbook.tables.reader import check_references, read_table
from gapbook.tables.transactions import Change, changing
from gapbook.tables.writing import arranged, write_csv

PARTS = (BEDS, "handling", MECHANICS)
"""What can be derived on its own; `beds` gives beds and scores."""
MECHANICS_SPREAD = 0.01
"""Default spread of copies, of each logarithm: that of a bed's openness.

Common practice, no source.
"""
_NOTHING = np.zeros(0)


def compute(
    package: Package, parts: Sequence[str] | None = None, workers: int | None = None, memory: int | None = None
) -> dict[str, pa.Table]:
    """The derived tables by name. GapbookError on a catalogue that cannot be used.

    package: the package
    parts: of PARTS; all that the package describes if None
    workers: processes that solve mechanics; if None, as many as are worth while
    memory: about how many bytes the process may take, so that spacings are dealt into files first; if None, as many as it needs
    """
    return dict(_computed(package, _wanted(package, parts), workers, memory))


def _computed(
    package: Package, wanted: Collection[str], workers: int | None, memory: int | None
) -> Generator[tuple[str, pa.Table]]:
    """The derived tables one by one. Mechanics come last: a pool solves them while this process makes the other tables, and
    while the caller writes those.
    """
    report("reading")
    passes = [part for part in wanted if part in (BEDS, MECHANICS)]
    if memory is not None:
        catalogue = read_catalogue(package)
        must_have_heads(catalogue)
        within = list(dealing.measure(package, catalogue, passes, memory)) if passes else []
        yield from tables_of(package, catalogue, wanted, lambda part: within)
        return
    if passes and max((path.stat().st_size for path in package.paths("spacings") if path.is_file()), default=0) > LARGEST_TABLE:
        fix = "Derive with --memory, which reads it piece by piece, or with --engine spark"
        raise fail("unreadable", "the file is too large to be read whole", place=Place(package.shown("spacings")), fix=fix)
    workers = workers_for(package, passes) if workers is None else workers
    with ThreadPoolExecutor(1) as reader:
        reading = reader.submit(read_table, package, "spacings") if passes else None
        catalogue = read_catalogue(package)
        must_have_heads(catalogue)
        with engine(workers) as mapped:  # processes start now: from here on this one keeps only one core busy
            first: Iterable[Measured] = ()
            solving: Iterable[Measured] = ()
            tasks: Sequence[Any] = ()
            if reading:
                measure, tasks = _second_pass(package, catalogue, reading.result())
                solving = mapped(partial(measure, wanted=[MECHANICS]), tasks if MECHANICS in wanted else ())
                first = map(partial(measure, wanted=[BEDS]), tasks if BEDS in wanted else ())
            scored = counted(first, "scoring beds", len(tasks))
            solved = counted(solving, "solving stiffness", len(tasks))
            yield from tables_of(package, catalogue, wanted, lambda part: scored if part == BEDS else solved)


def tables_of(
    package: Package, catalogue: RawTables, wanted: Collection[str], measured: Callable[[str], Iterable[Measured]]
) -> Generator[tuple[str, pa.Table]]:
    """The derived tables one by one, mechanics last.

    package: whose schemas they have
    catalogue: the small tables
    wanted: of PARTS
    measured: the measured beds, in parts, of BEDS or of MECHANICS
    """
    ids = catalogue.specimens.ids
    if BEDS in wanted:
        beds = derivation.together(measured(BEDS), ids)
        yield "beds", beds_table(package, catalogue, beds)
        yield "scores", scores_table(package, catalogue, beds)
    if "handling" in wanted:
        yield "handling", handling_table(package, catalogue)
    if MECHANICS in wanted:
        yield MECHANICS, mechanics_table(package, catalogue, derivation.together(measured(MECHANICS), ids))


def _wanted(package: Package, parts: Sequence[str] | None) -> list[str]:
    if unknown := [part for part in parts or () if part not in PARTS]:
        raise fail("no-part", f"no part {unknown[0]!r} to derive", expected="one of " + ", ".join(PARTS))
    return [part for part in PARTS if part in package.resources] if parts is None else list(parts)


def _second_pass(
    package: Package, catalogue: RawTables, spacings: pa.Table
) -> tuple[Callable[..., Measured], list[derivation.Task]]:
    """The second pass, but for what is wanted of it, and the blocks that it is to be given."""
    check_references(package, "spacings", spacings, catalogue.tables)
    gathered = derivation.gather(package, catalogue, spacings)
    derivation.must_be_whole(catalogue, gathered)
    return derivation.measuring(catalogue, gathered.pooled), list(derivation.tasks(catalogue, gathered.blocks))


def derive(
    package: Package, parts: Sequence[str] | None = None, workers: int | None = None, memory: int | None = None
) -> dict[str, int]:
    """Recompute and write the derived tables; rows written by table. Nothing is written unless all can be computed.

    package: the package
    parts: as of `compute`
    workers: likewise
    memory: likewise
    """
    must_be_writable(package)
    pa.array(_NOTHING)  # imports numpy.ma, and pandas if there is any: once, and where an interrupt is not lost
    wanted, rows = _wanted(package, parts), dict[str, int]()
    with changing(package, "gapbook derive") as change:
        with closing(_computed(package, wanted, workers, memory)) as tables:
            for name, data in tables:
                _write(change, name, data)
                rows[name] = data.num_rows
        rows |= _with_digests(change, list(rows))
        change.swap()
    return rows


def write_derived(change: Change, tables: Mapping[str, pa.Table]) -> dict[str, int]:
    """Make derived tables, and the digests of what they follow from, part of a change; rows by table."""
    for name, data in counted(tables.items(), "writing", len(tables)):
        _write(change, name, data)
    return {name: data.num_rows for name, data in tables.items()} | _with_digests(change, list(tables))


def _write(change: Change, name: str, data: pa.Table) -> None:
    change.write(name, partial(write_csv, data=data))


def _with_digests(change: Change, tables: list[str]) -> dict[str, int]:
    """Write the digests of derived tables that the change has; their rows, by table, if the package has such a table."""
    digests = write_digests(change, tables)
    return {DIGESTS: digests} if digests else {}


def _default_spread() -> FloatArray:
    """Default specimen spread of each log score: 1 % of a length, 2 % of a density. Common practice, no source."""
    return np.array([0.02 if name in ("density_centre_per_cm2", "uniformity") else 0.01 for name in SCORE_NAMES])


def scores_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """scores.csv as an Arrow table: measured frames from their specimens, the others by their counts."""
    frames = catalogue.frames
    beds = measured.beds
    frame = catalogue.specimens.frame[measured.specimen]
    spread = specimen_spread(beds.value, beds.variances, frame, _default_spread(), beds.common).counted
    spread[SCORE_NAMES.index("density_centre_per_cm2")] = 2.0 * spread[SCORE_NAMES.index("openness_centre")]
    scored = frame_scores(beds.value, beds.variances, frame, spread, beds.common)
    value = np.full((len(frames.ids), len(SCORE_NAMES)), np.nan, order="F")  # gone over by columns
    u = np.full_like(value, np.nan)
    specimens = np.zeros(len(frames.ids), dtype=np.int64)
    known = len(scored.specimens)
    value[:known], u[:known], specimens[:known] = scored.value, scored.u, scored.specimens
    value[specimens == 0], u[specimens == 0] = _counted(catalogue, value, specimens)
    columns = score_columns(value, u * u)
    columns["head_area_cm2"] = frames.area
    shared = shared_texts(catalogue, scored.common or beds.common, len(frames.ids))
    order = order_of(frames.ids)
    measured_there = (specimens[order] > 0).tolist()
    exact: dict[str, object] = {
        "frame_id": [frames.ids[number] for number in order.tolist()],
        "basis": ["measured" if there else "counted" for there in measured_there],
        "specimens": specimens[order],
        "mains": frames.mains[order],
        "crosses": frames.crosses[order],
        "shared": [shared[number] for number in order.tolist()],
    }
    return arranged(package, "scores", {name: column[order] for name, column in columns.items()}, exact)


def _counted(catalogue: RawTables, value: FloatArray, specimens: IntArray) -> tuple[FloatArray, FloatArray]:
    """Log scores and their u of the frames without a measured bed [C, scores]: centre, density and even drilling only."""
    frames = catalogue.frames
    centre = SCORE_NAMES.index("openness_centre")
    seen = np.flatnonzero((specimens > 0) & ~np.isnan(value[:, centre]))
    line = scores.fit_counted(np.exp(value[seen, centre]), frames.area[seen], frames.mains[seen], frames.crosses[seen])
    unseen = np.flatnonzero(specimens == 0)
    return counted_scores(line, frames.area[unseen], frames.mains[unseen], frames.crosses[unseen])


def counted_scores(
    line: scores.CountedLine, area: FloatArray, mains: IntArray, crosses: IntArray, u_area: FloatArray | float = 0.0
) -> tuple[FloatArray, FloatArray]:
    """Log scores and their u of beds of which only the strings were counted [C, SCORE_NAMES]: centre, density, even drilling.

    line: the line through measured frames
    area: of the head [C] in cm2
    mains: string count [C]
    crosses: string count [C]
    u_area: relative standard uncertainty of the area [C]
    """
    centre, density, even = (SCORE_NAMES.index(name) for name in ("openness_centre", "density_centre_per_cm2", "openness_even"))
    found = np.full((len(area), len(SCORE_NAMES)), np.nan)
    u = np.full(found.shape, np.nan)
    found[:, centre], spread = scores.estimate_counted(line, area, mains, crosses)
    u[:, centre] = np.hypot(spread, 0.5 * u_area)
    found[:, density], u[:, density] = 2.0 * LN10 - 2.0 * (found[:, centre] - LN10), 2.0 * u[:, centre]
    width, length = outline.size_from_area(area)
    found[:, even] = LN10 + 0.5 * np.log(width * length / (mains * crosses))
    u[:, even] = np.hypot(outline.size_errors()[1][0], 0.5 * np.maximum(u_area, outline.U_DECLARED_AREA))
    return found, u


def mechanics_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """mechanics.csv as an Arrow table: one row for each measured frame, for a copy of it that nobody has read yet."""
    solved, frame = measured.mechanics, catalogue.specimens.frame[measured.specimen]
    default = np.full(len(RESPONSES), MECHANICS_SPREAD)
    spread = specimen_spread(solved.value, solved.variances, frame, default).counted
    frames = frame_scores(solved.value, solved.variances, frame, spread)
    rows = np.flatnonzero(frames.specimens > 0)
    rows = rows[order_of([catalogue.frames.ids[row] for row in rows])]
    columns = {}
    for number, name in enumerate(MECHANICS_COLUMNS):
        columns[name] = np.exp(frames.value[rows, number])
        columns["u_" + name] = columns[name] * frames.u[rows, number]
    return arranged(package, MECHANICS, columns, {"frame_id": [catalogue.frames.ids[row] for row in rows]})
