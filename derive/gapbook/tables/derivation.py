"""The derivation in two passes: pure functions of whole specimens' spacings and of the small tables.

Readings repeat as well in one part of a package as in another. So the first pass, `gather`, averages the repeats of some
specimens and says how they scatter, and `pooled` makes one repeatability of what all parts say. The second pass, `measure`,
then scores beds and solves their mechanics, block by block. Parts are Arrow tables of whole specimens in any order: the
whole package on one machine, batches of it on many (`engines`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.science import outline, pooling, repeats
from gapbook.science.bed_mechanics import Mechanics, bed_mechanics
from gapbook.science.beds import BUDGET, NO_BEDS, SCORE_NAMES, Beds, Heads, score_beds
from gapbook.science.closure import shared_variance
from gapbook.science.comparison import SHARED_STEP, SHARED_ZONES
from gapbook.science.grouping import FloatArray, IntArray, count_by, starts_of, sum_by
from gapbook.science.lines import Runs
from gapbook.science.mechanics import RESPONSES
from gapbook.science.pooling import Between, MeanGaps, Placement, Relaid
from gapbook.science.repeats import Repeatability
from gapbook.science.scores import Variances
from gapbook.science.uncertainty import OF_FRAME, Common, Errors
from gapbook.science.zones import ZONES
from gapbook.tables import run_faults, spacings
from gapbook.tables.catalogue import Instruments, RawTables, SessionMeans
from gapbook.tables.package import Package
from gapbook.tables.read_twice import NOTHING_TWICE, read_twice
from gapbook.tables.spacings import BedRuns, Block, Source, pool_of
from gapbook.tables.writing import arranged

SIDES, AREA = ("head_width", "head_length"), "head_area"
ASSUMED = ("reading", "placement", "person")
"""Parts of a bed's uncertainty that are assumed as far as the package's readings do not tell them."""
BEDS, MECHANICS = "beds", "mechanics"
"""What the second pass can be asked for."""
_NO_RESPONSES = np.zeros((0, len(RESPONSES)))
NO_ROWS = np.zeros(0, dtype=np.int64)
NO_ASSUMED = np.zeros((0, len(ASSUMED)))
NO_MECHANICS = Mechanics(_NO_RESPONSES, Variances(_NO_RESPONSES, _NO_RESPONSES))


class Sums(NamedTuple):
    """What a part of a package says of its errors: how repeats scatter by pool [pools], and what was read by several.

    squares: sums of squared residuals [mm2]
    freedom: degrees of freedom behind them
    mean_gaps: what several people read
    relaid: what several sessions read
    """

    squares: FloatArray
    freedom: IntArray
    mean_gaps: MeanGaps
    relaid: Relaid


class Pooled(NamedTuple):
    """What all the readings of a package say together.

    repeatability: by pool [mm]
    people: how far people differ, by kind of instrument
    placement: how far strings lie from where they would rest
    """

    repeatability: Repeatability
    people: Between
    placement: Placement

    def errors(self, catalogue: RawTables) -> Errors:
        """The errors that beds have in common."""
        reader = np.tile(self.people.deviation, len(catalogue.people) + 1)
        return Errors(catalogue.instruments.u_error, reader, self.placement.deviation)


class Gathered(NamedTuple):
    """Spacings averaged over repeats.

    where: the table they came from
    blocks: whole specimens each
    pooled: what they say of errors
    """

    where: Source
    blocks: list[Block]
    pooled: Pooled

    def lay_out(self, catalogue: RawTables, part: Block) -> BedRuns:
        """One of the blocks, which must be whole, as runs of points."""
        return spacings.lay_out(part, self.pooled.repeatability, catalogue.instruments)


class Measured(NamedTuple):
    """Measured beds.

    specimen: their specimen numbers [B]
    area: head areas used [B] in cm2
    beds: their scores; empty if not asked for
    assumed: how much of the reading's, the placement's and the person's part of their uncertainty is assumed [B, 3]
    mechanics: their stiffness and frequency; empty if not asked for
    """

    specimen: IntArray
    area: FloatArray
    beds: Beds = NO_BEDS
    assumed: FloatArray = np.zeros((0, len(ASSUMED)))
    mechanics: Mechanics = NO_MECHANICS


# The first pass


def gather(package: Package, catalogue: RawTables, data: pa.Table, rows: int | None = None) -> Gathered:
    """Average a spacings table over repeats; what is pooled is of this table alone.

    package: names the file in errors
    catalogue: the small tables
    data: the spacings, in any order
    rows: about as many as a block has; if None, as many as are quick

    GapbookError for a reading given twice, or not a length. Whether runs are whole is for `must_be_whole` to say.
    """
    where = spacings.source(package, catalogue, data)
    blocks = list(spacings.blocks(where, catalogue, rows or spacings.ROWS))
    return Gathered(where, blocks, pooled(catalogue, sums_of(catalogue, blocks)))


def must_be_whole(catalogue: RawTables, gathered: Gathered) -> None:
    """GapbookError, with lines, for the first block with a bed that cannot be laid out."""
    for part in gathered.blocks:
        run_faults.must_be_whole(gathered.where, part, catalogue.specimens.ids)


def sums_of(catalogue: RawTables, blocks: Iterable[Block]) -> Sums:
    """What some blocks say of errors."""
    instruments = catalogue.instruments
    pools = 2 * len(instruments.kinds)
    sums = [Sums(np.zeros(pools), np.zeros(pools, dtype=np.int64), *NOTHING_TWICE)]
    for part in blocks:
        pool, starts = pool_of(part, instruments), starts_of(part.averages.run)
        scatter = np.add.reduceat(part.averages.squares, starts) if len(starts) else np.zeros(0)
        spare = np.add.reduceat(part.averages.repeats - 1, starts) if len(starts) else np.zeros(0)
        free = np.bincount(pool, weights=spare - part.shifts, minlength=pools).astype(np.int64)
        squares = np.asarray(np.bincount(pool, weights=scatter, minlength=pools), dtype=float)
        sums.append(Sums(squares, free, *read_twice(part, instruments)))
    return added(sums)


def added(sums: Sequence[Sums]) -> Sums:
    """Sums of several parts as one: exact, so that nothing depends on the order in which parts come."""
    squares = np.array([math.fsum(pool) for pool in zip(*(part.squares for part in sums), strict=True)])
    freedom = np.sum([part.freedom for part in sums], axis=0)
    mean_gaps, relaid = _joined([part.mean_gaps for part in sums]), _joined([part.relaid for part in sums])
    return Sums(squares, freedom, _ordered(mean_gaps), _ordered(relaid))


def _ordered(rows: Any) -> Any:
    """The columns of a table, in ascending order of rows, the first column first."""
    order = np.lexsort(rows[::-1])
    return type(rows)(*(column[order] for column in rows))


def pooled(catalogue: RawTables, sums: Sums) -> Pooled:
    """What all parts say together."""
    instruments = catalogue.instruments
    default = np.repeat(instruments.by_kind(repeats.DEFAULT_SPACING_MM, repeats.DEFAULT_OTHER_MM), 2)
    repeatability = repeats.pooled_repeatability(sums.squares, sums.freedom, np.arange(len(sums.squares)), default)
    people = pooling.between_people(sums.mean_gaps, instruments.by_kind(pooling.PERSON_MM, pooling.PERSON_OTHER_MM))
    return Pooled(repeatability, people, pooling.placement(sums.relaid, repeatability))


# The second pass


def prepare() -> None:
    """Import what solving nets imports late, so that the first bed need not wait for it."""
    import scipy.linalg.lapack  # noqa: F401


class Task(NamedTuple):
    """What the second pass is given: whole specimens, averaged over repeats, and what is known of their heads."""

    part: Block
    heads: Heads


def tasks(catalogue: RawTables, blocks: Iterable[Block]) -> Iterator[Task]:
    """Blocks with all that the second pass needs of the small tables but the instruments."""
    return (Task(part, heads_of(catalogue, np.unique(part.of_run.specimen))) for part in blocks)


def measure(task: Task, instruments: Instruments, pooled: Pooled, errors: Errors, wanted: Collection[str]) -> Measured:
    """The beds of a block that is whole, in ascending order of specimen number.

    task: the block
    instruments: of the whole package
    pooled: what the whole package says of errors
    errors: those that its beds have in common
    wanted: BEDS, MECHANICS or both
    """
    mains, crosses, specimen = spacings.lay_out(task.part, pooled.repeatability, instruments)
    heads = task.heads
    beds = score_beds(mains, crosses, heads, errors) if BEDS in wanted else NO_BEDS
    mechanics = bed_mechanics(mains, crosses, heads, errors) if MECHANICS in wanted else NO_MECHANICS
    assumed = _assumed((mains, crosses), len(specimen), instruments, pooled) if BEDS in wanted else NO_ASSUMED
    return Measured(specimen, heads.area, beds, assumed, mechanics)


def _assumed(families: Iterable[Runs], beds: int, instruments: Instruments, pooled: Pooled) -> FloatArray:
    """How much of the parts ASSUMED of each bed's uncertainty is assumed, in the mean of its runs [B, 3]."""
    bed, kind, is_mark = (
        np.concatenate(columns)
        for columns in zip(*((runs.bed, instruments.kind[runs.instrument], runs.is_mark) for runs in families), strict=True)
    )
    runs = count_by(bed, beds)
    reading = sum_by(bed, pooled.repeatability.assumed[kind * 2 + is_mark], beds) / runs
    person = sum_by(bed, pooled.people.assumed[kind], beds) / runs
    return np.stack([reading, np.full(beds, pooled.placement.assumed), person], axis=1)


def measuring(catalogue: RawTables, pooled: Pooled) -> Callable[..., Measured]:
    """`measure` for the blocks of one package, but for what is wanted of them."""
    errors = pooled.errors(catalogue)
    return partial(measure, instruments=catalogue.instruments, pooled=pooled, errors=errors)


def score_spacings(catalogue: RawTables, gathered: Gathered) -> Measured:
    """The beds of all blocks, which must be whole, in this process."""
    scored = partial(measuring(catalogue, gathered.pooled), wanted=[BEDS])
    return together(map(scored, tasks(catalogue, gathered.blocks)), catalogue.specimens.ids)


def together(parts: Iterable[Measured], ids: Sequence[str]) -> Measured:
    """Several parts as one, in ascending order of specimen id. ids: of specimens by number."""
    whole = _joined([Measured(NO_ROWS, np.zeros(0)), *_numbered(parts)])
    order = order_of([ids[number] for number in whole.specimen.tolist()])
    common = whole.beds.common
    taken: Measured = _taken(whole._replace(beds=whole.beds._replace(common=NO_BEDS.common)), order)
    place = np.empty(len(order), dtype=np.int64)
    place[order] = np.arange(len(order))
    return taken._replace(beds=taken.beds._replace(common=common._replace(bed=place[common.bed])))


def _numbered(parts: Iterable[Measured]) -> Iterator[Measured]:
    """The parts, with the beds of their common errors numbered through all of them."""
    beds = 0
    for part in parts:
        common = part.beds.common
        yield part._replace(beds=part.beds._replace(common=common._replace(bed=common.bed + beds)))
        beds += len(part.specimen)


def order_of(ids: Sequence[str]) -> IntArray:
    """The order [R] in which ids ascend."""
    return np.asarray(pc.array_sort_indices(pa.array(ids, pa.string()))).astype(np.int64)


def _joined(parts: Sequence[Any]) -> Any:
    """Arrays, or tuples of them as deep as may be, joined end to end."""
    first = parts[0]
    return type(first)(*map(_joined, zip(*parts, strict=True))) if isinstance(first, tuple) else np.concatenate(parts)


def _taken(whole: Any, rows: IntArray) -> Any:
    """Rows of arrays, or of tuples of them; those that are empty stay so."""
    if isinstance(whole, tuple):
        return type(whole)(*(_taken(part, rows) for part in whole))
    return whole[rows] if len(whole) else whole


def heads_of(catalogue: RawTables, specimen: IntArray) -> Heads:
    """Head sizes read directly on strung frames: means over sessions, their variance and instrument shares.

    specimen: numbers of the beds' specimens [B], ascending
    """
    beds = len(specimen)
    bed_of = np.full(len(catalogue.specimens.ids), -1, dtype=np.int64)
    bed_of[specimen] = np.arange(beds)
    low, high = np.searchsorted(catalogue.readings.specimen, [specimen[0], specimen[-1] + 1]) if beds else (0, 0)
    readings = catalogue.readings.take(slice(low, high))
    readings = readings.take(readings.strung & (bed_of[readings.specimen] >= 0))
    read, variance = np.full((beds, 2), np.nan), np.full((beds, 2), np.nan)
    shares = []
    for side, name in enumerate(SIDES):
        mine = readings.take(readings.quantity == catalogue.quantities.index(name))
        read[:, side], variance[:, side], share = _mean_over_sessions(mine, bed_of, beds)
        shares.append((bed_of[mine.specimen], np.full(len(share), side), mine.instrument, share))
    measured, area_variance = _area_read(catalogue, readings, bed_of, beds)
    frame = catalogue.specimens.frame[specimen]
    declared = catalogue.frames.area[frame]
    of_declared = np.array([0.0, outline.U_DECLARED_AREA**2])
    share_bed, share_side, instrument, share = (np.concatenate(columns) for columns in zip(*shares, strict=True))
    return Heads(
        mains=catalogue.frames.mains[frame],
        crosses=catalogue.frames.crosses[frame],
        area=np.where(np.isnan(measured), declared, measured),
        area_variance=np.where(np.isnan(measured)[:, None], of_declared, area_variance),
        read=read,
        read_variance=variance,
        share_bed=share_bed,
        share_side=share_side,
        share_instrument=instrument,
        share=share,
    )


def _area_read(catalogue: RawTables, readings: SessionMeans, bed_of: IntArray, beds: int) -> tuple[FloatArray, FloatArray]:
    """Head areas read directly [B] in cm2, and their relative variance [B, 2], as in `Heads`; NaN where not read."""
    mine = readings.take(readings.quantity == catalogue.quantities.index(AREA))
    value, variance, share = _mean_over_sessions(mine, bed_of, beds)
    shared = shared_variance(bed_of[mine.specimen], mine.instrument, share, catalogue.instruments.u_error, beds)
    return value, np.stack([variance, shared], axis=1) / value[:, None] ** 2


def _mean_over_sessions(means: SessionMeans, bed_of: IntArray, beds: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean and variance of a quantity [B], NaN where not read, and each session's share of the mean."""
    bed = bed_of[means.specimen]
    number = count_by(bed, beds).astype(float)
    number[number == 0] = np.nan
    share = 1.0 / number[bed]
    return sum_by(bed, means.value, beds) / number, sum_by(bed, means.variance, beds) / number**2, share


def _natural(name: str, log: FloatArray, variance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """A score and its standard uncertainty from logarithm and variance."""
    ratio = np.exp(log)
    return (ratio - 1.0 if name == "side_opening" else ratio), ratio * np.sqrt(variance)


def score_columns(value: FloatArray, variance: FloatArray) -> dict[str, FloatArray]:
    """Scores and their u_ by column, from logs and their variances [rows, SCORE_NAMES]."""
    columns: dict[str, FloatArray] = {}
    for number, name in enumerate(SCORE_NAMES):
        columns[name], columns["u_" + name] = _natural(name, value[:, number], variance[:, number])
    return columns


def _given(beds: Beds) -> Common:
    """The errors that beds have in common, 0 in scores that are blank."""
    return beds.common._replace(effect=np.where(np.isnan(beds.value[beds.common.bed]), 0.0, beds.common.effect))


def shared_texts(catalogue: RawTables, common: Common, rows: int) -> list[str | None]:
    """What each of `rows` beds or frames shares with others, as `shared_effects` reads it, by name of the cause; None for
    nothing.
    """
    kinds, tools = catalogue.instruments.kinds, catalogue.instruments.ids
    names = [*tools, *(f"{person}/{kind}" for person in (*catalogue.people, "?") for kind in kinds)]
    own = np.flatnonzero(common.cause >= len(OF_FRAME))
    zones = np.array([SCORE_NAMES.index(f"openness_{zone}") for zone in SHARED_ZONES])
    steps = np.rint(common.effect[np.ix_(own, zones)] / SHARED_STEP).astype(np.int64)
    form = "%s" + " %d" * len(zones)
    parts: list[list[str]] = [[] for _ in range(rows)]
    for row, cause, effects in zip(
        common.bed[own].tolist(), (common.cause[own] - len(OF_FRAME)).tolist(), steps.tolist(), strict=True
    ):
        parts[row].append(form % (names[cause], *effects))
    return ["; ".join(sorted(part)) or None for part in parts]


def beds_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """beds.csv as an Arrow table."""
    beds = measured.beds
    columns = score_columns(beds.value, beds.variances.independent + beds.variances.shared)
    for number, zone in enumerate(ZONES):
        columns[f"coverage_{zone}"] = np.minimum(beds.coverage[:, number], 1.0)
    gauge = catalogue.specimens.gauge[measured.specimen]
    free = [1.0 - gauge / columns[f"{family}_pitch_centre_mm"] for family in ("main", "cross")]
    columns["open_area_centre"] = np.maximum(free[0], 0.0) * np.maximum(free[1], 0.0)
    columns["head_width_mm"], columns["head_length_mm"] = beds.size[:, 0], beds.size[:, 1]
    columns["misclosure_main_mm"], columns["misclosure_cross_mm"] = beds.misclosure[:, 0], beds.misclosure[:, 1]
    columns["head_area_cm2"], columns["head_exponent"] = measured.area, beds.exponent
    total = beds.budget.sum(axis=1)
    for number, name in enumerate(BUDGET):
        columns[f"budget_{name}"] = beds.budget[:, number] / total
    for number, name in enumerate(ASSUMED):
        columns[f"assumed_{name}"] = measured.assumed[:, number]
    frames = [catalogue.frames.ids[number] for number in catalogue.specimens.frame[measured.specimen].tolist()]
    exact = {
        "specimen_id": [catalogue.specimens.ids[number] for number in measured.specimen.tolist()],
        "frame_id": frames,
        "sessions": beds.sessions,
        "shared": shared_texts(catalogue, _given(beds), len(frames)),
    }
    return arranged(package, "beds", columns, exact)
