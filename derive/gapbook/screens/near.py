"""The frames nearest to a bed, as a person reads them: chances, differences, what would change, and what is not known."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.nearness import SHARED
from gapbook.questions.neighbours import Known, Near, Neighbours, Part, TargetPull, zones_known
from gapbook.questions.tolerances import Tolerance
from gapbook.questions.traits import UNIT_WORDS
from gapbook.science.units import INCH
from gapbook.screens import beds, page, tables, text
from gapbook.screens.tables import grid
from gapbook.signs import safe

LABEL = 12
"""Longest name of a row with its unit: beside five frames there is no room for more in 80 columns."""
UNLIKELY = 0.01
"""If the best chance is below this, it is said that no frame is likely to be so near."""
_IMPERIAL = {"g": ("[oz_av]", 1.0 / text.OUNCE_G), "mm": ("[in_i]", 1.0 / INCH)}
_METRIC = {"[sin_i]": ("cm2", text.SQ_IN_CM2)}
CAUTIONS = (
    "Nothing here is certain; hit with a frame before deciding. String, tension and the player do as much as the bed.",
    "Sore arm: see a physician. Tension: a qualified stringer and the range printed on the frame decide.",
)


def screen(found: Neighbours, units: str | None = None) -> list[RenderableType]:
    """The whole answer; `units` are "metric", "imperial", or None for the usual ones."""
    bed = found.reference
    told = f"{text.pattern(bed.mains, bed.crosses)}, {text.head_area(bed.head_area_cm2, units)}"
    parts: list[RenderableType] = [Text(f"Frames nearest to {safe(bed.name)}: {told}", page.HEADING)]
    parts += [Text(line) for line in _within(found)]
    if found.matches:
        parts += [Text(), _chances(found, found.matches, units), Text()]
        heading = f"How they differ from {safe(bed.name)}: mesh in %{_units_left_out(found.matches, units)}"
        parts += [Text(heading, page.HEADING), _differences(found, found.matches, units)]
        parts += [Text(), Text("What would change, as far as the beds tell", page.HEADING)]
        parts += [Text(f"{safe(one.frame_id)}: {_changes(one)}") for one in found.matches]
    else:
        parts += [Text(), Text("No frame is known in all of this.")]
    if found.partly_known:
        heading = "Nearest of the frames of which something is not known, judged by the rest"
        parts += [Text(), Text(heading, page.HEADING), _partly(found, units)]
    return [*parts, Text(), *(Text(line, page.QUIET) for line in _notes(found, units))]


def _within(found: Neighbours) -> list[str]:
    usual = [one.name for one in found.within if not one.named]
    zones = zones_known(found.reference.figures)
    lines = [f"Within {text.listed([_tolerance(one, zones) for one in found.within])}."]
    if len(usual) == len(found.within):
        lines[0] += f" These are the usual tolerances; {text.listed([f'--{name}' for name in usual])} would change them."
    elif usual:
        lines[0] += f" Usual, because you named no other: {text.listed(usual)}."
    if found.left_out:
        lines.append(f"Not known of {safe(found.reference.name)}, and so left out: {text.listed(found.left_out)}.")
    if found.itself is not None:
        chance = text.percent(found.itself.probability)
        lines.append(f"The chance of another copy of {safe(found.itself.frame_id)} itself: {chance} %.")
    if found.matches and found.matches[0].probability < UNLIKELY:
        lines.append(
            "No other frame is likely to be within all of this. The nearest come first; wider tolerances part them better."
        )
    return lines


def _tolerance(one: Tolerance, zones: Sequence[str]) -> str:
    amount = f"{one.value:g} {_unit(one.unit, one.value)}"
    return f"{amount} of mesh ({', '.join(zones)})" if one.name == "bed" else f"{amount} of {one.name}"


def _unit(code: str, value: float = 2.0) -> str:
    words = UNIT_WORDS[code]
    return words[1] if code == "points" and value == 1.0 else words[0]


def _chances(found: Neighbours, told: Sequence[Near], units: str | None) -> RenderableType:
    """How probable it is that each frame is within each tolerance, and within all."""
    names = [one.name for one in found.within]
    headings = ["pattern", f"head, {_head_unit(units)}", "all, %", *(f"{name}, %" for name in names)]
    rows = []
    for one in told:
        chances = {part.name: part.probability for part in one.parts} | {"bed": one.probability_bed}
        cells = [text.pattern(one.mains, one.crosses), _head(one, units), text.percent(one.probability)]
        rows.append((safe(one.frame_id), [*cells, *(_chance(chances.get(name)) for name in names)]))
    return grid("chance to be within", headings, rows, turn=True)


def _chance(probability: float | None) -> str:
    return text.NOT_KNOWN if probability is None else text.percent(probability)


def _head_unit(units: str | None) -> str:
    return "cm²" if units == "metric" else "sq in"


def _head(one: Near, units: str | None) -> str:
    return text.square_centimetres(one.head_area_cm2) if units == "metric" else text.square_inches(one.head_area_cm2)


def _differences(found: Neighbours, told: Sequence[Near], units: str | None) -> RenderableType:
    """Each figure less that of the bed, and the pull for its centre stiffness."""
    parts = {(one.frame_id, part.name): part for one in told for part in one.parts}
    names = list(dict.fromkeys(part.name for one in told for part in one.parts))
    rows = []
    for name in names:
        each = [parts.get((one.frame_id, name)) for one in told]
        unit, factor = _shown_unit(next(part for part in each if part is not None), units)
        rows.append((_label(name, unit), [_difference(part, factor) for part in each]))
    for word, size in text.tension_units(units):
        if any(one.pull is not None for one in told):
            rows.append((f"pull, {word}", [_pull(one.pull, size) for one in told]))
    return grid("", [safe(one.frame_id) for one in told], rows)


def _label(name: str, unit: str) -> str:
    """The name of a row, with its unit if it is short."""
    if unit == "%":
        return f"mesh, {name}"
    whole = f"{name}, {_unit(unit)}"
    return whole if len(whole) <= LABEL else name


def _units_left_out(told: Sequence[Near], units: str | None) -> str:
    """The units that the rows leave out, for their heading."""
    shown = {part.name: _shown_unit(part, units)[0] for one in told for part in one.parts if part.unit != "%"}
    return "".join(f", {name} in {_unit(unit)}" for name, unit in shown.items() if _label(name, unit) == name)


def _shown_unit(part: Part, units: str | None) -> tuple[str, float]:
    """The unit in which a difference is shown, and the factor to it."""
    system = {"imperial": _IMPERIAL, "metric": _METRIC}.get(units or "", {})
    return system.get(part.unit, (part.unit, 1.0))


def _difference(part: Part | None, factor: float) -> str:
    return text.NOT_KNOWN if part is None else text.with_u(part.difference, part.u_difference, factor, plus=True)


def _pull(pull: TargetPull | None, size: float) -> str:
    if pull is None:
        return text.NOT_KNOWN
    if pull.tension_n is None or pull.u_tension_n is None:
        return "out of range"
    return text.with_u(pull.tension_n, pull.u_tension_n, 1.0 / size)


def _changes(one: Near) -> str:
    if one.changes:
        words = one.changes.split("; ")
        return "; ".join([words[0], *(word[:1].lower() + word[1:] for word in words[1:])]) + "."
    if one.basis == "counted":
        return "nobody measured its bed, so little can be said."
    return "nothing that the readings can tell."


def _partly(found: Neighbours, units: str | None) -> RenderableType:
    head = f"head, {_head_unit(units)}"
    made = tables.plain(("frame", "left"), ("pattern", "right"), (head, "right"), ("rest, %", "right"), ("not known", "left"))
    for one in found.partly_known:
        cells = [text.pattern(one.mains, one.crosses), _head(one, units), text.percent(one.probability), ", ".join(one.unknown)]
        made.add_row(*(Text(cell) for cell in (safe(one.frame_id), *cells)))
    return made


def _notes(found: Neighbours, units: str | None) -> list[str]:
    name = _typed(found.reference.name)
    whole, partly = found.counts["matches"], found.counts["partly_known"]
    notes = [
        f"Of {text.plural(found.searched, 'frame')}, {whole} are known in all of this and {partly} in part. Plus is more open, "
        "heavier or more head heavy; ± is at k = 2.",
        SHARED,
    ]
    if any(one.pull is not None for one in found.matches):
        notes.append(
            f"Same stiffness at the pull shown: there the centre is as stiff as that of {safe(found.reference.name)} at "
            f"{text.exact_tension(found.at_n, units)} (--at), by two models of geometry and tension, not a reading of any "
            f"machine; ± covers both. gapbook retension {name} FRAME says more."
        )
    notes += _on(found.reference, units)
    more = f"All about one of them: gapbook compare {name} FRAME, gapbook advise FRAME --against {name}"
    return [*notes, more, *CAUTIONS]


def _typed(name: str) -> str:
    """A name as it is typed in a command."""
    return f'"{safe(name)}"' if " " in name else safe(name)


def _on(bed: Known, units: str | None) -> list[str]:
    """What must be said of the bed itself."""
    notes = [beds.COUNTED] if bed.basis == "counted" else []
    notes += [f"{safe(bed.name)} {beds.CLASS}"] if bed.kind == "pattern" else []
    if bed.assumed_head is not None:
        notes.append(beds.assumed(bed.name, bed.assumed_head, units))
    if bed.kind == "folder" and any(
        bed.figures.get(name) is not None for name in ("mass_g", "balance_mm", "swingweight_kgcm2")
    ):
        notes.append(beds.own_handling(bed.name, bed.handling_own, bed.figures))
    return notes
