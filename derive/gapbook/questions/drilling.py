"""A drilling for a target: which bed was asked for, the bed that comes nearest, and the folder that `compare` and `draw` read.

A drawing was read off nothing. Its folder says so, in the copy's note and in the names of who and what "read" it, and so must
everything that shows it.
"""

from __future__ import annotations

import math
import re
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from gapbook.errors import fail
from gapbook.questions import measuring_sheet as sheets
from gapbook.questions.bed_data import USUAL_GAUGE_MM, DrawnBed
from gapbook.questions.counted import Counts, counts_of
from gapbook.science import drilling, outline
from gapbook.science.bed_geometry import BedStrings, GapUncertainty, Hoop
from gapbook.science.drilling import STEP_MM, Drilling
from gapbook.science.zones import OUTER
from gapbook.tables.store import Store

LEAST_MESH_MM, MOST_MESH_MM = 5.0, 20.0
LEAST_OPENING, MOST_OPENING = -0.5, 1.0
"""Meshes and side openings that may be asked for: far beyond any frame."""
ROUNDING_MM, ROUNDING_PERCENT = 0.03, 0.4
"""Whole steps move a mesh in the centre by no more than this [mm], and the side opening by no more than so many points."""
SMALLEST_GAP_MM, LARGEST_GAP_MM = 4.0, 15.0
"""Between these a smallest gap may be asked for [mm]."""
DRAWING = "drawing"
"""Who and what "read" a drawing: the ids of its contributor and its instrument. A check refuses them."""
NOTE = "A drawing by gapbook drill: nobody read it off a frame"
_NUMBER = r"[+-]?[0-9]{1,3}(?:\.[0-9]{1,4})?"
_MESH = re.compile(rf"({_NUMBER})\s*(?:mm)?")
_MESH_IN_MM = re.compile(rf"({_NUMBER})\s*mm")
_PERCENT = re.compile(rf"({_NUMBER})\s*%")


@dataclass(frozen=True)
class Target:
    """The bed that is asked for.

    counts: mains, crosses and head area.
    centre_mm: the mesh in the centre [mm].
    side_opening: how much more open the sides are than the centre, as a part of the centre's mesh.
    least_gap_mm: the smallest gap allowed [mm].
    """

    counts: Counts
    centre_mm: float
    side_opening: float
    least_gap_mm: float


@dataclass(frozen=True)
class Drilled:
    """The bed that comes nearest.

    target: what was asked for.
    hoop: the head's inner edge.
    places: of its strings, in whole steps [mm].
    zones: its mesh in each zone [mm]; None if too little of the window is covered.
    is_reached: whether it is what was asked for, but for the rounding to whole steps.
    held_by: if it is not, the limits that hold it, as names in `science.drilling.LIMITS`.
    """

    target: Target
    hoop: Hoop
    places: Drilling
    zones: dict[str, float | None]
    is_reached: bool
    held_by: tuple[str, ...]

    @property
    def centre_mm(self) -> float:
        """Its mesh in the centre [mm]."""
        centre = self.zones["centre"]
        assert centre is not None  # the limits see to it
        return centre

    @property
    def side_opening(self) -> float:
        """How much more open its sides are than its centre; both are alike."""
        side = self.zones["right"]
        assert side is not None  # likewise
        return side / self.centre_mm - 1.0

    @property
    def denser(self) -> list[str]:
        """The outer zones that are denser than the centre by more than the rounding."""
        meshes = {zone: self.zones[zone] for zone in OUTER}
        return [zone for zone, mesh in meshes.items() if mesh is not None and mesh < self.centre_mm - ROUNDING_MM]

    def document(self) -> dict[str, Any]:
        """What --json prints."""
        counts = self.target.counts
        return {
            "mains": counts.mains,
            "crosses": counts.crosses,
            "head_area_cm2": counts.area,
            "head_width_mm": self.hoop.width,
            "head_length_mm": self.hoop.length,
            "asked": {name: value for name, value in asdict(self.target).items() if name != "counts"},
            "reached": self.is_reached,
            "held_by": list(self.held_by),
            "mesh_mm": {zone: None if mesh is None else round(mesh, 4) for zone, mesh in self.zones.items()},
            "side_opening": round(self.side_opening, 5),
            "denser_than_centre": self.denser,
            "mains_x_mm": self.places.mains.tolist(),
            "crosses_y_mm": self.places.crosses[::-1].tolist(),
        }


def target_of(store: Store, head: str, pattern: str, centre: str, sides: str, least_gap: float) -> Target:
    """What was asked for, from the texts that were typed. GapbookError if one of them is not understood or out of range.

    store: of the package, whose schema limits counts and head areas
    head: head area with its unit, "98 sq in"
    pattern: "16x19"
    centre: mesh in the centre [mm]
    sides: "+12%" more open than the centre, or a mesh, "12.1 mm"
    least_gap: the smallest gap [mm]
    """
    counts = counts_of(store, f"{pattern} {head}")
    if counts is None or counts.area is None:
        raise fail(
            "bad-bed", "no bed is named by these", found=f"{pattern}, {head}", expected='--pattern 16x19 --head "98 sq in"'
        )
    field = store.package.schema("frames").field("head_area_cm2")
    if not (field.minimum or 0) <= counts.area <= (field.maximum or counts.area):
        raise fail("bad-head", "no head has such an area", found=head, expected=field.says())
    mesh = _number(_MESH, centre, "--centre takes a mesh", "10.8 mm")
    percent = _PERCENT.fullmatch(_typed(sides))
    side = "--sides takes how much more open than the centre they are, or a mesh"
    opening = float(percent[1]) / 100.0 if percent else _number(_MESH_IN_MM, sides, side, '+12% or "12.1 mm"') / mesh - 1.0
    if not LEAST_MESH_MM <= mesh <= MOST_MESH_MM:
        raise fail("bad-mesh", "no bed has such a centre", found=centre, expected=f"{LEAST_MESH_MM:g} to {MOST_MESH_MM:g} mm")
    if not LEAST_OPENING <= opening <= MOST_OPENING:
        expected = f"{100 * LEAST_OPENING:+.0f}% to {100 * MOST_OPENING:+.0f}% of the centre's mesh"
        raise fail("bad-sides", "no bed has such sides", found=sides, expected=expected)
    steps = round(least_gap / STEP_MM)
    if not math.isclose(steps * STEP_MM, least_gap) or not SMALLEST_GAP_MM <= least_gap <= LARGEST_GAP_MM:
        expected = f"{SMALLEST_GAP_MM:g} to {LARGEST_GAP_MM:g} mm, in steps of {STEP_MM:g}"
        raise fail("bad-gap", "--least-gap does not take this", found=f"{least_gap:g}", expected=expected)
    return Target(counts, mesh, opening, steps * STEP_MM)


def _typed(text: str) -> str:
    return text.strip().replace("−", "-")


def _number(form: re.Pattern[str], text: str, message: str, example: str) -> float:
    found = form.fullmatch(_typed(text))
    if found is None or float(found[1]) <= 0.0:
        raise fail("bad-mesh", message, found=text, expected=example)
    return float(found[1])


def drilled(target: Target) -> Drilled:
    """The bed that comes nearest to the target. GapbookError if so many strings have no room in the head."""
    counts = target.counts
    assert counts.area is not None
    area = np.array([counts.area])
    width, length = (2.0 * STEP_MM * round(float(size[0]) / (2.0 * STEP_MM)) for size in outline.size_from_area(area))
    width, length = round(width, 6), round(length, 6)
    asked = (counts.mains, counts.crosses), (width, length), target.centre_mm, target.side_opening, target.least_gap_mm
    try:
        found = drilling.drill(*asked)
    except ValueError:
        message = "so many strings have no room in this head"
        fix = f"Take fewer strings, a larger head or a smaller --least-gap than {target.least_gap_mm:g} mm"
        raise fail("no-room", message, found=counts.name, fix=fix) from None
    exponent = float(outline.exponent_of(np.array([width]), np.array([length]), area)[0])
    zones = {zone: None if math.isnan(mesh) else mesh for zone, mesh in drilling.zone_meshes(found.drilling).items()}
    return Drilled(target, Hoop(width, length, exponent), found.drilling, zones, found.is_reached, found.held_by)


def drawn(bed: Drilled) -> DrawnBed:
    """The bed as a picture shows it."""
    counts = bed.target.counts
    figures: dict[str, float | None] = {f"openness_{zone}": mesh and 10.0 * mesh for zone, mesh in bed.zones.items()}
    figures["side_opening"] = bed.side_opening
    return DrawnBed(
        name=counts.name,
        specimen_id=f"drilled-{counts.mains}x{counts.crosses}",
        frame={"mains": counts.mains, "crosses": counts.crosses, "head_area_cm2": counts.area},
        bed=figures | {f"u_{name}": None for name in figures},
        scores=None,
        gauge_mm=USUAL_GAUGE_MM,
        strings=BedStrings(bed.places.mains, np.zeros(counts.mains), bed.places.crosses[::-1]),
        hoop=bed.hoop,
        stiffness=None,
        contributed=True,
        u_gap=GapUncertainty(0.0, 0.0),
        is_drawing=True,
    )


def tables(store: Store, bed: Drilled) -> dict[str, list[sheets.Cells]]:
    """The bed as tables that `gapbook compare` and `draw` read like a contribution, and that `check` and `admit` refuse: marks
    of a rule laid once across the mains and once along the crosses.
    """
    counts = bed.target.counts
    name = f"drilled-{counts.mains}x{counts.crosses}"
    tool = sheets.Tool(DRAWING, "photo", f"{STEP_MM:g}", "0", "mm")
    wishes = sheets.Wishes(specimen=name, contributor=DRAWING, kind="mark", stations="0")
    session = replace(sheets.session(store, counts.name, wishes), frame_id=name, tool=tool, rule=tool)
    rows = sheets.tables(session)
    rows["frames"][0] |= {"maker": "Drawing", "model": counts.name}
    rows["specimens"][0] |= {"note": NOTE}
    size = {"head_width": bed.hoop.width, "head_length": bed.hoop.length}
    marks = {"main": _marks(bed.places.mains, bed.hoop.width), "cross": _marks(bed.places.crosses, bed.hoop.length)}
    for row in rows["readings"]:
        row["value"] = f"{size[row['quantity']]:.1f}"
    for row in rows["spacings"]:
        row["value"] = f"{marks[row['family']][int(row['no'])]:.1f}"
    return rows


def _marks(places: np.ndarray, span: float) -> list[float]:
    """Running marks from the first inner edge to the other [mm]."""
    return [0.0, *(span / 2.0 + places).tolist(), span]
