"""One frame as a person reads it: what the maker says, what the bed is like, copy by copy, and how it handles."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.portrait import Portrait, Row
from gapbook.questions.traits import ZONES
from gapbook.science.units import INCH
from gapbook.screens import additions, page, stiffness
from gapbook.screens.grids import grid
from gapbook.screens.text import head_area, pattern, plural, safe, signed, with_u

CAUTIONS = (
    "A bed is one part of how a frame plays; string, tension and the player are the others.",
    "Sore arm: see a physician. Tension: a qualified stringer and the range printed on the frame decide.",
)
NOT_DERIVED = "Handling is left out: it has not been derived in this package (gapbook derive --part handling)."
"""Said where a derived table is not there."""
_JOINED = "\0"
"""Stands for a space that no line may break at."""


def screen(
    found: Portrait,
    drawing: Sequence[str],
    drawn: str | None,
    units: str | None = None,
    struck: Sequence[Sequence[float]] | None = None,
    handling_derived: bool = True,
) -> list[RenderableType]:
    """The whole portrait; `drawing` are the lines of the specimen `drawn` (none where nobody measured, or the window is too
    narrow), `struck` its stiffness over the bed, `handling_derived` whether the package has handling.csv.
    """
    parts: list[RenderableType] = [Text(_title(found.frame), page.HEADING), Text(_declared(found.frame, units)), Text()]
    parts += _bed(found, units)
    if drawn is not None and drawing:
        parts += [Text(), Text(f"The bed of {safe(drawn)}", page.HEADING), *(Text(line) for line in drawing)]
    parts += _copies(found, units)
    parts += stiffness.screen(found.mechanics, drawn, struck)
    parts += _handling(found.handling, units) if handling_derived else [Text(), Text(NOT_DERIVED)]
    if found.with_additions is not None:
        parts += additions.screen(found.handling, found.with_additions, units)
    parts += [Text(), *(Text(line, page.QUIET) for line in CAUTIONS)]
    return [_whole(part) if isinstance(part, Text) else part for part in parts]


def _whole(text: Text) -> Text:
    """Running text broken into lines so that no figure is parted from its ±."""
    if " ± " not in text.plain:
        return text
    joined = text.plain.replace(" ± ", f"{_JOINED}±{_JOINED}")
    lines = textwrap.wrap(joined, page.width(), break_long_words=False, break_on_hyphens=False)
    return Text("\n".join(lines).replace(_JOINED, " "), text.style)


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
    zones: list[tuple[str, list[str]]] = []
    for zone in ZONES:
        value, u = scores[f"openness_{zone}"], scores[f"u_openness_{zone}"]
        name = "if drilled evenly" if zone == "even" else zone
        zones.append((name, ["not known", ""] if value is None else [with_u(value, u, 0.1 * scale), with_u(value, u)]))
    more = []
    for label, name, factor, plus in (
        ("density in the centre, apertures per cm²", "density_centre_per_cm2", 1.0, False),
        ("sides open by, %", "side_opening", 100.0, True),
        ("uniformity (densest outer zone over the centre)", "uniformity", 1.0, False),
        ("drilling of the mains (1 is even, less is closer)", "drilling_main", 1.0, False),
        ("drilling of the crosses", "drilling_cross", 1.0, False),
    ):
        value, u = scores[name], scores["u_" + name]
        more.append((label, "not known" if value is None else with_u(value, u, factor, plus)))
    heading = f"The bed, from {plural(scores['specimens'], 'measured copy', 'measured copies')} (± at k = 2)"
    return [Text(heading, page.HEADING), grid("zone", [f"mesh, {unit}", "openness"], zones), Text(), _labelled(more)]


def _labelled(rows: Sequence[tuple[str, str]]) -> RenderableType:
    """Labels and their figures; in a narrow window the labels wrap and the figures stay whole."""
    made = page.table(("", "left"), ("", "right"))
    made.show_header = False
    made.columns[0].no_wrap = False
    for label, cell in rows:
        made.add_row(Text(label), Text(cell))
    return made


def _copies(found: Portrait, units: str | None) -> list[RenderableType]:
    if not found.beds:
        return []
    unit, scale = ("in", 1.0 / INCH) if units == "imperial" else ("mm", 1.0)
    headings = [f"centre mesh, {unit}", "sides open by, %", "sessions", f"head, {unit}", f"misclosure, {unit}"]
    rows = [(safe(bed["specimen_id"]), _copy_cells(bed, scale)) for bed in found.beds]
    return [Text(), Text("Copy by copy", page.HEADING), grid("copy", headings, rows, turn=True)]


def _copy_cells(bed: Row, scale: float) -> list[str]:
    mesh = _pair(bed["openness_centre"], bed["u_openness_centre"], 0.1 * scale)
    sides = _pair(bed["side_opening"], bed["u_side_opening"], 100.0)
    size = f"{bed['head_width_mm'] * scale:.4g} × {bed['head_length_mm'] * scale:.4g}"
    closure = [bed["misclosure_main_mm"], bed["misclosure_cross_mm"]]
    places = 1 if scale == 1.0 else 2
    words = ", ".join("–" if one is None else signed(one * scale, places, plus=True) for one in closure)
    return [mesh, sides, str(bed["sessions"]), size, words]


def _pair(value: float | None, u: float | None, scale: float) -> str:
    return "not known" if value is None or u is None else with_u(value, u, scale)


def _handling(row: Row | None, units: str | None) -> list[RenderableType]:
    if row is None:
        return []
    state = "strung" if row["strung"] else "not all strung"
    heading = Text(f"Handling, {state} ({row['basis']})", page.HEADING)
    return [Text(), heading, _labelled(_handling_rows(row, units))]


def _handling_rows(row: Row, units: str | None) -> list[tuple[str, str]]:
    shown = additions.rows(units == "imperial")
    cells: list[tuple[str, Any, Any, float]] = [(label, row[name], row["u_" + name], f) for label, name, f in shown]
    return [(label, with_u(value, u, factor)) for label, value, u, factor in cells if value is not None]
