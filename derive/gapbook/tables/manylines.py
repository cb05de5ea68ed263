"""Where the strings of many measured specimens run, read together."""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.science.grouping import FloatArray
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.tables import spacings
from gapbook.tables.bedlines import SPAN_MM, BedLines
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.package import Package
from gapbook.tables.reading import read_table
from gapbook.tables.runs import Bench, bench


def lines_of_many(package: Package, specimens: Collection[str]) -> dict[str, BedLines]:
    """The lines of each of `specimens` that was measured, as `bedlines.bed_lines` gives them of one.

    GapbookError for a bed that is not whole.
    """
    catalogue = read_catalogue(package)
    data = read_table(package, "spacings")
    data = data.filter(pc.is_in(data["specimen_id"].cast("string"), value_set=pa.array(list(specimens), pa.string())))
    if not data.num_rows:
        return {}
    where = spacings.source(package, catalogue, data)
    counts = spacings.counts(catalogue)
    found: dict[str, BedLines] = {}
    for low, high in spacings.bounds(where):
        part = spacings.block(where, counts, low, high)
        none = np.zeros(len(part.strings))
        laid = bench(where, part, none, none, catalogue.specimens.ids)
        ids = [catalogue.specimens.ids[number] for number in laid.specimen]
        found.update(zip(ids, _lines(laid), strict=True))
    return found


def _lines(laid: Bench) -> Iterator[BedLines]:
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
