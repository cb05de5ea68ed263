"""One frame as a person reads it: what the maker says, its bed, its copies, its stiffness, how it handles, weight added."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import NamedTuple

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions import traits
from gapbook.questions.additions import Addition, WithAdditions
from gapbook.questions.budget import WORDS, Budget
from gapbook.questions.portrait import Portrait, Row
from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.units import INCH
from gapbook.science.zones import ZONES
from gapbook.screens import beds, page, tables
from gapbook.screens.tables import grid
from gapbook.screens.text import (
    HANDLING_NOT_DERIVED,
    NOT_KNOWN,
    OUNCE_G,
    decimals_for,
    head_area,
    listed,
    pattern,
    plural,
    signed,
    with_u,
    with_u_if_known,
)
from gapbook.signs import safe

ACROSS = (-80.0, -40.0, 0.0, 40.0, 80.0)
ALONG = (120.0, 80.0, 40.0, 0.0, -40.0, -80.0, -120.0)
"""Where the map of a bed is struck: x and y from the head's centre [mm], tip first."""
MODEL = (
    "A model of geometry and tension, strung at 245 N, of which 30 % is then lost; not a reading of any machine. String "
    "material does not enter, except in the frequency, which is for a 1.25 mm string of 1.38 g/cm³."
)
GIVE = (
    "Sideways, 10 N on the mains in the centre move them {:.2f} mm if crossings hold, and {:.1f} mm if they slide. This is for "
    "comparing beds: where both are larger, strings move more."
)
CAUTIONS = (
    "A bed is one part of how a frame plays; string, tension and the player are the others.",
    "Sore arm: see a physician. Tension: a qualified stringer and the range printed on the frame decide.",
)
ADDING = (
    "Lead is toxic: take tungsten, or wear gloves, wash your hands, keep it from children and never sand or cut it dry.",
    "Go in small steps of 1 to 3 g, hit for a while, and weigh and balance it again: tape, glue and grips weigh too.",
    "If in doubt let a qualified racquet technician do it. A heavier frame asks more of the arm; with a sore one see a "
    "physician first.",
)
"""What to mind if weight is added."""
_JOINED = "\0"
"""Stands for a space at which no line may break."""


class Copy(NamedTuple):
    """The measured copy whose bed is shown.

    specimen_id: its id
    drawing: lines of its bed drawn with characters, none if the window is too narrow
    stiffness: where struck [N/mm], shape (ALONG, ACROSS), nan outside the bed; None if none was derived
    give: least and greatest sideways give of the mains in the centre [mm/N]; None if none was derived
    """

    specimen_id: str
    drawing: Sequence[str]
    stiffness: Sequence[Sequence[float]] | None
    give: tuple[float, float] | None = None


def screen(
    portrait: Portrait, copy: Copy | None, units: str | None = None, handling_derived: bool = True
) -> list[RenderableType]:
    """The whole portrait.

    portrait: the frame's rows
    copy: the measured copy that is shown; None if nobody measured one
    units: "metric" or "imperial"; None for square inches beside cm², the rest metric
    handling_derived: whether the package has handling.csv
    """
    parts: list[RenderableType] = [Text(_title(portrait), page.HEADING), Text(_declared(portrait, units)), Text()]
    parts += _bed(portrait, units)
    if copy is not None and copy.drawing:
        parts += [Text(), Text(f"The bed of {safe(copy.specimen_id)}", page.HEADING), *(Text(line) for line in copy.drawing)]
    parts += _copies(portrait, units)
    parts += _stiffness(portrait.mechanics, copy)
    parts += _handling(portrait, units) if handling_derived or portrait.handling else [Text(), Text(HANDLING_NOT_DERIVED)]
    if portrait.with_additions is not None:
        parts += _with_additions(portrait.handling, portrait.with_additions, units)
    parts += [Text(), *(Text(line, page.QUIET) for line in CAUTIONS)]
    return [_whole(part) if isinstance(part, Text) else part for part in parts]


def _whole(text: Text) -> Text:
    """Running text broken into lines so that no figure is separated from its ±."""
    if " ± " not in text.plain:
        return text
    joined = text.plain.replace(" ± ", f"{_JOINED}±{_JOINED}")
    lines = textwrap.wrap(joined, page.width(), break_long_words=False, break_on_hyphens=False)
    return Text("\n".join(lines).replace(_JOINED, " "), text.style)


def _title(portrait: Portrait) -> str:
    frame = portrait.frame
    if portrait.kind == "pattern":
        return f"{safe(portrait.name)}: a pattern, no frame of the catalogue"
    made = " ".join(safe(frame[name]) for name in ("maker", "model") if frame[name])
    year = "" if frame["release_year"] is None else f", {frame['release_year']}"
    title = f"{frame['frame_id']}: {made}, {frame['edition']} edition{year}"
    if portrait.kind == "folder":
        return f"{safe(portrait.name)}, {'your own copy' if portrait.beds else 'the counts'} of {title}"
    return title


def _declared(portrait: Portrait, units: str | None) -> str:
    frame = portrait.frame
    known = "" if frame["head_area_cm2"] is not None else ", assumed" if portrait.assumed_head else ", from what was read"
    head = head_area(portrait.scores["head_area_cm2"], units)
    said = [pattern(frame["mains"], frame["crosses"]), f"{head}{known}"]
    said += [] if frame["length_mm"] is None else ["length " + _length(frame["length_mm"], units)]
    said += [] if frame["beam_mm"] is None else ["beam " + _length(frame["beam_mm"], units)]
    return ("Named: " if portrait.kind == "pattern" else "Declared: ") + ", ".join(said)


def _length(value: float, units: str | None) -> str:
    return f"{value / INCH:.2f} in" if units == "imperial" else f"{value:g} mm"


def _bed(portrait: Portrait, units: str | None) -> list[RenderableType]:
    scores = portrait.scores
    unit, scale = ("in", 1.0 / INCH) if units == "imperial" else ("mm", 1.0)
    if scores["basis"] == "counted":
        mesh = with_u(scores["openness_centre"], scores["u_openness_centre"], 0.1 * scale)
        estimate = f"Nobody measured a bed. From head area and counts the centre mesh is about {mesh} {unit} (± at k = 2)."
        parts: list[RenderableType] = [Text(estimate, page.HEADING)]
        if portrait.assumed_head is not None:
            parts.append(Text(beds.assumed(portrait.name, portrait.assumed_head, units), page.QUIET))
        how = f"Measure one and its zones and drilling follow: gapbook sheet {_for_sheet(portrait)} --out sheet.pdf"
        return [*parts, Text(how, page.QUIET)]
    zones: list[tuple[str, list[str]]] = []
    for zone in traits.ZONES:
        value, u = scores[f"openness_{zone}"], scores[f"u_openness_{zone}"]
        name = "if drilled evenly" if zone == "even" else zone
        zones.append((name, [NOT_KNOWN, ""] if value is None else [with_u(value, u, 0.1 * scale), with_u(value, u)]))
    more: list[tuple[str, str]] = []
    for label, name, factor, plus in (
        ("density in the centre, apertures per cm²", "density_centre_per_cm2", 1.0, False),
        ("sides open by, %", "side_opening", 100.0, True),
        ("uniformity (densest outer zone over the centre)", "uniformity", 1.0, False),
        ("drilling of the mains (1 is even, less is closer)", "drilling_main", 1.0, False),
        ("drilling of the crosses", "drilling_cross", 1.0, False),
    ):
        more.append((label, with_u_if_known(scores[name], scores["u_" + name], factor, plus)))
    measured = plural(scores["specimens"], "measured copy", "measured copies")
    heading = f"The bed, from {'this copy' if portrait.kind == 'folder' else measured} (± at k = 2)"
    return [Text(heading, page.HEADING), grid("zone", [f"mesh, {unit}", "openness"], zones), Text(), _labelled(more)]


def _for_sheet(portrait: Portrait) -> str:
    """What `sheet` is to be told of a bed that nobody measured."""
    if portrait.kind == "frame":
        return str(portrait.frame["frame_id"])
    if portrait.kind == "pattern":
        return f'"{portrait.name}"' if " " in portrait.name else portrait.name
    scores = portrait.scores
    return f'"{scores["mains"]}x{scores["crosses"]} {scores["head_area_cm2"]:g} cm2"'


def _labelled(rows: Sequence[tuple[str, str]]) -> RenderableType:
    """Labels and their figures; in a narrow window the labels wrap and the figures stay whole."""
    made = tables.plain(("", "left"), ("", "right"))
    made.show_header = False
    made.columns[0].no_wrap = False
    for label, cell in rows:
        made.add_row(Text(label), Text(cell))
    return made


def _copies(portrait: Portrait, units: str | None) -> list[RenderableType]:
    if not portrait.beds:
        return []
    unit, scale = ("in", 1.0 / INCH) if units == "imperial" else ("mm", 1.0)
    headings = [f"centre mesh, {unit}", "sides open by, %", "sessions", f"head, {unit}", f"misclosure, {unit}"]
    rows = [(safe(bed["specimen_id"]), _copy_cells(bed, scale)) for bed in portrait.beds]
    said = [Text(f"{safe(one.specimen_id)}: {_budget(one)}", page.QUIET) for one in portrait.budgets]
    return [Text(), Text("Copy by copy", page.HEADING), grid("copy", headings, rows, turn=True), *said]


def _budget(budget: Budget) -> str:
    """What a bed's ± in the centre comes from, and what would make it smaller."""
    told = [one for one in budget.parts if one.share >= 0.005]
    parts = [f"{WORDS[one.part]} {100.0 * one.share:.0f} % ({one.basis})" for one in told]
    advice = f" To make it more certain, {budget.advice}." if budget.advice else ""
    return f"its ± in the centre comes, in shares of u², from {listed(parts)}.{advice}"


def _copy_cells(bed: Row, scale: float) -> list[str]:
    mesh = with_u_if_known(bed["openness_centre"], bed["u_openness_centre"], 0.1 * scale)
    sides = with_u_if_known(bed["side_opening"], bed["u_side_opening"], 100.0)
    size = f"{bed['head_width_mm'] * scale:.4g} × {bed['head_length_mm'] * scale:.4g}"
    closure = [bed["misclosure_main_mm"], bed["misclosure_cross_mm"]]
    places = 1 if scale == 1.0 else 2
    words = ", ".join("–" if one is None else signed(one * scale, places, plus=True) for one in closure)
    return [mesh, sides, str(bed["sessions"]), size, words]


def _stiffness(row: Row | None, copy: Copy | None) -> list[RenderableType]:
    """The frame's row of mechanics in words, and the map of the copy that is drawn; nothing if none was derived."""
    if row is None:
        return []
    heading = Text("Stiffness of the bed where it is struck, N/mm", page.HEADING)
    parts: list[RenderableType] = [Text(), heading, Text(_by_zone(row))]
    if copy is not None and copy.stiffness is not None:
        parts += [Text(f"Over the bed of {safe(copy.specimen_id)}, mm from the centre, tip up:"), _map(copy.stiffness)]
    if copy is not None and copy.give is not None:
        least, most = (10.0 * one for one in copy.give)
        parts.append(Text(GIVE.format(least, most)))
    return [*parts, Text(MODEL, page.QUIET)]


def _by_zone(row: Row) -> str:
    columns = {zone: f"stiffness_{zone}_n_per_mm" for zone in ZONES}
    told = listed([f"{zone} {with_u_if_known(row[name], row['u_' + name])}" for zone, name in columns.items()]) + "."
    if row["frequency_hz"] is not None:
        told += f" Lowest frequency of the strings {with_u(row['frequency_hz'], row['u_frequency_hz'])} Hz."
    return told


def _map(stiffness: Sequence[Sequence[float]]) -> RenderableType:
    made = tables.plain(("", "right"), *((signed(x, 0), "right") for x in ACROSS))
    for y, values in zip(ALONG, stiffness, strict=True):
        made.add_row(Text(signed(y, 0), page.QUIET), *(Text("" if math.isnan(one) else f"{one:.0f}") for one in values))
    return made


def _handling(portrait: Portrait, units: str | None) -> list[RenderableType]:
    row = portrait.handling
    if row is None:
        return []
    state = "strung" if row["strung"] else "not all strung"
    heading = Text(f"Handling, {state} ({row['basis']})", page.HEADING)
    parts: list[RenderableType] = [Text(), heading, _labelled(_handling_rows(row, units))]
    if portrait.kind == "folder":
        parts.append(Text(beds.own_handling(portrait.name, portrait.handling_own, row), page.QUIET))
    return parts


def _handling_rows(row: Row, units: str | None) -> list[tuple[str, str]]:
    shown = _handling_columns(units == "imperial")
    return [(label, with_u(row[name], row["u_" + name], by)) for label, name, by in shown if row[name] is not None]


def _handling_columns(imperial: bool) -> list[tuple[str, str, float]]:
    """Handling figures as they are shown: label, column of handling.csv, factor to the unit shown."""
    mass, length = (("oz", 1.0 / OUNCE_G), ("in", 1.0 / INCH)) if imperial else (("g", 1.0), ("mm", 1.0))
    return [
        (f"mass, {mass[0]}", "mass_g", mass[1]),
        (f"balance from the butt, {length[0]}", "balance_mm", length[1]),
        ("balance, points (minus is head light)", "balance_points", 1.0),
        ("swingweight, kg·cm²", "swingweight_kgcm2", 1.0),
        ("inertia about the balance point, kg·cm²", "inertia_centre_kgcm2", 1.0),
        ("inertia about the butt, kg·cm²", "inertia_butt_kgcm2", 1.0),
        (f"centre of percussion from the butt, {length[0]}", "percussion_mm", length[1]),
    ]


def _with_additions(before: Row | None, after: WithAdditions, units: str | None) -> list[RenderableType]:
    """What is added, every figure with it on and by how much it changes, and cautions."""
    imperial = units == "imperial"
    heading = "With " + listed([_addition(one, imperial) for one in after.additions]) + " added"
    parts: list[RenderableType] = [Text(), Text(heading, page.HEADING)]
    made = tables.plain(("", "left"), ("with it", "right"), ("change", "right"))
    made.columns[0].no_wrap = False  # in a narrow window labels wrap and figures stay whole
    unknown = []
    for label, name, factor in _handling_columns(imperial):
        value, u = after.handling[name], after.handling["u_" + name]
        if value is None or u is None or before is None:
            unknown.append(label.split(",")[0])
            continue
        change = signed((value - before[name]) * factor, max(decimals_for(COVERAGE_FACTOR * u * factor), 1), plus=True)
        made.add_row(Text(label), Text(with_u(value, u, factor)), Text(change))
    if made.row_count:
        parts.append(made)
    if unknown:
        mass = after.added_mass_g / OUNCE_G if imperial else after.added_mass_g
        more = f"{mass:.3g} {'oz' if imperial else 'g'} of mass and {after.added_swingweight_kgcm2:.3g} kg·cm² of swingweight"
        names = listed(list(dict.fromkeys(unknown)))
        parts.append(Text(f"Not known of this frame: {names}. What is added makes {more}.", page.QUIET))
    exact = "Added weights and places are taken as exact; the ± at k = 2 is what is known of the frame."
    return [*parts, Text(), *(Text(line, page.QUIET) for line in (exact, *ADDING))]


def _addition(one: Addition, imperial: bool) -> str:
    unit, scale = ("in", INCH) if imperial else ("mm", 1.0)
    place = f"{one.from_mm / scale:.4g}"
    where = f"at {place} {unit}" if one.from_mm == one.to_mm else f"over {place} to {one.to_mm / scale:.4g} {unit}"
    mass = f"{one.mass_g / OUNCE_G:.3g} oz" if imperial else f"{one.mass_g:.4g} g"
    return safe(f"{mass} {where}")
