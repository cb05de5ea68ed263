"""Single measured copies, read on demand: where their strings run, and how stiff their beds are."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.errors import fail
from gapbook.science.bed_mechanics import Pulls, bed_mechanics, lines_of, strings_of
from gapbook.science.beds import Heads
from gapbook.science.cable_net import PatternStrings
from gapbook.science.grouping import FloatArray, count_by, sum_by
from gapbook.science.lateral_give import lateral_give
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.science.mechanics import RESPONSES, stiffness_map
from gapbook.science.outline import Outlines
from gapbook.science.tension import PULL_N
from gapbook.science.uncertainty import Errors
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.derivation import gather, heads_of, must_be_whole
from gapbook.tables.package import Package
from gapbook.tables.reader import check_references, read_table
from gapbook.tables.spacings import BedRuns

SPAN_MM = 100.0
"""The slope of a main is taken between y = 0 and y = this [mm]."""


class BedLines(NamedTuple):
    """The strings of a bed, in mm from the head's centre, x to the right and y to the tip.

    main_at_0: x of each main at y = 0, left to right [m]
    main_slope: its slope, so that x = main_at_0 + main_slope·y [m]
    cross_y: y of each cross, tip to throat [c]
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray


class ReadBed(NamedTuple):
    """The strings of a measured bed, and how well single gaps of it are known.

    lines: where the strings run
    u_main_gap, u_cross_gap: standard uncertainty of one gap of the family, from reading it and from the placement of its two
        strings [mm]
    """

    lines: BedLines
    u_main_gap: float
    u_cross_gap: float


def bed_lines(package: Package, specimen_id: str) -> BedLines:
    """The lines of a measured specimen. GapbookError if it was not measured."""
    return read_bed(package, specimen_id, pooled=False).lines


def read_bed(package: Package, specimen_id: str, pooled: bool = True) -> ReadBed:
    """The strings of a measured specimen; `pooled` as of `read_beds`. GapbookError if it was not measured."""
    beds = read_beds(package, [specimen_id], pooled)
    if not beds:
        raise fail("not-measured", f"no bed was measured of {specimen_id}", fix="Name a measured specimen")
    return beds[specimen_id]


def read_beds(package: Package, specimens: Collection[str], pooled: bool = True) -> dict[str, ReadBed]:
    """The beds of those of `specimens` that were measured, by id. GapbookError if a bed is not whole.

    pooled: whether repeatability is that of the whole package; otherwise it is that of `specimens`, which is quicker
    """
    catalogue = read_catalogue(package)
    whole = read_table(package, "spacings")
    data = whole.filter(pc.is_in(whole["specimen_id"].cast("string"), value_set=pa.array(list(specimens), pa.string())))
    if not data.num_rows:
        return {}
    gathered = gather(package, catalogue, data)
    if pooled:
        gathered = gathered._replace(pooled=gather(package, catalogue, whole).pooled)
    must_be_whole(catalogue, gathered)
    beds: dict[str, ReadBed] = {}
    errors = gathered.pooled.errors(catalogue)
    for part in gathered.blocks:
        laid = gathered.lay_out(catalogue, part)
        uncertain = [_u_gap(runs, len(laid.specimen), errors.placement).tolist() for runs in (laid.mains, laid.crosses)]
        read = map(ReadBed, _lines(laid), *uncertain)
        beds.update(zip([catalogue.specimens.ids[number] for number in laid.specimen], read, strict=True))
    return beds


def _lines(laid: BedRuns) -> Iterator[BedLines]:
    beds = len(laid.specimen)
    mains, crosses = _about(laid.mains, (0.0, SPAN_MM), beds), _about(laid.crosses, (0.0,), beds)
    many, few = _strings(laid.mains, beds), _strings(laid.crosses, beds)
    for bed in range(beds):
        at_0, above = mains[0][bed, 1 : many[bed] + 1], mains[1][bed, 1 : many[bed] + 1]
        yield BedLines(at_0, (above - at_0) / SPAN_MM, -crosses[0][bed, 1 : few[bed] + 1])


def _u_gap(runs: Runs, beds: int, placement_mm: float) -> FloatArray:
    """Standard uncertainty of one gap of each bed [beds] in mm: two strings out of place, and the reading of a gap, or of two
    marks, in the mean of the sessions that read station 0.
    """
    at_0 = runs.take(np.flatnonzero(runs.station == 0.0))
    read = at_0.variance[:, 1] * np.where(at_0.is_mark, 2.0, 1.0)
    sessions = np.maximum(count_by(at_0.bed, beds), 1)
    return np.sqrt(2.0 * placement_mm**2 + sum_by(at_0.bed, read, beds) / sessions**2)


def _about(runs: Runs, heights: tuple[float, ...], beds: int) -> list[FloatArray]:
    """Positions of the runs' strings from the head's centre [mm], an array [beds, K] for each of `heights` [mm]."""
    weight = station_weights(runs.bed, runs.station, heights, beds).weight
    points = about_origin(runs)
    return [lines_at(points, runs.bed, weight[:, number], beds) for number in range(len(heights))]


def _strings(runs: Runs, beds: int) -> list[int]:
    """How many strings each bed has."""
    count = np.zeros(beds, dtype=np.int64)
    count[runs.bed] = runs.strings
    return [int(one) for one in count]


# Stiffness


MECHANICS_COLUMNS = tuple("frequency_hz" if name == "frequency" else f"stiffness_{name}_n_per_mm" for name in RESPONSES)


class Struck(NamedTuple):
    """Stiffness of one copy in the centre and its standard uncertainty, which is that of its readings only [N/mm]."""

    stiffness: float
    u: float


class Copies(NamedTuple):
    """Some measured copies, with all that their stiffness is solved from.

    ids: specimen_id of each
    laid: their runs
    heads: what is known of their heads
    errors: those that beds have in common
    """

    ids: list[str]
    laid: BedRuns
    heads: Heads
    errors: Errors

    def strings(self) -> PatternStrings:
        """Their strings and outlines; the copies must be of one pattern, as those of one frame are."""
        return strings_of(lines_of(self.laid.mains, self.laid.crosses, self.heads))

    def centre(self, pulls: Pulls) -> list[Struck]:
        """Each copy's centre at pull tensions of mains and crosses [N]; NaN if no crossing lies under the load."""
        value, u = self._responses(pulls)
        return [Struck(*pair) for pair in zip(value[:, 0].tolist(), u[:, 0].tolist(), strict=True)]

    def mechanics(self) -> list[dict[str, float | None]]:
        """Each copy's columns of mechanics.csv, its u that of its readings; None if it is not known."""
        value, u = self._responses((PULL_N, PULL_N))
        rows = []
        for figures in zip(value.tolist(), u.tolist(), strict=True):
            each = zip(MECHANICS_COLUMNS, *figures, strict=True)
            cells = {name: number for column, one, of in each for name, number in ((column, one), ("u_" + column, of))}
            rows.append({name: number if np.isfinite(number) else None for name, number in cells.items()})
        return rows

    def _responses(self, pulls: Pulls) -> tuple[FloatArray, FloatArray]:
        """The RESPONSES of each copy and their standard uncertainties [copies, RESPONSES]."""
        solved = bed_mechanics(self.laid.mains, self.laid.crosses, self.heads, self.errors, pulls)
        value = np.exp(solved.value)
        return value, value * np.sqrt(solved.variances.independent + solved.variances.shared)


def copies_of(package: Package, specimens: Sequence[str], pooled: bool = True) -> Copies:
    """Read the beds of `specimens`. GapbookError if one of them was not measured, or is not whole.

    pooled: whether repeatability is that of the whole package; otherwise it is that of `specimens`, which is quicker
    """
    catalogue = read_catalogue(package)
    data = read_table(package, "spacings")
    check_references(package, "spacings", data, catalogue.tables)
    own = data.filter(pc.is_in(data["specimen_id"].cast("string"), value_set=pa.array(list(specimens))))
    there = set(pc.unique(own["specimen_id"].cast("string")).to_pylist())
    if missing := [name for name in specimens if name not in there]:
        raise fail("not-measured", f"no bed was measured of {missing[0]}", fix="Name a measured specimen")
    gathered = gather(package, catalogue, own, own.num_rows)
    must_be_whole(catalogue, gathered)
    if pooled:
        gathered = gathered._replace(pooled=gather(package, catalogue, data).pooled)
    laid = gathered.lay_out(catalogue, gathered.blocks[0])
    ids = [catalogue.specimens.ids[number] for number in laid.specimen]
    return Copies(ids, laid, heads_of(catalogue, laid.specimen), gathered.pooled.errors(catalogue))


def copy_map(package: Package, specimen: str, across: Sequence[float], along: Sequence[float]) -> FloatArray:
    """Stiffness [N/mm] of a measured copy at every point of a grid [along, across].

    package: where the copy's readings are
    specimen: its id
    across: x of the grid's columns, from the head's centre [mm]
    along: y of its rows, from the head's centre [mm]

    NaN at a point outside the hoop, or if no crossing lies under a load there. GapbookError if it was not measured.
    """
    copy = copies_of(package, [specimen], pooled=False)
    return _mapped(copy.strings(), across, along)


def map_of(lines: BedLines, head: tuple[float, float, float], across: Sequence[float], along: Sequence[float]) -> FloatArray:
    """The same from lines that were read already.

    lines: of the copy
    head: inner width and length [mm], and the exponent of the outline
    across: x of the grid's columns, from the head's centre [mm]
    along: y of its rows, from the head's centre [mm]
    """
    return _mapped(_as_strings(lines, head), across, along)


def give_of(lines: BedLines, head: tuple[float, float, float]) -> tuple[float, float] | None:
    """Least and greatest sideways give of the mains in the centre of a copy [mm/N]; None if no crossing lies under the load.

    lines: of the copy
    head: as of `map_of`
    """
    found = lateral_give(_as_strings(lines, head))
    return None if np.isnan(found.free[0]) else (float(found.locked[0]), float(found.free[0]))


def _as_strings(lines: BedLines, head: tuple[float, float, float]) -> PatternStrings:
    main_at_0, main_slope, cross_y = lines
    outlines = Outlines(*(np.array([value]) for value in head))
    return PatternStrings(main_at_0[None], main_slope[None], cross_y[None], outlines)


def _mapped(strings: PatternStrings, across: Sequence[float], along: Sequence[float]) -> FloatArray:
    return np.asarray(stiffness_map(strings, np.asarray(across, dtype=float), np.asarray(along, dtype=float))[0])
