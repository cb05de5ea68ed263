"""A bed read off a photograph as a contribution: marks at three stations of the mains and along the crosses."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from gapbook.errors import fail
from gapbook.photo.camera import FILM_DIAGONAL_MM
from gapbook.photo.locating import QUARTERS
from gapbook.photo.reading import STATIONS_MM, Reading
from gapbook.questions import measuring_sheet as sheets
from gapbook.questions.measuring_sheet import Session, Tool, Wishes
from gapbook.tables.files import drafting
from gapbook.tables.store import Store

RESOLUTION_MM = 0.01
OVERLAY = "overlay.png"
EDGES = ("left", "right", "tip", "throat")


@dataclass(frozen=True)
class Measured:
    """What was measured beside the photographs.

    beam: height of the frame at 3 and 9 o'clock [mm]
    bars: lengths of the left and the right page's scale bar [mm]
    edges: from the inner edge to the middle of the outer string at left, right, tip and throat [mm]; None if not measured
    tip: where the tip points in the picture
    digests: SHA-256 of the photographs' files
    """

    beam: float
    bars: tuple[float, float]
    edges: tuple[float, ...] | None
    tip: str
    digests: tuple[str, ...]

    @property
    def note(self) -> str:
        """The settings in words, with the beginning of each picture's digest."""
        pictures = ", ".join(digest[:16] for digest in self.digests)
        edges = "" if self.edges is None else f"; edges {', '.join(f'{one:g}' for one in self.edges)} mm"
        bars = f"{self.bars[0]:g} and {self.bars[1]:g}"
        return f"Read by photograph: beam {self.beam:g} mm, bars {bars} mm{edges}, tip {self.tip}; SHA-256 {pictures}"[:400]


def check(beam: float, tip: str, frame: str | None, pattern: str | None) -> None:
    """GapbookError unless options make sense.

    beam: height of the frame [mm]
    tip: where its tip points
    frame, pattern: one of them has to be named
    """
    if (frame is None) == (pattern is None):
        raise fail("bad-option", "name the strings by --frame or by --pattern", expected="one of them")
    if tip not in QUARTERS:
        raise fail("bad-tip", "--tip does not take this", found=tip, expected=", ".join(QUARTERS))
    if not 12.0 <= beam <= 40.0:
        raise fail("bad-beam", "--beam is the frame's height at 3 and 9 o'clock", found=f"{beam:g} mm", expected="12 to 40 mm")


def notes(planned: Session, reading: Reading, tool: Tool, folder: Path) -> list[str]:
    """What people are told of a contribution.

    planned: the session
    reading: of the photographs
    tool: the instrument it makes
    folder: of the contribution
    """
    scale, place = f"{200.0 * reading.u_scale:.2f} %", f"{2.0 * reading.u_position:.2f} mm"
    said = [
        f"Read {planned.mains} mains at three stations, {planned.crosses} crosses: scale ± {scale}, strings ± {place} (k=2).",
        "Look at overlay.png: each green line must lie on its string.",
        f"The instrument is {tool.instrument_id}: its largest error, {tool.max_error} mm, is that of this picture's scale.",
        *(f"Fill in: {one}." for one in planned.by_hand),
    ]
    if planned.contributor_id == sheets.NOBODY:
        said.append(f"The reader is called {sheets.NOBODY}, which check refuses. To send it, use --contributor YOUR-ID.")
    return [*said, f"Then: gapbook check {folder}"]


def edges_of(text: str | None) -> tuple[float, ...] | None:
    """The four gaps of `--edges`. GapbookError unless they are four lengths that a head can have."""
    if text is None:
        return None
    try:
        found = tuple(float(part) for part in text.split(","))
    except ValueError:
        found = ()
    if len(found) != len(EDGES) or not all(2.0 <= one <= 80.0 for one in found):
        expected = "left,right,tip,throat in mm, each from 2 to 80, such as 21.5,21,33,31.5"
        raise fail("bad-edges", "--edges takes four gaps", found=text, expected=expected)
    return found


def session(store: Store, name: str, contributor: str | None, specimen: str | None, on: str | None) -> Session:
    """The session that photographs of `name` make. GapbookError as `measuring_sheet.session`.

    store: the catalogue
    name: a frame, a copy or a pattern
    contributor, specimen, on: as in `Wishes`
    """
    stations = "0,80,-80"
    return sheets.session(store, name, Wishes(specimen, contributor, kind="mark", stations=stations, taken_on=on))


def instrument(session: Session, reading: Reading, digest: str) -> Tool:
    """The photograph as an instrument of its own: its largest error is what its scale may be off over the longest run.

    The contract takes the largest error of an instrument over the square root of three as its standard uncertainty.
    """
    longest = max(float(reading.main[1, -1]), float(reading.cross[-1]))
    largest = 3.0**0.5 * reading.u_scale * longest
    name = f"photo-{session.contributor_id}-{digest[:8]}"
    return Tool(name[:64], "photo", f"{RESOLUTION_MM:g}", f"{max(largest, 0.01):.2f}", "mm")


def write(
    store: Store, planned: Session, reading: Reading, measured: Measured, folder: Path, picture: bytes
) -> tuple[list[Path], Tool]:
    """Write the contribution with overlay.png and all that was found as photo.json, whole or not at all; the files and the
    instrument. GapbookError if the folder already holds something.

    store: the catalogue
    planned: from `session`
    reading: of the photographs
    measured: beside them
    folder: new, or empty
    picture: what overlay.png holds
    """
    tool = instrument(planned, reading, measured.digests[0])
    planned = replace(planned, tool=tool)
    rows = sheets.tables(planned)
    del rows["readings"]
    rows["instruments"] = [{name: getattr(tool, name) for name in ("instrument_id", "kind", "resolution", "max_error", "unit")}]
    for row in rows.get("specimens", []):
        row["note"] = measured.note
    values = _values(reading, measured.edges)
    kept = []
    for row in rows["spacings"]:
        value = values[row["family"], float(row["station_mm"])].get(int(row["no"]))
        if value is not None:
            kept.append({**row, "value": f"{value:.2f}"})
    rows["spacings"] = kept
    found = {**document(reading), "note": measured.note}
    told = json.dumps(found, ensure_ascii=False, indent=2, allow_nan=False) + "\n"
    others = {"photo.json": told.encode(), OVERLAY: picture}
    return sheets.write_tables(rows, store.package, folder, others), tool


def _values(reading: Reading, edges: tuple[float, ...] | None) -> dict[tuple[str, float], dict[int, float]]:
    """Marks by family and station: number and value [mm]. Edges were measured along the two lines through the middle only."""
    values = {}
    for station, marks in zip(STATIONS_MM, reading.main.tolist(), strict=True):
        values["main", station] = _run(marks, edges[:2] if edges and station == 0.0 else None)
    values["cross", 0.0] = _run(reading.cross.tolist(), edges[2:] if edges else None)
    return values


def _run(marks: Sequence[float], edges: tuple[float, ...] | None) -> dict[int, float]:
    first = edges[0] if edges else 0.0
    run = {number: first + mark for number, mark in enumerate(marks, 1)}
    if edges:
        run |= {0: 0.0, len(marks) + 1: first + marks[-1] + edges[1]}
    return run


def write_overlay(picture: bytes, folder: Path) -> Path:
    """Write overlay.png alone, of photographs that were refused. GapbookError if it cannot be written."""
    with drafting(folder) as draft:
        (draft / OVERLAY).write_bytes(picture)
        if folder.exists():
            folder.rmdir()
        os.rename(draft, folder)
    return folder / OVERLAY


def document(reading: Reading) -> dict[str, Any]:
    """A reading with the keys that programs rely on."""
    camera = reading.adjusted.cameras[0]
    tilt = float(camera.rotation[2, 2])
    return {
        "family": {
            "main": {
                f"{station:g}": _rounded(marks) for station, marks in zip(STATIONS_MM, reading.main.tolist(), strict=True)
            },
            "cross": {"0": _rounded(reading.cross.tolist())},
        },
        "u_scale_percent": round(100.0 * reading.u_scale, 4),
        "u_position_mm": round(reading.u_position, 4),
        "camera": {
            "focal_px": round(camera.focal, 1),
            "focal_35mm": round(camera.focal * FILM_DIAGONAL_MM / reading.diagonal_px, 2),
            "centre_px": _rounded(camera.centre.tolist(), 1),
            "radial": _rounded(camera.radial.tolist(), 5),
            "distance_mm": _rounded([float(one.place[2]) for one in reading.adjusted.cameras], 1),
            "tilt_deg": round(_degrees(tilt), 2),
        },
        "quality": reading.quality,
        "refused": None,
    }


def _degrees(cosine: float) -> float:
    from math import acos, degrees  # beside its only use

    return degrees(acos(min(1.0, abs(cosine))))


def _rounded(values: Sequence[float], places: int = 4) -> list[float]:
    return [round(value, places) for value in values]


REFUSED: dict[str, Any] = {"family": None, "u_scale_percent": None, "u_position_mm": None, "camera": None, "quality": None}
"""The document of a photograph that was refused, but for why."""
