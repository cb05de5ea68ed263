"""Marks as what they are, steps in order: the proportional-odds model beside the straight line.

The logarithm of the odds that a mark lies above a step changes by the same amount for each unit of the trait, whatever the
step. Each tester has their own baseline, drawn a little towards the middle (as if baselines had a standard deviation of
BASELINE logits), so that a tester who gives one mark only has one too.

References
----------
- McCullagh 1980, J. Royal Statistical Society B 42, 109-142: the proportional-odds model.
- MacKinnon, Nielsen & Webb 2023, J. Econometrics 232, 272-299: jackknife by groups; here in one step of Newton's method.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import expit

from gapbook.science.grouping import FloatArray, IntArray, distinct, sum_by
from gapbook.science.leaving_out import Interval, interval, two_way, variance
from gapbook.science.relation import Sample

BASELINE = 3.0
"""Standard deviation of testers' baselines that the model expects [logits]; common practice, no source."""
FEWEST_STEPS, MOST_STEPS = 3, 15
"""Different marks for which there is a model."""
MOST_TESTERS = 400
MANY = 1000
_ROUNDS, _SETTLED = 60, 1e-9
_LARGEST_STEP = 4.0


class Steps(NamedTuple):
    """The design of a sample.

    thresholds: how many there are between marks, L − 1
    step: marks as steps 0 to L − 1 [N]
    columns: those of the model, the trait first [N, K]
    scale: what the columns were divided by [K]
    penalty: on the square of each coefficient [K]
    """

    thresholds: int
    step: IntArray
    columns: FloatArray
    scale: FloatArray
    penalty: FloatArray


def ordinal(sample: Sample, confidence: float) -> Interval | None:
    """Change of the log odds of a higher mark for each unit of the trait, for frames and players like these. None if the marks
    are too few or too many different ones, or if the model does not settle.
    """
    levels = len(np.unique(sample.outcome))
    if not FEWEST_STEPS <= levels <= MOST_STEPS or len(np.unique(sample.tester)) > MOST_TESTERS:
        return None
    design = _design(sample, BASELINE)
    whole = fitted(design)
    if whole is None:
        return None
    slope = float(whole[design.thresholds] / design.scale[0])
    cell = distinct(sample.tester, sample.frame).number
    gradient, curvature = _derivatives(design, whole)
    parts = []
    for group in (sample.frame, sample.tester, cell):
        moved = _without(design, whole, gradient, curvature, group)
        parts.append(variance(slope, moved / design.scale[0]))
    return interval(slope, *two_way(*parts), confidence)


def _design(sample: Sample, baseline: float) -> Steps:
    step = np.unique(sample.outcome, return_inverse=True)[1]
    tester = distinct(sample.tester).number
    figures = np.column_stack([sample.trait, sample.given])
    figures = figures - figures.mean(axis=0)
    scale = np.sqrt((figures**2).mean(axis=0))
    scale = np.where(scale > 0.0, scale, 1.0)
    testers = (tester[:, None] == np.arange(1, int(tester.max()) + 1)[None, :]).astype(float)
    penalty = np.concatenate([np.full(figures.shape[1], 1e-6), np.full(testers.shape[1], baseline**-2)])
    columns = np.column_stack([figures / scale, testers])
    return Steps(int(step.max()), step.astype(np.int64), columns, np.concatenate([scale, np.ones(testers.shape[1])]), penalty)


def fitted(design: Steps) -> FloatArray | None:
    """Thresholds [L − 1] and coefficients [K] of greatest (penalised) likelihood, by Newton's method; None if it does not
    settle.
    """
    levels = design.thresholds + 1
    below = np.cumsum(np.bincount(design.step, minlength=levels))[:-1] / len(design.step)
    found = np.concatenate([np.log(below / (1.0 - below)), np.zeros(design.columns.shape[1])])
    value = _likelihood(design, found)
    for _ in range(_ROUNDS):
        gradient, curvature = _derivatives(design, found)
        move = np.linalg.solve(curvature, gradient)
        move *= min(1.0, _LARGEST_STEP / max(float(np.abs(move).max()), 1e-300))
        while (better := _likelihood(design, found + move)) < value - 1e-12 * abs(value) and np.abs(move).max() > _SETTLED:
            move = move / 2.0
        found, value = found + move, better
        if np.abs(move).max() < _SETTLED:
            return found
    return None


def _bounds(design: Steps, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The predictor at the upper and lower threshold of each row's step [N]; infinite at the ends."""
    thresholds = np.concatenate([[-np.inf], at[: design.thresholds], [np.inf]])
    eta = design.columns @ at[design.thresholds :]
    return thresholds[design.step + 1] - eta, thresholds[design.step] - eta


def _likelihood(design: Steps, at: FloatArray) -> float:
    upper, lower = _bounds(design, at)
    share = np.where(lower > 0.0, expit(-lower) - expit(-upper), expit(upper) - expit(lower))
    if (share <= 0.0).any():
        return -np.inf
    return float(np.log(share).sum() - 0.5 * design.penalty @ at[design.thresholds :] ** 2)


def _derivatives(design: Steps, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The gradient of the penalised log likelihood, and the negative of its matrix of second derivatives."""
    rows, blocks = _rows(design, at)
    first = design.thresholds
    whole = np.concatenate([np.zeros(first), design.penalty])
    return rows.sum(axis=0) - whole * at, _curved(design, blocks) + np.diag(whole)


def _rows(design: Steps, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The gradient of each row's log likelihood [N, P], and its second derivatives in the two bounds, negative: upper twice,
    both, lower twice [N, 3].
    """
    upper, lower = _bounds(design, at)
    high, low = expit(upper), expit(lower)
    share = np.maximum(np.where(lower > 0.0, expit(-lower) - expit(-upper), high - low), 1e-300)
    slope_high, slope_low = high * (1.0 - high), low * (1.0 - low)
    by_high, by_low = slope_high / share, -slope_low / share
    bent_high, bent_low = slope_high * (1.0 - 2.0 * high) / share, -slope_low * (1.0 - 2.0 * low) / share
    blocks = np.column_stack([by_high**2 - bent_high, by_high * by_low, by_low**2 - bent_low])
    rows = np.zeros((len(design.step), len(at)))
    first, number = design.thresholds, np.arange(len(design.step))
    ends = design.step < first
    rows[number[ends], design.step[ends]] += by_high[ends]
    starts = design.step > 0
    rows[number[starts], design.step[starts] - 1] += by_low[starts]
    rows[:, first:] = -(by_high + by_low)[:, None] * design.columns
    return rows, blocks


def _curved(design: Steps, blocks: FloatArray) -> FloatArray:
    """Sum over rows of a' D a, with a the two rows by which a row's bounds depend on the parameters [P, P]."""
    first = design.thresholds
    size = first + design.columns.shape[1]
    upper, lower = np.zeros((len(design.step), size)), np.zeros((len(design.step), size))
    number = np.arange(len(design.step))
    ends, starts = design.step < first, design.step > 0
    upper[number[ends], design.step[ends]] = 1.0
    lower[number[starts], design.step[starts] - 1] = 1.0
    upper[:, first:], lower[:, first:] = -design.columns, -design.columns
    crossed = upper.T @ (blocks[:, 1:2] * lower)
    return np.asarray(upper.T @ (blocks[:, 0:1] * upper) + crossed + crossed.T + lower.T @ (blocks[:, 2:3] * lower))


def _without(design: Steps, whole: FloatArray, gradient: FloatArray, curvature: FloatArray, group: IntArray) -> FloatArray:
    """The trait's coefficient without each group [G], by one step of Newton's method from the whole fit. Of more than MANY
    groups each is so small that the second derivatives without it are taken to be the whole ones.
    """
    rows, blocks = _rows(design, whole)
    first = design.thresholds
    number = distinct(group).number
    if (groups := int(number.max()) + 1) > MANY:
        return np.asarray(whole[first] + (gradient - sum_by(number, rows, groups)) @ np.linalg.inv(curvature)[:, first])
    order = np.argsort(group, kind="stable")
    cuts = np.flatnonzero(np.diff(group[order])) + 1
    moved = []
    for part in np.split(order, cuts):
        own = design._replace(step=design.step[part], columns=design.columns[part])
        rest = curvature - _curved(own, blocks[part])
        moved.append(whole[first] + np.linalg.solve(rest, gradient - rows[part].sum(axis=0))[first])
    return np.array(moved)
