"""The beds of many frames in few characters: whole numbers, each less the one before."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from gapbook.science.meshes import Hoop
from gapbook.tables.bedlines import BedLines
from gapbook.tables.manylines import lines_of_many
from gapbook.tables.store import Store

MOST_BEDS = 8000
"""Beds a page carries; with more it would be slow to open, so it carries none and says so."""
STEP_MM = 0.01
STEP_SLOPE = 1e-5
STEP_EXPONENT = 1e-3


class Beds(NamedTuple):
    """`coded` by the frame's place in the page; `without` says why there are none."""

    coded: dict[int, list[Any]]
    without: str | None


def beds(store: Store, frame_ids: Sequence[str], most: int = MOST_BEDS) -> Beds:
    """The first measured copy of each frame, coded."""
    columns = ("frame_id", "specimen_id", "head_width_mm", "head_length_mm", "head_exponent")
    rows = store.rows(f"SELECT {', '.join(columns)} FROM {store.load('beds', columns)} ORDER BY specimen_id")
    first: dict[str, tuple[str, Hoop]] = {}
    for frame_id, specimen, *hoop in rows:
        first.setdefault(frame_id, (specimen, Hoop(*hoop)))
    if len(first) > most:
        return Beds({}, f"The beds are not drawn: {len(first):,} measured frames are more than the {most:,} a page carries.")
    lines = lines_of_many(store.package, [specimen for specimen, _ in first.values()])
    place = {name: number for number, name in enumerate(frame_ids)}
    coded = {
        place[name]: coded_bed(specimen, hoop, lines[specimen])
        for name, (specimen, hoop) in sorted(first.items())
        if specimen in lines and name in place
    }
    return Beds(coded, None)


def coded_bed(specimen: str, hoop: Hoop, lines: BedLines) -> list[Any]:
    """[specimen, width, length, exponent, mains at y = 0, their slopes, crosses] in STEP_MM, STEP_EXPONENT and STEP_SLOPE;
    of each list the first number and then the steps from one to the next.
    """
    return [
        specimen,
        round(hoop.width / STEP_MM),
        round(hoop.length / STEP_MM),
        round(hoop.exponent / STEP_EXPONENT),
        _steps(lines.main_at_0.tolist(), STEP_MM),
        _steps(lines.main_slope.tolist(), STEP_SLOPE),
        _steps(lines.cross_y.tolist(), STEP_MM),
    ]


def _steps(values: Iterable[float], step: float) -> list[int]:
    whole = [round(value / step) for value in values]
    return [one - before for one, before in zip(whole, [0, *whole[:-1]], strict=True)]
