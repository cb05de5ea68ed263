"""Beds drawn with braille characters, eight dots each, for any terminal and for paper: one alone, or several side by side.

A dot is half a column wide and a quarter of a row high, so that dots are as far apart across as along, and a string is drawn
within half a dot of its place: about 1 mm at 53 columns.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import zip_longest
from textwrap import fill
from typing import NamedTuple

from gapbook.questions.bed_data import DrawnBed, drawn_bed
from gapbook.questions.comparing import Bed as Compared
from gapbook.questions.portrait import Row
from gapbook.science.bed_geometry import BedStrings, Hoop
from gapbook.tables.copies import BedLines
from gapbook.tables.package import Package
from gapbook.tables.store import Store

WIDTH = 53
"""Columns of a drawing at most."""
LEGEND_WIDTH = 60
"""Columns of the words below a bed that stands alone, at most."""
NARROWEST = 34
"""Columns below which a bed is not worth drawing."""
BETWEEN = 4
"""Columns between two beds."""
ACROSS, ALONG = 2, 4
"""Dots of a character. One is twice as tall as wide, so that dots are equally far apart both ways."""
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""What each dot adds to the code of a character, row by row (Unicode, block Braille Patterns)."""
BLANK = 0x2800
LEGEND = "Lines are strings, the ring is the hoop; drawn from the readings to scale, tip up. A dot is {step:.1f} mm."
DRAWING = LEGEND.replace("from the readings ", "")
"""What stands below a bed that nobody read."""


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
    return [of_drawn(drawn_bed(store, bed.name)) for bed in beds if bed.basis == "measured"]


def of_drawn(bed: DrawnBed) -> Bed:
    """A bed that pictures show."""
    return _bed(bed.specimen_id, bed.strings, bed.hoop)


def of_row(row: Row, strings: BedLines) -> Bed:
    """The bed of a row of beds.csv, with its strings."""
    hoop = Hoop(row["head_width_mm"], row["head_length_mm"], row["head_exponent"])
    return _bed(row["specimen_id"], strings, hoop)


def _bed(name: str, strings: BedStrings | BedLines, hoop: Hoop) -> Bed:
    return Bed(name, strings.main_at_0.tolist(), strings.main_slope.tolist(), strings.cross_y.tolist(), hoop)


def alone(bed: Bed, width: int, legend: str = LEGEND) -> list[str]:
    """One bed and the legend in at most `width` columns; nothing if that is too narrow."""
    columns = min(WIDTH, width)
    if columns < NARROWEST:
        return []
    step = bed.hoop.width / (ACROSS * columns - 1)
    return [*lines_of(bed, step), *fill(legend.format(step=step), min(width, LEGEND_WIDTH)).splitlines()]


def side_by_side(beds: Sequence[Bed], width: int) -> list[str]:
    """Two beds or more at one scale in at most `width` columns; nothing if there are fewer, or no room for them."""
    if len(beds) < 2:
        return []
    most = min(WIDTH, (width - BETWEEN * (len(beds) - 1)) // len(beds))
    if most < NARROWEST:
        return []
    step = max(bed.hoop.width for bed in beds) / (ACROSS * most - 1)
    columns = []
    for bed in beds:
        lines = lines_of(bed, step)
        columns.append([bed.name[:most].center(max(map(len, lines))).rstrip(), *lines])
    rows = zip_longest(*columns, fillvalue="")
    drawn = [(" " * BETWEEN).join(cell.ljust(most) for cell in row).rstrip() for row in rows]
    return [*drawn, "", *fill(LEGEND.format(step=step), width).splitlines()]


def lines_of(bed: Bed, step: float) -> list[str]:
    """The bed as lines of text, in dots that are `step` mm apart."""
    dots = dots_of(bed, step)
    wide, high = (max(dot[axis] for dot in dots) + 1 for axis in (0, 1))
    codes = [[BLANK] * math.ceil(wide / ACROSS) for _ in range(math.ceil(high / ALONG))]
    for column, row in dots:
        codes[row // ALONG][column // ACROSS] |= DOTS[row % ALONG][column % ACROSS]
    return ["".join(" " if code == BLANK else chr(code) for code in line).rstrip() for line in codes]


def dots_of(bed: Bed, step: float) -> set[tuple[int, int]]:
    """The dots of hoop and strings, counted from the left and from the tip, `step` mm apart."""
    width, length, exponent = bed.hoop
    wide, high = (math.floor(size / step + 0.5) for size in (width, length))
    dots = set()
    for row in range(high + 1):
        y = length / 2 - row * length / high
        half = _half(y, length, width, exponent)
        dots |= {(_dot(edge, width, wide), row) for edge in (-half, half)}
        places = (x + slope * y for x, slope in zip(bed.mains, bed.slopes, strict=True))
        dots |= {(_dot(x, width, wide), row) for x in places if abs(x) < half}
    for column in range(wide + 1):
        x = column * width / wide - width / 2
        half = _half(x, width, length, exponent)
        dots |= {(column, _dot(-edge, length, high)) for edge in (-half, half)}
        dots |= {(column, _dot(-y, length, high)) for y in bed.crosses if abs(y) < half}
    return dots


def _half(at: float, size: float, other: float, exponent: float) -> float:
    """How far the hoop reaches from the middle on one axis, at a place on the axis along which it measures `size` [mm]."""
    part = min(abs(2 * at / size), 1.0)
    return float(other / 2 * (1.0 - part**exponent) ** (1.0 / exponent))


def _dot(at: float, size: float, last: int) -> int:
    """The number of the dot nearest to a place from the middle [mm], of dots 0 to `last` over `size` mm."""
    return math.floor((at / size + 0.5) * last + 0.5)
