"""Statistical tests: an outlying value, repeats that differ too much, two results that disagree, and many tests at once."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtr, chdtrc, fdtrc, ndtr, ndtri, pdtrc, stdtr, stdtrit

from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.grouping import BoolArray, FloatArray, IntArray

GRUBBS_FROM = 6
"""Repeats from which Grubbs' test is used; at n = 3 its statistic can hardly vary (its maximum is 1.1547)."""


def grubbs_probability(statistic: FloatArray, count: IntArray, two_sided: bool = True) -> FloatArray:
    """The level at which Grubbs' statistic G = max|y − ȳ| / s [N] of `count` [N] values would just be critical; 1 at most.

    G = (n − 1)/√n · √(t² / (n − 2 + t²)) is critical, with t the upper point level/(2n) of Student's t on n − 2 degrees of
    freedom (two-sided), or level/n (one side named beforehand). NIST/SEMATECH e-Handbook 1.3.5.17.1.
    """
    count = np.asarray(count, dtype=float)
    square = np.minimum(np.square(statistic) * count, (count - 1.0) ** 2)
    with np.errstate(divide="ignore"):
        t = np.sqrt((count - 2.0) * square / ((count - 1.0) ** 2 - square))
    return np.asarray(np.minimum((2.0 if two_sided else 1.0) * count * stdtr(count - 2.0, -t), 1.0))


def range_bound(ratio: FloatArray, count: IntArray, freedom: FloatArray) -> FloatArray:
    """Probability that the range of n readings, over their standard deviation, is `ratio` [N] or more. Exact for n = 2, by
    Student's t (the range is √2 standard deviations times |t|); for more, the bound over all n(n − 1)/2 pairs.

    count: n of each [N], at least 2; freedom: degrees of freedom of the standard deviation [N], inf if it is known.
    """
    t = np.asarray(ratio, dtype=float) / np.sqrt(2.0)
    freedom, count = np.asarray(freedom, dtype=float), np.asarray(count)
    known = np.isinf(freedom)
    beyond = 2.0 * np.where(known, ndtr(-t), stdtr(np.where(known, 1.0, freedom), -t))
    return np.asarray(np.minimum(count * (count - 1) / 2 * beyond, 1.0))


def range_probability(ratio: FloatArray, count: IntArray, freedom: FloatArray) -> FloatArray:
    """The same, but for n > 2 by the studentized range (scipy.stats.studentized_range). Slow; a bound below 1e-9 is kept."""
    probability = range_bound(ratio, count, freedom)
    several = np.flatnonzero((np.asarray(count) > 2) & (probability > 1e-9))
    if len(several):
        from scipy.stats import studentized_range

        for row in several.tolist():
            probability[row] = min(
                probability[row], studentized_range.sf(float(ratio[row]), int(count[row]), float(freedom[row]))
            )
    return probability


def range_critical(level: float, count: int, freedom: float) -> float:
    """The value that the range of `count` readings over their standard deviation exceeds with probability `level` at most.

    Exact for two readings; for more, the bound over all pairs, which is hardly larger at the small levels used in tests.
    """
    share = level / (count * (count - 1))
    return float(-np.sqrt(2.0) * (ndtri(share) if np.isinf(freedom) else stdtrit(freedom, share)))


def e_n(difference: FloatArray, u: FloatArray) -> FloatArray:
    """E_n of differences, u [N] the standard uncertainty of each: (x − X)/√(U_x² + U_X²) with U = 2u (ISO 13528, ISO/IEC
    17043); within −1 to 1 the two agree. u is √(u_x² + u_X²) without the error that both share.
    """
    return np.asarray(difference / (COVERAGE_FACTOR * u))


def e_n_probability(value: FloatArray) -> FloatArray:
    """Probability that |E_n| of two results of the same thing is `value` [N] or more, for normal errors."""
    return np.asarray(2.0 * ndtr(-COVERAGE_FACTOR * np.abs(value)))


LEVEL = 0.01
"""Probability that a rule gives one finding or more in a package without faults. Common practice, no source: a package is
checked again at each contribution, and a reviewer's time is precious.
"""


def two_sided(deviation: FloatArray) -> FloatArray:
    """Chance of a deviation at least as large, in standard deviations of a normal distribution [any shape]."""
    return np.asarray(2.0 * ndtr(-np.abs(deviation)))


def one_sided(deviation: FloatArray) -> FloatArray:
    """Chance of a deviation at least as high, in standard deviations of a normal distribution [any shape]."""
    return np.asarray(ndtr(-np.asarray(deviation)))


def student_quantile(confidence: float, freedom: float) -> float:
    """Half the width of an interval at this confidence, in standard uncertainties (Student's t)."""
    return float(stdtrit(freedom, 0.5 + confidence / 2.0))


def student_factor(freedom: FloatArray) -> FloatArray:
    """By how much a standard uncertainty known with `freedom` degrees of freedom [any shape] must be larger, so that the usual
    expanded uncertainty holds the truth in 95 %: t(0.975, ν) over that of the normal distribution (JCGM 100:2008, G.3.2).
    1 if there are none.
    """
    known = np.asarray(freedom) > 0
    return np.where(known, stdtrit(np.where(known, freedom, 1.0), 0.975) / ndtri(0.975), 1.0)


def student_two_sided(value: float, u: float, freedom: float) -> float:
    """Chance of a value this far from zero or farther if the true value is zero (Student's t)."""
    if u == 0.0:
        return 1.0 if value == 0.0 else 0.0
    return float(2.0 * stdtr(freedom, -abs(value) / u))


def beyond_chi_square(total: FloatArray, freedom: FloatArray) -> FloatArray:
    """Chance of a chi-square at least as large with `freedom` degrees of freedom [any shape]; 1 with none."""
    return np.where(freedom > 0, chdtrc(np.maximum(freedom, 1.0), total), 1.0)


def beyond_f(ratio: float, above: float, below: float) -> float:
    """Chance of a ratio of variances at least as large if both are the same (Snedecor's F).

    above: degrees of freedom of the variance above the line
    below: those of the one below it; 1 at least
    """
    return float(fdtrc(above, max(below, 1.0), ratio))


def below_chi_square(total: FloatArray, freedom: FloatArray) -> FloatArray:
    """Chance of a chi-square at most as large with `freedom` degrees of freedom [any shape]; 1 with none."""
    return np.where(freedom > 0, chdtr(np.maximum(freedom, 1.0), total), 1.0)


def beyond_poisson(count: IntArray, mean: FloatArray) -> FloatArray:
    """Chance of so many events or more, of a Poisson distribution with this mean [any shape]; 1 for none."""
    return np.where(count > 0, pdtrc(np.maximum(count, 1) - 1.0, mean), 1.0)


def bonferroni(tests: int, level: float = LEVEL) -> float:
    """The bound, in standard deviations, that any of `tests` normal deviations exceeds on either side with chance `level` at
    most (Bonferroni's inequality).
    """
    return float(-ndtri(level / (2.0 * max(tests, 1))))


def student_bound(tests: int, freedom: FloatArray, level: float = LEVEL) -> FloatArray:
    """The same if the standard deviation itself is estimated with `freedom` degrees of freedom (Student's t) [any shape]."""
    return np.asarray(-stdtrit(np.maximum(freedom, 1.0), level / (2.0 * max(tests, 1))))


def holm_adjusted(chance: FloatArray, tests: int | None = None) -> FloatArray:
    """Chances of a family of tests [T], adjusted so that each can be compared with a family-wise level (Holm 1979,
    Scandinavian Journal of Statistics 6, 65-70): the smallest times the number of tests, the next times one less, and so
    on; none below the one before it, none above 1.

    chance: [T], NaN for a test that was not made (and stays so)
    tests: how many were made, if `chance` leaves out some that cannot be significant
    """
    made = np.flatnonzero(~np.isnan(chance))
    order = made[np.argsort(chance[made], kind="stable")]
    left = (len(order) if tests is None else tests) - np.arange(len(order), dtype=float)
    adjusted = np.full(len(chance), np.nan)
    adjusted[order] = np.minimum(np.maximum.accumulate(chance[order] * np.maximum(left, 1.0)), 1.0)
    return adjusted


def holm(chance: FloatArray, level: float = LEVEL, tests: int | None = None) -> BoolArray:
    """Which of a family of tests [T] are rejected at a family-wise level; arguments as of `holm_adjusted`."""
    return np.asarray(holm_adjusted(chance, tests) <= level)
