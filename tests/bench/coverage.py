"""How often the interval of `relate` holds the truth, in eight kinds of packages: few and many frames, one frame with most
playtests, testers whose slopes differ, a noisy trait, marks. Playtests are invented as arrays, and science alone is run.

`python -m bench.coverage --sets N [--write]` prints a table, and writes it between its marks in DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
from functools import cache
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from bench.calibration import write
from gapbook.science.relation import Relation, Sample, relate, within

MARKS = ("<!-- coverage -->", "<!-- /coverage -->")
SETS = 500
EFFECT = 0.1
"""The true slope, for players at large."""
COPIES = 1.2
"""Copies of a frame, in the mean."""
FRAME_SD, COPY_SD = 8.0, 1.0
"""Standard deviation of the trait between frames, and between copies of one."""
OWN_SD, NOISE_SD = 0.2, 0.6
"""Standard deviation of the outcome between frames for other reasons than the trait, and of one playtest."""


class Kind(NamedTuple):
    """A kind of package.

    frames: how many
    testers: how many
    playtests: how many
    slopes: standard deviation of slopes between testers
    most: whether one copy has half of the playtests
    u: standard uncertainty of the trait
    marks: whether the outcome is a mark from -3 to 3
    """

    frames: int
    testers: int
    playtests: int
    slopes: float = 0.0
    most: bool = False
    u: float = 0.0
    marks: bool = False


KINDS = {
    "few frames": Kind(12, 12, 144),
    "many frames": Kind(150, 24, 1200),
    "one frame with half of the playtests": Kind(30, 8, 300, most=True),
    "slopes differ by 0.05 between 4 testers": Kind(56, 4, 432, slopes=0.05),
    "slopes differ by 0.05 between 12 testers": Kind(56, 12, 432, slopes=0.05),
    "a trait with u of 5 (its corrected slope)": Kind(56, 12, 432, u=5.0),
    "marks from -3 to 3": Kind(56, 12, 432, marks=True),
    "9 frames, 3 testers whose slopes differ by 0.05": Kind(9, 3, 81, slopes=0.05),
}


class Drawn(NamedTuple):
    """Playtests of a package of known truth.

    sample: as it is read
    true: the trait without its error [N]
    mean: of the outcome, over frames and playtests [N]
    """

    sample: Sample
    true: np.ndarray
    mean: np.ndarray


def drawn(kind: Kind, rng: np.random.Generator) -> Drawn:
    """A package of this kind."""
    copies = int(kind.frames * COPIES)
    frame_of = np.concatenate([np.arange(kind.frames), rng.integers(0, kind.frames, copies - kind.frames)])
    true = FRAME_SD * rng.standard_normal(kind.frames)[frame_of] + COPY_SD * rng.standard_normal(copies)
    rounds = [rng.permutation(copies) for _ in range(kind.playtests // copies + 1)]
    copy = np.concatenate(rounds)[: kind.playtests]
    if kind.most:
        copy = np.where(rng.random(kind.playtests) < 0.5, 0, copy)
    tester = rng.permutation(np.arange(kind.playtests) % kind.testers)
    slope = EFFECT + kind.slopes * rng.standard_normal(kind.testers)
    mean = rng.standard_normal(kind.testers)[tester] + slope[tester] * true[copy]
    own = OWN_SD * rng.standard_normal(kind.frames)[frame_of[copy]]
    outcome = mean + own + NOISE_SD * rng.standard_normal(kind.playtests)
    if kind.marks:
        outcome = np.clip(np.rint(outcome), -3, 3)
    read = true + kind.u * rng.standard_normal(copies)
    held = np.zeros((kind.playtests, 0))
    sample = Sample(outcome, read[copy], held, tester, frame_of[copy], np.full(kind.playtests, kind.u), copy)
    return Drawn(sample, true[copy], mean)


@cache
def truth(kind: Kind) -> float:
    """The slope for frames and players at large. Of marks, that of a straight line through what is expected of 20,000 frames
    and 2,000 testers.
    """
    if not kind.marks:
        return EFFECT
    whole = drawn(kind._replace(frames=20_000, testers=2_000, playtests=200_000), np.random.default_rng(1))
    x, y = within(np.column_stack([whole.true, _expected_mark(whole.mean)]), whole.sample.tester).T
    return float(x @ y / (x @ x))


def _expected_mark(mean: np.ndarray) -> np.ndarray:
    """The mean of a mark over frames and playtests, whose figure before rounding is normal: -3 and the chances to pass each
    step.
    """
    steps = np.arange(-2.5, 3.0)
    return np.asarray(-3.0 + ndtr((mean[:, None] - steps) / np.hypot(OWN_SD, NOISE_SD)).sum(axis=1))


class Held(NamedTuple):
    """Of so many packages: how many intervals hold the truth, how many of those for these testers alone do, and how wide the
    first are in the mean.
    """

    packages: int
    players: int
    testers: int
    width: float


def held(kind: Kind, sets: int, seed: int) -> Held:
    """How often the intervals of so many packages hold the truth."""
    rng, true = np.random.default_rng(seed), truth(kind)
    players, testers, width = 0, 0, 0.0
    for _ in range(sets):
        found = relate(drawn(kind, rng).sample)
        assert isinstance(found, Relation)
        one = found.corrected if kind.u else found.players
        assert one is not None
        players += bool(one.low <= true <= one.high)
        testers += bool(found.testers.low <= true <= found.testers.high)
        width += float(one.high - one.low)
    return Held(sets, players, testers, width / sets)


def table(sets: int, seed: int = 7) -> str:
    """The table, as Markdown."""
    lines = [
        f"`python -m tests.bench --coverage {sets}` (seed {seed}): {sets:,} packages of each kind. The true slope",
        f"is {EFFECT:g} (of marks, the slope of the mean mark over frames and players at large).",
        "",
        "| packages | frames, testers, playtests | holds the truth | mean width | counting frames only |",
        "| --- | --- | --- | --- | --- |",
    ]
    for name, kind in KINDS.items():
        one = held(kind, sets, seed)
        size = f"{kind.frames}, {kind.testers}, {kind.playtests:,}"
        shares = [f"{100 * number / sets:.1f} %" for number in (one.players, one.testers)]
        lines.append(f"| {name} | {size} | {shares[0]} | {one.width:.3f} | {shares[1]} |")
    return "\n".join(lines)


def main() -> None:
    """Print the table, and write it if asked."""
    parser = argparse.ArgumentParser(prog="python -m bench.coverage", description=__doc__)
    parser.add_argument("--sets", type=int, default=SETS, help="packages of each kind")
    parser.add_argument("--write", action="store_true", help="write the table into DEVELOPERS.md")
    given = parser.parse_args()
    text = table(given.sets)
    print(text)
    if given.write:
        write(text, marks=MARKS)


if __name__ == "__main__":
    main()
