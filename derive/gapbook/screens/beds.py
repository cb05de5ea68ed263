"""Words on beds that several screens say: what a bed's figures rest on, and what was assumed of it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from gapbook.questions.counted import AssumedHead
from gapbook.questions.subjects import Subject
from gapbook.screens.text import head_area, listed, plural
from gapbook.signs import safe

COUNTED = "A bed nobody measured is estimated from head area and counts: zones and drilling stay unknown."
CLASS = "is one bed here, estimated from its counts; ask sets frames against the median of the measured ones, which can differ."
"""What is said of a pattern that is named as a bed."""
COPIES = "A frame's ± includes how much copies of it differ."
_BASES = {"specimen": "this copy measured", "folder": "own copy measured"}


def basis(bed: Subject) -> str:
    """What a bed's figures rest on."""
    if bed.basis == "counted":
        return "estimated from counts"
    return _BASES.get(bed.kind) or plural(bed.specimens, "copy", "copies") + " measured"


def assumed(name: str, head: AssumedHead, units: str | None) -> str:
    """What was assumed of a bed that was named without a head area."""
    of = "with this pattern" if head.of_pattern else "of this package, because too few have this pattern"
    return (
        f"{safe(name)} was named without a head area. Taken is the median of the {plural(head.frames, 'frame')} {of}, "
        f"{head_area(head.median_cm2, units)}; how much their heads differ ({2.0 * head.spread_percent:.2g} % at k = 2) counts "
        "in the ±."
    )


def notes(beds: Iterable[Subject], units: str | None) -> list[str]:
    """What must be said of the beds of a comparison: that copies differ, and what was estimated or assumed."""
    beds = list(beds)
    said = [COPIES] if any(bed.kind == "frame" and bed.basis == "measured" for bed in beds) else []
    said += [COUNTED] if any(bed.basis == "counted" for bed in beds) else []
    said += [f"{safe(bed.name)} {CLASS}" for bed in beds if bed.kind == "pattern"]
    return said + [assumed(bed.name, bed.assumed_head, units) for bed in beds if bed.assumed_head is not None]


def own_handling(name: str, own: Sequence[str], row: Mapping[str, Any]) -> str:
    """Which figures of a handling are the copy's own.

    name: the folder of the copy
    own: which of mass, balance and swingweight were read on it; the others are its frame's
    row: the copy's row of handling.csv
    """
    columns = {"mass": "mass_g", "balance": "balance_mm", "swingweight": "swingweight_kgcm2"}
    others = [quantity for quantity, column in columns.items() if quantity not in own and row.get(column) is not None]
    read = f"{listed(list(own))} {'was' if len(own) == 1 else 'were'} read on the copy itself" if own else ""
    rest = f"{listed(others)} {'is' if len(others) == 1 else 'are'} the frame's" if others else ""
    return f"{safe(name)}: {'; '.join(part for part in (read, rest) if part)}."
