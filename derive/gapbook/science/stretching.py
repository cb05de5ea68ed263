"""The same bed with strings that stretch: the force that presses it in by a given depth, at large deflections.

Nodes and segments are those of `cable_net`. Each node moves in all three directions; strings are held together where they
cross. A segment of length L carries the tension T0 at rest; stretched to ℓ it pulls with T = T0 + EA·(ℓ - L)/L. The bed's
energy is the sum of T0·(ℓ - L) + EA·(ℓ - L)²/(2L) over the segments. It is convex while all strings are taut, so there is one
equilibrium for each depth. With K the energy's second derivatives, r its first and g the shares of the load, a step du of
Newton's method and the force F solve K·du = F·g - r and g·(u + du) = depth: one banded Cholesky factor (LAPACK pbtrf).

With b = K⁻¹·g, F changes by (b·q)/(b·g) if the inner forces change by q. If q is the forces of T0 alone, that is the change of
F per unit of ln T0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from gapbook.science.cable_net import LEAST_SEGMENT_MM, Net, PatternStrings, deflections, net_of, springs
from gapbook.science.comparison import Figure
from gapbook.science.grouping import BoolArray, FloatArray
from gapbook.science.mechanics import ZONE_POINTS, patch
from gapbook.science.tension import Pull, in_bed

DEPTHS_MM = (5.0, 15.0, 25.0)
"""Depths at which two beds are held against each other [mm]: of soft and hard hits. Common practice, no source."""
STIFFNESS_N = (3500.0, 6000.0)
"""Least and greatest axial stiffness EA of a string [N]: force over relative elongation. Common practice, no source."""
MOST_TURNS = 60
CLOSE = 1e-9
"""Newton's method ends if no node moves by more than this part of the depth."""
_CLOSE_PULL = 1e-7


class Pressed(NamedTuple):
    """Beds pressed in by a depth.

    force: on each bed [B] in N; NaN if the load has no share on any crossing
    by_log_tension: its change per unit of the logarithm of both tensions [B] in N
    moved: displacement of each crossing [B, c, m, 3] in mm: to the right, to the tip, and with the load
    """

    force: FloatArray
    by_log_tension: FloatArray
    moved: FloatArray


def press(
    strings: PatternStrings,
    share: FloatArray,
    depths: Sequence[float],
    tensions: tuple[float, float],
    axial: tuple[float, float],
) -> list[Pressed]:
    """Press beds of one pattern in by each of `depths`.

    strings: the beds
    share: of the load on each crossing [B, c, m], adding up to 1, or to 0 where there is none
    depths: how far the load moves: the mean of the crossings' deflections, by their shares [mm]
    tensions: of mains and crosses in the bed at rest [N]
    axial: EA of mains and crosses [N]

    ArithmeticError if Newton's method does not end, which no bed of taut strings has shown.
    """
    net = net_of(strings)
    stretching = StretchingNet(net, strings, tensions, axial)
    struck = share.any(axis=(1, 2))
    flat = deflections(springs(net, *tensions), share[:, None])[:, 0]
    depth_of_flat = np.einsum("bcm,bcm->b", share, flat)
    shape = np.zeros((*flat.shape, 3))
    shape[..., 2] = flat / np.where(struck, depth_of_flat, 1.0)[:, None, None]
    found: dict[float, Pressed] = {}
    for depth in sorted(set(depths), reverse=True):
        scale = np.array([depth * depth, depth * depth, depth])  # as displacements grow while they are small
        one = _pressed(stretching, share, shape * scale, depth)
        shape = one.moved / scale
        force, by_tension = (np.where(struck, column, np.nan) for column in one[:2])
        found[depth] = Pressed(force, by_tension, one.moved)
    return [found[depth] for depth in depths]


class Family(NamedTuple):
    """The segments of one family.

    force: pull on the segment's ends, along it [B, segments, 3] in N
    at_rest: the part of it due to the tension at rest
    stiff: second derivatives of the energy by the distance of its ends [B, segments, 3, 3] in N/mm
    energy: less that at rest [B]
    """

    force: FloatArray
    at_rest: FloatArray
    stiff: FloatArray
    energy: FloatArray


class StretchingNet:
    """Beds of one pattern as nets of strings that stretch."""

    def __init__(self, net: Net, strings: PatternStrings, tensions: tuple[float, float], axial: tuple[float, float]) -> None:
        """Lay out the segments at rest.

        net: the nets of `strings`
        strings: the beds
        tensions: of mains and crosses in the bed at rest [N]
        axial: EA of mains and crosses [N]
        """
        self.net, self.tensions, self.axial = net, tensions, axial
        down = np.maximum(net.main_top - net.main_bottom, LEAST_SEGMENT_MM) * net.main_there
        self.main = np.stack([strings.main_slope[:, None] * down, down, np.zeros_like(down)], axis=-1)
        over = np.where(net.cross_there, net.cross_length, 0.0)
        self.cross = np.stack([over, np.zeros_like(over), np.zeros_like(over)], axis=-1)

    def pulls(self, moved: FloatArray) -> tuple[Family, Family]:
        """Segments of mains and crosses with the crossings displaced by `moved` [B, c, m, 3] mm."""
        above = -np.diff(moved, axis=1, prepend=0.0, append=0.0)
        right = np.diff(moved, axis=2, prepend=0.0, append=0.0)
        net = self.net
        return (
            _family(self.main + above, net.main_length, net.main_there, self.tensions[0], self.axial[0]),
            _family(self.cross + right, net.cross_length, net.cross_there, self.tensions[1], self.axial[1]),
        )

    def energy(self, moved: FloatArray) -> FloatArray:
        """Energy less that at rest [B] in N·mm."""
        mains, crosses = self.pulls(moved)
        return np.asarray(mains.energy + crosses.energy)

    def gathered(self, main: FloatArray, cross: FloatArray) -> FloatArray:
        """First derivatives of the energy by the displacements [B, c, m, 3] in N, from the pull of each segment of a family."""
        total = main[:, 1:] - main[:, :-1] + cross[:, :, :-1] - cross[:, :, 1:]
        return np.asarray(total * self.net.inside[..., None])

    def banded(self, main: FloatArray, cross: FloatArray) -> FloatArray:
        """Second derivatives in N/mm, from those of each segment of a family: lower bands [B, 3·nodes, 3·m + 3], where column k
        holds the terms k below the diagonal; unknowns in the order of crossings and directions.
        """
        inside = self.net.inside
        beds, crosses, mains = inside.shape
        own = main[:, 1:] + main[:, :-1] + cross[:, :, 1:] + cross[:, :, :-1]
        own = np.where(inside[..., None, None], own, np.eye(3))
        beside = -cross[:, :, 1:-1] * (inside[:, :, 1:] & inside[:, :, :-1])[..., None, None]
        below = -main[:, 1:-1] * (inside[:, 1:] & inside[:, :-1])[..., None, None]
        band = np.zeros((beds, crosses, mains, 3, 3 * mains + 3))
        for row in range(3):
            for column in range(3):
                if row >= column:
                    band[..., column, row - column] = own[..., row, column]
                band[:, :, :-1, column, 3 + row - column] = beside[..., row, column]
                band[:, :-1, :, column, 3 * mains + row - column] += below[..., row, column]
        return band.reshape(beds, -1, 3 * mains + 3)


def _family(span: FloatArray, length: FloatArray, there: BoolArray, at_rest: float, axial: float) -> Family:
    """Segments from the vectors between their ends [B, segments, 3] and their lengths at rest [B, segments] in mm."""
    now = np.where(there, np.sqrt(np.einsum("...d,...d->...", span, span)), 1.0)
    way = span * (there / now)[..., None]
    longer, stiffness = now - length, axial / length
    tension = at_rest + stiffness * longer
    across = tension / now * there
    stiff = (stiffness - across)[..., None, None] * way[..., :, None] * way[..., None, :]
    stiff[..., [0, 1, 2], [0, 1, 2]] += across[..., None]
    energy = ((at_rest + stiffness * longer / 2.0) * longer * there).sum(axis=(1, 2))
    return Family(tension[..., None] * way, at_rest * way, stiff, energy)


def _pressed(bed: StretchingNet, share: FloatArray, moved: FloatArray, depth: float) -> Pressed:
    """Newton's method from a displacement near the one sought."""
    for _ in range(MOST_TURNS):
        mains, crosses = bed.pulls(moved)
        inner = bed.gathered(mains.force, crosses.force)
        resting = bed.gathered(mains.at_rest, crosses.at_rest)
        step, force, by_tension = _step(bed.banded(mains.stiff, crosses.stiff), inner, resting, share, moved, depth)
        if np.abs(step).max(initial=0.0) <= CLOSE * depth:
            return Pressed(force, by_tension, moved + step)
        moved = moved + step
    raise ArithmeticError("a bed of taut strings found no rest under its load")


def _step(
    band: FloatArray, inner: FloatArray, resting: FloatArray, share: FloatArray, moved: FloatArray, depth: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Newton's step [B, c, m, 3], the force [B], and its change per unit of ln T0 [B]."""
    from scipy.linalg.lapack import dpbtrf, dpbtrs

    beds = len(share)
    step, force, by_tension = np.zeros(moved.shape), np.zeros(beds), np.zeros(beds)
    load = np.zeros(moved.shape)
    load[..., 2] = share
    for one in range(beds):
        if not share[one].any():
            continue
        factor, failed = dpbtrf(band[one].T, lower=1, overwrite_ab=1)
        if failed:
            raise ArithmeticError("a string of the bed is slack")
        both = np.stack([inner[one].ravel(), load[one].ravel()]).T
        freed, by_load = dpbtrs(factor, both, lower=1, overwrite_b=1)[0].T
        way = load[one].ravel()
        give = way @ by_load
        force[one] = (depth - way @ moved[one].ravel() + way @ freed) / give
        step[one] = (force[one] * by_load - freed).reshape(moved.shape[1:])
        by_tension[one] = resting[one].ravel() @ by_load / give
    return step, force, by_tension


# The pull that gives one bed the force of another


def matching_pulls(source: PatternStrings, target: PatternStrings, at: Pull, relative_u: float) -> list[Figure]:
    """Pull tension of the target's mains [N] at which the same force presses its centre in as deep as the source's, for each of
    STIFFNESS_N and DEPTHS_MM; crosses keep the ratio of `at`.

    source: copies of one bed; the force on them is a geometric mean
    target: copies of the other, likewise
    at: pull tension of the source
    relative_u: relative standard uncertainty of the ratio of the two stiffnesses if strings do not stretch

    At a given depth the part a of the force that goes with tension falls with a string's length ℓ as 1/ℓ, and the part 1 - a
    that goes with EA as 1/ℓ³. So relative_u is taken a + 3·(1 - a) times, which is too much where gaps are less certain than
    lengths. ArithmeticError as of `press`.
    """
    found = []
    for axial in STIFFNESS_N:
        wanted = [_centre(one)[0] for one in _pressed_centre(source, DEPTHS_MM, at, axial)]
        for depth, log_force in zip(DEPTHS_MM, wanted, strict=True):
            log_pull, by_log_pull = _root(target, depth, at, axial, log_force)
            pull = math.exp(log_pull)
            found.append(Figure(pull, pull * relative_u * (3.0 - 2.0 * by_log_pull) / by_log_pull))
    return found


def _root(beds: PatternStrings, depth: float, at: Pull, axial: float, log_force: float) -> tuple[float, float]:
    """Logarithm of the mains' pull [N] that the force takes, and the change of the log force with it, by Newton's method."""
    log_pull = math.log(at.mains)
    for _ in range(MOST_TURNS):
        here, by_log_pull = _centre(_pressed_centre(beds, (depth,), at._replace(mains=math.exp(log_pull)), axial)[0])
        step = (log_force - here) / by_log_pull
        log_pull += step
        if abs(step) < _CLOSE_PULL:
            return log_pull, by_log_pull
    raise ArithmeticError("no pull gives the bed this force")


def _pressed_centre(beds: PatternStrings, depths: Sequence[float], pull: Pull, axial: float) -> list[Pressed]:
    share = patch(net_of(beds), ZONE_POINTS[:1]).shared[:, 0]
    return press(beds, share, depths, (in_bed(pull.mains), in_bed(pull.crosses)), (axial, axial))


def _centre(pressed: Pressed) -> tuple[float, float]:
    """Log of the geometric mean of the forces on copies, and its change with the log of tension."""
    return float(np.nanmean(np.log(pressed.force))), float(np.nanmean(pressed.by_log_tension / pressed.force))
