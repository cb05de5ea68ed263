"""A strung bed as a cable net, and its solution: a node at each crossing inside the outline, straight segments between
neighbours, and ends held at the points at which the strings meet the outline.

Nodes lie in a grid [B, c, m], crosses from tip to throat and mains from left to right. Segments of mains lie in a grid
[B, c + 1, m], number j above cross j; segments of crosses in [B, c, m + 1], number k to the left of main k. A node or
segment outside the outline keeps its place in the grid and carries nothing.

Nets are solved bed by bed: one banded Cholesky factor each (LAPACK pbtrf) serves every load and the lowest mode. Nodes are
numbered cross by cross, so the band is as wide as there are mains.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.outline import Outlines, cross_ends, main_ends

LEAST_SEGMENT_MM = 1e-6
"""Segments are taken to be no shorter than this, so that a crossing on the outline itself is held."""


class PatternStrings(NamedTuple):
    """Beds of one pattern, in mm from the head's centre, x to the right and y to the tip. A main runs along x = at_0 +
    slope·y.

    main_at_0: x of the mains at y = 0, left to right [B, m]
    main_slope: slope of the mains [B, m]
    cross_y: y of the crosses, tip to throat [B, c]
    outlines: outlines of the heads [B]
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray
    outlines: Outlines

    def take(self, rows: slice | IntArray) -> PatternStrings:
        """The same for some of the beds."""
        outlines = Outlines(*(column[rows] for column in self.outlines))
        return PatternStrings(self.main_at_0[rows], self.main_slope[rows], self.cross_y[rows], outlines)


class Net(NamedTuple):
    """Nets of beds of one pattern, in mm.

    x: x of the nodes [B, c, m]
    y: y of the nodes [B, c, m]
    inside: which nodes lie inside the outline [B, c, m]
    main_top: upper end of each segment of mains, y [B, c + 1, m]
    main_bottom: its lower end, y [B, c + 1, m]
    main_there: which segments of mains exist [B, c + 1, m]
    main_length: their lengths, 1 if they do not exist [B, c + 1, m]
    cross_there: which segments of crosses exist [B, c, m + 1]
    cross_length: their lengths, 1 if they do not exist [B, c, m + 1]
    tip: y at which mains end at the tip [B, m]
    throat: y at which mains end at the throat [B, m]
    right: x at which crosses end on the right [B, c]; on the left they end at -x
    """

    x: FloatArray
    y: FloatArray
    inside: BoolArray
    main_top: FloatArray
    main_bottom: FloatArray
    main_there: BoolArray
    main_length: FloatArray
    cross_there: BoolArray
    cross_length: FloatArray
    tip: FloatArray
    throat: FloatArray
    right: FloatArray


def net_of(strings: PatternStrings) -> Net:
    """The nets of these strings."""
    at_0, slope, cross_y, outlines = strings
    y = cross_y[:, :, None] + np.zeros_like(at_0)[:, None, :]
    x = at_0[:, None, :] + slope[:, None, :] * cross_y[:, :, None]
    n = outlines.exponent[:, None, None]
    across = np.abs(2.0 * x / outlines.width[:, None, None]) ** n
    inside = across + np.abs(2.0 * cross_y / outlines.length[:, None])[:, :, None] ** n < 1.0
    tip, throat = (main_ends(outlines, at_0, slope, side) for side in (1, -1))
    right = cross_ends(outlines, cross_y)
    top, bottom, main_there = _ends(inside, y, throat[:, None, :], tip[:, None, :], 1)
    left, far, cross_there = _ends(inside, x, right[:, :, None], -right[:, :, None], 2)
    stretch = np.sqrt(1.0 + slope * slope)[:, None, :]
    return Net(
        x=x,
        y=y,
        inside=inside,
        main_top=top,
        main_bottom=bottom,
        main_there=main_there,
        main_length=np.where(main_there, np.maximum(top - bottom, LEAST_SEGMENT_MM) * stretch, 1.0),
        cross_there=cross_there,
        cross_length=np.where(cross_there, np.maximum(far - left, LEAST_SEGMENT_MM), 1.0),
        tip=tip,
        throat=throat,
        right=right,
    )


def _ends(
    inside: BoolArray, at: FloatArray, last: FloatArray, first: FloatArray, axis: int
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Begin and end of each segment along `axis`, and whether it exists. A segment goes from node to node, or from the outline
    at `first` to a node, or from a node to the outline at `last`.
    """
    shape = list(at.shape)
    shape[axis] += 1
    begin, end, there = np.empty(shape), np.empty(shape), np.zeros(shape, dtype=bool)
    after = (slice(None),) * axis + (slice(1, None),)
    before = (slice(None),) * axis + (slice(None, -1),)
    begin[...], end[...] = first, last
    begin[after] = np.where(inside, at, first)
    end[before] = np.where(inside, at, last)
    there[after] = inside
    there[before] |= inside
    return begin, end, there


class Springs(NamedTuple):
    """Stiffness matrix of each net in N/mm: diagonal [B, c, m] (1 if there is no node) and the terms to the next main
    [B, c, m - 1] and to the next cross [B, c - 1, m], both negative or 0.
    """

    diagonal: FloatArray
    next_main: FloatArray
    next_cross: FloatArray


def springs(net: Net, main_tension: float | FloatArray, cross_tension: float | FloatArray) -> Springs:
    """Σ T/ℓ·(w_i - w_j) = F: small deflections of a net whose strings carry these tensions [N]."""
    down = net.main_there * main_tension / net.main_length
    over = net.cross_there * cross_tension / net.cross_length
    diagonal = down[:, 1:] + down[:, :-1] + over[:, :, 1:] + over[:, :, :-1]
    along = net.inside[:, :, 1:] & net.inside[:, :, :-1]
    below = net.inside[:, 1:] & net.inside[:, :-1]
    return Springs(np.where(net.inside, diagonal, 1.0), -over[:, :, 1:-1] * along, -down[:, 1:-1] * below)


TURNS = 4
"""Inverse iterations for the lowest mode."""
_NOTHING = 1e-13
"""Shapes that differ by less than this part of their energy count as one."""

Solve = Callable[[FloatArray], None]
"""Turns loads [P, nodes] in N into deflections in mm, in place."""


class Shapes(NamedTuple):
    """Deflections [B, P, c, m] in mm under loads in N, the lowest mode [B, c, m], and its eigenvalue [B]: stiffness over mass,
    in the units in which these were given. NaN if a net has no node.
    """

    deflection: FloatArray
    mode: FloatArray
    eigenvalue: FloatArray


def deflections(matrix: Springs, load: FloatArray) -> FloatArray:
    """Deflections [B, P, c, m] in mm under loads in N of that shape; loads [1, P, c, m] are the same for every net."""
    beds = len(matrix.diagonal)
    deflection = np.array(np.broadcast_to(load, (beds, *load.shape[1:])))
    by_node = deflection.reshape(beds, load.shape[1], -1)
    for bed, solve in enumerate(_factors(matrix)):
        solve(by_node[bed])
    return deflection


def shapes(matrix: Springs, load: FloatArray, mass: FloatArray) -> Shapes:
    """Deflections under loads [B, P, c, m] in N, and the lowest mode with lumped masses [B, c, m] (0 if there is no
    node), scaled to Σ mass·mode² = 1.

    The mode is the best combination (Rayleigh-Ritz) of the deflections and of TURNS inverse iterations, which start from the
    net's deflection under its own weight.
    """
    beds, loads = load.shape[:2]
    force = np.concatenate([load.reshape(beds, loads, -1), np.empty((beds, TURNS, mass[0].size))], axis=1)
    shape, lumped = force.copy(), mass.reshape(beds, -1)
    for bed, solve in enumerate(_factors(matrix)):
        solve(shape[bed, :loads])
        pull = lumped[bed]
        for turn in range(loads, loads + TURNS):
            force[bed, turn] = pull / max(pull.sum(), np.finfo(float).tiny)
            shape[bed, turn] = force[bed, turn]
            solve(shape[bed, turn : turn + 1])
            pull = lumped[bed] * shape[bed, turn]
    mode, eigenvalue = _lowest(force, shape, lumped)
    return Shapes(shape[:, :loads].reshape(load.shape), mode.reshape(mass.shape), eigenvalue)


def _lowest(force: FloatArray, shape: FloatArray, mass: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The combination of shapes [B, S, nodes] with the least stiffness over mass [B, nodes], and that ratio [B].

    `force` holds the loads of each shape. Shapes are scaled to unit energy; combinations without energy are dropped.
    """
    energy = shape @ force.transpose(0, 2, 1)
    unit = np.sqrt(np.einsum("bss->bs", energy))
    unit = np.divide(1.0, unit, out=np.zeros_like(unit), where=unit > 0.0)
    weight = (shape * mass[:, None]) @ shape.transpose(0, 2, 1)
    size, turn = np.linalg.eigh(energy * unit[:, :, None] * unit[:, None])
    whole = np.divide(1.0, np.sqrt(np.abs(size)), out=np.zeros_like(size), where=size > _NOTHING)
    turn = unit[:, :, None] * turn * whole[:, None]
    ratio, best = np.linalg.eigh(turn.transpose(0, 2, 1) @ weight @ turn)
    most = ratio[:, -1]
    with np.errstate(divide="ignore", invalid="ignore"):
        blend = np.einsum("bst,bt->bs", turn, best[:, :, -1]) / np.sqrt(most)[:, None]
        return np.einsum("bs,bsn->bn", blend, shape), np.where(most > 0.0, 1.0 / most, np.nan)


def _factors(matrix: Springs) -> Iterator[Solve]:
    """A solver for each net in turn, valid until the next one is taken. LAPACK Users' Guide: pbtrf, pbtrs."""
    from scipy.linalg.lapack import dpbtrf, dpbtrs

    beds, crosses, mains = matrix.diagonal.shape
    band = np.zeros((crosses * mains, mains + 1))
    next_main = np.zeros((beds, crosses, mains))
    next_main[:, :, :-1] = matrix.next_main
    for bed in range(beds):
        band[:] = 0.0
        band[:, 0] = matrix.diagonal[bed].ravel()
        band[:, 1] = next_main[bed].ravel()
        band[:-mains, mains] += matrix.next_cross[bed].ravel()
        factor, failed = dpbtrf(band.T, lower=1, overwrite_ab=1)

        def solve(load: FloatArray, factor: FloatArray = factor, failed: int = failed) -> None:
            if failed:
                load[:] = np.nan
            else:
                load[:] = dpbtrs(factor, load.T, lower=1, overwrite_b=1)[0].T

        yield solve
