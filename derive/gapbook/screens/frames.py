"""One frame as a person reads it: what the maker says, what the bed is like, copy by copy, and how it handles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.portrait import Portrait, Row
from gapbook.science.units import INCH
from gapbook.screens import additions, page, stiffness
from gapbook.screens.text import head_area, pattern, plural, safe, signed, with_u

ZONES = ("centre", "left", "right", "tip", "throat")
CAUTIONS = (
    "A bed is one part of how a frame plays; string, tension and the player are the others.",
    "Sore arm: see a physician. Tension: a qualified stringer and the range printed on the frame decide.",
)


def screen(
    found: Portrait,
    drawing: Sequence[str],
    drawn: str | None,
    units: str | None = None,
    struck: Sequence[Sequence[float]] | None = None,
) -> list[RenderableType]:
    """The whole portrait; `drawing` are the lines of the specimen `drawn` (none where nobody measured), `struck` its stiffness
    over the bed.
    """
    parts: list[RenderableType] = [Text(_title(found.frame), page.HEADING), Text(_declared(found.frame, units)), Text()]
    parts += _bed(found, units)
    if drawn is not None:
        parts += [Text(), Text(f"The bed of {safe(drawn)}", page.HEADING), *(Text(line) for line in drawing)]
    parts += _copies(found, units)
    parts += stiffness.screen(found.mechanics, drawn, struck)
    parts += _handling(found.handling, units)
    if found.with_additions is not None:
        parts += additions.screen(found.handling, found.with_additions, units)
    return [*parts, Text(), *(Text(line, page.QUIET) for line in CAUTIONS)]


def _title(frame: Row) -> str:
    year = "" if frame["release_year"] is None else f", {frame['release_year']}"
    return f"{frame['frame_id']}: {safe(frame['maker'])} {safe(frame['model'])}, {frame['edition']} edition{year}"


def _declared(frame: Row, units: str | None) -> str:
    said = [pattern(frame["mains"], frame["crosses"]), head_area(frame["head_area_cm2"], units)]
    said += [] if frame["length_mm"] is None else ["length " + _length(frame["length_mm"], units)]
    said += [] if frame["beam_mm"] is None else ["beam " + _length(frame["beam_mm"], units)]
    return "Declared: " + ", ".join(said)


def _length(value: float, units: str | None) -> str:
    return f"{value / INCH:.2f} in" if units == "imperial" else f"{value:g} mm"


def _bed(found: Portrait, units: str | None) -> list[RenderableType]:
    scores = found.scores
    unit, scale = ("in", 1.0 / INCH) if units == "imperial" else ("mm", 1.0)
    if scores["basis"] == "counted":
        mesh = with_u(scores["openness_centre"], scores["u_openness_centre"], 0.1 * scale)
        estimate = f"Nobody measured a bed. From head area and counts the centre mesh is about {mesh} {unit}."
        return [Text(estimate, page.HEADING), Text("Measure one and its zones and drilling follow.", page.QUIET)]
    made = page.table(("zone", "left"), (f"mesh, {unit}", "right"), ("openness", "right"))
    for zone in (*ZONES[:3], "sides", *ZONES[3:], "even"):
        value, u = scores[f"openness_{zone}"], scores[f"u_openness_{zone}"]
        name = "if drilled evenly" if zone == "even" else zone
        cells = ("not known", "") if value is None else (with_u(value, u, 0.1 * scale), with_u(value, u))
        made.add_row(Text(name), *(Text(cell) for cell in cells))
    more = page.table(("", "left"), ("", "right"))
    more.show_header = False
    for label, name, factor, plus in (
        ("density in the centre, apertures per cm²", "density_centre_per_cm2", 1.0, False),
        ("sides open by, %", "side_opening", 100.0, True),
        ("uniformity (densest outer zone over the centre)", "uniformity", 1.0, False),
        ("drilling of the mains (1 is even, less is closer)", "drilling_main", 1.0, False),
        ("drilling of the crosses", "drilling_cross", 1.0, False),
    ):
        value, u = scores[name], scores["u_" + name]
        more.add_row(Text(label), Text("not known" if value is None else with_u(value, u, factor, plus)))
    heading = f"The bed, from {plural(scores['specimens'], 'measured copy', 'measured copies')} (± at k = 2)"
    return [Text(heading, page.HEADING), made, Text(), more]


def _copies(found: Portrait, units: str | None) -> list[RenderableType]:
    if not found.beds:
        return []
    unit, scale = ("in", 1.0 / INCH) if units == "imperial" else ("mm", 1.0)
    made = page.table(
        ("\ncopy", "left"), (f"centre mesh\n{unit}", "right"), ("sides open by\n%", "right"), ("\nsessions", "right"),
        (f"head\n{unit}", "right"), (f"misclosure\n{unit}", "right"),
    )  # fmt: skip
    for bed in found.beds:
        made.add_row(*(Text(cell) for cell in _copy_cells(bed, scale)))
    return [Text(), Text("Copy by copy", page.HEADING), made]


def _copy_cells(bed: Row, scale: float) -> list[str]:
    mesh = _pair(bed["openness_centre"], bed["u_openness_centre"], 0.1 * scale)
    sides = _pair(bed["side_opening"], bed["u_side_opening"], 100.0)
    size = f"{bed['head_width_mm'] * scale:.4g} × {bed['head_length_mm'] * scale:.4g}"
    closure = [bed["misclosure_main_mm"], bed["misclosure_cross_mm"]]
    places = 1 if scale == 1.0 else 2
    words = ", ".join("–" if one is None else signed(one * scale, places, plus=True) for one in closure)
    return [safe(bed["specimen_id"]), mesh, sides, str(bed["sessions"]), size, words]


def _pair(value: float | None, u: float | None, scale: float) -> str:
    return "not known" if value is None or u is None else with_u(value, u, scale)


def _handling(row: Row | None, units: str | None) -> list[RenderableType]:
    if row is None:
        return []
    state = "strung" if row["strung"] else "not all strung"
    parts: list[RenderableType] = [Text(), Text(f"Handling, {state} ({row['basis']})", page.HEADING)]
    made = page.table(("", "left"), ("", "right"))
    made.show_header = False
    made.columns[0].no_wrap = False  # in a narrow window labels wrap and figures stay whole
    for label, cell in _handling_rows(row, units):
        made.add_row(Text(label), Text(cell))
    return [*parts, made]


def _handling_rows(row: Row, units: str | None) -> list[tuple[str, str]]:
    shown = additions.rows(units == "imperial")
    cells: list[tuple[str, Any, Any, float]] = [(label, row[name], row["u_" + name], f) for label, name, f in shown]
    return [(label, with_u(value, u, factor)) for label, value, u, factor in cells if value is not None]
