"""Repeated readings: their mean, and their repeatability, pooled over readings. A pass is one repeat of a run.

Terms of JCGM 100:2008 (GUM): repeatability 4.2, rounding to a resolution 4.3.7 and F.2.2.1.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, numbered, starts_of, sum_by

FREEDOM_NEEDED = 10
"""Degrees of freedom below which a pooled repeatability is not trusted."""
DEFAULT_SPACING_MM = 0.2
"""Repeatability of gaps and marks if there are too few repeats to estimate it [mm]. Common practice, no source."""
DEFAULT_LENGTH_MM = 0.5
"""Repeatability of other lengths if there are too few repeats to estimate it [mm]. Common practice, no source."""


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


def pooled_repeatability(squares: FloatArray, freedom: IntArray, pool: IntArray, pools: int) -> FloatArray:
    """Standard deviation of a single reading [pools]; NaN with fewer than FREEDOM_NEEDED degrees of freedom (JCGM 100:2008,
    H.3.6 and 4.2.4).

    squares: sums of squares [A]
    freedom: their degrees of freedom [A]
    pool: number of their pool [A]
    pools: how many there are
    """
    total = np.bincount(pool, weights=squares, minlength=pools)
    free = np.bincount(pool, weights=freedom, minlength=pools)
    variance = np.divide(total, free, out=np.full(pools, np.nan), where=free >= FREEDOM_NEEDED)
    return np.sqrt(variance)


def reading_variance(deviation: FloatArray, count: IntArray, resolution: FloatArray) -> FloatArray:
    """Variance of a mean of `count` repeats: its scatter, but no less than its rounding, max(s²/n, r²/12)."""
    return np.maximum(deviation * deviation / count, resolution * resolution / 12.0)
