"""Beds side by side as a person reads them."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.comparing import Bed, Comparison, Contrast, Share
from gapbook.questions.traits import ZONE_WORDS
from gapbook.science.units import INCH
from gapbook.screens import page
from gapbook.screens.text import head_area, pattern, percent, plural, safe, signed, with_u

SHOWN_ZONES = ("centre", "left", "right", "sides", "tip", "throat", "even")


def screen(found: Comparison, units: str | None = None) -> list[RenderableType]:
    """Verdicts in words, the figures side by side, and why each bed differs from the first."""
    parts: list[RenderableType] = []
    contrasts = [item for bed in found.beds[1:] if (item := found.contrast(bed.name, found.where)) is not None]
    for item in contrasts:
        parts.append(Text(_sentence(item, found.confidence), page.HEADING))
    parts += [Text(), _side_by_side(found, units), Text()]
    parts += [_verdicts(found), Text(), Text(f"Why they differ {ZONE_WORDS[found.where].place}, in %", page.HEADING)]
    parts += [_why(contrasts), Text()]
    parts += [Text(line, page.QUIET) for line in _notes(found)]
    return parts


def _sentence(item: Contrast, confidence: float) -> str:
    place = ZONE_WORDS[item.where].place
    gap = with_u(item.difference_percent, item.u_difference_percent, plus=True)
    name, against = safe(item.name), safe(item.against)
    if item.verdict == "too close to call":
        return f"{name} and {against} are too close to call {place}: {gap} % in mesh, not sure at {100 * confidence:g} %."
    sure = item.probability_tighter if item.verdict == "tighter" else 1.0 - item.probability_tighter
    return f"{name} is {item.verdict} than {against} {place}: {gap} % in mesh, {percent(sure)} % sure."


def _side_by_side(found: Comparison, units: str | None) -> RenderableType:
    made = page.table(("", "left"), *((safe(bed.name), "right") for bed in found.beds))
    rows = [
        ("pattern", [pattern(bed.mains, bed.crosses) for bed in found.beds]),
        ("head", [head_area(bed.head_area_cm2, units) for bed in found.beds]),
        ("basis", [_basis(bed) for bed in found.beds]),
    ]
    scale, unit = (0.1 / INCH, "in") if units == "imperial" else (0.1, "mm")
    for zone in SHOWN_ZONES:
        name = "drilled even" if zone == "even" else zone
        rows.append((f"mesh, {name}, {unit}", [_figure(bed, f"openness_{zone}", scale) for bed in found.beds]))
    rows += [
        ("openness, centre", [_figure(bed, "openness_centre") for bed in found.beds]),
        ("density, per cm²", [_figure(bed, "density_centre_per_cm2") for bed in found.beds]),
        ("sides open by, %", [_figure(bed, "side_opening", 100.0, plus=True) for bed in found.beds]),
        ("drilling, mains", [_figure(bed, "drilling_main") for bed in found.beds]),
        ("drilling, crosses", [_figure(bed, "drilling_cross") for bed in found.beds]),
        ("uniformity", [_figure(bed, "uniformity") for bed in found.beds]),
    ]
    for label, cells in rows:
        made.add_row(Text(label), *(Text(cell) for cell in cells))
    return made


def _basis(bed: Bed) -> str:
    if bed.basis == "counted":
        return "estimated from counts"
    return {"frame": plural(bed.specimens, "copy", "copies") + " measured"}.get(bed.kind, "this copy measured")


def _figure(bed: Bed, score: str, scale: float = 1.0, plus: bool = False) -> str:
    value, u = bed.scores.get(score), bed.scores.get("u_" + score)
    return "not known" if value is None or u is None else with_u(value, u, scale, plus)


def _verdicts(found: Comparison) -> RenderableType:
    first = safe(found.beds[0].name)
    made = page.table((f"against {first}", "left"), *((zone, "left") for zone in SHOWN_ZONES if zone != "even"))
    for bed in found.beds[1:]:
        cells = [found.contrast(bed.name, zone) for zone in SHOWN_ZONES if zone != "even"]
        made.add_row(Text(safe(bed.name)), *(Text(_short(item)) for item in cells))
    return made


def _short(item: Contrast | None) -> str:
    if item is None:
        return "not known"
    return "too close" if item.verdict == "too close to call" else item.verdict


def _why(contrasts: list[Contrast]) -> RenderableType:
    zone = any(item.why is not None and item.why.zone is not None for item in contrasts)
    headings = ["head size", "string count", "drilling", *(["zone"] if zone else []), "all together"]
    made = page.table(("", "left"), *((heading, "right") for heading in headings))
    for item in contrasts:
        shares = [None] * 4 if item.why is None else [item.why.size, item.why.count, item.why.drilling, item.why.zone]
        cells = [_share(share) for share in (shares if zone else shares[:3])]
        whole = with_u(item.difference_percent, item.u_difference_percent, plus=True)
        made.add_row(Text(safe(item.name)), *(Text(cell) for cell in (*cells, whole)))
    return made


def _share(share: Share | None) -> str:
    if share is None:
        return "not known"
    if share.u_percent > 0.0:
        return with_u(share.percent, share.u_percent, plus=True)
    return signed(share.percent, 1, plus=True)


def _notes(found: Comparison) -> list[str]:
    notes = ["Minus is tighter. ± is at k = 2. Parts are hundredths of a logarithm: they add up, all together in %."]
    if any(bed.kind == "frame" and bed.basis == "measured" for bed in found.beds):
        notes.append("A frame's ± is that of the copy a buyer gets, its spread between copies included.")
    if any(bed.basis == "counted" for bed in found.beds):
        notes.append("A bed nobody measured is estimated from head area and counts: zones and drilling stay unknown.")
    return notes
