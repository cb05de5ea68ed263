"""Handling with weight added, beside what it is now, and what to mind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.additions import Addition, WithAdditions
from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.units import INCH, UNITS
from gapbook.screens import page
from gapbook.screens.text import decimals_for, listed, safe, signed, with_u

OUNCE_G = UNITS["[oz_av]"].factor
CAUTIONS = (
    "Lead is toxic: take tungsten, or wear gloves, wash your hands, keep it from children and never sand or cut it dry.",
    "Go in small steps of 1 to 3 g, hit for a while, and weigh and balance it again: tape, glue and grips weigh too.",
    "If in doubt let a qualified racquet technician do it. A heavier frame asks more of the arm; with a sore one see a "
    "physician first.",
)


def rows(imperial: bool) -> list[tuple[str, str, float]]:
    """Handling figures as they are shown: label, column of handling.csv, factor to the unit shown."""
    mass, length = (("oz", 1.0 / OUNCE_G), ("in", 1.0 / INCH)) if imperial else (("g", 1.0), ("mm", 1.0))
    return [
        (f"mass, {mass[0]}", "mass_g", mass[1]),
        (f"balance from the butt, {length[0]}", "balance_mm", length[1]),
        ("balance, points (minus is head light)", "balance_points", 1.0),
        ("swingweight, kg·cm²", "swingweight_kgcm2", 1.0),
        ("inertia about the balance point, kg·cm²", "inertia_centre_kgcm2", 1.0),
        ("inertia about the butt, kg·cm²", "inertia_butt_kgcm2", 1.0),
    ]


def screen(before: Mapping[str, Any] | None, found: WithAdditions, units: str | None = None) -> list[RenderableType]:
    """What is added, every figure with it on and by how much it changes, and cautions."""
    imperial = units == "imperial"
    heading = "With " + listed([_told(one, imperial) for one in found.additions]) + " added"
    parts: list[RenderableType] = [Text(), Text(heading, page.HEADING)]
    made = page.table(("", "left"), ("with it", "right"), ("change", "right"))
    made.columns[0].no_wrap = False  # in a narrow window labels wrap and figures stay whole
    unknown = []
    for label, name, factor in rows(imperial):
        value, u = found.handling[name], found.handling["u_" + name]
        if value is None or u is None or before is None:
            unknown.append(label.split(",")[0])
            continue
        change = signed((value - before[name]) * factor, max(decimals_for(COVERAGE_FACTOR * u * factor), 1), plus=True)
        made.add_row(Text(label), Text(with_u(value, u, factor)), Text(change))
    if made.row_count:
        parts.append(made)
    if unknown:
        mass = found.added_mass_g / OUNCE_G if imperial else found.added_mass_g
        more = f"{mass:.3g} {'oz' if imperial else 'g'} of mass and {found.added_swingweight_kgcm2:.3g} kg·cm² of swingweight"
        names = listed(list(dict.fromkeys(unknown)))
        parts.append(Text(f"Not known of this frame: {names}. What is added makes {more}.", page.QUIET))
    exact = "Added weights and places are taken as exact; the ± at k = 2 is what is known of the frame."
    return [*parts, Text(), *(Text(line, page.QUIET) for line in (exact, *CAUTIONS))]


def _told(one: Addition, imperial: bool) -> str:
    unit, scale = ("in", INCH) if imperial else ("mm", 1.0)
    place = f"{one.from_mm / scale:.4g}"
    where = f"at {place} {unit}" if one.from_mm == one.to_mm else f"over {place} to {one.to_mm / scale:.4g} {unit}"
    mass = f"{one.mass_g / OUNCE_G:.3g} oz" if imperial else f"{one.mass_g:.4g} g"
    return safe(f"{mass} {where}")
