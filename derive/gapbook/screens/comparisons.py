"""Beds side by side as a person reads them."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.comparing import Bed, Comparison, Contrast, Share
from gapbook.questions.traits import ZONE_WORDS, ZONES
from gapbook.science.units import INCH
from gapbook.screens import beds, page
from gapbook.screens.tables import grid
from gapbook.screens.text import (
    HANDLING_NOT_DERIVED,
    NOT_KNOWN,
    OUNCE_G,
    head_area,
    pattern,
    percent,
    signed,
    with_u,
    with_u_if_known,
)
from gapbook.signs import safe

_POINTS = ("balance, points", "balance_points", 1.0)
_SWING = ("swingweight, kg·cm²", "swingweight_kgcm2", 1.0)
_METRIC = (("mass, g", "mass_g", 1.0), ("balance, mm", "balance_mm", 1.0), _POINTS, _SWING)
_IMPERIAL = (("mass, oz", "mass_g", 1.0 / OUNCE_G), ("balance, in", "balance_mm", 1.0 / INCH), _POINTS, _SWING)
_HANDLING = {None: _METRIC, "metric": _METRIC, "imperial": _IMPERIAL}
"""Handling that is shown of each bed, by units: label, column of handling.csv, factor to the unit shown."""


def screen(
    comparison: Comparison, units: str | None = None, drawing: Sequence[str] = (), handling_derived: bool = True
) -> list[RenderableType]:
    """Verdicts in words, the beds drawn, the figures side by side, and why each bed differs from the first.

    comparison: the beds and their contrasts
    units: "metric" or "imperial"; None for square inches beside cm², the rest metric
    drawing: lines of the beds drawn with characters, if there is room for them
    handling_derived: whether the package has handling.csv
    """
    parts: list[RenderableType] = []
    contrasts = asked(comparison)
    for item in contrasts:
        parts.append(Text(sentence(item, comparison.confidence), page.HEADING))
    if drawing:
        parts += [Text(), *(Text(line) for line in drawing)]
    parts += [Text(), grid("", [safe(bed.name) for bed in comparison.beds], figures(comparison, units)), Text()]
    parts += [_verdicts(comparison), Text(), Text(f"Why they differ {ZONE_WORDS[comparison.where].place}, in %", page.HEADING)]
    parts += [_why(contrasts), Text()]
    notes = notes_on(comparison, units) + ([] if handling_derived else [HANDLING_NOT_DERIVED])
    return [*parts, *(Text(line, page.QUIET) for line in notes)]


def asked(comparison: Comparison) -> list[Contrast]:
    """Each later bed against the first in the zone asked about."""
    each = (comparison.contrast(bed.name, comparison.where) for bed in comparison.beds[1:])
    return [item for item in each if item is not None]


def sentence(item: Contrast, confidence: float) -> str:
    """The verdict on two beds in words, at a confidence."""
    place = ZONE_WORDS[item.where].place
    gap = with_u(item.difference_percent, item.u_difference_percent, plus=True)
    name, against = safe(item.name), safe(item.against)
    if item.verdict == "too close to call":
        return f"{name} and {against} are too close to call {place}: {gap} % in mesh, not sure at {100 * confidence:g} %."
    sure = item.probability_tighter if item.verdict == "tighter" else 1.0 - item.probability_tighter
    return f"{name} is {item.verdict} than {against} {place}: {gap} % in mesh, {percent(sure)} % sure."


def figures(comparison: Comparison, units: str | None) -> list[tuple[str, list[str]]]:
    """The figures of all beds: rows of a label and a cell for each bed."""
    rows = [
        ("pattern", [pattern(bed.mains, bed.crosses) for bed in comparison.beds]),
        ("head", [head_area(bed.head_area_cm2, units) for bed in comparison.beds]),
        ("basis", [beds.basis(bed) for bed in comparison.beds]),
    ]
    scale, unit = (0.1 / INCH, "in") if units == "imperial" else (0.1, "mm")
    for zone in ZONES:
        name = "drilled even" if zone == "even" else zone
        rows.append((f"mesh, {name}, {unit}", [_figure(bed, f"openness_{zone}", scale) for bed in comparison.beds]))
    rows += [
        ("openness, centre", [_figure(bed, "openness_centre") for bed in comparison.beds]),
        ("density, per cm²", [_figure(bed, "density_centre_per_cm2") for bed in comparison.beds]),
        ("sides open by, %", [_figure(bed, "side_opening", 100.0, plus=True) for bed in comparison.beds]),
        ("drilling, mains", [_figure(bed, "drilling_main") for bed in comparison.beds]),
        ("drilling, crosses", [_figure(bed, "drilling_cross") for bed in comparison.beds]),
        ("uniformity", [_figure(bed, "uniformity") for bed in comparison.beds]),
    ]
    if any(bed.handling is not None for bed in comparison.beds):
        rows += [(label, [_handled(bed, name, factor) for bed in comparison.beds]) for label, name, factor in _HANDLING[units]]
    return rows


def _handled(bed: Bed, name: str, factor: float) -> str:
    row = bed.handling or {}
    value, u = row.get(name), row.get("u_" + name)
    if not isinstance(value, float) or not isinstance(u, float):
        return NOT_KNOWN
    return with_u(value, u, factor)


def _figure(bed: Bed, score: str, scale: float = 1.0, plus: bool = False) -> str:
    return with_u_if_known(bed.scores.get(score), bed.scores.get("u_" + score), scale, plus)


def _verdicts(comparison: Comparison) -> RenderableType:
    zones = [zone for zone in ZONES if zone != "even"]
    rows = [(safe(bed.name), [_short(comparison.contrast(bed.name, zone)) for zone in zones]) for bed in comparison.beds[1:]]
    return grid(f"against {safe(comparison.beds[0].name)}", zones, rows, turn=True, justify="left")


def _short(item: Contrast | None) -> str:
    if item is None:
        return NOT_KNOWN
    return "too close" if item.verdict == "too close to call" else item.verdict


def _why(contrasts: list[Contrast]) -> RenderableType:
    zone = any(item.why is not None and item.why.zone is not None for item in contrasts)
    headings = ["head size", "string count", "drilling", *(["zone"] if zone else []), "all together"]
    rows = []
    for item in contrasts:
        shares = [None] * 4 if item.why is None else [item.why.size, item.why.count, item.why.drilling, item.why.zone]
        cells = [share_words(share) for share in (shares if zone else shares[:3])]
        whole = with_u(item.difference_percent, item.u_difference_percent, plus=True)
        rows.append((safe(item.name), [*cells, whole]))
    return grid("", headings, rows, turn=True)


def share_words(share: Share | None) -> str:
    """A part of a difference with its ±; without ± if it is exact."""
    if share is None:
        return NOT_KNOWN
    if share.u_percent > 0.0:
        return with_u(share.percent, share.u_percent, plus=True)
    return signed(share.percent, 1, plus=True)


def notes_on(comparison: Comparison, units: str | None) -> list[str]:
    """How the figures are to be read, and what was estimated, assumed or read on a copy itself."""
    said = [
        "Minus is tighter. ± is at k = 2. The parts are log-percentages and add up; all together is an ordinary percentage.",
        *beds.notes(comparison.beds, units),
    ]
    if any(bed.handling is not None for bed in comparison.beds):
        said.append("Mass, balance (from the butt; minus points are head light) and swingweight are the frame's, strung.")
    folders = [bed for bed in comparison.beds if bed.kind == "folder"]
    return said + [beds.own_handling(bed.name, bed.handling_own, bed.handling) for bed in folders if bed.handling is not None]
