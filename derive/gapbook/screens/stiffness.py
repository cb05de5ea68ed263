"""What a bed does under a ball, as a person reads it: five zones, the whole bed, and that it is a model."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from gapbook.science.zones import ZONES
from gapbook.screens import page
from gapbook.screens.text import listed, safe, signed, with_u

ACROSS = (-80.0, -40.0, 0.0, 40.0, 80.0)
ALONG = (120.0, 80.0, 40.0, 0.0, -40.0, -80.0, -120.0)
"""Where the map of a bed is struck: x and y from the head's centre [mm], tip first."""
MODEL = (
    "A model of geometry and tension at 245 N pull with 30 % loss, not a reading of any machine; string material does not "
    "enter, but for the frequency, which is for a 1.25 mm string of 1.38 g/cm³."
)


def screen(
    row: Mapping[str, Any] | None, drawn: str | None = None, grid: Sequence[Sequence[float]] | None = None
) -> list[RenderableType]:
    """The frame's row of mechanics in words, and the stiffness [N/mm] of the copy `drawn` at every ALONG and ACROSS; nothing
    where nobody derived it.
    """
    if row is None:
        return []
    parts: list[RenderableType] = [
        Text(),
        Text("Stiffness of the bed where it is struck, N/mm", page.HEADING),
        Text(_line(row)),
    ]
    if drawn is not None and grid is not None:
        parts += [Text(f"Over the bed of {safe(drawn)}, mm from the centre, tip up:"), _map(grid)]
    return [*parts, Text(MODEL, page.QUIET)]


def _line(row: Mapping[str, Any]) -> str:
    cells = []
    for zone in ZONES:
        value, u = row[f"stiffness_{zone}_n_per_mm"], row[f"u_stiffness_{zone}_n_per_mm"]
        cells.append(f"{zone} " + ("not known" if value is None else with_u(value, u)))
    told = listed(cells) + "."
    if row["frequency_hz"] is not None:
        told += f" Lowest frequency of the strings {with_u(row['frequency_hz'], row['u_frequency_hz'])} Hz."
    return told


def _map(grid: Sequence[Sequence[float]]) -> RenderableType:
    made = page.table(("", "right"), *((signed(x, 0), "right") for x in ACROSS))
    for y, values in zip(ALONG, grid, strict=True):
        made.add_row(Text(signed(y, 0), page.QUIET), *(Text("" if math.isnan(one) else f"{one:.0f}") for one in values))
    return made
