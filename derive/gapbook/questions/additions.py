"""`show --add`: reads the weights as typed, checks their limits, and gives the frame's handling with them on."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from gapbook.errors import fail
from gapbook.questions.ranges import Frozen
from gapbook.questions.traits import NUMBER, UNIT_WORDS, amount, plain, unit_factor, unit_names
from gapbook.science.added_mass import Added, Handling, with_additions
from gapbook.science.comparison import Figure
from gapbook.science.mass_properties import AXIS_MM

FORMS = '"5 g at 680 mm", "5 g at the tip", "10 g over 0-180 mm" or "10 g at the grip"'
MOST_G = 100.0
"""The most that can be added in all [g]: with more, it is another frame."""
LONGEST_MM = 737.0
"""Used if nobody stated the length [mm]: the longest frame that the ITF Rules of Tennis, Appendix II, allow."""
ROUNDING_MM = 2.0
"""A place may lie this far beyond the declared length and still mean the tip [mm]: 27 in (685.8 mm) is declared as 685."""
GRIP_MM = 180.0
"""Length of a grip from the butt [mm]. Common practice, no source."""
FIELDS = {
    "mass": "mass_g",
    "balance": "balance_mm",
    "points": "balance_points",
    "swingweight": "swingweight_kgcm2",
    "inertia_centre": "inertia_centre_kgcm2",
    "inertia_butt": "inertia_butt_kgcm2",
    "percussion": "percussion_mm",
}
"""Columns of handling.csv by the names they have in `Handling`."""

_AT = re.compile(r"(.{1,40}?)\s*\bat\s+(?:the\s+)?(.{1,40})")
_OVER = re.compile(rf"(.{{1,40}}?)\s*\bover\s+(?:from\s+)?({NUMBER})\s*([a-z\"]*)\s*(?:-|to|\.\.)\s*({NUMBER}\s*[a-z\".]+)")


class Addition(Frozen):
    """One added weight, spread evenly.

    text: as it was typed.
    mass_g: its mass [g].
    from_mm: where it begins [mm from the butt].
    to_mm: where it ends [mm from the butt].
    """

    text: str
    mass_g: float
    from_mm: float
    to_mm: float


class WithAdditions(Frozen):
    """A frame's handling with weight added.

    additions: the weights.
    added_mass_g: what they weigh together [g], on any frame.
    added_swingweight_kgcm2: the swingweight they add [kg·cm²], on any frame.
    handling: the columns of handling.csv from mass_g on; a value is None if what it needs is not known.
    """

    additions: list[Addition]
    added_mass_g: float
    added_swingweight_kgcm2: float
    handling: dict[str, float | None]


def what_if(handling: Mapping[str, Any] | None, length_mm: float | None, texts: Sequence[str]) -> WithAdditions:
    """A frame's handling with weights added, as typed (see FORMS). GapbookError if one is not understood or exceeds a limit.
    `handling` is the frame's row of handling.csv and `length_mm` its length; None if there is none or nobody stated it.
    """
    added = [parse(text, length_mm) for text in texts]
    total = sum(one.mass for one in added)
    if total > MOST_G:
        found = f"{total:.4g} g altogether"
        raise fail("too-heavy", "so much weight makes another frame", found=found, expected=f"at most {MOST_G:g} g")
    after = with_additions(_before(handling or {}), added)
    figures: dict[str, float | None] = {}
    for name, column in FIELDS.items():
        figure: Figure | None = getattr(after, name)
        figures[column], figures["u_" + column] = figure or (None, None)
    return WithAdditions(
        additions=[
            Addition(text=text, mass_g=one.mass, from_mm=one.start, to_mm=one.end)
            for text, one in zip(texts, added, strict=True)
        ],
        added_mass_g=total,
        added_swingweight_kgcm2=sum(one.inertia(AXIS_MM) for one in added),
        handling=figures,
    )


def _before(row: Mapping[str, Any]) -> Handling:
    pairs = [(row.get(column), row.get("u_" + column)) for column in FIELDS.values()]
    return Handling(*(None if value is None or u is None else Figure(value, u) for value, u in pairs))


def parse(text: str, length_mm: float | None) -> Added:
    """`text` (see FORMS) as a mass and its place on a frame of this length. GapbookError says what is wrong with it."""
    line = plain(text).strip()
    if over := _OVER.fullmatch(line):
        end = _place(over[4], length_mm)
        start = _place(over[2] + (over[3] or _unit_of(over[4])), length_mm)
        if not start < end:
            raise fail("no-stretch", "a stretch runs from the butt up", found=repr(text), expected="e.g. over 0-180 mm")
        return Added(_mass(over[1]), start, end)
    match = _AT.fullmatch(line)
    if match is None:
        raise fail("bad-addition", "not understood as a weight and its place", found=repr(text[:80]), expected=FORMS)
    if match[2] in ("grip", "handle"):
        return Added(_mass(match[1]), 0.0, GRIP_MM)
    place = _tip(length_mm) if match[2] == "tip" else _place(match[2], length_mm)
    return Added(_mass(match[1]), place, place)


def _tip(length_mm: float | None) -> float:
    if length_mm is None:
        raise fail("no-length", "nobody stated how long this frame is", found="at the tip", fix="Name the place: at 675 mm")
    return length_mm


def _unit_of(text: str) -> str:
    return text.lstrip("0123456789. ")


def _mass(text: str) -> float:
    grams = amount(text, "g", "the added mass", "5 g")
    if not 0.0 < grams <= MOST_G:
        expected = f"more than 0 and at most {MOST_G:g} g"
        raise fail("bad-mass", "no such weight can be added", found=text.strip(), expected=expected)
    return grams


def _place(text: str, length_mm: float | None) -> float:
    place = amount(text, "mm", "the place", "680 mm from the butt")
    longest, beyond = (LONGEST_MM, 0.0) if length_mm is None else (length_mm, ROUNDING_MM)
    if place > longest + beyond:
        expected = f"0 to {longest:g} mm{_also(longest, text)} from the butt"
        raise fail("off-the-frame", "the place is not on the frame", found=text.strip(), expected=expected)
    return min(place, longest)


def _also(longest: float, text: str) -> str:
    """A length [mm] in the unit of `text` as well, if that is another."""
    code = unit_names()[_unit_of(text).strip()]
    return "" if code == "mm" else f" ({longest / float(unit_factor(code)):.4g} {UNIT_WORDS[code][0]})"
