"""Short answers about one frame, two frames or a word, and the phrases that questions are made of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.comparing import Bed, Comparison, Contrast
from gapbook.questions.examples import PHRASES
from gapbook.questions.portrait import Portrait
from gapbook.questions.telling import Told
from gapbook.questions.traits import ZONE_WORDS, ZONES
from gapbook.science.units import INCH
from gapbook.screens import page
from gapbook.screens.text import head_area, listed, pattern, percent, plural, signed, with_u
from gapbook.signs import safe

MESH_MM = 0.1
"""Mesh [mm] is a tenth of openness."""
_COLUMN = 39
"""Width of a column of phrases."""


def screen(told: Told, said: Sequence[str] = (), units: str | None = None) -> list[RenderableType]:
    """The answer in sentences, and the command that tells more."""
    lines: list[RenderableType] = [Text(safe(line)) for line in sentences(told, units)]
    quiet = [*said, f"More: {told.about.command}"]
    return [*lines, Text(), *(Text(safe(line), page.QUIET) for line in quiet)]


def document(told: Told, said: Sequence[str] = (), units: str | None = None) -> dict[str, Any]:
    """The answer as JSON: about (intent, subjects, where), sentences, command, notes; with contrasts, or scores and handling,
    as `compare --json` and `show --json` have them.
    """
    made: dict[str, Any] = {
        "about": told.about._asdict(),
        "sentences": sentences(told, units),
        "command": told.about.command,
        "notes": list(said),
    }
    if told.portrait is not None:
        made |= {"scores": told.portrait.scores, "handling": told.portrait.handling}
    if told.comparison is not None:
        made["contrasts"] = [one.model_dump(mode="json") for one in told.comparison.contrasts]
    return made


def sentences(told: Told, units: str | None = None) -> list[str]:
    """The answer in sentences."""
    if told.portrait is not None:
        return _frame(told.portrait, told.about.where, units)
    if told.comparison is not None:
        return _two(told.comparison, told.about.intent == "why", units)
    return [told.explanation or ""]


def _mesh(value: float, u: float, units: str | None) -> str:
    imperial = units == "imperial"
    return f"{with_u(value, u, MESH_MM / INCH if imperial else MESH_MM)} {'in' if imperial else 'mm'}"


def _frame(one: Portrait, where: str | None, units: str | None) -> list[str]:
    frame, scores = one.frame, one.scores
    edition = "" if frame["edition"] in (None, "retail") else f", {frame['edition']}"
    counts = pattern(scores["mains"], scores["crosses"])
    lines = [f"{frame['maker']} {frame['model']}{edition}: {counts}, {head_area(scores['head_area_cm2'], units)}."]
    for zone in dict.fromkeys([where or "centre", "centre"]):
        lines.append(_zone(scores, zone, units))
    if scores["side_opening"] is not None:
        opening = with_u(scores["side_opening"], scores["u_side_opening"], 100.0)
        lines.append(f"The sides are {opening} % more open than the centre; openness 100 is a mesh of 10 mm, tighter is lower.")
    if one.handling is not None:
        lines.append(_handled(one.handling))
    return lines


def _zone(scores: dict[str, Any], zone: str, units: str | None) -> str:
    value, u = scores[f"openness_{zone}"], scores[f"u_openness_{zone}"]
    place = ZONE_WORDS[zone].place
    if value is None or u is None:
        return f"Its mesh {place} is not known: nobody measured it there."
    basis = f"measured on {plural(scores['specimens'], 'copy', 'copies')}"
    basis = basis if scores["basis"] == "measured" else "estimated from its counts"
    return f"Mesh {place}: {_mesh(value, u, units)} (openness {value:.1f}), {basis}."


def _handled(row: dict[str, Any]) -> str:
    said = []
    if row["mass_g"] is not None:
        said.append(f"{with_u(row['mass_g'], row['u_mass_g'])} g")
    if (balance := row["balance_points"]) is not None:
        lean = "head light" if balance < 0 else "head heavy"
        said.append(f"balance {with_u(abs(balance), row['u_balance_points'])} points {lean}")
    if row["swingweight_kgcm2"] is not None:
        said.append(f"swingweight {with_u(row['swingweight_kgcm2'], row['u_swingweight_kgcm2'])} kg·cm²")
    return f"Strung: {', '.join(said)} ({row['basis']})." if said else "Its mass, balance and swingweight are not known."


def _two(comparison: Comparison, why: bool, units: str | None) -> list[str]:
    first, second = comparison.beds
    contrast = comparison.contrast(second.name, comparison.where)
    assert contrast is not None
    lines = [_verdict(contrast, second, first, units)]
    others = [one for one in comparison.contrasts if one.where in ("sides", "tip", "throat") and one.where != contrast.where]
    if others:
        lines.append(f"Elsewhere: {listed([f'{one.verdict} {ZONE_WORDS[one.where].place}' for one in _in_order(others)])}.")
    if contrast.why is not None:
        shares = [("head size", contrast.why.size), ("string count", contrast.why.count)]
        shares += [("drilling", contrast.why.drilling)] if contrast.why.drilling else []
        shares += [("zone", contrast.why.zone)] if contrast.why.zone else []
        parts = [f"{name} {signed(share.percent, 1, plus=True)}" for name, share in shares]
        lines.append(f"{'Why' if why else 'It comes from'}: {listed(parts)}; parts are log-percentages and add up.")
    if handled := _handling(second, first):
        lines.append(handled)
    return lines


def _in_order(contrasts: list[Contrast]) -> list[Contrast]:
    return sorted(contrasts, key=lambda one: ZONES.index(one.where))


def _verdict(contrast: Contrast, one: Bed, other: Bed, units: str | None) -> str:
    place = ZONE_WORDS[contrast.where].place
    mine, theirs = one.openness(contrast.where), other.openness(contrast.where)
    assert mine is not None
    assert theirs is not None
    meshes = f"mesh {_mesh(mine.value, mine.u, units)} against {_mesh(theirs.value, theirs.u, units)}"
    apart = f"{with_u(contrast.difference_percent, contrast.u_difference_percent, plus=True)} %"
    tighter = contrast.probability_tighter
    if contrast.verdict == "too close to call":
        likely = f"{percent(max(tighter, 1 - tighter))} % for {'tighter' if tighter > 0.5 else 'more open'}"
        return f"{one.name} and {other.name} {place}: too close to call ({likely}); {meshes}, {apart}."
    sure = percent(tighter if contrast.verdict == "tighter" else 1 - tighter)
    return f"{one.name} is {contrast.verdict} than {other.name} {place}, sure at {sure} %; {meshes}, {apart}."


def _handling(one: Bed, other: Bed) -> str:
    """How mass, balance and swingweight differ, as far as both are known."""
    if one.handling is None or other.handling is None:
        return ""
    said = []
    for column, words, unit in (
        ("mass_g", "mass", " g"),
        ("balance_points", "balance", " points"),
        ("swingweight_kgcm2", "swingweight", " kg·cm²"),
    ):
        values = [row[name] for row in (one.handling, other.handling) for name in (column, f"u_{column}")]
        if all(isinstance(value, int | float) for value in values):
            mine, u_mine, theirs, u_theirs = (float(value) for value in values)  # type: ignore[arg-type]
            said.append(f"{words} {with_u(mine - theirs, (u_mine**2 + u_theirs**2) ** 0.5, plus=True)}{unit}")
    return f"Strung, {one.name} less {other.name}: {', '.join(said)}." if said else ""


def phrases_text() -> str:
    """The phrases that are understood, on one screen of 80 columns and 40 lines."""
    lines = ["Phrases of questions; join them freely. FRAME stands for fern-98 or Fern 98.", ""]
    for topic, listed_phrases in PHRASES.items():
        lines.append(f"{topic}:")
        column = [f"  {one}" for one in listed_phrases]
        for left, right in zip(column[::2], [*column[1::2], ""], strict=False):
            lines.append(f"{left:<{_COLUMN}}{right}".rstrip())
    return "\n".join(lines) + "\n"
