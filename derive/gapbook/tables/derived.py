"""beds.csv and scores.csv: the catalogue read once, the science over whole tables, and the columns it gives."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from gapbook.science import counted, outline
from gapbook.science.beds import NO_BEDS, SCORE_NAMES, Beds, Heads, score_beds
from gapbook.science.grouping import FloatArray, IntArray, count_by, sum_by
from gapbook.science.scores import LN10, Variances, frame_scores, specimen_spread
from gapbook.science.zones import ZONES
from gapbook.tables import spacings
from gapbook.tables.catalogue import RawTables, SessionMeans
from gapbook.tables.package import Package
from gapbook.tables.reading import check_references, read_table
from gapbook.tables.runs import Bench, bench
from gapbook.tables.writing import THREADS, arranged

SIDES, AREA = ("head_width", "head_length"), "head_area"


class Measured(NamedTuple):
    """The measured beds in ascending order of specimen id: specimen numbers, head areas used [B] and their scores."""

    specimen: IntArray
    area: FloatArray
    beds: Beds


NO_MEASURED = Measured(np.zeros(0, dtype=np.int64), np.zeros(0), NO_BEDS)


class Gathered(NamedTuple):
    """The spacings in blocks of whole specimens, averaged over repeats, and the repeatability of each pool [mm]."""

    where: spacings.Source
    blocks: list[spacings.Block]
    deviation: FloatArray

    def lay_out(self, catalogue: RawTables, part: spacings.Block) -> Bench:
        """One of the blocks as runs of points. GapbookError where it is not whole."""
        return bench(self.where, part, *spacings.precision(part, catalogue, self.deviation), catalogue.specimens.ids)


def measure_beds(package: Package, catalogue: RawTables, data: pa.Table | None = None) -> Measured:
    """Score every measured bed of the spacings, which are read unless given."""
    data = read_table(package, "spacings") if data is None else data
    check_references(package, "spacings", data, catalogue.tables)
    return score_spacings(catalogue, gather(package, catalogue, data))


def gather(package: Package, catalogue: RawTables, data: pa.Table) -> Gathered:
    """Average the rows of a spacings table over repeats. GapbookError for a reading given twice, or not a length."""
    where, counts = spacings.source(package, catalogue, data), spacings.counts(catalogue)
    with ThreadPoolExecutor(THREADS) as pool:
        blocks = list(pool.map(lambda bound: spacings.block(where, counts, *bound), spacings.bounds(where)))
    return Gathered(where, blocks, spacings.repeatability(blocks, catalogue))


def score_spacings(catalogue: RawTables, gathered: Gathered) -> Measured:
    """Score every bed, two blocks of specimens at a time. GapbookError for a bed that is not whole."""

    with ThreadPoolExecutor(THREADS) as pool:
        parts = list(pool.map(lambda part: score_bench(catalogue, gathered.lay_out(catalogue, part)), gathered.blocks))
        together = Assembly(catalogue, np.concatenate([NO_MEASURED.specimen, *(part.specimen for part in parts)]))
        list(pool.map(together.put, parts))
    return together.measured()


def score_bench(catalogue: RawTables, laid: Bench) -> Measured:
    """Score the beds of a block, in the order they are laid out in."""
    heads = heads_of(catalogue, laid)
    return Measured(laid.specimen, heads.area, score_beds(laid.mains, laid.crosses, heads, catalogue.instruments.u_error))


class Assembly:
    """Measured beds put together part by part, in ascending order of specimen id. specimen: the numbers of all [B]."""

    def __init__(self, catalogue: RawTables, specimen: IntArray) -> None:
        order = _order_of([catalogue.specimens.ids[number] for number in specimen.tolist()])
        self._place = np.zeros(len(catalogue.specimens.ids), dtype=np.int64)
        self._place[specimen[order]] = np.arange(len(order))
        self._columns = [np.empty((len(order), *column.shape[1:]), column.dtype) for column in _columns(NO_MEASURED)]

    def put(self, part: Measured) -> IntArray:
        """Take a part; its places among all [B]."""
        place = self._place[part.specimen]
        for whole, column in zip(self._columns, _columns(part), strict=True):
            whole[place] = column
        return place

    def measured(self) -> Measured:
        """All of them, once every part was put."""
        specimen, area, value, independent, shared, *others = self._columns
        return Measured(specimen, area, Beds(value, Variances(independent, shared), *others))


def _order_of(ids: list[str]) -> IntArray:
    """The order [B] in which ids ascend."""
    return np.asarray(pc.array_sort_indices(pa.array(ids, pa.string()))).astype(np.int64)


def _columns(part: Measured) -> list[NDArray[Any]]:
    return [part.specimen, part.area, part.beds.value, *part.beds.variances, *part.beds[2:]]


def head_readings(catalogue: RawTables) -> SessionMeans:
    """The readings that beds are scored with: of the head, on strung frames."""
    of_head = np.isin(catalogue.readings.quantity, [catalogue.quantities.index(name) for name in (*SIDES, AREA)])
    return catalogue.readings.take(catalogue.readings.strung & of_head)


def heads_of(catalogue: RawTables, laid: Bench) -> Heads:
    """Head sizes read directly on strung frames, per bed: means over sessions, their variance and instrument shares."""
    bed_of = np.full(len(catalogue.specimens.ids), -1, dtype=np.int64)
    bed_of[laid.specimen] = np.arange(len(laid.specimen))
    readings = catalogue.readings
    readings = readings.take(readings.strung & (bed_of[readings.specimen] >= 0))
    beds = len(laid.specimen)
    read, variance = np.full((beds, 2), np.nan), np.full((beds, 2), np.nan)
    shares = []
    for side, name in enumerate(SIDES):
        mine = readings.take(readings.quantity == catalogue.quantities.index(name))
        read[:, side], variance[:, side], share = _mean_over_sessions(mine, bed_of, beds)
        shares.append((bed_of[mine.specimen], np.full(len(share), side), mine.instrument, share))
    measured, _, _ = _mean_over_sessions(readings.take(readings.quantity == catalogue.quantities.index(AREA)), bed_of, beds)
    frame = catalogue.specimens.frame[laid.specimen]
    declared = catalogue.frames.area[frame]
    share_bed, share_side, instrument, share = (np.concatenate(columns) for columns in zip(*shares, strict=True))
    return Heads(
        mains=catalogue.frames.mains[frame],
        crosses=catalogue.frames.crosses[frame],
        area=np.where(np.isnan(measured), declared, measured),
        read=read,
        read_variance=variance,
        share_bed=share_bed,
        share_side=share_side,
        share_instrument=instrument,
        share=share,
    )


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


def _score_columns(value: FloatArray, variance: FloatArray) -> dict[str, FloatArray]:
    columns: dict[str, FloatArray] = {}
    for number, name in enumerate(SCORE_NAMES):
        columns[name], columns["u_" + name] = _natural(name, value[:, number], variance[:, number])
    return columns


def beds_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """beds.csv as an Arrow table."""
    beds = measured.beds
    columns = _score_columns(beds.value, beds.variances.independent + beds.variances.shared)
    for number, zone in enumerate(ZONES):
        columns[f"coverage_{zone}"] = np.minimum(beds.coverage[:, number], 1.0)
    gauge = catalogue.specimens.gauge[measured.specimen]
    free = [1.0 - gauge / columns[f"{family}_pitch_centre_mm"] for family in ("main", "cross")]
    columns["open_area_centre"] = np.maximum(free[0], 0.0) * np.maximum(free[1], 0.0)
    columns["head_width_mm"], columns["head_length_mm"] = beds.size[:, 0], beds.size[:, 1]
    columns["misclosure_main_mm"], columns["misclosure_cross_mm"] = beds.misclosure[:, 0], beds.misclosure[:, 1]
    columns["head_area_cm2"], columns["head_exponent"] = measured.area, beds.exponent
    frames = [catalogue.frames.ids[number] for number in catalogue.specimens.frame[measured.specimen].tolist()]
    exact = {
        "specimen_id": [catalogue.specimens.ids[number] for number in measured.specimen.tolist()],
        "frame_id": frames,
        "sessions": beds.sessions,
    }
    return arranged(package, "beds", columns, exact)


def _default_spread() -> FloatArray:
    """Specimen spread of each log score where too few specimens tell: 1 % of a length, 2 % of a density."""
    return np.array([0.02 if name in ("density_centre_per_cm2", "uniformity") else 0.01 for name in SCORE_NAMES])


def scores_table(package: Package, catalogue: RawTables, measured: Measured) -> pa.Table:
    """scores.csv as an Arrow table: measured frames from their specimens, the others by their counts."""
    frames = catalogue.frames
    beds = measured.beds
    frame = catalogue.specimens.frame[measured.specimen]
    spread = specimen_spread(beds.value, beds.variances.independent, frame, _default_spread()).deviation
    spread[SCORE_NAMES.index("density_centre_per_cm2")] = 2.0 * spread[SCORE_NAMES.index("openness_centre")]
    scored = frame_scores(beds.value, beds.variances, frame, spread)
    value = np.full((len(frames.ids), len(SCORE_NAMES)), np.nan, order="F")  # gone over by columns
    u = np.full_like(value, np.nan)
    specimens = np.zeros(len(frames.ids), dtype=np.int64)
    known = len(scored.specimens)
    value[:known], u[:known], specimens[:known] = scored.value, scored.u, scored.specimens
    value[specimens == 0], u[specimens == 0] = _counted(catalogue, value, specimens)
    columns = _score_columns(value, u * u)
    columns["head_area_cm2"] = frames.area
    order = _order_of(frames.ids)
    measured_there = (specimens[order] > 0).tolist()
    exact: dict[str, object] = {
        "frame_id": [frames.ids[number] for number in order.tolist()],
        "basis": ["measured" if there else "counted" for there in measured_there],
        "specimens": specimens[order],
        "mains": frames.mains[order],
        "crosses": frames.crosses[order],
    }
    return arranged(package, "scores", {name: column[order] for name, column in columns.items()}, exact)


def _counted(catalogue: RawTables, value: FloatArray, specimens: IntArray) -> tuple[FloatArray, FloatArray]:
    """Log scores and their u of the frames without a measured bed [C, scores]: centre, density and even drilling only."""
    frames = catalogue.frames
    centre, density, even = (SCORE_NAMES.index(name) for name in ("openness_centre", "density_centre_per_cm2", "openness_even"))
    seen = np.flatnonzero((specimens > 0) & ~np.isnan(value[:, centre]))
    line = counted.fit(np.exp(value[seen, centre]), frames.area[seen], frames.mains[seen], frames.crosses[seen])
    unseen = np.flatnonzero(specimens == 0)
    area, mains, crosses = frames.area[unseen], frames.mains[unseen], frames.crosses[unseen]
    found = np.full((len(unseen), len(SCORE_NAMES)), np.nan)
    u = np.full(found.shape, np.nan)
    found[:, centre], u[:, centre] = counted.estimate(line, area, mains, crosses)
    found[:, density], u[:, density] = 2.0 * LN10 - 2.0 * (found[:, centre] - LN10), 2.0 * u[:, centre]
    width, length = outline.size_from_area(area)
    found[:, even] = LN10 + 0.5 * np.log(width * length / (mains * crosses))
    u[:, even] = outline.U_ASPECT / np.sqrt(2.0)
    return found, u
