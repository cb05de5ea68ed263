"""How far the mains give way sideways in the centre of a bed, between two bounds: crosses that let them slide, and crosses that
hold them.

The load of `mechanics` acts along the crosses instead of into the bed. Small deflections, in the bed's plane: a main of tension
T resists like a string bent sideways, T/ℓ in each segment. If crossings slide freely nothing else does. If they are locked, a
main takes the crosses along, which stretch: EA/ℓ in each of their segments. The true give lies between; how near to which
depends on friction, which geometry does not tell.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.cable_net import PatternStrings, deflections, net_of, springs
from gapbook.science.grouping import FloatArray
from gapbook.science.mechanics import ZONE_POINTS, patch
from gapbook.science.stretching import STIFFNESS_N
from gapbook.science.tension import PULL_N, in_bed

SLIDING = 1e-9
"""A cross that lets mains slide, as a part of their tension: next to nothing, so that the matrix stays definite."""


class Give(NamedTuple):
    """Sideways give of the mains in the centre [B] in mm/N; NaN if no crossing lies under the load.

    locked: if crossings hold, with the stiffest strings of STIFFNESS_N: the least
    free: if crossings slide: the greatest
    """

    locked: FloatArray
    free: FloatArray


def lateral_give(strings: PatternStrings, pull: float = PULL_N) -> Give:
    """The two bounds for beds of one pattern.

    strings: the beds
    pull: pull tension of the mains [N]
    """
    net = net_of(strings)
    load = patch(net, ZONE_POINTS[:1])
    tension = in_bed(pull)
    found = []
    for across in (max(STIFFNESS_N), SLIDING * tension):
        moved = deflections(springs(net, tension, across), load.shared)
        give = np.einsum("bpcm,bpcm->b", load.shared, moved)
        found.append(np.where(load.total[:, 0] > 0.0, give, np.nan))
    return Give(*found)
