"""Tests on readings: one value out of line, repeats too far apart, two results that disagree, many tests at once.

Arrays in, arrays out. scipy is imported where it is needed, because a question needs none of this.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.grouping import FloatArray, IntArray

GRUBBS_FROM = 6
"""Repeats from which Grubbs' test says something; at n = 3 its statistic can hardly vary (it ends at 1.1547)."""


class Outlier(NamedTuple):
    """Grubbs' statistic G = max|y − ȳ| / s, and which value lies that far out."""

    statistic: float
    place: int


def grubbs(values: FloatArray) -> Outlier:
    """Grubbs' statistic of `values` [n], n at least 3 (NIST/SEMATECH e-Handbook 1.3.5.17.1); 0 where all are the same."""
    away = np.abs(values - values.mean())
    index = int(np.argmax(away))
    deviation = float(values.std(ddof=1))
    return Outlier(float(away[index]) / deviation if deviation > 0.0 else 0.0, index)


def grubbs_critical(count: int, level: float, two_sided: bool = True) -> float:
    """What G exceeds with probability `level` at most, for `count` values from one normal distribution.

    (n − 1)/√n · √(t² / (n − 2 + t²)) with t the upper point level/(2n) of Student's t on n − 2 degrees of freedom
    (two-sided), or level/n (one side named beforehand). NIST/SEMATECH e-Handbook 1.3.5.17.1.
    """
    from scipy.special import stdtrit

    t = -stdtrit(count - 2, level / (2 * count if two_sided else count))
    return float((count - 1) / np.sqrt(count) * np.sqrt(t * t / (count - 2 + t * t)))


def grubbs_probability(statistic: FloatArray, count: IntArray, two_sided: bool = True) -> FloatArray:
    """The level at which G [N] of `count` [N] values would just be critical; 1 at most. The inverse of grubbs_critical."""
    from scipy.special import stdtr

    count = np.asarray(count, dtype=float)
    square = np.minimum(np.square(statistic) * count, (count - 1.0) ** 2)
    with np.errstate(divide="ignore"):
        t = np.sqrt((count - 2.0) * square / ((count - 1.0) ** 2 - square))
    return np.asarray(np.minimum((2.0 if two_sided else 1.0) * count * stdtr(count - 2.0, -t), 1.0))


def range_bound(ratio: FloatArray, count: IntArray, freedom: FloatArray) -> FloatArray:
    """Probability that the range of n readings, over their standard deviation, is `ratio` [N] or more: exact for n = 2, by
    Student's t (the range is √2 standard deviations times |t|); above, the bound of all n(n − 1)/2 pairs.

    count: n of each [N], at least 2; freedom: the degrees of freedom behind the standard deviation [N], inf where it is
    known.
    """
    from scipy.special import ndtr, stdtr

    t = np.asarray(ratio, dtype=float) / np.sqrt(2.0)
    freedom, count = np.asarray(freedom, dtype=float), np.asarray(count)
    known = np.isinf(freedom)
    beyond = 2.0 * np.where(known, ndtr(-t), stdtr(np.where(known, 1.0, freedom), -t))
    return np.asarray(np.minimum(count * (count - 1) / 2 * beyond, 1.0))


def range_probability(ratio: FloatArray, count: IntArray, freedom: FloatArray) -> FloatArray:
    """The same, above n = 2 by the studentized range (scipy.stats.studentized_range). Slow; below 1e-9 the bound serves."""
    found = range_bound(ratio, count, freedom)
    several = np.flatnonzero((np.asarray(count) > 2) & (found > 1e-9))
    if len(several):
        from scipy.stats import studentized_range

        for row in several.tolist():
            found[row] = min(found[row], studentized_range.sf(float(ratio[row]), int(count[row]), float(freedom[row])))
    return found


def range_critical(level: float, count: int, freedom: float) -> float:
    """What the range of `count` readings over their standard deviation exceeds with probability `level` at most.

    Exact for two readings; for more the bound of all pairs, which is hardly larger at the small levels tests are made at.
    """
    from scipy.special import ndtri, stdtrit

    share = level / (count * (count - 1))
    return float(-np.sqrt(2.0) * (ndtri(share) if np.isinf(freedom) else stdtrit(freedom, share)))


def e_n(difference: FloatArray, u: FloatArray) -> FloatArray:
    """E_n of differences, u [N] the standard uncertainty of each: (x − X)/√(U_x² + U_X²) with U = 2u (ISO 13528, ISO/IEC
    17043); within −1 to 1 the two agree. u is √(u_x² + u_X²), less what both share.
    """
    return np.asarray(difference / (COVERAGE_FACTOR * u))


def e_n_probability(value: FloatArray) -> FloatArray:
    """Probability that |E_n| of two results of the same thing is `value` [N] or more, for normal errors."""
    from scipy.special import ndtr

    return np.asarray(2.0 * ndtr(-COVERAGE_FACTOR * np.abs(value)))
