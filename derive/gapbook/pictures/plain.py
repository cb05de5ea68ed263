"""A bed drawn with characters: mains, crosses and the hoop, for any terminal and for paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

WIDTH = 53
"""Columns of the drawing."""
CELL_RATIO = 2.0
"""How much taller than wide a character cell is."""
LEGEND = "│ main   ─ cross   ┼ crossing   • hoop; drawn from the readings, tip up"


class Hoop(NamedTuple):
    """The inner edge: a superellipse of this width and length [mm] and exponent."""

    width: float
    length: float
    exponent: float


def bed(
    mains: Sequence[float], slopes: Sequence[float], crosses: Sequence[float], hoop: Hoop, columns: int = WIDTH
) -> list[str]:
    """Lines of text. Mains x at y = 0 [mm] and their slopes, crosses y [mm]."""
    width, length, exponent = hoop
    step = width / (columns - 1)
    rows = round(length / (step * CELL_RATIO)) + 1
    across = {_row(y, length, step): y for y in crosses}
    lines = []
    for row in range(rows):
        y = length / 2 - row * step * CELL_RATIO
        half = _half_width(across.get(row, y), width, length, exponent)
        cells = [" "] * columns
        if row in across:
            for column in range(_column(-half, width, step), _column(half, width, step) + 1):
                cells[column] = "─"
        for x, slope in zip(mains, slopes, strict=True):
            at = x + slope * y
            if abs(at) < half:
                cells[_column(at, width, step)] = "┼" if row in across else "│"
        for edge in (-half, half):
            cells[_column(edge, width, step)] = "•"
        lines.append("".join(cells).rstrip())
    return lines


def _half_width(y: float, width: float, length: float, exponent: float) -> float:
    part = min(abs(2 * y / length), 1.0)
    return float(width / 2 * (1.0 - part**exponent) ** (1.0 / exponent))


def _column(x: float, width: float, step: float) -> int:
    return math.floor((x + width / 2) / step + 0.5)


def _row(y: float, length: float, step: float) -> int:
    return math.floor((length / 2 - y) / (step * CELL_RATIO) + 0.5)
