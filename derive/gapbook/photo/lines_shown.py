"""Fitted strings and doubted stretches as pixels of a flattened photograph."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.photo.locating import Located
from gapbook.science.grouping import BoolArray

Pixel = tuple[int, int]


def fitted(found: Located, good: tuple[BoolArray, BoolArray]) -> Iterator[tuple[Pixel, Pixel]]:
    """Both ends of each string's line through the stretches that were used."""
    for family, mine in zip(("main", "cross"), good, strict=True):
        points = found.points(family)
        line = getattr(found, family).stretches.line
        run, across = (1, 0) if family == "main" else (0, 1)
        for number in range(int(line.max()) + 1):
            some = points[(line == number) & mine]
            lean, place = np.polyfit(some[:, run], some[:, across], 1)
            ends = np.array([some[:, run].min() - 6.0, some[:, run].max() + 6.0])
            both = np.empty((2, 2))
            both[:, run], both[:, across] = ends, place + lean * ends
            yield _pixel(found, both[0]), _pixel(found, both[1])


def doubted(found: Located, good: tuple[BoolArray, BoolArray]) -> Iterator[Pixel]:
    """Middles of the stretches that were not used."""
    for family, mine in zip(("main", "cross"), good, strict=True):
        for point in found.points(family)[~mine]:
            yield _pixel(found, point)


def _pixel(found: Located, point: np.ndarray) -> Pixel:
    return round(float(found.grid.columns(point[0]))), round(float(found.grid.rows(point[1])))
