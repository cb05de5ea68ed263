"""Planning playtests: what power a layout of frames, testers and playtests has, and who plays which copy when.

References
----------
- Satterthwaite 1946, Biometrics Bulletin 2, 110-114; the power of Student's t by its noncentral distribution.
- Fisher 1935, The Design of Experiments: randomisation, and blocks in which everybody plays equally often.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.special import nctdtr, stdtrit

from gapbook.science.grouping import FloatArray, IntArray, distinct
from gapbook.science.leaving_out import two_ways
from gapbook.science.relation import FEWEST_FRAMES, Relation, Sample, within

SIMULATED = 400
"""Trials that are simulated of a layout."""
MOST_PLAYTESTS = 4000
TESTERS = (3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 32)
"""Numbers of testers that are looked at."""
TRIED = 40
"""Layouts that are simulated for a number of testers, each with STEP times the playtests of the one before."""
STEP = 1.02
MOST_TESTERS = 200
"""Testers that a layout may be asked for."""
_NEVER = 1e6


class Spreads(NamedTuple):
    """What makes outcomes differ beside the trait [outcome unit; slopes per unit of the trait].

    noise: standard deviation of one playtest
    frames: between frames, for other reasons than the trait
    slopes: of slopes between testers
    """

    noise: float
    frames: float
    slopes: float


class Layout(NamedTuple):
    """So many frames and testers, and so many playtests of each tester, each of another frame."""

    frames: int
    testers: int
    each: int

    @property
    def playtests(self) -> int:
        """All playtests."""
        return self.testers * self.each


def spreads(sample: Sample, found: Relation) -> Spreads:
    """The spreads that a package's own playtests show: variance components of the residuals about each tester's own line, by
    frame (analysis of variance of one way with unequal groups), and of slopes by tester.
    """
    tester = distinct(sample.tester).number
    squares = np.bincount(tester, weights=found.trait_left**2)
    own = np.bincount(tester, weights=found.trait_left * found.outcome_left) / np.where(squares > 0.0, squares, 1.0)
    residual = found.outcome_left - own[tester] * found.trait_left
    number = distinct(sample.frame).number
    count = np.bincount(number).astype(float)
    mean = np.bincount(number, weights=residual) / count
    groups, rows = len(count), len(residual)
    taken = 2 * len(squares) + sample.given.shape[1]
    inside = float(((residual - mean[number]) ** 2).sum()) / max(rows - groups - taken, 1)
    between = float((count * mean**2).sum()) / (groups - 1)
    usual = (rows - (count**2).sum() / rows) / (groups - 1)
    return Spreads(np.sqrt(inside), np.sqrt(max(between - inside, 0.0) / usual), found.between.deviation)


def expected_power(layout: Layout, effect: float, told: Spreads, deviation: float, confidence: float) -> float:
    """About the power of a layout, without simulation.

    layout: how many of what
    effect: the slope to be seen
    told: what else makes outcomes differ
    deviation: standard deviation of the trait over the frames
    confidence: of the interval that must leave out zero
    """
    frames = (told.frames / deviation) ** 2 / layout.frames
    noise = (told.noise / deviation) ** 2 / (layout.playtests - layout.testers)  # each tester's baseline takes one
    testers = told.slopes**2 / layout.testers
    whole = frames + noise + testers
    parts = (frames + noise) ** 2 / (layout.frames - 1) + (testers + noise) ** 2 / (layout.testers - 1)
    degrees = max(whole**2 / parts, min(layout.frames, layout.testers) - 1.0) if parts > 0.0 else np.inf
    bound = float(stdtrit(min(degrees, 1e6), 0.5 + confidence / 2.0))
    return 1.0 - float(nctdtr(min(degrees, 1e6), abs(effect) / np.sqrt(whole), bound)) if whole > 0.0 else 1.0


def simulated_power(layout: Layout, effect: float, told: Spreads, trait: FloatArray, confidence: float, seed: int) -> float:
    """The part of simulated trials of a layout in which the interval of `relate` leaves out zero on the right side.

    layout: how many of what
    effect: the slope to be seen
    told: what else makes outcomes differ
    trait: of the frames [layout.frames]
    confidence: of the interval
    seed: of the random numbers
    """
    rng = np.random.default_rng(seed)
    rounds = schedule(layout, rng)
    tester, frame = np.nonzero(rounds >= 0)[0], rounds[rounds >= 0]
    x = trait[frame] - trait.mean()
    outcome = effect * x[:, None] + told.noise * rng.standard_normal((len(x), SIMULATED))
    outcome += told.frames * rng.standard_normal((layout.frames, SIMULATED))[frame]
    outcome += x[:, None] * told.slopes * rng.standard_normal((layout.testers, SIMULATED))[tester]
    weights = _weights(x, tester, np.ones(len(x), dtype=bool))
    slope = weights @ outcome
    variances = []
    for group in (frame, tester, np.arange(len(x))):  # nobody plays a frame twice, so that a cell is a playtest
        groups = np.unique(group)
        rows = np.array([_weights(x, tester, group != one) for one in groups])
        variances.append((len(groups) - 1) / len(groups) * ((rows @ outcome - slope) ** 2).sum(axis=0))
    u, degrees = two_ways(variances[0], variances[1], variances[2], layout.frames, layout.testers)
    low = np.sign(effect) * slope - stdtrit(degrees, 0.5 + confidence / 2.0) * u
    return float((low > 0.0).mean())


def _weights(x: FloatArray, tester: IntArray, kept: np.ndarray) -> FloatArray:
    """What each playtest's outcome counts in the slope over those that are kept [N]."""
    left = np.zeros(len(x))
    left[kept] = within(x[kept][:, None], tester[kept])[:, 0]
    return np.asarray(left / (left @ left))


class Planned(NamedTuple):
    """A layout and its simulated power."""

    layout: Layout
    power: float


class Wanted(NamedTuple):
    """What a layout must have; None for any."""

    frames: int | None = None
    testers: int | None = None
    each: int | None = None


def layouts(
    effect: float,
    told: Spreads,
    trait: FloatArray,
    confidence: float,
    power: float,
    seed: int,
    wanted: Wanted = Wanted(),  # noqa: B008 (it is immutable)
) -> list[Planned]:
    """For each number of testers the layout with the fewest playtests that has the power wanted, of 8 frames at least; those
    with the fewest playtests first. Empty if none has.

    effect: the slope to be seen
    told: what else makes outcomes differ
    trait: of the frames there are [F]
    confidence: of the interval
    power: the power wanted
    seed: of the simulation
    wanted: what the layouts must have
    """
    counts = range(FEWEST_FRAMES, len(trait) + 1) if wanted.frames is None else (wanted.frames,)
    traits = {count: trait[spread_out(trait, count)] for count in counts}
    made = []
    for testers in TESTERS if wanted.testers is None else (wanted.testers,):
        tried, last = 0, 0.0
        for one in _by_size(counts, testers, wanted.each):
            if tried == TRIED:
                break
            frames = traits[one.frames]
            if one.playtests < STEP * last or expected_power(one, effect, told, float(frames.std()), confidence) < power:
                continue
            tried, last = tried + 1, one.playtests
            if (found := simulated_power(one, effect, told, frames, confidence, seed)) >= power:
                made.append(Planned(one, found))
                break
    return sorted(made, key=lambda one: (one.layout.playtests, one.layout.frames + one.layout.testers))


def _by_size(counts: Iterable[int], testers: int, each: int | None) -> list[Layout]:
    """The layouts that there are, those with the fewest playtests first: every frame is played twice at least."""
    made = [Layout(count, testers, own) for count in counts for own in (range(4, count + 1) if each is None else (each,))]
    fit = (one for one in made if one.each <= one.frames and 2 * one.frames <= one.playtests <= MOST_PLAYTESTS)
    return sorted(fit, key=lambda one: (one.playtests, one.frames))


def schedule(layout: Layout, rng: np.random.Generator) -> IntArray:
    """Which copy each tester plays in each round [testers, rounds], at random: nobody plays a copy twice, all copies are played
    equally often (to within one), and in a round a copy is with as few testers as can be.
    """
    made = np.full((layout.testers, layout.each), -1, dtype=np.int64)
    played, pairs = np.zeros(layout.frames), np.zeros((layout.testers, layout.frames), dtype=bool)
    turns = -(-layout.testers // layout.frames)
    for number in range(layout.each):
        cost = np.where(pairs, _NEVER, 2.0 * played[None, :] + rng.random(pairs.shape))
        again = np.concatenate([cost + 1000.0 * turn for turn in range(turns)], axis=1)
        tester, chosen = linear_sum_assignment(again)
        copy = chosen % layout.frames
        made[tester, number] = copy
        np.add.at(played, copy, 1.0)
        pairs[tester, copy] = True
    return made


def spread_out(trait: FloatArray, count: int) -> IntArray:
    """`count` of the frames, whose traits lie about as far apart as can be: evenly over the order of their traits, ends
    included [count].
    """
    order = np.argsort(trait, kind="stable")
    return np.asarray(order[np.round(np.linspace(0, len(trait) - 1, count)).astype(int)])
