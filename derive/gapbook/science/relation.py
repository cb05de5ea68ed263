"""How an outcome is related to a trait among playtests: a slope with an interval that is valid with few frames and testers.

Each tester has their own baseline (fixed effects). The interval is for frames and players like those of the sample
(`leaving_out.py`); a narrower one, which is about these testers alone, counts frames only.

References
----------
- Frisch & Waugh 1933, Econometrica 1, 387-401; Lovell 1963, J. Amer. Stat. Assoc. 58, 993-1010: partialling out.
- Fuller 1987, Measurement Error Models, 1.1 and 1.2: a slope flattened by the trait's own error, and its correction.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.comparison import CONFIDENCE
from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.leaving_out import NOTHING, Interval, Variance, Without, interval, jackknife, two_way, variance, without
from gapbook.science.statistics import beyond_f

FEWEST_FRAMES = 8
"""Frames below which no slope is given; FRAMES_A_COLUMN more for each column held constant."""
FRAMES_A_COLUMN = 2
FEWEST_TESTERS = 3
"""Testers below which no slope is given: fewer say something about themselves, not about players."""
LEAST_RELIABILITY = 0.5
"""A slope is corrected for the trait's own error if that error is less than this part of what varies of the trait."""


class Sample(NamedTuple):
    """Playtests [N].

    outcome: what the tester reported
    trait: the figure of the frame that it may be related to
    given: further columns held constant [N, K]; [N, 0] for none
    tester: number of the tester
    frame: number of the frame
    u_trait: standard uncertainty of the trait, the same error in all playtests of a specimen; None if it is not known
    specimen: number of the specimen; None if that is the frame
    """

    outcome: FloatArray
    trait: FloatArray
    given: FloatArray
    tester: IntArray
    frame: IntArray
    u_trait: FloatArray | None = None
    specimen: IntArray | None = None


class Between(NamedTuple):
    """How much slopes differ between testers: their standard deviation, and the p-value of no difference."""

    deviation: float
    p: float


class Relation(NamedTuple):
    """Regression of an outcome on a trait; slopes are in units of the outcome per unit of the trait.

    players: the slope over all playtests, for frames and players like these
    testers: the same slope, for these testers alone
    corrected: the slope corrected for the trait's own uncertainty, for players like these; None if there is none
    between: how much slopes differ between testers
    curvature: p-value of a square of the trait beside it; None if there are too few frames for one more column
    partial_correlation: of the two residuals below
    frames: what is found without each frame
    without_tester: what is found without each tester
    trait_left: residual of the trait after testers and the columns held constant [N]
    outcome_left: residual of the outcome, likewise [N]
    """

    players: Interval
    testers: Interval
    corrected: Interval | None
    between: Between
    curvature: float | None
    partial_correlation: float
    frames: Without
    without_tester: Without
    trait_left: FloatArray
    outcome_left: FloatArray

    @property
    def slope(self) -> float:
        """The slope over all playtests."""
        return self.players.slope


class Shortfall(NamedTuple):
    """The reason why no slope is given."""

    reason: str


def relate(sample: Sample, confidence: float = CONFIDENCE) -> Relation | Shortfall:
    """Least squares of outcome on trait, with tester effects and the columns held constant, and its jackknife intervals."""
    frames, testers = len(np.unique(sample.frame)), len(np.unique(sample.tester))
    if reason := _too_few(frames, testers, sample.given.shape[1]):
        return Shortfall(reason)
    if reason := _held_already(sample):
        return Shortfall(reason)
    held = within(sample.given, sample.tester)
    trait_left = residual(within(sample.trait[:, None], sample.tester), held)
    outcome_left = residual(within(sample.outcome[:, None], sample.tester), held)
    slope, correlation = _slope(trait_left, outcome_left)
    left_out = _left_out(sample)
    for found, what in zip(left_out, ("frame", "tester"), strict=False):
        if not np.isfinite(found.slopes).all():
            return Shortfall(f"it rests on one {what}: without that {what} the trait does not vary within testers")
    parts = [variance(slope, found.slopes) for found in left_out]
    return Relation(
        players=interval(slope, *two_way(*parts), confidence),
        testers=interval(slope, jackknife(slope, left_out[0].slopes), frames - 1, confidence),
        corrected=_corrected(sample, slope, trait_left, left_out, confidence),
        between=_between(sample.tester, trait_left, parts[1], parts[2]),
        curvature=_curvature(sample),
        partial_correlation=correlation,
        frames=left_out[0],
        without_tester=left_out[1],
        trait_left=trait_left,
        outcome_left=outcome_left,
    )


def _left_out(sample: Sample) -> list[Without]:
    """What is found without each frame, without each tester, and without each cell of both."""
    columns = within(np.column_stack([sample.trait, sample.given, sample.outcome]), sample.tester)
    cell = distinct(sample.tester, sample.frame).number
    return [without(columns, sample.tester, group) for group in (sample.frame, sample.tester, cell)]


def error_squares(sample: Sample) -> FloatArray | None:
    """How much of the trait's sum of squares, after testers and the columns held, is expected to be its own error, by playtest
    [N]. All playtests of a specimen have the same error. None if the uncertainty is not known.
    """
    if sample.u_trait is None or not np.isfinite(sample.u_trait).all():
        return None
    specimen = sample.frame if sample.specimen is None else sample.specimen
    cell, tester, copy = distinct(sample.tester, specimen), distinct(sample.tester), distinct(specimen)
    played = count_by(cell.number, len(cell.first))[cell.number] / count_by(tester.number, len(tester.first))[tester.number]
    share = 1.0 - played
    if sample.given.shape[1]:
        basis = np.linalg.qr(within(sample.given, sample.tester) / np.sqrt((sample.given**2).sum(axis=0)))[0]
        share = share - (sum_by(copy.number, basis, len(copy.first))[copy.number] * basis).sum(axis=1)
    return np.asarray(sample.u_trait**2 * share)


def _corrected(
    sample: Sample, slope: float, trait_left: FloatArray, left_out: list[Without], confidence: float
) -> Interval | None:
    """The slope over the trait's reliability, jackknifed whole: slope and reliability without each group."""
    error = error_squares(sample)
    if error is None:
        return None
    reliability = 1.0 - error.sum() / (trait_left @ trait_left)
    if reliability < LEAST_RELIABILITY:
        return None
    cell = distinct(sample.tester, sample.frame).number
    parts = []
    for group, found in zip((sample.frame, sample.tester, cell), left_out, strict=True):
        of_group = np.unique(group, return_inverse=True)[1]
        rest = error.sum() - sum_by(of_group.astype(np.int64), error, len(found.numbers))
        parts.append(variance(slope / reliability, found.slopes / np.maximum(1.0 - rest / found.left, NOTHING)))
    return interval(slope / reliability, *two_way(*parts), confidence)


def _between(tester: IntArray, trait_left: FloatArray, testers: Variance, cells: Variance) -> Between:
    """Spread of slopes between testers: what leaving testers out shows beyond leaving cells out. A tester counts in the slope
    by their part of the trait's sum of squares.
    """
    number = distinct(tester).number
    squares = sum_by(number, trait_left**2, int(number.max()) + 1)
    weight = float(((squares / squares.sum()) ** 2).sum())
    freedom = testers.groups - 1
    p = beyond_f(testers.value / cells.value, freedom, cells.groups - freedom) if cells.value > 0.0 else 1.0
    return Between(float(np.sqrt(max(testers.value - cells.value, 0.0) / weight)), p)


def _curvature(sample: Sample) -> float | None:
    """The p-value of the square of the trait about its mean, with the trait held, for players like these."""
    square = (sample.trait - sample.trait.mean()) ** 2
    bent = sample._replace(trait=square, given=np.column_stack([sample.trait, sample.given]))
    frames, testers = len(np.unique(sample.frame)), len(np.unique(sample.tester))
    if _too_few(frames, testers, bent.given.shape[1]) or _held_already(bent):
        return None
    held = within(bent.given, bent.tester)
    left, outcome = (residual(within(one[:, None], bent.tester), held) for one in (bent.trait, bent.outcome))
    slope = _slope(left, outcome)[0]
    left_out = _left_out(bent)
    if not all(np.isfinite(found.slopes).all() for found in left_out[:2]):
        return None
    return interval(slope, *two_way(*[variance(slope, found.slopes) for found in left_out]), CONFIDENCE).p


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
    return bool(left @ left <= NOTHING * (whole @ whole))


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


def indicators(codes: IntArray) -> FloatArray:
    """A column of 0 and 1 for each level of a categorical variable's codes [N] but the first: [N, levels − 1]."""
    levels = np.unique(codes)
    return np.asarray((codes[:, None] == levels[None, 1:]).astype(float))
