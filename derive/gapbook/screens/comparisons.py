"""Beds side by side as a person reads them."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.comparing import Bed, Comparison, Contrast, Share
from gapbook.questions.traits import ZONE_WORDS, ZONES
from gapbook.science.units import INCH, UNITS
from gapbook.screens import page
from gapbook.screens.grids import grid
from gapbook.screens.text import head_area, pattern, percent, plural, safe, signed, with_u

_GRAM_IN_OZ, _MM_IN_IN = 1.0 / UNITS["[oz_av]"].factor, 1.0 / INCH
_POINTS = ("balance, points", "balance_points", 1.0)
_SWING = ("swingweight, kg·cm²", "swingweight_kgcm2", 1.0)
_METRIC = (("mass, g", "mass_g", 1.0), ("balance, mm", "balance_mm", 1.0), _POINTS, _SWING)
_IMPERIAL = (("mass, oz", "mass_g", _GRAM_IN_OZ), ("balance, in", "balance_mm", _MM_IN_IN), _POINTS, _SWING)
_HANDLING = {None: _METRIC, "metric": _METRIC, "imperial": _IMPERIAL}
"""Handling told of each bed by units: label, column, factor."""


def screen(found: Comparison, units: str | None = None, drawing: Sequence[str] = ()) -> list[RenderableType]:
    """Verdicts in words, the beds drawn, the figures side by side, and why each bed differs from the first."""
    parts: list[RenderableType] = []
    contrasts = [item for bed in found.beds[1:] if (item := found.contrast(bed.name, found.where)) is not None]
    for item in contrasts:
        parts.append(Text(_sentence(item, found.confidence), page.HEADING))
    if drawing:
        parts += [Text(), *(Text(line) for line in drawing)]
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
    rows = [
        ("pattern", [pattern(bed.mains, bed.crosses) for bed in found.beds]),
        ("head", [head_area(bed.head_area_cm2, units) for bed in found.beds]),
        ("basis", [_basis(bed) for bed in found.beds]),
    ]
    scale, unit = (0.1 / INCH, "in") if units == "imperial" else (0.1, "mm")
    for zone in ZONES:
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
    if any(bed.handling is not None for bed in found.beds):
        rows += [(label, [_handled(bed, name, factor) for bed in found.beds]) for label, name, factor in _HANDLING[units]]
    return grid("", [safe(bed.name) for bed in found.beds], rows)


def _handled(bed: Bed, name: str, factor: float) -> str:
    row = bed.handling or {}
    value, u = row.get(name), row.get("u_" + name)
    if not isinstance(value, float) or not isinstance(u, float):
        return "not known"
    return with_u(value, u, factor)


def _basis(bed: Bed) -> str:
    if bed.basis == "counted":
        return "estimated from counts"
    return {"frame": plural(bed.specimens, "copy", "copies") + " measured"}.get(bed.kind, "this copy measured")


def _figure(bed: Bed, score: str, scale: float = 1.0, plus: bool = False) -> str:
    value, u = bed.scores.get(score), bed.scores.get("u_" + score)
    return "not known" if value is None or u is None else with_u(value, u, scale, plus)


def _verdicts(found: Comparison) -> RenderableType:
    zones = [zone for zone in ZONES if zone != "even"]
    rows = [(safe(bed.name), [_short(found.contrast(bed.name, zone)) for zone in zones]) for bed in found.beds[1:]]
    return grid(f"against {safe(found.beds[0].name)}", zones, rows, turn=True, justify="left")


def _short(item: Contrast | None) -> str:
    if item is None:
        return "not known"
    return "too close" if item.verdict == "too close to call" else item.verdict


def _why(contrasts: list[Contrast]) -> RenderableType:
    zone = any(item.why is not None and item.why.zone is not None for item in contrasts)
    headings = ["head size", "string count", "drilling", *(["zone"] if zone else []), "all together"]
    rows = []
    for item in contrasts:
        shares = [None] * 4 if item.why is None else [item.why.size, item.why.count, item.why.drilling, item.why.zone]
        cells = [_share(share) for share in (shares if zone else shares[:3])]
        whole = with_u(item.difference_percent, item.u_difference_percent, plus=True)
        rows.append((safe(item.name), [*cells, whole]))
    return grid("", headings, rows, turn=True)


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
    if any(bed.handling is not None for bed in found.beds):
        notes.append("Mass, balance (from the butt; minus points are head light) and swingweight are the frame's, strung.")
    if any(bed.basis == "counted" for bed in found.beds):
        notes.append("A bed nobody measured is estimated from head area and counts: zones and drilling stay unknown.")
    return notes
