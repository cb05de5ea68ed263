"""Beds drawn with characters side by side, all at one scale, where there is room for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from gapbook.pictures import plain
from gapbook.questions.comparing import Bed
from gapbook.questions.drawings import drawn_bed
from gapbook.tables.package import Package
from gapbook.tables.store import Store

BETWEEN = 4
NARROWEST = 34
"""Columns below which a bed is not worth drawing."""


class Named(NamedTuple):
    """A bed to draw: what stands above it, its strings as `plain.bed` takes them, and its hoop."""

    name: str
    mains: Sequence[float]
    slopes: Sequence[float]
    crosses: Sequence[float]
    hoop: plain.Hoop


def side_by_side(beds: Sequence[Named], width: int) -> list[str]:
    """Lines of at most `width` columns; none where fewer than two beds are known, or they do not fit beside each other."""
    if len(beds) < 2:
        return []
    most = min(plain.WIDTH, (width - BETWEEN * (len(beds) - 1)) // len(beds))
    if most < NARROWEST:
        return []
    step = max(bed.hoop.width for bed in beds) / (most - 1)
    columns = []
    for bed in beds:
        wide = round(bed.hoop.width / step) + 1
        drawn = plain.bed(bed.mains, bed.slopes, bed.crosses, bed.hoop, columns=wide)
        columns.append([bed.name[:most].center(wide).rstrip(), *drawn])
    high = max(map(len, columns))
    rows = zip(*(column + [""] * (high - len(column)) for column in columns), strict=True)
    return [*((" " * BETWEEN).join(cell.ljust(most) for cell in row).rstrip() for row in rows), "", plain.LEGEND]


def measured(package: Package, beds: Sequence[Bed]) -> list[Named]:
    """What there is to draw of the beds of a comparison: not those that are only counted, nor a contribution's."""
    store = Store(package)
    found = [drawn_bed(store, bed.name) for bed in beds if bed.kind != "folder" and bed.basis == "measured"]
    return [
        Named(one.specimen_id, *(line.tolist() for line in one.strings), plain.Hoop(*one.hoop))  # type: ignore[call-arg]
        for one in found
    ]
