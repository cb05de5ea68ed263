"""A strung bed as a net: a node at each crossing inside the outline, straight segments between neighbours, ends held
where the strings meet the outline.

Nodes lie in a grid [B, c, m], crosses from tip to throat and mains from left to right. Segments of mains lie in a grid
[B, c + 1, m], number j above cross j; segments of crosses in [B, c, m + 1], number k to the left of main k. A node or
segment that is not there keeps its place in the grid and carries nothing.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.outline import Outlines, cross_ends, main_ends

LEAST_SEGMENT_MM = 1e-6
"""Segments are taken to be no shorter than this, so that a crossing on the hoop itself is simply held."""


class Strings(NamedTuple):
    """Beds of one pattern: mains x = main_at_0 + main_slope·y, left to right [B, m]; crosses y, tip to throat [B, c]; in
    mm from the head's centre, x to the right and y to the tip; and the outline.
    """

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray
    outlines: Outlines

    def take(self, rows: slice | IntArray) -> Strings:
        """The same for some of the beds."""
        outlines = Outlines(*(column[rows] for column in self.outlines))
        return Strings(self.main_at_0[rows], self.main_slope[rows], self.cross_y[rows], outlines)


class Net(NamedTuple):
    """Nets of beds of one pattern: where the nodes lie [B, c, m] in mm and which are there; the ends of the segments of
    mains (y) and of crosses (x) and their lengths, all in mm, and which are there; and where the strings end: mains at
    `tip` and `throat` [B, m], crosses at ±`right` [B, c].
    """

    x: FloatArray
    y: FloatArray
    inside: BoolArray
    main_top: FloatArray
    main_bottom: FloatArray
    main_there: BoolArray
    main_length: FloatArray
    cross_right: FloatArray
    cross_left: FloatArray
    cross_there: BoolArray
    cross_length: FloatArray
    tip: FloatArray
    throat: FloatArray
    right: FloatArray


def net_of(strings: Strings) -> Net:
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
        cross_right=far,
        cross_left=left,
        cross_there=cross_there,
        cross_length=np.where(cross_there, np.maximum(far - left, LEAST_SEGMENT_MM), 1.0),
        tip=tip,
        throat=throat,
        right=right,
    )


def _ends(
    inside: BoolArray, at: FloatArray, last: FloatArray, first: FloatArray, axis: int
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Where each segment along `axis` begins and ends, and whether it is there: from node to node, or from the outline at
    `first` to a node, or from a node to the outline at `last`.
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
    """Stiffness matrix of each net in N/mm: diagonal [B, c, m] (1 where no node is) and the terms to the next main
    [B, c, m - 1] and to the next cross [B, c - 1, m], both negative or 0.
    """

    diagonal: FloatArray
    next_main: FloatArray
    next_cross: FloatArray


def springs(net: Net, main_tension: float | FloatArray, cross_tension: float | FloatArray) -> Springs:
    """Σ T/ℓ·(w_i - w_j) = F: small deflections of a net whose strings carry these tensions [N]."""
    down = net.main_there * main_tension / net.main_length
    over = net.cross_there * cross_tension / net.cross_length
    own = down[:, 1:] + down[:, :-1] + over[:, :, 1:] + over[:, :, :-1]
    along = net.inside[:, :, 1:] & net.inside[:, :, :-1]
    below = net.inside[:, 1:] & net.inside[:, :-1]
    return Springs(np.where(net.inside, own, 1.0), -over[:, :, 1:-1] * along, -down[:, 1:-1] * below)
