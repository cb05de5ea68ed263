"""How sure a rule must be: one level of false alarm for all the tests a rule makes over a package."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc, ndtr, ndtri, stdtrit

from gapbook.science.grouping import BoolArray, FloatArray

LEVEL = 0.01
"""Chance that a rule speaks up once or more in a package in which nothing is amiss. Common practice, no source: a package
is read again at each contribution, and a reviewer's time is dear.
"""


def two_sided(deviation: FloatArray) -> FloatArray:
    """Chance of a deviation at least as large, in standard deviations of a normal distribution [any shape]."""
    return np.asarray(2.0 * ndtr(-np.abs(deviation)))


def one_sided(deviation: FloatArray) -> FloatArray:
    """Chance of a deviation at least as high, in standard deviations of a normal distribution [any shape]."""
    return np.asarray(ndtr(-np.asarray(deviation)))


def beyond_chi_square(total: FloatArray, freedom: FloatArray) -> FloatArray:
    """Chance of a chi-square at least as large with `freedom` degrees of freedom [any shape]; 1 with none."""
    return np.where(freedom > 0, chdtrc(np.maximum(freedom, 1.0), total), 1.0)


def bonferroni(tests: int, level: float = LEVEL) -> float:
    """The deviation in standard deviations that, two-sided, one of `tests` normal deviations passes with chance `level` at
    most (Bonferroni's inequality).
    """
    return float(-ndtri(level / (2.0 * max(tests, 1))))


def student_bound(tests: int, freedom: FloatArray, level: float = LEVEL) -> FloatArray:
    """The same where the standard deviation itself is estimated with `freedom` degrees of freedom (Student's t) [any shape]."""
    return np.asarray(-stdtrit(np.maximum(freedom, 1.0), level / (2.0 * max(tests, 1))))


def holm_adjusted(chance: FloatArray, tests: int | None = None) -> FloatArray:
    """Chances of a family of tests [T], adjusted so that each can be compared with a family-wise level (Holm 1979,
    Scandinavian Journal of Statistics 6, 65-70): the smallest times the number of tests, the next times one less, …, none
    below the one before it, none above 1.

    chance: [T], NaN for a test that was not made (and stays so)
    tests: how many were made, if some that cannot matter are left out of `chance`
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
