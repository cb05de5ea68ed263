"""Repeated readings: their mean, and their repeatability, pooled over readings. A pass is one repeat of a run.

Terms of JCGM 100:2008 (GUM): repeatability 4.2, rounding to a resolution 4.3.7 and F.2.2.1.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, numbered, starts_of, sum_by

FREEDOM_NEEDED = 10
"""Degrees of freedom below which a repeatability is too uncertain to be a yardstick."""
DEFAULT_WEIGHT = 10
"""Degrees of freedom that a default repeatability counts for beside what repeats show."""
DEFAULT_SPACING_MM = {"calliper": 0.10, "rule": 0.25, "photo": 0.03}
"""Default repeatability of a gap or mark by kind of instrument [mm]. Common practice, no source."""
DEFAULT_OTHER_MM = 0.25
"""Default repeatability of a gap or mark read with any other kind of instrument [mm]. Common practice, no source."""
DEFAULT_LENGTH_MM = 0.5
"""Default repeatability of other lengths [mm]. Common practice, no source."""


class Averages(NamedTuple):
    """Readings of one number averaged over their repeats [A], ordered by run and number.

    run: number of the run
    number: of the gap or mark
    value: mean of the repeats
    repeats: how many there are
    squares: sum of squares of the repeats about their mean
    row: one of the rows averaged
    """

    run: IntArray
    number: IntArray
    value: FloatArray
    repeats: IntArray
    squares: FloatArray
    row: IntArray


class Repeated(NamedTuple):
    """Averages [A], the degrees of freedom that each run of marks loses because its passes are shifted [runs], and the rows
    whose run, number and repeat are those of an earlier row.
    """

    averages: Averages
    shifts: IntArray
    twice: IntArray


def average(run: IntArray, number: IntArray, repeat: IntArray, value: FloatArray, is_mark: BoolArray) -> Repeated:
    """Averages over repeats. Passes of marks are first shifted onto the run's first pass, because the rule is laid anew for
    each.

    run: number of the run, from 0 [R]
    number: of the gap or mark [R]
    repeat: number of the repeat [R]
    value: reading [R]
    is_mark: whether a run is of marks [runs]
    """
    key = combine(run, number, repeat)
    row = None
    if np.any(key[1:] <= key[:-1]):
        row = np.argsort(key, kind="stable")
        key, run, number, repeat, value = key[row], run[row], number[row], repeat[row], value[row]
    twice = np.flatnonzero(key[1:] == key[:-1]) + 1
    shifts = np.zeros(len(is_mark), dtype=np.int64)
    several = np.zeros(len(is_mark), dtype=bool)
    several[run[repeat > repeat.min(initial=1)]] = True  # runs that may have more than one pass
    marks = np.flatnonzero((is_mark & several)[run])
    if len(marks):
        shift, shifts = _shift_marks(run[marks], number[marks], repeat[marks], value[marks], len(is_mark))
        value = value.copy()
        value[marks] -= shift
    starts = starts_of(combine(run, number))
    count = np.diff(np.append(starts, len(value)))
    mean, squares = _mean_and_squares(value, starts, count)
    averages = Averages(run[starts], number[starts], mean, count, squares, starts if row is None else row[starts])
    return Repeated(averages, shifts, twice if row is None else row[twice])


def _mean_and_squares(value: FloatArray, starts: IntArray, count: IntArray) -> tuple[FloatArray, FloatArray]:
    """Mean of the `count` [A] values from each of `starts` [A] on, and the sum of their squared distances from it."""
    cell = numbered(starts, len(value))
    mean = sum_by(cell, value, len(starts)) / count
    residual = value - mean.take(cell)
    return mean, sum_by(cell, residual * residual, len(starts))


def _shift_marks(
    run: IntArray, number: IntArray, repeat: IntArray, value: FloatArray, runs: int
) -> tuple[FloatArray, IntArray]:
    """How far each row's pass lies from the first pass of its run [R], and how many passes of each run were shifted [runs].

    Rows come ordered by run, number and repeat.
    """
    run_starts = starts_of(run)
    base = np.zeros(runs, dtype=np.int64)
    base[run[run_starts]] = np.minimum.reduceat(repeat, run_starts)
    cell_starts = starts_of(combine(run, number))
    has_base = repeat[cell_starts] == base[run[cell_starts]]
    base_value = np.repeat(np.where(has_base, value[cell_starts], np.nan), np.diff(np.append(cell_starts, len(run))))
    later = np.flatnonzero(repeat != base[run])
    shift = np.zeros(len(run))
    each_pass = distinct(run[later], repeat[later])
    difference = value[later] - base_value[later]
    shared = ~np.isnan(difference)
    together = sum_by(each_pass.number, shared.astype(float), len(each_pass.first))
    total = sum_by(each_pass.number, np.where(shared, difference, 0.0), len(each_pass.first))
    of_pass = np.divide(total, together, out=np.zeros(len(together)), where=together > 0)
    shift[later] = of_pass[each_pass.number]
    return shift, np.bincount(run[later][each_pass.first], minlength=runs).astype(np.int64)


class Repeatability(NamedTuple):
    """Repeatability by pool: the readings of one quantity with one kind of instrument [pools].

    deviation: standard deviation of a single reading
    assumed: how much of its square is the default's, 0 to 1
    """

    deviation: FloatArray
    assumed: FloatArray

    def variance(self, pool: IntArray, count: FloatArray | IntArray, resolution: FloatArray) -> FloatArray:
        """Variance of the mean of repeats [any shape], no less than its rounding: max(s²/n, r²/12).

        pool: number of the pool
        count: how many repeats
        resolution: of the instrument

        As far as the repeatability is the default, r²/12 is added to s², because it was not seen through rounding.
        """
        rounding = resolution * resolution / 12.0
        single = self.deviation[pool] ** 2 + self.assumed[pool] * rounding
        return np.asarray(np.maximum(single / count, rounding))


def pooled_repeatability(
    squares: FloatArray, freedom: IntArray, pool: IntArray, default: FloatArray, weight: float = DEFAULT_WEIGHT
) -> Repeatability:
    """Repeatability by pool, drawn towards a default: s² = (ν·s_seen² + weight·s_default²) / (ν + weight), ν the degrees of
    freedom seen (pooling: JCGM 100:2008, 4.2.4 and H.3.6).

    squares: sums of squares [A]
    freedom: their degrees of freedom [A]
    pool: number of their pool [A]
    default: standard deviation that is assumed [pools]
    weight: degrees of freedom that the default counts for
    """
    total = sum_by(pool, squares, len(default))
    free = sum_by(pool, np.asarray(freedom, dtype=float), len(default))
    return Repeatability(*shrunk(total, free, default, weight))


def shrunk(squares: FloatArray, freedom: FloatArray, default: FloatArray, weight: float) -> tuple[FloatArray, FloatArray]:
    """Standard deviations drawn towards defaults, √((squares + weight·default²) / (freedom + weight)), and the weight that the
    default has in the square, weight / (freedom + weight) [any shape].

    squares: sums of squares that were seen
    freedom: their degrees of freedom
    default: standard deviations that are assumed
    weight: degrees of freedom that the default counts for
    """
    freedom = np.maximum(freedom, 0.0)
    assumed = weight / (freedom + weight)
    return np.sqrt((squares + weight * default * default) / (freedom + weight)), np.asarray(assumed, dtype=float)
