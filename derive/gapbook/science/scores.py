"""Scores of a bed from its pitches, of a frame from its specimens, and of a frame that nobody has measured.

mesh = √(p_main·p_cross) [mm]; density D = 100/mesh² [1/cm²], apertures per cm² as ISO 9044 counts them; openness
O = 10·mesh. Every score is exp(constant + matrix @ q) of the logs q of `uncertainty.QUANTITIES`.

For a frame of which only the strings were counted, ln O - ½·ln(head area) is regressed by least squares on
ln(mains·crosses) over the measured frames; the standard uncertainty is the predictive standard deviation
s·√(1 + 1/n + (x - x̄)²/Sxx) (Draper & Smith, Applied Regression Analysis, ch. 1).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.repeats import shrunk
from gapbook.science.statistics import student_factor
from gapbook.science.uncertainty import QUANTITIES, BedCovariance, Common
from gapbook.science.zones import CROSS_OF_ZONE, OUTER, ZONES

LN10 = float(np.log(10.0))
SPREAD_WEIGHT = 5
"""Degrees of freedom that a default specimen spread counts for beside what specimens show."""
LEAST_COUNTED = 0.02
"""Relative standard uncertainty of a counted frame, at least. Common practice, no source."""


def _quantity(**weights: float) -> FloatArray:
    row = np.zeros(len(QUANTITIES))
    for name, weight in weights.items():
        row[QUANTITIES.index(name)] += weight
    return row


def _cross(zone: str) -> str:
    return ("cross_centre", "cross_tip", "cross_throat")[CROSS_OF_ZONE[ZONES.index(zone)]]


def _openness(zone: str) -> FloatArray:
    return _quantity(**{f"main_{zone}": 0.5}) + _quantity(**{_cross(zone): 0.5})


_SIDES = (_openness("left") + _openness("right")) / 2.0

SCORES: dict[str, FloatArray] = {
    **{f"main_pitch_{zone}_mm": _quantity(**{f"main_{zone}": 1.0}) for zone in ZONES},
    **{f"cross_pitch_{zone}_mm": _quantity(**{_cross(zone): 1.0}) for zone in ZONES},
    **{f"openness_{zone}": _openness(zone) for zone in ZONES},
    "density_centre_per_cm2": -2.0 * _openness("centre"),
    "openness_sides": _SIDES,
    "side_opening": _SIDES - _openness("centre"),
    "openness_even": _quantity(width=0.5, length=0.5),
    "drilling_main": _quantity(main_centre=1.0, width=-1.0),
    "drilling_cross": _quantity(cross_centre=1.0, length=-1.0),
    **{f"uniformity_{zone}": 2.0 * (_openness("centre") - _openness(zone)) for zone in OUTER},
}
"""How each score's logarithm depends on the ten logs. side_opening stands for 1 + side_opening; uniformity has one
row for each outer zone, of which the densest counts."""

NAMES = tuple(SCORES)
MATRIX = np.stack([SCORES[name] for name in NAMES])
"""[scores, 10]."""
_PAIRS = (MATRIX[:, :, None] * MATRIX[:, None, :]).reshape(len(MATRIX), -1)
"""Weight of each entry of a covariance of the ten logs in the variance of each score [scores, 100]."""
UNIFORMITY = [NAMES.index(f"uniformity_{zone}") for zone in OUTER]


def log_scores(logs: FloatArray, mains: IntArray, crosses: IntArray) -> FloatArray:
    """Logarithms of the scores [B, scores] from the ten logs [B, 10] and the string counts [B]; NaN if a log is."""
    known = np.nan_to_num(logs)
    scores = known @ MATRIX.T
    scores[(np.isnan(logs).astype(float) @ (MATRIX != 0.0).T.astype(float)) > 0.0] = np.nan
    for name, constant in (
        *((f"openness_{zone}", LN10) for zone in (*ZONES, "sides")),
        ("density_centre_per_cm2", 2.0 * LN10),
        ("openness_even", LN10 - 0.5 * np.log(mains * crosses)),
        ("drilling_main", np.log(mains)),
        ("drilling_cross", np.log(crosses)),
    ):
        scores[:, NAMES.index(name)] += constant
    return scores


class Variances(NamedTuple):
    """Variances of the log scores [B, scores]: the part that is independent from bed to bed, and the part from causes that beds
    have in common.
    """

    independent: FloatArray
    shared: FloatArray


def log_variances(covariance: BedCovariance) -> tuple[Variances, FloatArray]:
    """Propagate the covariance of the logs to the scores; and the errors of the scores that beds share [G, scores]."""
    independent = covariance.independent.reshape(-1, MATRIX.shape[1] ** 2) @ _PAIRS.T
    moved = covariance.common.effect @ MATRIX.T
    return Variances(independent, sum_by(covariance.common.bed, moved * moved, len(independent))), moved


def session_spread(values: FloatArray, bed: IntArray, beds: int) -> FloatArray:
    """Variance of the mean of the sessions' log scores [beds, scores]: s²/sessions, 0 below two sessions.

    It is only a floor of what propagates, and counts without its t: with it, a second session would make a bed less certain.

    values: [sessions, scores], NaN if a session does not give a score.
    """
    given = ~np.isnan(values)
    number = sum_by(bed, given.astype(float), beds)
    filled = np.where(given, values, 0.0)
    mean = np.divide(sum_by(bed, filled, beds), number, out=np.zeros(number.shape), where=number > 0)
    away = np.where(given, values - mean[bed], 0.0)
    return np.divide(sum_by(bed, away * away, beds), (number - 1.0) * number, out=np.zeros(number.shape), where=number > 1)


class Spread(NamedTuple):
    """Specimen spread pooled over frames [scores].

    deviation: standard deviation of a log score
    freedom: degrees of freedom behind it, those of the default included
    """

    deviation: FloatArray
    freedom: FloatArray

    @property
    def counted(self) -> FloatArray:
        """The deviation as it counts in a standard uncertainty: with its t if copies tell it, since they tell it roughly."""
        seen = np.where(self.freedom > SPREAD_WEIGHT, self.freedom, 0.0)
        return np.asarray(self.deviation * student_factor(seen))


def specimen_spread(
    values: FloatArray, variances: Variances, frame: IntArray, default: FloatArray, common: Common | None = None
) -> Spread:
    """Standard deviation of specimens of one frame, pooled over frames, after subtracting the variance of measurement
    (variance components as in JCGM 100:2008, H.5), and drawn towards a default: s² = (ν·s_seen² + 5·s_default²) / (ν + 5).
    What an instrument or a person does to all specimens of a frame alike does not set them apart; what it does to some does.

    values: log scores [B, scores]
    variances: their variances [B, scores]
    frame: number of each bed's frame [B]
    default: the spread that is assumed [scores]
    common: errors of the log scores that beds have in common; if None, all the specimens of a frame are taken to share all of
        them
    """
    frames = int(frame.max(initial=-1)) + 1
    given = ~np.isnan(values)
    number = sum_by(frame, given.astype(float), frames)
    several = np.maximum(number, 1.0)
    mean = sum_by(frame, np.where(given, values, 0.0), frames) / several
    away = np.where(given, values - mean[frame], 0.0)
    share = np.where(given, 1.0 - 1.0 / several[frame], 0.0)
    excess = (away * away - share * np.where(given, variances.independent, 0.0)).sum(axis=0)
    if common is not None:
        of_frame = frame_effects(values, common, frame)
        alike = several * sum_by(of_frame.bed, of_frame.effect**2, frames)
        excess -= np.where(given, variances.shared, 0.0).sum(axis=0) - alike.sum(axis=0)
    freedom = (several - 1.0).sum(axis=0)
    deviation, _ = shrunk(np.maximum(excess, 0.0), freedom, default, SPREAD_WEIGHT)
    return Spread(deviation, freedom + SPREAD_WEIGHT)


def _columns(table: FloatArray) -> FloatArray:
    """The columns of a table, each contiguous in memory: going over columns that stay in cache is quicker."""
    return np.ascontiguousarray(table.T)


class FrameScores(NamedTuple):
    """Mean log scores of frames.

    value: [frames, scores]
    u: their standard uncertainties for another copy of the frame [frames, scores]
    specimens: how many specimens each frame has [frames]
    common: errors of the mean log scores that frames have in common; None if these are not told apart
    """

    value: FloatArray
    u: FloatArray
    specimens: IntArray
    common: Common | None = None


def frame_scores(
    values: FloatArray, variances: Variances, frame: IntArray, spread: FloatArray, common: Common | None = None
) -> FrameScores:
    """Geometric means over n specimens. Variance: independent parts over n, plus what specimens share, plus s²(1 + 1/n).

    values: log scores [B, scores]
    variances: their variances [B, scores]
    frame: number of each bed's frame [B]
    spread: s, standard deviation of specimens of one frame [scores]
    common: errors of the log scores that beds have in common; if None, all the specimens of a frame are taken to share all of
        them
    """
    frames = int(frame.max(initial=-1)) + 1
    value, u = np.empty((values.shape[1], frames)), np.empty((values.shape[1], frames))
    of_frame = None if common is None else frame_effects(values, common, frame)
    effects = None if of_frame is None else _columns(of_frame.effect)
    each = zip(_columns(values), _columns(variances.independent), _columns(variances.shared), spread, strict=True)
    for number, column in enumerate(each):
        whole = None if of_frame is None or effects is None else sum_by(of_frame.bed, effects[number] ** 2, frames)
        value[number], u[number] = _frame_score(*column, frame, frames, whole)
    return FrameScores(value.T, u.T, count_by(frame, frames), of_frame)


def frame_effects(values: FloatArray, common: Common, frame: IntArray) -> Common:
    """The errors of frames' mean log scores by what their beds have in common with others, each of one standard uncertainty;
    `bed` is the number of the frame. A cause that touches some specimens only is divided by the number of all that give the
    score.

    values: log scores [B, scores], NaN if a bed does not give one
    common: errors of these scores by bed
    frame: number of each bed's frame [B]
    """
    given = ~np.isnan(values)
    number = sum_by(frame, given.astype(float), int(frame.max(initial=-1)) + 1)
    each = distinct(frame[common.bed], common.cause)
    of_frame = frame[common.bed[each.first]]
    effect = sum_by(each.number, np.where(given[common.bed], common.effect, 0.0), len(each.first))
    return Common(effect / np.maximum(number[of_frame], 1.0), of_frame, common.cause[each.first])


def _frame_score(
    values: FloatArray,
    independent: FloatArray,
    shared: FloatArray,
    spread: float,
    frame: IntArray,
    frames: int,
    whole: FloatArray | None,
) -> tuple[FloatArray, FloatArray]:
    """Mean and standard uncertainty of one log score [frames], NaN if no specimen gives it. whole: variance of what the
    specimens share [frames]; if None, they are taken to share all of `shared`.
    """
    given = ~np.isnan(values)
    number = sum_by(frame, given.astype(float), frames)
    several = np.maximum(number, 1.0)
    mean = sum_by(frame, np.where(given, values, 0.0), frames) / several
    scatter = sum_by(frame, np.where(given, independent, 0.0), frames) / several**2
    if whole is None:
        whole = (sum_by(frame, np.where(given, np.sqrt(shared), 0.0), frames) / several) ** 2
    variance = scatter + whole + spread**2 * (1.0 + 1.0 / several)
    blank = number == 0
    return np.where(blank, np.nan, mean), np.where(blank, np.nan, np.sqrt(variance))


FEWEST_FRAMES = 8


class CountedLine(NamedTuple):
    """The line y = intercept + slope·x through measured frames, y = ln O - ½·ln(head area [cm2]) and x = ln(mains·crosses).

    intercept: of the line
    slope: of the line
    residual: standard deviation about the line
    frames: how many frames it was fitted to, 0 for LEARNED
    mean: x̄ of those frames
    scatter: Sxx, the sum of (x - x̄)² over them
    """

    intercept: float
    slope: float
    residual: float
    frames: int
    mean: float
    scatter: float


LEARNED = CountedLine(intercept=4.6173, slope=-0.5429, residual=0.06, frames=0, mean=0.0, scatter=0.0)
"""Used below FEWEST_FRAMES measured frames; its predictive standard deviation is always 6 %. Learned on 2026-11-25
from the demo's 56 measured frames.
"""


def fit_counted(openness: FloatArray, area: FloatArray, mains: IntArray, crosses: IntArray) -> CountedLine:
    """The line through measured frames; LEARNED below eight, or if all have the same counts.

    openness: in the centre [F]
    area: of the head [F] in cm2
    mains: string count [F]
    crosses: string count [F]
    """
    x = np.log(mains * crosses)
    if len(x) < FEWEST_FRAMES or np.ptp(x) == 0.0:
        return LEARNED
    y = np.log(openness) - 0.5 * np.log(area)
    mean = float(x.mean())
    scatter = float(np.sum((x - mean) ** 2))
    slope = float(np.sum((x - mean) * y) / scatter)
    intercept = float(y.mean()) - slope * mean
    residual = float(np.sqrt(np.sum((y - intercept - slope * x) ** 2) / (len(x) - 2)))
    return CountedLine(intercept, slope, residual, len(x), mean, scatter)


def estimate_counted(line: CountedLine, area: FloatArray, mains: IntArray, crosses: IntArray) -> tuple[FloatArray, FloatArray]:
    """ln O_centre and its standard uncertainty [F], the predictive standard deviation with its t, and at least LEAST_COUNTED.

    line: the line through measured frames
    area: of the head [F] in cm2
    mains: string count [F]
    crosses: string count [F]
    """
    x = np.log(mains * crosses)
    value = line.intercept + line.slope * x + 0.5 * np.log(area)
    if line.frames == 0:
        return value, np.full(x.shape, line.residual)
    leverage = 1.0 / line.frames + (x - line.mean) ** 2 / line.scatter
    u = line.residual * np.sqrt(1.0 + leverage) * student_factor(np.array(line.frames - 2.0))
    return value, np.maximum(u, LEAST_COUNTED)
