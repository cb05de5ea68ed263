"""How an outcome is related to a trait among playtests: a slope with an interval that is valid with few frames.

Each tester has their own baseline (fixed effects). Playtests of one frame share what is particular to it, so the sampling
unit is the frame, not the playtest: the variance is that of the leave-one-frame-out jackknife (CR3), its quantile
Student's t with frames − 1 degrees of freedom.

References
----------
- Frisch & Waugh 1933, Econometrica 1, 387-401; Lovell 1963, J. Amer. Stat. Assoc. 58, 993-1010: partialling out.
- MacKinnon, Nielsen & Webb 2023, J. Econometrics 232, 272-299: cluster-robust inference, CR3 as a jackknife, t(G − 1).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.comparison import CONFIDENCE
from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.statistics import student_quantile, student_two_sided

FEWEST_FRAMES = 8
"""Frames below which no slope is given; FRAMES_A_COLUMN more for each column held constant."""
FRAMES_A_COLUMN = 2
FEWEST_TESTERS = 3
"""Testers below which no slope is given: fewer say something about themselves, not about players."""
_NOTHING = 1e-9
"""A residual with less than this part of a column's sum of squares counts as zero."""
_SINGULAR = 1e11


class Sample(NamedTuple):
    """Playtests [N].

    outcome: what the tester reported
    trait: the figure of the frame that it may be related to
    given: further columns held constant [N, K]; [N, 0] for none
    tester: number of the tester
    frame: number of the frame
    """

    outcome: FloatArray
    trait: FloatArray
    given: FloatArray
    tester: IntArray
    frame: IntArray


class Relation(NamedTuple):
    """Regression of an outcome on a trait; slopes are in units of the outcome per unit of the trait.

    slope: over all playtests
    u_slope: its standard uncertainty
    low: lower end of its interval
    high: upper end of its interval
    degrees: degrees of freedom of Student's t, frames - 1
    p: p-value of the slope
    partial_correlation: of the two residuals below
    frames: numbers of the frames, ascending [frames]
    without: the slope with each frame left out [frames]
    trait_left: residual of the trait after testers and the columns held constant [N]
    outcome_left: residual of the outcome, likewise [N]
    """

    slope: float
    u_slope: float
    low: float
    high: float
    degrees: int
    p: float
    partial_correlation: float
    frames: IntArray
    without: FloatArray
    trait_left: FloatArray
    outcome_left: FloatArray


class Shortfall(NamedTuple):
    """The reason why no slope is given."""

    reason: str


def relate(sample: Sample, confidence: float = CONFIDENCE) -> Relation | Shortfall:
    """Least squares of outcome on trait, with tester effects and the columns held constant, and its jackknife interval."""
    frames, testers = len(np.unique(sample.frame)), len(np.unique(sample.tester))
    if reason := _too_few(frames, testers, sample.given.shape[1]):
        return Shortfall(reason)
    if reason := _held_already(sample):
        return Shortfall(reason)
    held = within(sample.given, sample.tester)
    trait_left = residual(within(sample.trait[:, None], sample.tester), held)
    outcome_left = residual(within(sample.outcome[:, None], sample.tester), held)
    slope, correlation = _slope(trait_left, outcome_left)
    columns = within(np.column_stack([sample.trait, sample.given, sample.outcome]), sample.tester)
    numbers, without = leave_one_out(columns, sample.tester, sample.frame)
    if not np.isfinite(without).all():
        return Shortfall("it rests on one frame: without that frame the trait does not vary within testers")
    u = jackknife(slope, without)
    half = student_quantile(confidence, frames - 1) * u
    return Relation(
        slope=slope,
        u_slope=u,
        low=slope - half,
        high=slope + half,
        degrees=frames - 1,
        p=student_two_sided(slope, u, frames - 1),
        partial_correlation=correlation,
        frames=numbers,
        without=without,
        trait_left=trait_left,
        outcome_left=outcome_left,
    )


def _too_few(frames: int, testers: int, held: int) -> str | None:
    needed = FEWEST_FRAMES + FRAMES_A_COLUMN * held
    if frames < needed:
        return f"too few frames: {frames}, and at least {needed} are needed"
    if testers < FEWEST_TESTERS:
        return f"too few testers: {testers}, and at least {FEWEST_TESTERS} are needed"
    return None


def _held_already(sample: Sample) -> str | None:
    """The reason why trait, outcome or the columns held constant have no variation left to use, or None."""
    for name, column in (("trait", sample.trait), ("outcome", sample.outcome)):
        left = within(column[:, None], sample.tester)[:, 0]
        if _nothing_left(left, column - column.mean()):
            return f"the {name} does not vary within testers"
    held = within(sample.given, sample.tester)
    for number in range(held.shape[1]):
        given = sample.given[:, number]
        if _nothing_left(residual(held[:, [number]], held[:, :number]), given - given.mean()):
            return "what is held follows from the testers, or from itself"
    trait = within(sample.trait[:, None], sample.tester)
    if _nothing_left(residual(trait, held), trait[:, 0]):
        return "the trait follows from what is held"
    return None


def _nothing_left(left: FloatArray, whole: FloatArray) -> bool:
    return bool(left @ left <= _NOTHING * (whole @ whole))


def within(columns: FloatArray, tester: IntArray) -> FloatArray:
    """Columns [N, K] less their mean over each tester's playtests."""
    number = distinct(tester).number
    testers = int(number.max(initial=-1)) + 1
    return np.asarray(columns - (sum_by(number, columns, testers) / count_by(number, testers)[:, None])[number])


def residual(column: FloatArray, held: FloatArray) -> FloatArray:
    """Residual [N] of a column [N, 1] after least squares on the columns held constant [N, K]."""
    if not held.shape[1]:
        return np.asarray(column[:, 0])
    scaled = held / np.sqrt((held**2).sum(axis=0))
    return np.asarray(column[:, 0] - scaled @ np.linalg.lstsq(scaled, column[:, 0])[0])


def _slope(trait_left: FloatArray, outcome_left: FloatArray) -> tuple[float, float]:
    """Slope and partial correlation of the two residuals (Frisch, Waugh, Lovell)."""
    product, square = trait_left @ outcome_left, trait_left @ trait_left
    size = np.sqrt(square * (outcome_left @ outcome_left))
    return float(product / square), float(product / size) if size > 0.0 else 0.0


def leave_one_out(columns: FloatArray, tester: IntArray, frame: IntArray) -> tuple[IntArray, FloatArray]:
    """Frame numbers, and the slope of the last of `columns` on the first without each frame [frames]; NaN if there
    is none. columns [N, K]: within testers.

    Exact, and without refitting: the cross products without a frame are the whole ones less those of the frame, less the
    change due to the new means of its testers.
    """
    scale = np.sqrt((columns**2).mean(axis=0))
    scaled = columns / np.where(scale > 0.0, scale, 1.0)
    numbers, of_frame = np.unique(frame, return_inverse=True)
    of_tester = distinct(tester).number
    cell = distinct(of_tester, of_frame)
    sums = sum_by(cell.number, scaled, len(cell.first))
    rest = count_by(of_tester, int(of_tester.max()) + 1)[of_tester[cell.first]] - count_by(cell.number, len(cell.first))
    shared = rest > 0  # a tester who played this frame only is left out with it
    moved = sums[shared][:, :, None] * sums[shared][:, None, :] / rest[shared][:, None, None]
    of_each_frame = sum_by(of_frame, scaled[:, :, None] * scaled[:, None, :], len(numbers))
    of_each_frame += sum_by(of_frame[cell.first][shared], moved, len(numbers))
    products = scaled.T @ scaled - of_each_frame
    slopes = _solved(products[:, :-1, :-1], products[:, :-1, -1])
    return numbers, slopes * (scale[-1] / scale[0])


def _solved(left: FloatArray, right: FloatArray) -> FloatArray:
    """The first unknown of each of many small sets of equations; NaN if a set has no unique solution."""
    diagonal = np.sqrt(np.clip(np.diagonal(left, axis1=1, axis2=2), 0.0, None))
    sound = (diagonal > np.sqrt(_NOTHING) * np.sqrt(np.abs(left).max(initial=0.0))).all(axis=1)
    sound[sound] = np.linalg.cond(left[sound] / (diagonal[sound][:, :, None] * diagonal[sound][:, None, :])) < _SINGULAR
    first = np.full(len(left), np.nan)
    if sound.any():
        first[sound] = np.linalg.solve(left[sound], right[sound][:, :, None])[:, 0, 0]
    return first


def jackknife(slope: float, without: FloatArray) -> float:
    """Standard uncertainty from the slopes without each frame [G], about the whole slope: √((G−1)/G Σ(b − b₋g)²)."""
    count = len(without)
    return float(np.sqrt((count - 1) / count * ((without - slope) ** 2).sum()))


def indicators(codes: IntArray) -> FloatArray:
    """A column of 0 and 1 for each level of a categorical variable's codes [N] but the first: [N, levels − 1]."""
    levels = np.unique(codes)
    return np.asarray((codes[:, None] == levels[None, 1:]).astype(float))
