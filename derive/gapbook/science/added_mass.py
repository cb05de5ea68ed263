"""The effect of added weight on mass, balance, swingweight and moments of inertia of a frame.

Sums over point masses and evenly spread ones (an even strip of length l has m·l²/12 about its middle), and the parallel-axis
theorem. Places are from the butt in mm, masses in g, inertias in kg·cm². Added masses and places are taken as exact.
Plain numbers in, plain numbers out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from gapbook.science.comparison import Figure
from gapbook.science.mass_properties import AXIS_MM, KG_CM2, POINT_MM


class Added(NamedTuple):
    """A mass [g] spread evenly from `start` to `end` [mm from the butt]; at a point if the two are the same."""

    mass: float
    start: float
    end: float

    @property
    def middle(self) -> float:
        """Its balance point [mm from the butt]."""
        return (self.start + self.end) / 2.0

    def inertia(self, axis: float) -> float:
        """Its moment of inertia [kg.cm2] about an axis `axis` mm from the butt."""
        return self.mass * ((self.middle - axis) ** 2 + (self.end - self.start) ** 2 / 12.0) * KG_CM2


class Handling(NamedTuple):
    """Handling of a frame, each figure with its standard uncertainty; None if it is not known.

    mass: [g]
    balance: from the butt [mm]
    points: balance from the middle of the frame, head heavy above 0 [points]
    swingweight: about 10 cm from the butt [kg.cm2]
    inertia_centre: moment of inertia about the balance point [kg.cm2]
    inertia_butt: moment of inertia about the butt [kg.cm2]
    percussion: centre of percussion, from the butt [mm]
    """

    mass: Figure | None
    balance: Figure | None
    points: Figure | None
    swingweight: Figure | None
    inertia_centre: Figure | None
    inertia_butt: Figure | None
    percussion: Figure | None


def with_additions(before: Handling, added: Sequence[Added]) -> Handling:
    """The frame with all of `added` on it; a figure is None if one that it needs is not known.

    u is propagated linearly from mass, balance and swingweight taken as independent (JCGM 100:2008, 5.1.2). The stated u of an
    inertia, or of the centre of percussion, may differ from that, because figures converted from unstrung frames share the
    string bed's mass. So only the change of the variance is computed in this way, and added to the stated variance.
    """
    more = math.fsum(one.mass for one in added)
    mass = None if before.mass is None else Figure(before.mass.value + more, before.mass.u)
    swing = before.swingweight
    if swing is not None:
        swing = Figure(swing.value + math.fsum(one.inertia(AXIS_MM) for one in added), swing.u)
    if before.mass is None or before.balance is None or mass is None:
        return Handling(mass, None, None, swing, None, None, None)
    balance = _balance(before.mass, before.balance, added)
    points = None
    if before.points is not None:
        moved = (balance.value - before.balance.value) / POINT_MM
        points = Figure(before.points.value + moved, balance.u / POINT_MM)
    about_centre, about_butt = (_inertia(before, added, at_butt) for at_butt in (False, True))
    return Handling(mass, balance, points, swing, about_centre, about_butt, _percussion(before, added))


def _balance(mass: Figure, balance: Figure, added: Sequence[Added]) -> Figure:
    total = mass.value + math.fsum(one.mass for one in added)
    value = (mass.value * balance.value + math.fsum(one.mass * one.middle for one in added)) / total
    return Figure(value, math.hypot(mass.value / total * balance.u, (balance.value - value) / total * mass.u))


def _inertia(before: Handling, added: Sequence[Added], at_butt: bool) -> Figure | None:
    """Inertia about the butt, or about the new balance point."""
    stated = before.inertia_butt if at_butt else before.inertia_centre
    if stated is None or before.mass is None or before.balance is None or before.swingweight is None:
        return None
    mass, balance = before.mass, before.balance
    if at_butt:
        value = stated.value + math.fsum(one.inertia(0.0) for one in added)
    else:
        new = _balance(mass, balance, added).value
        parallel_axis = mass.value * (balance.value - new) ** 2 * KG_CM2
        value = stated.value + parallel_axis + math.fsum(one.inertia(new) for one in added)
    known = _variance(mass, balance, before.swingweight, [], at_butt)
    variance = stated.u**2 + _variance(mass, balance, before.swingweight, added, at_butt) - known
    return Figure(value, math.sqrt(max(variance, 0.0)))


def _variance(mass: Figure, balance: Figure, swing: Figure, added: Sequence[Added], at_butt: bool) -> float:
    """Variance of an inertia from mass, balance and swingweight taken as independent.

    With M the new mass, S the first moment m·b + Σ m_i·x_i and I the swingweight about a = 100 mm, the inertia about the
    butt is I + 2·a·S - a²·M; about the balance point it is S²/M less.
    """
    new = _balance(mass, balance, added).value
    by_mass = 2.0 * AXIS_MM * balance.value - AXIS_MM**2
    by_balance = 2.0 * AXIS_MM * mass.value
    if not at_butt:
        by_mass -= 2.0 * new * balance.value - new**2
        by_balance -= 2.0 * new * mass.value
    return swing.u**2 + (by_mass * mass.u * KG_CM2) ** 2 + (by_balance * balance.u * KG_CM2) ** 2


def _percussion(before: Handling, added: Sequence[Added]) -> Figure | None:
    """Centre of percussion of a frame held at the butt, with all of `added` on it."""
    stated, mass, balance, swing = before.percussion, before.mass, before.balance, before.swingweight
    if stated is None or mass is None or balance is None or swing is None or not mass.value * balance.value > 0.0:
        return None
    _, alone = _pendulum(mass, balance, swing, [])
    value, with_it = _pendulum(mass, balance, swing, added)
    return Figure(value, math.sqrt(max(stated.u**2 + with_it - alone, 0.0)))


def _pendulum(mass: Figure, balance: Figure, swing: Figure, added: Sequence[Added]) -> tuple[float, float]:
    """Length of the pendulum that swings as the frame does when held at the butt [mm], and its variance from mass, balance and
    swingweight taken as independent. In the words of `_variance` it is (I - a²·M)/S + 2·a.
    """
    total = mass.value + math.fsum(one.mass for one in added)
    moment = mass.value * balance.value + math.fsum(one.mass * one.middle for one in added)
    about_axis = (swing.value + math.fsum(one.inertia(AXIS_MM) for one in added)) / KG_CM2
    beyond = (about_axis - AXIS_MM**2 * total) / moment
    by_mass, by_balance = (AXIS_MM**2 + beyond * balance.value) / moment, beyond * mass.value / moment
    by_swing = 1.0 / (KG_CM2 * moment)
    return beyond + 2.0 * AXIS_MM, (by_mass * mass.u) ** 2 + (by_balance * balance.u) ** 2 + (by_swing * swing.u) ** 2
