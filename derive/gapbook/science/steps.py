"""Readings and the steps of the instrument: whether they are whole steps, and how often two of one thing are the same."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from gapbook.science.grouping import BoolArray, FloatArray, IntArray


def decimals(value: FloatArray) -> IntArray:
    """With how many decimals each value [N] was written, six at most. Trailing zeros are lost when a number is read."""
    places = np.full(len(value), 6, dtype=np.int64)
    for number in range(5, -1, -1):
        scaled = value * 10.0**number
        places[np.abs(scaled - np.rint(scaled)) < 1e-6] = number
    return places


def off_steps(value: FloatArray, step: FloatArray) -> BoolArray:
    """Whether each value [N] is no whole number of steps [N], even if it was rounded when written down."""
    steps = value / step
    off = np.abs(steps - np.rint(steps)) > 1e-6 * np.maximum(steps, 1.0)
    places = np.flatnonzero(off)
    away = np.abs(value[places] - np.rint(value[places] / step[places]) * step[places])
    off[places] = away > 0.5 * 10.0 ** -decimals(value[places]).astype(float) + 1e-9
    return np.asarray(off)


def same_probability(step: FloatArray, deviation: FloatArray) -> FloatArray:
    """Probability that two readings of one thing, whose difference is normal with mean 0 and `deviation` [N], are the same when
    both are rounded to a step [N]: the mean of 1 - |difference| / step where that is positive.

    Derived by integrating over the place of the thing between two steps, which is taken to be anywhere.
    """
    ratio = np.asarray(step, dtype=float) / np.asarray(deviation, dtype=float)
    within = 2.0 * ndtr(ratio) - 1.0
    return np.asarray(np.clip(within - 2.0 * (1.0 - np.exp(-(ratio**2) / 2.0)) / (ratio * np.sqrt(2.0 * np.pi)), 0.0, 1.0))
