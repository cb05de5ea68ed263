"""Strings woven over and under: each is drawn in pieces that stop short of the strings it runs beneath."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from gapbook.science.meshes import Hoop, Strings, cross_ends, inside, main_ends

CLEAR = 0.9
"""Free space on either side of a string that lies on top, in string diameters."""

Piece = tuple[tuple[float, float], tuple[float, float]]


class Woven(NamedTuple):
    """Pieces of mains and of crosses, each from point to point [mm], string by string."""

    mains: list[list[Piece]]
    crosses: list[list[Piece]]


def woven(strings: Strings, hoop: Hoop, gauge: float) -> Woven:
    """The pieces of every string within the hoop; main i lies over cross j where i + j is even, counted from 0."""
    crossing = strings.mains_at(strings.cross_y)
    held = inside(hoop, crossing, strings.cross_y)
    y, clear = strings.cross_y.tolist(), CLEAR * gauge
    mains = []
    for i, (low, high) in enumerate(main_ends(hoop, strings).tolist()):
        under = [y[j] for j in range(len(y)) if held[i, j] and (i + j) % 2]
        at, slope = float(strings.main_at_0[i]), float(strings.main_slope[i])
        pieces = _between(low, high, under, clear)
        mains.append([((at + slope * a, a), (at + slope * b, b)) for a, b in pieces])
    crosses = []
    for j, end in enumerate(cross_ends(hoop, strings.cross_y).tolist()):
        under = [float(crossing[i, j]) for i in range(len(crossing)) if held[i, j] and (i + j) % 2 == 0]
        crosses.append([((a, y[j]), (b, y[j])) for a, b in _between(-end, end, under, clear)])
    return Woven(mains, crosses)


def _between(low: float, high: float, under: Sequence[float], clear: float) -> list[tuple[float, float]]:
    """The stretches from `low` to `high` that are left when `clear` is taken away on either side of each of `under`."""
    found, start = [], low
    for place in sorted(under):
        if place - clear > start:
            found.append((start, place - clear))
        start = max(start, place + clear)
    return [*found, (start, high)] if high > start else found
