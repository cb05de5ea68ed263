"""The budget of a bed: what its uncertainty in the centre is made of, what that rests on, and what would make it smaller."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from gapbook.questions.ranges import Frozen

Basis = Literal["read", "stated", "pooled", "assumed"]
MOSTLY = 0.5
"""A part is called assumed if so much of it, or more, is the default."""
WORDS = {
    "reading": "reading single gaps or marks",
    "placement": "strings out of place",
    "origin": "a middle without inner edges",
    "splay": "how the mains splay",
    "instrument": "the instruments' own errors",
    "person": "what a person adds to each gap",
    "sessions": "sessions that differ",
}
"""The parts in words, in the order of the columns of beds.csv."""
ADVICE = {
    "reading": "read each gap or mark once or twice more",
    "origin": "read from inner edge to inner edge",
    "splay": "read the mains at stations 80 and -80 too",
    "instrument": "read it once more with another instrument",
    "person": "read it once more by somebody else",
    "sessions": "find out why the sessions differ, and read it once more",
}
"""What makes a part smaller. No reading changes where the strings lie."""
_BASES: dict[str, Basis] = {"origin": "assumed", "splay": "assumed", "instrument": "stated", "sessions": "read"}
WORTH_SAYING = 0.05
"""Advice is given for parts of this share of u² or more."""


class BudgetPart(Frozen):
    """One part of a bed's uncertainty.

    part: its name, one of WORDS.
    share: its share of u² of the openness in the centre, 0 to 1.
    basis: what it rests on: readings of this bed, what is stated of the instrument, the package's readings, or a default.
    """

    part: str
    share: float
    basis: Basis


class Budget(Frozen):
    """What the uncertainty of a bed's openness in the centre is made of.

    specimen_id: the bed.
    parts: the parts, the largest first; those that are nothing are left out.
    largest: the name of the largest part.
    advice: what would make the bed more certain; None if no reading would do much.
    """

    specimen_id: str
    parts: list[BudgetPart]
    largest: str
    advice: str | None


def budget(bed: Mapping[str, Any]) -> Budget | None:
    """The budget of a row of beds.csv; None if its centre is blank, or if it was derived without one."""
    shares = {name: bed.get(f"budget_{name}") for name in WORDS}
    known = [(name, share) for name, share in shares.items() if share]
    if not known or bed.get("openness_centre") is None:
        return None
    parts = [BudgetPart(part=name, share=share, basis=_basis(bed, name)) for name, share in known]
    parts.sort(key=lambda one: -one.share)
    advised = next((one.part for one in parts if one.part in ADVICE and one.share >= WORTH_SAYING), None)
    return Budget(
        specimen_id=bed["specimen_id"], parts=parts, largest=parts[0].part, advice=ADVICE[advised] if advised else None
    )


def _basis(bed: Mapping[str, Any], name: str) -> Basis:
    if name in _BASES:
        return _BASES[name]
    assumed = bed.get(f"assumed_{name}")
    return "assumed" if assumed is None or assumed >= MOSTLY else "pooled"
