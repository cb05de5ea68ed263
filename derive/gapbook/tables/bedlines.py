"""Where the strings of one measured specimen run: lines and outline, for pictures and mechanics."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow.compute as pc

from gapbook.errors import fail
from gapbook.science.grouping import FloatArray
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.tables import spacings
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.package import Package
from gapbook.tables.reading import read_table
from gapbook.tables.runs import bench

SPAN_MM = 100.0
"""Heights between which the mains' slope is taken [mm]."""


class BedLines(NamedTuple):
    """Mains x = main_at_0 + main_slope·y, left to right [m]; crosses y, tip to throat [c]; all in mm from the head's
    centre, x to the right and y to the tip.
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray


def bed_lines(package: Package, specimen_id: str) -> BedLines:
    """The lines of a measured specimen. GapbookError where it was not measured."""
    catalogue = read_catalogue(package)
    data = read_table(package, "spacings")
    data = data.filter(pc.equal(data["specimen_id"].cast("string"), specimen_id))
    if not data.num_rows:
        raise fail("not-measured", f"no bed was measured of {specimen_id}", fix="Name a measured specimen")
    where = spacings.source(package, catalogue, data)
    counts = spacings.counts(catalogue)
    part = spacings.block(where, counts, 0, data.num_rows)
    none = np.zeros(len(part.strings))
    laid = bench(where, part, none, none, catalogue.specimens.ids)
    at_0, above = _positions(laid.mains, 0.0), _positions(laid.mains, SPAN_MM)
    return BedLines(at_0, (above - at_0) / SPAN_MM, -_positions(laid.crosses, 0.0))


def _positions(runs: Runs, height: float) -> FloatArray:
    stations = station_weights(runs.bed, runs.station, (height,), 1)
    positions = lines_at(about_origin(runs), runs.bed, stations.weight[:, 0], 1)
    return np.asarray(positions[0, 1 : int(runs.strings[0]) + 1])
