"""Uncertainty of the logarithms of a bed's pitches and size: each component of a reading's error, propagated linearly.

Terms and method of JCGM 100:2008 (GUM), 5.1.2 and 5.2.2. The quantities are the logarithms of QUANTITIES; every score
is linear in them, so one covariance matrix for each bed is enough. Causes that beds have in common (an instrument, a person,
what is not known of a frame) are kept separate: each shifts the logs of all these beds by a known amount a unit of its error.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, Distinct, FloatArray, IntArray, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, ends, gaps_between_ends, span
from gapbook.science.zones import END_MM

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
"""Standard deviation of a string's distance from its place of rest [mm]. Common practice, no source."""
ORIGIN_MM = (1.0, 3.0)
"""Uncertainty of the origin if the inner edges were not read: mains, crosses [mm]. Common practice, no source."""
SPLAY = 0.015
"""Relative change of the main pitch at the tip, opposite at the throat, if stations tell no slope. Common practice, no
source."""

OF_FRAME = ("splay", "aspect", "exponent", "area")
"""Causes that all copies of a frame share, and no other bed. They have the first numbers."""


class Errors(NamedTuple):
    """Standard uncertainties that a whole package has in common [mm].

    instrument: of each instrument's error, by its number [I]
    reader: of the offset of a gap read by each reader, who is a person with a kind of instrument, by number [readers]
    placement: of the place of a string
    """

    instrument: FloatArray
    reader: FloatArray
    placement: float

    def of_instrument(self, number: IntArray) -> IntArray:
        """The number that an instrument has among the causes."""
        return number + len(OF_FRAME)

    def of_reader(self, number: IntArray) -> IntArray:
        """The number that a reader has among the causes."""
        return number + len(OF_FRAME) + len(self.instrument)


class Common(NamedTuple):
    """Errors of a bed's logs that it has in common with other beds, each of one standard uncertainty [G].

    effect: on the logs [G, logs]
    bed: number of the bed [G]
    cause: number of the cause [G]; a bed and a cause come once
    """

    effect: FloatArray
    bed: IntArray
    cause: IntArray


class Gradients(NamedTuple):
    """How a family's quantities depend on the positions of its strings, and on the heights at which these are evaluated.

    by_string: gradient of each log by string [Q, K, B] in 1/mm; beds last, because sums over whole rows of beds are quick
    height: the column of the run weights that each quantity uses [Q]

    The head's width or length is a further quantity, the last; it has no such gradient.
    """

    by_string: FloatArray
    height: tuple[int, ...]


class Parts(NamedTuple):
    """A family's Q + 1 logs.

    covariance: their covariance without what beds have in common [B, Q + 1, Q + 1]
    sensitivity: their change by a unit error of each run's instrument [R, Q + 1] in 1/mm
    by_reader: their change by a unit offset of each run's reader [R, Q + 1] in 1/mm
    first: variance of the first log from readings, placement and origin [B, 3]
    """

    covariance: FloatArray
    sensitivity: FloatArray
    by_reader: FloatArray
    first: FloatArray


def family_parts(
    runs: Runs, weight: FloatArray, gradients: Gradients, size: FloatArray, origin_mm: float, placement_mm: float
) -> Parts:
    """Propagate one family's readings.

    runs: the runs of the family [R]
    weight: the runs' station weights [R, H]
    gradients: of the family's logs
    size: change of ln width or ln length by a unit change of the run's edge-to-edge distance, 0 if not used [R]
    origin_mm: standard uncertainty of the origin if the inner edges were not read [mm]
    placement_mm: standard deviation of a string's distance from its place of rest [mm]
    """
    alike = distinct(runs.bed, runs.edges.astype(np.int64), runs.is_mark.astype(np.int64))
    kinds = runs.take(alike.first)
    total = gradients.by_string.sum(axis=1)
    by_run = np.vstack([weight[:, gradients.height].T, size])
    by_point = _by_point(kinds, gradients, total)
    sensitivity = by_run * _instrument_error(runs, by_point, alike)
    by_reading = _by_reading(by_point, kinds.is_mark).take(alike.number, axis=2)
    covariance = _scatter(runs, by_reading, by_run, gradients.by_string.shape[2])
    placement, pull = _placement(runs, weight, gradients, total, placement_mm)
    origin = origin_mm * pull
    first = np.stack([covariance[0, 0], placement[0, 0], origin[0] ** 2], axis=1)
    covariance[:-1, :-1] += placement + origin[:, None] * origin[None, :]
    by_reader = np.where(runs.is_mark, gaps_between_ends(runs), 1)[:, None] * sensitivity.T
    return Parts(covariance.transpose(2, 0, 1), sensitivity.T, by_reader, first)


def _by_point(kinds: Runs, gradients: Gradients, total: FloatArray) -> FloatArray:
    """Gradient of each log by the points of a run of weight 1 [Q + 1, K, G], for G runs, one of each kind; its sum over the
    points is zero. The last quantity is the distance between the run's ends.

    total: gradients added up over the strings [Q, B].
    """
    count, points, each = len(gradients.height), kinds.points.shape[1], np.arange(len(kinds.bed))
    by_point = np.empty((count + 1, points, len(each)))
    np.take(gradients.by_string, kinds.bed, axis=2, out=by_point[:count], mode="clip")  # the default mode would need a buffer
    by_point[count] = 0.0
    half = total.take(kinds.bed, axis=1) / 2.0
    for end, sign in zip(ends(kinds), (-1.0, 1.0), strict=True):
        by_point[:count, end, each] -= half
        by_point[count, end, each] = sign
    return by_point


def _by_reading(by_point: FloatArray, is_mark: BoolArray) -> FloatArray:
    """Gradient by reading, in place: a mark is a point; gap k moves every point after it; moving all points changes nothing."""
    marks = np.flatnonzero(is_mark)
    of_marks = by_point[:, :, marks]
    np.negative(by_point[:, 0], out=by_point[:, 0])
    for point in range(1, by_point.shape[1]):
        np.subtract(by_point[:, point - 1], by_point[:, point], out=by_point[:, point])
    by_point[:, :, marks] = of_marks
    return by_point


def _instrument_error(runs: Runs, by_point: FloatArray, alike: Distinct) -> FloatArray:
    """Change of each log by a unit error of the instrument, through runs of weight 1 [Q + 1, R]: each gap grows by the error,
    and marks are stretched by it over the span.

    by_point: the gradients that runs `alike` share [Q + 1, K, G].
    """
    number = np.arange(by_point.shape[1], dtype=float)
    moved = np.einsum("qkg,k->qg", by_point, number).take(alike.number, axis=1)
    marks = np.flatnonzero(runs.is_mark)
    some = runs.take(marks)
    stretched = np.ascontiguousarray((about_origin(some) / span(some)[:, None]).T)
    moved[:, marks] = np.einsum("qkr,kr->qr", by_point.take(alike.number[marks], axis=2), stretched)
    return moved


def _scatter(runs: Runs, by_reading: FloatArray, by_run: FloatArray, beds: int) -> FloatArray:
    """Covariance from the scatter of the readings [Q + 1, Q + 1, B].

    by_reading: gradients by reading for runs of weight 1 [Q + 1, K, R]; by_run: the weights [Q + 1, R].
    """
    logs, variance = len(by_reading), np.ascontiguousarray(runs.variance.T)
    covariance = np.empty((logs, logs, beds))
    for one in range(logs):
        weighted = by_reading[one] * variance
        for other in range(one + 1):
            of_run = np.einsum("kr,kr->r", weighted, by_reading[other]) * by_run[one] * by_run[other]
            covariance[one, other] = covariance[other, one] = sum_by(runs.bed, of_run, beds)
    return covariance


def _placement(
    runs: Runs, weight: FloatArray, gradients: Gradients, total: FloatArray, placement_mm: float
) -> tuple[FloatArray, FloatArray]:
    """Covariance from the placement of strings [Q, Q, B], and change of the logs if the origin of runs without edges moves by
    a unit [Q, B].
    """
    logs, _, beds = gradients.by_string.shape
    pull = total * sum_by(runs.bed, weight * ~runs.edges[:, None], beds)[:, gradients.height].T
    pulled = np.flatnonzero(pull.any(axis=0))
    strings = np.zeros(beds, dtype=np.int64)
    strings[runs.bed] = runs.strings
    by_string = gradients.by_string.copy()
    for end in (np.ones(len(pulled), dtype=np.int64), strings[pulled]):
        by_string[:, end, pulled] -= pull[:, pulled] / 2.0
    covariance = np.empty((logs, logs, beds))
    for one in range(logs):
        for other in range(one + 1):
            of_strings = placement_mm**2 * np.einsum("kb,kb->b", by_string[one], by_string[other])
            covariance[one, other] = covariance[other, one] = of_strings
    return covariance, pull


class BedCovariance(NamedTuple):
    """Covariance of the ten logs of beds.

    independent: from errors that are independent from bed to bed [B, 10, 10]
    common: errors of the ten logs that beds have in common
    first: variance of the first log of mains and of crosses from readings, placement and origin [2, B, 3]
    """

    independent: FloatArray
    common: Common
    first: FloatArray


def assemble(mains: Parts, crosses: Parts, size_variance: FloatArray) -> FloatArray:
    """Covariance of the ten logs without the errors that copies share [B, 10, 10].

    size_variance: [B, 2], variance of ln width and ln length if these were read directly.
    """
    main, cross = [0, 1, 2, 3, 4, 8], [5, 6, 7, 9]
    covariance = np.zeros((len(size_variance), len(QUANTITIES), len(QUANTITIES)))
    covariance[:, np.ix_(main, main)[0], np.ix_(main, main)[1]] = mains.covariance
    covariance[:, np.ix_(cross, cross)[0], np.ix_(cross, cross)[1]] = crosses.covariance
    covariance[:, [8, 9], [8, 9]] += size_variance
    return covariance


def common_errors(bed: IntArray, cause: IntArray, moved: FloatArray) -> Common:
    """One error for each cause and bed, common to everything in the bed that the cause touches.

    bed: of each run or reading [N]
    cause: number of the cause [N]
    moved: change of the logs by one standard uncertainty of the cause [N, logs]
    """
    group = distinct(bed, cause)
    return Common(sum_by(group.number, moved, len(group.first)), bed[group.first], cause[group.first])


def runs_errors(runs: Runs, sensitivity: FloatArray, by_reader: FloatArray, errors: Errors) -> Common:
    """The errors of instruments and of readers in runs, each of one standard uncertainty; not yet added up by bed.

    runs: [R]
    sensitivity: change of the logs by a unit error of each run's instrument [R, logs]
    by_reader: change by a unit offset of each run's reader [R, logs]
    errors: what these errors are
    """
    return Common(
        np.concatenate(
            [
                sensitivity * errors.instrument[runs.instrument][:, None],
                by_reader * errors.reader[runs.reader][:, None],
            ]
        ),
        np.concatenate([runs.bed, runs.bed]),
        np.concatenate([errors.of_instrument(runs.instrument), errors.of_reader(runs.reader)]),
    )


def splay_errors(bed: IntArray, centre: FloatArray, heights: FloatArray) -> Common:
    """Errors of the main pitches from unknown splay.

    bed: beds of which stations tell no slope [N]
    centre: mean of their stations [N] in mm
    heights: of the main windows [Q] in mm
    """
    effect = np.zeros((len(bed), len(QUANTITIES)))
    effect[:, : len(heights)] = SPLAY * (heights[None, :] - centre[:, None]) / END_MM
    return Common(effect, bed, np.full(len(bed), OF_FRAME.index("splay")))


def joined(*parts: Common) -> Common:
    """Several errors end to end."""
    return Common(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def widen(sensitivity: FloatArray, family: int) -> FloatArray:
    """Sensitivities of one family's logs as those of all ten [R, 10]; family 0 is the mains, 1 the crosses."""
    wide = np.zeros((len(sensitivity), len(QUANTITIES)))
    wide[:, [5, 6, 7, 9] if family else [0, 1, 2, 3, 4, 8]] = sensitivity
    return wide
