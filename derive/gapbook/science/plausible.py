"""What a reading of a racket can be, and the unit that makes sense of one that cannot."""

from __future__ import annotations

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray
from gapbook.science.units import UNITS

HEAD_LENGTH_MM = (200.0, 440.0)
HEAD_WIDTH_MM = (150.0, 330.0)
"""Inner length and width of a head, from a child's frame to more than the 394 mm by 292 mm that ITF Rules of Tennis,
Appendix II, allow. Common practice, no source."""
MIDDLE_GAP_MM = (5.0, 30.0)
"""Median distance of neighbouring strings of a bed; a ball is 67 mm across. Common practice, no source."""
TENSION_N = (60.0, 420.0)
"""Pull tension, with room around the 220 to 270 N in common use (Cross 2000, Sports Engineering 3, 111-122). Common
practice, no source."""
USUAL_TENSION_N = 245.0
"""The middle of those."""
U_DECLARED_AREA = 0.01
"""Relative standard uncertainty of a declared head area: makers round to a square inch and measure as they please. Common
practice, no source."""
OF_READINGS = {"head_length": HEAD_LENGTH_MM, "head_width": HEAD_WIDTH_MM}
"""Ranges of quantities that are read and that makers do not declare, in computing units."""
OF_FRAMES = {
    "head_area": "head_area_cm2",
    "length": "length_mm",
    "mass": "mass_g",
    "balance": "balance_mm",
    "swingweight": "swingweight_kgcm2",
}
"""For the other quantities that are read: the column of the frames whose limits the schema states."""


def likely_units(
    written: FloatArray, base: str, low: FloatArray, high: FloatArray, middle: FloatArray
) -> tuple[list[str], IntArray]:
    """The units of a dimension, and for each figure as written [R] which of them brings it between low and high [R].

    Where several do, the one that brings it nearest to `middle` [R] as a ratio; -1 where none does. low, high and middle in
    the computing unit `base`.
    """
    codes = [code for code, unit in UNITS.items() if unit.base == base]
    factor = np.array([UNITS[code].factor for code in codes])
    value = written[:, None] * factor[None, :]
    fits = (value >= low[:, None]) & (value <= high[:, None])
    with np.errstate(divide="ignore"):
        away = np.where(fits, np.abs(np.log(value / middle[:, None])), np.inf)
    return codes, np.where(fits.any(axis=1), np.argmin(away, axis=1), -1).astype(np.int64)
