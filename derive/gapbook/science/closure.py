"""Closure of a bed: left gaps against right gaps, and the sum from edge to edge against the head's size read directly."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.lines import Runs, gaps_between_ends, span
from gapbook.science.uncertainty import PLACEMENT_MM


class Mirror(NamedTuple):
    """How much the gaps left and right of the long axis differ, by run [R].

    chi_square: sum of squared differences of twin gaps, each over its variance
    freedom: degrees of freedom
    gap: number of the left gap that differs most from its mirror twin, from 1
    difference: that gap less its twin [mm]
    """

    chi_square: FloatArray
    freedom: IntArray
    gap: IntArray
    difference: FloatArray


@lru_cache(maxsize=64)
def _modes(strings: int) -> tuple[FloatArray, FloatArray]:
    """Directions in which the differences of twin gaps are independent if only placement varies [h, h], and the variance of
    each for strings out of place by one [h]. Reading gaps one by one adds 2 to each variance.
    """
    gaps, pairs = strings - 1, (strings - 1) // 2
    steps = np.eye(gaps, strings, 1) - np.eye(gaps, strings)
    differences = np.eye(pairs, gaps) - np.fliplr(np.eye(gaps))[:pairs]
    moved = differences @ steps
    variance, directions = np.linalg.eigh(moved @ moved.T)
    return directions, variance


def mirror(strings: FloatArray, count: IntArray, is_mark: BoolArray, variance: FloatArray) -> Mirror:
    """Gaps of the mains against their mirror twins. The chi-square is large if they differ more than strings out of place by
    PLACEMENT_MM and the readings explain. An error common to all gaps cancels.

    strings: positions [R, n] in mm
    count: strings of each run [R]
    is_mark: whether a run is of marks [R]
    variance: of one reading [R] in mm²
    """
    rows_in_all = len(count)
    chi_square, difference = np.zeros(rows_in_all), np.zeros(rows_in_all)
    gap, freedom = np.ones(rows_in_all, dtype=np.int64), (count - 1) // 2
    for number in np.unique(count).tolist():
        rows = np.flatnonzero(count == number)
        pairs = (number - 1) // 2
        if not pairs:
            continue
        gaps = np.diff(strings[rows, :number], axis=1)
        off = gaps[:, :pairs] - gaps[:, ::-1][:, :pairs]
        directions, of_place = _modes(number)
        placed = PLACEMENT_MM**2 + np.where(is_mark[rows], variance[rows], 0.0)
        expected = placed[:, None] * of_place + np.where(is_mark[rows], 0.0, 2.0 * variance[rows])[:, None]
        chi_square[rows] = ((off @ directions) ** 2 / expected).sum(axis=1)
        worst = np.argmax(np.abs(off), axis=1)
        gap[rows], difference[rows] = worst + 1, off[np.arange(len(rows)), worst]
    return Mirror(chi_square, freedom, gap, difference)


class Edges(NamedTuple):
    """Beds [E] read from edge to edge at station 0; the last five fields have one row for each run.

    bed: number of the bed [E]
    span: mean distance of the edges [E] in mm
    variance: of the span, from the readings [E] in mm²
    effect_of: place of the run's bed in `bed`
    instrument: number of the run's instrument
    effect: change of the span by a unit error of the instrument
    reader: number of the run's reader
    by_reader: change of the span by a unit offset of the reader
    """

    bed: IntArray
    span: FloatArray
    variance: FloatArray
    effect_of: IntArray
    instrument: IntArray
    effect: FloatArray
    reader: IntArray
    by_reader: FloatArray


def edges(runs: Runs) -> Edges:
    """Inner width (length) from runs that read both inner edges at station 0, averaged over sessions."""
    runs = runs.take(np.flatnonzero(runs.edges & (runs.station == 0.0)))
    each = distinct(runs.bed)
    count = count_by(each.number, len(each.first)).astype(float)
    column = np.arange(runs.points.shape[1])[None, :]
    within = column <= runs.strings[:, None]
    ends = (column == 0) | (column == runs.strings[:, None] + 1)
    read = np.where(np.where(runs.is_mark[:, None], ends, within), runs.variance, 0.0).sum(axis=1)
    effect = np.where(runs.is_mark, 1.0, runs.strings + 1.0) / count[each.number]
    return Edges(
        runs.bed[each.first],
        sum_by(each.number, span(runs), len(each.first)) / count,
        sum_by(each.number, read, len(each.first)) / count**2,
        each.number,
        runs.instrument,
        effect,
        runs.reader,
        gaps_between_ends(runs) / count[each.number],
    )


def shared_variance(owner: IntArray, instrument: IntArray, effect: FloatArray, u: FloatArray, owners: int) -> FloatArray:
    """Variance [owners] from the errors of instruments: effects of one instrument on one owner are added before they are
    squared, those of different instruments after (JCGM 100:2008, 5.2.2).

    owner: owner (such as a bed) of each effect [N]
    instrument: number of its instrument [N]
    effect: change by a unit error of the instrument [N]
    u: standard uncertainty of each instrument's error [I]
    owners: how many there are
    """
    pair = distinct(owner, instrument)
    total = sum_by(pair.number, effect, len(pair.first)) * u[instrument[pair.first]]
    return sum_by(owner[pair.first], total**2, owners)
