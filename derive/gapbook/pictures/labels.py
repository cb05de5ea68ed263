"""Names beside the points of a chart, none over another, a point, or the edge: the first free place of a few is taken.

Boxes are (left, bottom, right, top) in pixels; a name that finds no free place is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

Box = tuple[float, float, float, float]
Spot = tuple[float, float]

_TURNS = (0.0, 180.0, 45.0, 135.0, 315.0, 225.0, 90.0, 270.0, 20.0, 160.0, 340.0, 200.0, 70.0, 110.0, 290.0, 250.0)
_STEPS = (1.0, 1.8, 3.0, 4.5)
CELL = 64.0


class Placed(NamedTuple):
    """Where a name goes: its point's number, its box, and whether it is far enough off to need a line to its point."""

    point: int
    box: Box
    far: bool


class Taken:
    """Boxes that are taken, kept by cell so that a look at a neighbourhood is quick."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        """Take a box."""
        for cell in _cells(box):
            self._cells.setdefault(cell, []).append(box)

    def meets(self, box: Box) -> bool:
        """Whether `box` shares ground with one that is taken."""
        return any(overlap(box, other) for cell in _cells(box) for other in self._cells.get(cell, ()))


def overlap(a: Box, b: Box) -> bool:
    """Whether two boxes share ground."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def place(
    points: Sequence[Spot], sizes: Sequence[tuple[float, float]], order: Sequence[int], bounds: Box, mark: float, most: int
) -> list[Placed]:
    """Places for the names of `points`, tried in `order`, `most` of them at most. `sizes` are widths and heights of the
    names, `mark` the half width of a point's mark, all in pixels.
    """
    taken = Taken()
    for x, y in points:
        taken.add((x - mark, y - mark, x + mark, y + mark))
    found: list[Placed] = []
    for number in order:
        if len(found) >= most:
            break
        spot = _free(points[number], sizes[number], taken, bounds, mark)
        if spot is not None:
            found.append(spot._replace(point=number))
            taken.add(spot.box)
    return found


def _free(point: Spot, size: tuple[float, float], taken: Taken, bounds: Box, mark: float) -> Placed | None:
    wide, high = size
    for step in _STEPS:
        away = mark + 0.45 * high * step
        for turn in _TURNS:
            angle = math.radians(turn)
            across, along = math.cos(angle), math.sin(angle)
            x = point[0] + across * away + (across - 1.0) / 2.0 * wide
            y = point[1] + along * away + (along - 1.0) / 2.0 * high
            box = (x, y, x + wide, y + high)
            within = bounds[0] <= x and bounds[1] <= y and box[2] <= bounds[2] and box[3] <= bounds[3]
            if within and not taken.meets(box):
                return Placed(-1, box, step > _STEPS[1])
    return None


def outermost_first(points: Sequence[Spot], first: Sequence[int] = ()) -> list[int]:
    """An order in which to name points: those of `first`, then from the outside of the cloud inwards."""
    if not points:
        return []
    middle = [sorted(one[axis] for one in points)[len(points) // 2] for axis in (0, 1)]
    spread = [max(max(abs(one[axis] - middle[axis]) for one in points), 1e-9) for axis in (0, 1)]
    far = [math.hypot(*((one[axis] - middle[axis]) / spread[axis] for axis in (0, 1))) for one in points]
    rest = sorted((number for number in range(len(points)) if number not in first), key=lambda number: (-far[number], number))
    return [*first, *rest]


def _cells(box: Box) -> list[tuple[int, int]]:
    low, high = (math.floor(box[0] / CELL), math.floor(box[1] / CELL)), (math.floor(box[2] / CELL), math.floor(box[3] / CELL))
    return [(x, y) for x in range(low[0], high[0] + 1) for y in range(low[1], high[1] + 1)]
