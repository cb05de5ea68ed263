"""Repeated readings: their mean, and the repeatability they show, pooled as a gauge study would.

Terms of JCGM 100:2008 (GUM): repeatability 4.2, rounding to a resolution 4.3.7 and F.2.2.1.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, starts_of, sum_by

FREEDOM_NEEDED = 10
"""Degrees of freedom below which a pooled repeatability is not trusted."""
DEFAULT_SPACING_MM = 0.2
"""Repeatability of gaps and marks where too few repeats tell [mm]. Common practice, no source."""
DEFAULT_LENGTH_MM = 0.5
"""Repeatability of other lengths where too few repeats tell [mm]. Common practice, no source."""


class Averages(NamedTuple):
    """Readings of one number averaged over their repeats [A], ordered by run and number.

    `squares` and `freedom` are the scatter of the repeats about their mean; `row` is one of the rows behind it.
    """

    run: IntArray
    number: IntArray
    value: FloatArray
    repeats: IntArray
    squares: FloatArray
    row: IntArray


class Repeated(NamedTuple):
    """Averages, the degrees of freedom each run's marks lose to being shifted [runs], and rows given twice."""

    averages: Averages
    shifts: IntArray
    twice: IntArray


def average(run: IntArray, number: IntArray, repeat: IntArray, value: FloatArray, is_mark: BoolArray) -> Repeated:
    """Averages over repeats.

    run, number, repeat, value: [R], runs numbered from 0; is_mark: [runs]. Repeats of marks are first shifted onto the
    run's first repeat, because each is a rule laid anew. `twice` lists rows whose run, number and repeat came before.
    """
    key = combine(run, number, repeat)
    order: IntArray | slice = slice(None)
    if np.any(key[1:] <= key[:-1]):
        order = np.argsort(key, kind="stable")
    row = np.arange(len(key))[order]
    key = key[order]
    twice = row[1:][key[1:] == key[:-1]]
    run, number, repeat, value = run[order], number[order], repeat[order], value[order].copy()
    shifts = np.zeros(len(is_mark), dtype=np.int64)
    rows = np.flatnonzero(is_mark[run])
    if len(rows):
        shift, shifts = _shift_marks(run[rows], number[rows], repeat[rows], value[rows], len(is_mark))
        value[rows] -= shift
    starts = starts_of(key // (int(repeat.max(initial=0)) + 1))
    count = np.diff(np.append(starts, len(value)))
    mean = np.add.reduceat(value, starts) / count if len(starts) else np.zeros(0)
    squares = np.zeros(len(starts))
    several = np.flatnonzero(np.repeat(count > 1, count))
    if len(several):
        group = np.repeat(np.arange(len(starts)), count)[several]
        residual = value[several] - mean[group]
        squares = sum_by(group, residual * residual, len(starts))
    return Repeated(Averages(run[starts], number[starts], mean, count, squares, row[starts]), shifts, twice)


def _shift_marks(
    run: IntArray, number: IntArray, repeat: IntArray, value: FloatArray, runs: int
) -> tuple[FloatArray, IntArray]:
    """How far each row's repeat lies from its run's first one [R], and how many repeats were shifted in each run [runs].

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
    laying = distinct(run[later], repeat[later])
    difference = value[later] - base_value[later]
    shared = ~np.isnan(difference)
    together = sum_by(laying.number, shared.astype(float), len(laying.first))
    total = sum_by(laying.number, np.where(shared, difference, 0.0), len(laying.first))
    of_laying = np.divide(total, together, out=np.zeros(len(together)), where=together > 0)
    shift[later] = of_laying[laying.number]
    return shift, np.bincount(run[later][laying.first], minlength=runs).astype(np.int64)


def pooled_repeatability(squares: FloatArray, freedom: IntArray, pool: IntArray, pools: int) -> FloatArray:
    """Standard deviation of a single reading [pools] from sums of squares and degrees of freedom [A]; NaN where fewer
    than FREEDOM_NEEDED degrees of freedom stand behind it (JCGM 100:2008, H.3.6 and 4.2.4).
    """
    total = np.bincount(pool, weights=squares, minlength=pools)
    free = np.bincount(pool, weights=freedom, minlength=pools)
    variance = np.divide(total, free, out=np.full(pools, np.nan), where=free >= FREEDOM_NEEDED)
    return np.sqrt(variance)


def reading_variance(deviation: FloatArray, count: IntArray, resolution: FloatArray) -> FloatArray:
    """Variance of a mean of `count` repeats: its scatter, but no less than its rounding, max(s²/n, r²/12)."""
    return np.maximum(deviation * deviation / count, resolution * resolution / 12.0)
