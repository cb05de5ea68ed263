"""Pull tension, the tension left in the bed, and the pull that gives one bed the stiffness of another. Plain numbers.

Stiffness is proportional to tension when mains and crosses keep their ratio, so the tension sought is the given one times
the ratio of the two stiffnesses at it. The relative loss after stringing is taken to be equal in both, and cancels.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from gapbook.science.comparison import Figure

PULL_N = 245.0
"""Pull tension of both families at which stiffness is stated [N]; 220 to 270 N are in common use (Cross 2000, Sports
Engineering 3, 111-122)."""
LOSS = 0.3
"""Part of the pull tension that is lost just after stringing (Cross & Bower 2001, Sports Engineering 4)."""
LEAST_N = 180.0
MOST_N = 300.0
"""Range of pull tensions that this model covers [N]. Common practice, no source; 220 to 270 N are in common use (Cross
2000, Sports Engineering 3, 111-122)."""
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
    """Whether this model covers the pulls of mains and crosses, judged in whole N as they are shown."""
    return all(LEAST_N <= round(newtons) <= MOST_N for newtons in (pull.mains, pull.crosses))


def matching(at: Pull, source: Figure, target: Figure, same: bool = False) -> Figure:
    """Pull tension of the target's mains [N] that gives it the source's stiffness, crosses at the same ratio, and its
    standard uncertainty.

    at: pull tension of the source
    source: stiffness of the source at it [N/mm]
    target: stiffness of the target at it [N/mm]
    same: whether both are the same bed; if not, they are taken as independent
    """
    tension = at.mains * source.value / target.value
    relative = 0.0 if same else math.hypot(source.u / source.value, target.u / target.value)
    return Figure(tension, tension * relative)
