"""Pull tension, the tension left in the bed, and the pull that gives one bed the stiffness of another. Plain numbers.

Two models give it. If strings do not stretch (`mechanics`), stiffness is proportional to tension when mains and crosses keep
their ratio, so the tension sought is the given one times the ratio of the two stiffnesses at it. If they stretch
(`stretching`), it depends on the strings and on how deep a ball presses them in. The relative loss after stringing is taken to
be equal in both beds. The answer lies in the middle of what the models give, and its ± covers them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from gapbook.science.comparison import COVERAGE_FACTOR, Figure

COMMON_N = (220.0, 270.0)
"""Pull tensions in common use [N] (Cross 2000, Sports Engineering 3, 111-122)."""
PULL_N = 245.0
"""Pull tension of both families at which stiffness is stated [N], the middle of those in common use."""
LOSS = 0.3
"""Part of the pull tension that is lost just after stringing (Cross & Bower 2001, Sports Engineering 4)."""
LEAST_N = 180.0
MOST_N = 300.0
"""Range of pull tensions that the models cover [N], wider than those in common use. Common practice, no source."""
BEYOND_SENSE_N = 1000.0
"""A pull above this [N] is a slip in writing: three to five times the usual one. Common practice, no source."""


class Pull(NamedTuple):
    """Pull tension of the mains [N], and of the crosses as a multiple of it."""

    mains: float
    ratio: float = 1.0

    @property
    def crosses(self) -> float:
        """Pull tension of the crosses [N]."""
        return self.mains * self.ratio


def in_bed(pull: float) -> float:
    """Tension in the bed [N] just after stringing at this pull tension [N]."""
    return pull * (1.0 - LOSS)


def within(pull: Pull) -> bool:
    """Whether the models cover the pulls of mains and crosses, judged in whole N as they are shown."""
    return all(LEAST_N <= round(newtons) <= MOST_N for newtons in (pull.mains, pull.crosses))


def matching(at: Pull, source: Figure, target: Figure, same: bool = False) -> Figure:
    """Pull tension of the target's mains [N] that gives it the source's stiffness, crosses at the same ratio, and its
    standard uncertainty, if strings do not stretch.

    at: pull tension of the source
    source: stiffness of the source at it [N/mm]
    target: stiffness of the target at it [N/mm]
    same: whether both are the same bed; if not, they are taken as independent
    """
    tension = at.mains * source.value / target.value
    relative = 0.0 if same else math.hypot(source.u / source.value, target.u / target.value)
    return Figure(tension, tension * relative)


def covering(models: Sequence[Figure]) -> Figure:
    """One tension for what several models give [N]: its ± at k = 2 reaches from the lowest end of their ± to the highest.

    Nobody knows which model is nearer to a bed, so they are not averaged.
    """
    least = min(one.value - COVERAGE_FACTOR * one.u for one in models)
    most = max(one.value + COVERAGE_FACTOR * one.u for one in models)
    return Figure((least + most) / 2.0, (most - least) / (2.0 * COVERAGE_FACTOR))


def interval(tension: Figure, ratio: float) -> tuple[float, float]:
    """Least and greatest pull of the mains [N] within k = 2 of `tension`, cut off at the range that the models cover.

    tension: pull of the mains [N], itself within the range as it is shown
    ratio: of the crosses' pull to the mains'; their pulls are cut off at the same limits
    """
    least, most = max(LEAST_N, LEAST_N / ratio), min(MOST_N, MOST_N / ratio)
    expanded = COVERAGE_FACTOR * tension.u
    return max(tension.value - expanded, min(least, tension.value)), min(tension.value + expanded, max(most, tension.value))
