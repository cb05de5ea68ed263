"""A drilling for a target, as a person reads it: what comes nearest to it, where the strings lie, and cautions."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.drilling import ROUNDING_MM, ROUNDING_PERCENT, Drilled
from gapbook.science.drilling import LIMITS, STEP_MM
from gapbook.science.zones import ZONES
from gapbook.screens import page
from gapbook.screens.tables import grid
from gapbook.screens.text import NOT_KNOWN, head_area, listed, pattern, signed

CAUTIONS = (
    "A drawing is geometry, not a design of a frame: what a hoop with these holes can bear is not considered. Never drill a "
    "frame that exists; holes weaken it, and tensioned strings can injure.",
    f"Strings lie on whole steps of {STEP_MM:g} mm. That moves the centre's mesh by {ROUNDING_MM:g} mm at most, and the sides "
    f"by {ROUNDING_PERCENT:g} % at most. In a strung bed strings wander by some 0.3 mm.",
)
DRAWN = "A drawing is geometry: what a frame can bear is not considered"
"""What a picture says of it."""
UNEVEN = (
    "A pattern shall be “generally uniform and, in particular, not less dense in the centre than in any other area” (ITF Rules "
    "of Tennis, Appendix II)."
)


def screen(bed: Drilled, drawing: Sequence[str], units: str | None = None) -> list[RenderableType]:
    """The whole answer.

    bed: the bed that was found
    drawing: it drawn with characters; no lines if there is no room
    units: metric, imperial, or None for the default
    """
    width, length = (f"{side:.1f} mm" for side in bed.hoop[:2])
    size = f"The head is taken to be {width} wide and {length} long inside, as is usual for its area."
    lines = [*_outcome(bed), size]
    parts: list[RenderableType] = [Text(_heading(bed, units), page.HEADING), *(Text(line) for line in lines), Text()]
    parts += [_meshes(bed), Text()]
    parts += [*(Text(line) for line in drawing), Text()] if drawing else []
    for name, places in (("mains", bed.places.mains), ("crosses", bed.places.crosses)):
        parts += [_places(name, places.tolist()), Text()]
    cautions = [f"Denser than the centre: {listed(bed.denser)}. {UNEVEN}"] if bed.denser else []
    return [*parts, *(Text(line, page.QUIET) for line in (*cautions, *CAUTIONS))]


def _heading(bed: Drilled, units: str | None) -> str:
    counts, target = bed.target.counts, bed.target
    assert counts.area is not None
    head = f"{pattern(counts.mains, counts.crosses)} on {head_area(counts.area, units)}"
    return f"{head}, for a centre mesh of {target.centre_mm:g} mm and sides {_opening(target.side_opening)}"


def _opening(part: float) -> str:
    size = signed(100.0 * abs(part), 1)
    return "as open" if float(size) == 0.0 else f"{size} % {'tighter' if part < 0.0 else 'more open'}"


def _outcome(bed: Drilled) -> list[str]:
    found = f"a centre mesh of {bed.centre_mm:.2f} mm and sides {_opening(bed.side_opening)}"
    if bed.is_reached:
        return [f"It can be had: {found}."]
    held = listed([LIMITS[name] for name in bed.held_by]) or "gaps that change smoothly from one to the next"
    limit = f"The smallest gap is {bed.target.least_gap_mm:g} mm; --least-gap changes it."
    return [f"It cannot be had. The nearest is {found}.", f"Limits that it has come to: {held}. {limit}"]


def _meshes(bed: Drilled) -> RenderableType:
    meshes = [bed.zones[zone] for zone in ZONES]
    cells = [NOT_KNOWN if mesh is None else f"{mesh:.2f}" for mesh in meshes]
    return grid("", list(ZONES), [("mesh, mm", cells)])


def _places(name: str, places: list[float]) -> RenderableType:
    """The strings of one side, from the middle outwards; the other side is alike."""
    half = [place for place in places if place >= 0.0]
    inward = [half[0] - places[places.index(half[0]) - 1], *(after - before for before, after in pairwise(half))]
    rows = [
        (f"{name}: mm from the middle", [f"{place:.1f}" for place in half]),
        ("gap before, mm", [f"{gap:.1f}" for gap in inward]),
    ]
    return grid("", [str(number) for number in range(1, len(half) + 1)], rows)
