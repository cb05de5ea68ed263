"""Where the strings of measured specimens run: lines, for pictures and mechanics."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.errors import fail
from gapbook.science.grouping import FloatArray
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.derivation import gather, must_be_whole
from gapbook.tables.package import Package
from gapbook.tables.reader import read_table
from gapbook.tables.spacings import BedRuns

SPAN_MM = 100.0
"""Heights between which the mains' slope is taken [mm]."""


class BedLines(NamedTuple):
    """The strings of a bed, in mm from the head's centre, x to the right and y to the tip.

    main_at_0: x of each main at y = 0, left to right [m]
    main_slope: its slope, so that x = main_at_0 + main_slope·y [m]
    cross_y: y of each cross, tip to throat [c]
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray


def bed_lines(package: Package, specimen_id: str) -> BedLines:
    """The lines of a measured specimen. GapbookError if it was not measured."""
    found = lines_of_many(package, [specimen_id])
    if not found:
        raise fail("not-measured", f"no bed was measured of {specimen_id}", fix="Name a measured specimen")
    return found[specimen_id]


def lines_of_many(package: Package, specimens: Collection[str]) -> dict[str, BedLines]:
    """The lines of each of `specimens` that was measured. GapbookError for a bed that is not whole."""
    catalogue = read_catalogue(package)
    data = read_table(package, "spacings")
    data = data.filter(pc.is_in(data["specimen_id"].cast("string"), value_set=pa.array(list(specimens), pa.string())))
    if not data.num_rows:
        return {}
    gathered = gather(package, catalogue, data)
    must_be_whole(catalogue, gathered)
    found: dict[str, BedLines] = {}
    for part in gathered.blocks:
        laid = gathered.lay_out(catalogue, part)
        found.update(zip([catalogue.specimens.ids[number] for number in laid.specimen], _lines(laid), strict=True))
    return found


def _lines(laid: BedRuns) -> Iterator[BedLines]:
    beds = len(laid.specimen)
    mains, crosses = _about(laid.mains, (0.0, SPAN_MM), beds), _about(laid.crosses, (0.0,), beds)
    many, few = _strings(laid.mains, beds), _strings(laid.crosses, beds)
    for bed in range(beds):
        at_0, above = mains[0][bed, 1 : many[bed] + 1], mains[1][bed, 1 : many[bed] + 1]
        yield BedLines(at_0, (above - at_0) / SPAN_MM, -crosses[0][bed, 1 : few[bed] + 1])


def _about(runs: Runs, heights: tuple[float, ...], beds: int) -> list[FloatArray]:
    """Positions [beds, K] of the runs' strings about the origin at each height [mm]."""
    weight = station_weights(runs.bed, runs.station, heights, beds).weight
    points = about_origin(runs)
    return [lines_at(points, runs.bed, weight[:, number], beds) for number in range(len(heights))]


def _strings(runs: Runs, beds: int) -> list[int]:
    """How many strings each bed has."""
    count = np.zeros(beds, dtype=np.int64)
    count[runs.bed] = runs.strings
    return [int(one) for one in count]
