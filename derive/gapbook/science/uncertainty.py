"""Uncertainty of a bed's logarithms: what each component of a reading's error does to every pitch, linearly.

Terms and method of JCGM 100:2008 (GUM), 5.1.2 and 5.2.2. The quantities are the logarithms of QUANTITIES; every score
is linear in them, so one covariance matrix a bed carries all. The instrument's part and an unknown splay are kept apart,
because copies of a frame share them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import Distinct, FloatArray, IntArray, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, ends, span

QUANTITIES = (
    "main_centre",
    "main_left",
    "main_right",
    "main_tip",
    "main_throat",
    "cross_centre",
    "cross_tip",
    "cross_throat",
    "width",
    "length",
)
PLACEMENT_MM = 0.3
"""How far a string wanders from where it would rest [mm]. Common practice, no source."""
ORIGIN_MM = (1.0, 3.0)
"""Uncertainty of the middle without inner edges: mains, crosses [mm]. Common practice, no source."""
SPLAY = 0.015
"""Relative change of the main pitch at the tip, opposite at the throat, where only station 0 was read. Common practice,
no source."""


class Gradients(NamedTuple):
    """How a family's quantities depend on its lines, and on the heights they are read at.

    by_string: gradient of each log by string [B, Q, K] in 1/mm; height: for each quantity which column of the run
    weights it uses [Q]; the last quantity is the head's width or length and has no such gradient.
    """

    by_string: FloatArray
    height: tuple[int, ...]


class Parts(NamedTuple):
    """A family's share: covariance of its Q + 1 logs without the instrument [B, Q + 1, Q + 1], and what a unit error of
    each run's instrument does to them [R, Q + 1] in 1/mm.
    """

    covariance: FloatArray
    sensitivity: FloatArray


def family_parts(runs: Runs, weight: FloatArray, gradients: Gradients, size: FloatArray, origin_mm: float) -> Parts:
    """Propagate one family's readings. `weight` [R, H] are the runs' station weights; `size` [R] is what a unit change
    of the run's edge-to-edge distance does to the log of width or length (0 where that came from elsewhere).
    """
    alike = distinct(runs.bed, runs.edges.astype(np.int64), runs.is_mark.astype(np.int64))
    total = gradients.by_string.sum(axis=2)
    by_point = _by_point(runs.take(alike.first), gradients, total)
    by_run = np.column_stack([weight[:, gradients.height], size])
    sensitivity = by_run * _instrument_error(runs, by_point, alike)
    marks = np.flatnonzero(runs.is_mark[alike.first])
    of_marks = by_point[marks]
    by_reading = _by_gap(by_point)
    by_reading[marks] = of_marks
    own = by_reading.take(alike.number, axis=0)
    scatter = (own * runs.variance[:, None, :]) @ own.transpose(0, 2, 1)
    scatter *= by_run[:, :, None] * by_run[:, None, :]
    beds = len(gradients.by_string)
    covariance = sum_by(runs.bed, scatter.reshape(len(scatter), -1), beds).reshape(beds, *scatter.shape[1:])
    covariance += _placement_and_origin(runs, weight, gradients, total, origin_mm)
    return Parts(covariance, sensitivity)


def _by_point(runs: Runs, gradients: Gradients, total: FloatArray) -> FloatArray:
    """Gradient of each log by the points of a run that counts once [R, Q + 1, K]; each adds up to zero over the points. The
    last is that of the distance between the run's ends.

    total: gradients added up over the strings [B, Q].
    """
    rows = np.arange(len(runs.bed))
    count = len(gradients.height)
    by_point = np.zeros((len(rows), count + 1, runs.points.shape[1]))
    by_point[:, :count] = gradients.by_string.take(runs.bed, axis=0)
    half = total.take(runs.bed, axis=0) / 2.0
    for end, sign in zip(ends(runs), (-1.0, 1.0), strict=True):
        by_point[rows, :count, end] -= half
        by_point[rows, count, end] = sign
    return by_point


def _by_gap(by_point: FloatArray) -> FloatArray:
    """Gradient by gap: gap k moves every point after it; all points together move nothing."""
    before = np.cumsum(by_point, axis=2)
    return np.negative(before, out=before)


def _instrument_error(runs: Runs, by_point: FloatArray, alike: Distinct) -> FloatArray:
    """What a unit error of the instrument does to each log through runs that count once [R, Q + 1]: gaps grow by it, marks
    stretch by it over the span.

    by_point: the gradients that runs `alike` share.
    """
    number = np.arange(by_point.shape[2], dtype=float)
    moved = (by_point @ number).take(alike.number, axis=0)
    marks = np.flatnonzero(runs.is_mark)
    some = runs.take(marks)
    stretched = about_origin(some) / span(some)[:, None]
    moved[marks] = np.einsum("rqk,rk->rq", by_point[alike.number[marks]], stretched)
    return moved


def _placement_and_origin(
    runs: Runs, weight: FloatArray, gradients: Gradients, total: FloatArray, origin_mm: float
) -> FloatArray:
    """Covariance from strings out of place and from an origin taken without edges [B, Q + 1, Q + 1]."""
    beds, count, _ = gradients.by_string.shape
    loose = sum_by(runs.bed, weight * ~runs.edges[:, None], beds)[:, gradients.height]
    pull = total * loose
    by_string = gradients.by_string.copy()
    strings = np.zeros(beds, dtype=np.int64)
    strings[runs.bed] = runs.strings
    by_string[:, :, 1] -= pull / 2.0
    by_string[np.arange(beds), :, strings] -= pull / 2.0
    covariance = np.zeros((beds, count + 1, count + 1))
    covariance[:, :count, :count] = (PLACEMENT_MM**2 * by_string) @ by_string.transpose(0, 2, 1)
    covariance[:, :count, :count] += origin_mm**2 * (pull[:, :, None] * pull[:, None, :])
    return covariance


class BedCovariance(NamedTuple):
    """Covariance of the ten logs from what is independent from bed to bed [B, 10, 10]; and what copies of a frame share,
    as errors of the logs one standard uncertainty large [G, 10], each with the bed it moves [G].
    """

    independent: FloatArray
    shared: FloatArray
    shared_bed: IntArray


def assemble(mains: Parts, crosses: Parts, size_variance: FloatArray) -> FloatArray:
    """Covariance of the ten logs without what copies share [B, 10, 10].

    size_variance: [B, 2], variance of ln width and ln length where they were not taken from the spacings.
    """
    main, cross = [0, 1, 2, 3, 4, 8], [5, 6, 7, 9]
    covariance = np.zeros((len(size_variance), len(QUANTITIES), len(QUANTITIES)))
    covariance[:, np.ix_(main, main)[0], np.ix_(main, main)[1]] = mains.covariance
    covariance[:, np.ix_(cross, cross)[0], np.ix_(cross, cross)[1]] = crosses.covariance
    covariance[:, [8, 9], [8, 9]] += size_variance
    return covariance


def instrument_errors(
    bed: IntArray, instrument: IntArray, moved: FloatArray, u_instrument: FloatArray
) -> tuple[FloatArray, IntArray]:
    """One error for each instrument of a bed, common to all that was read with it: errors of the logs [G, logs], one
    standard uncertainty large, and the bed each moves [G].

    moved: [N, logs], what a unit error does through each run or reading, of `bed` [N] with `instrument` [N].
    """
    group = distinct(bed, instrument)
    error = sum_by(group.number, moved, len(group.first)) * u_instrument[instrument[group.first]][:, None]
    return error, bed[group.first]


def splay_errors(beds: int) -> FloatArray:
    """The error of the logs [beds, 10] that not knowing the mains' splay leaves, one standard uncertainty large.

    Splay is drilled, so copies of a frame share it.
    """
    errors = np.zeros((beds, len(QUANTITIES)))
    errors[:, [3, 4]] = SPLAY, -SPLAY
    return errors


def widen(sensitivity: FloatArray, family: int) -> FloatArray:
    """Sensitivities of one family's logs as those of all ten [R, 10]; family 0 is the mains, 1 the crosses."""
    wide = np.zeros((len(sensitivity), len(QUANTITIES)))
    wide[:, [5, 6, 7, 9] if family else [0, 1, 2, 3, 4, 8]] = sensitivity
    return wide
