"""Beds drawn with characters (mains, crosses and hoop) for any terminal and for paper: one alone, or several side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from gapbook.questions.bed_data import drawn_bed
from gapbook.questions.comparing import Bed as Compared
from gapbook.questions.portrait import Row
from gapbook.science.bed_geometry import BedStrings, Hoop
from gapbook.tables.copies import BedLines
from gapbook.tables.package import Package
from gapbook.tables.store import Store

WIDTH = 53
"""Columns of a drawing at most."""
NARROWEST = 34
"""Columns below which a bed is not worth drawing."""
BETWEEN = 4
"""Columns between two beds."""
CELL_RATIO = 2.0
"""How much taller than wide a character cell is."""
LEGEND = "│ main   ─ cross   ┼ crossing   • hoop; drawn from the readings, tip up"


class Bed(NamedTuple):
    """A bed to draw.

    name: what stands above it
    mains: x at y = 0 [mm]
    slopes: of the mains, dx/dy
    crosses: y [mm]
    hoop: the inner edge
    """

    name: str
    mains: Sequence[float]
    slopes: Sequence[float]
    crosses: Sequence[float]
    hoop: Hoop


def measured(package: Package, beds: Sequence[Compared]) -> list[Bed]:
    """Those beds of a comparison that can be drawn: the measured ones."""
    store = Store(package)
    drawn = [drawn_bed(store, bed.name) for bed in beds if bed.basis == "measured"]
    return [_bed(one.specimen_id, one.strings, one.hoop) for one in drawn]


def of_row(row: Row, strings: BedLines) -> Bed:
    """The bed of a row of beds.csv, with its strings."""
    hoop = Hoop(row["head_width_mm"], row["head_length_mm"], row["head_exponent"])
    return _bed(row["specimen_id"], strings, hoop)


def _bed(name: str, strings: BedStrings | BedLines, hoop: Hoop) -> Bed:
    return Bed(name, strings.main_at_0.tolist(), strings.main_slope.tolist(), strings.cross_y.tolist(), hoop)


def alone(bed: Bed, width: int) -> list[str]:
    """One bed and the legend in at most `width` columns; nothing if that is too narrow."""
    columns = min(WIDTH, width)
    return [*lines_of(bed, columns), LEGEND] if columns >= NARROWEST else []


def side_by_side(beds: Sequence[Bed], width: int) -> list[str]:
    """Two beds or more at one scale in at most `width` columns; nothing if there are fewer, or no room for them."""
    if len(beds) < 2:
        return []
    most = min(WIDTH, (width - BETWEEN * (len(beds) - 1)) // len(beds))
    if most < NARROWEST:
        return []
    step = max(bed.hoop.width for bed in beds) / (most - 1)
    columns = []
    for bed in beds:
        wide = round(bed.hoop.width / step) + 1
        columns.append([bed.name[:most].center(wide).rstrip(), *lines_of(bed, wide)])
    high = max(map(len, columns))
    rows = zip(*(column + [""] * (high - len(column)) for column in columns), strict=True)
    return [*((" " * BETWEEN).join(cell.ljust(most) for cell in row).rstrip() for row in rows), "", LEGEND]


def lines_of(bed: Bed, columns: int) -> list[str]:
    """The bed as lines of text, its hoop as wide as so many columns."""
    width, length, exponent = bed.hoop
    step = width / (columns - 1)
    rows = round(length / (step * CELL_RATIO)) + 1
    across = {_row(y, length, step): y for y in bed.crosses}
    lines = []
    for row in range(rows):
        y = length / 2 - row * step * CELL_RATIO
        half = _half_width(across.get(row, y), width, length, exponent)
        cells = [" "] * columns
        if row in across:
            for column in range(_column(-half, width, step), _column(half, width, step) + 1):
                cells[column] = "─"
        for x, slope in zip(bed.mains, bed.slopes, strict=True):
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
