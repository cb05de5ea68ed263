"""Centre openness of a frame nobody has measured, from its head area and string counts.

ln O - ½·ln(head area) is regressed by least squares on ln(mains·crosses) over the measured frames; the standard
uncertainty is the predictive standard deviation s·√(1 + 1/n + (x - x̄)²/Sxx) (Draper & Smith, Applied Regression
Analysis, ch. 1).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray

FEWEST_FRAMES = 8


class Line(NamedTuple):
    """Intercept, slope, residual standard deviation, and what the predictive deviation needs of the sample."""

    intercept: float
    slope: float
    residual: float
    frames: int
    mean: float
    scatter: float


LEARNED = Line(intercept=4.6173, slope=-0.5429, residual=0.06, frames=0, mean=0.0, scatter=0.0)
"""Used below FEWEST_FRAMES measured frames; its predictive standard deviation is 6 % everywhere. Learned on 2026-11-25
from the demo's 56 measured frames.
"""


def fit(openness: FloatArray, area: FloatArray, mains: IntArray, crosses: IntArray) -> Line:
    """The line through measured frames: centre openness, head area [cm2], counts, all [F]; LEARNED below eight, or where
    all have the same counts.
    """
    x = np.log(mains * crosses)
    if len(x) < FEWEST_FRAMES or np.ptp(x) == 0.0:
        return LEARNED
    y = np.log(openness) - 0.5 * np.log(area)
    mean = float(x.mean())
    scatter = float(np.sum((x - mean) ** 2))
    slope = float(np.sum((x - mean) * y) / scatter)
    intercept = float(y.mean()) - slope * mean
    residual = float(np.sqrt(np.sum((y - intercept - slope * x) ** 2) / (len(x) - 2)))
    return Line(intercept, slope, residual, len(x), mean, scatter)


def estimate(line: Line, area: FloatArray, mains: IntArray, crosses: IntArray) -> tuple[FloatArray, FloatArray]:
    """ln O_centre and its standard uncertainty for head areas [cm2] and counts [F]."""
    x = np.log(mains * crosses)
    value = line.intercept + line.slope * x + 0.5 * np.log(area)
    if line.frames == 0:
        return value, np.full(x.shape, line.residual)
    leverage = 1.0 / line.frames + (x - line.mean) ** 2 / line.scatter
    return value, line.residual * np.sqrt(1.0 + leverage)
