"""An amount typed by a person: a number and a unit, in the unit computed in."""

from __future__ import annotations

import re

from gapbook.errors import fail
from gapbook.questions.traits import plain, unit_base, unit_factor, unit_names

NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_AMOUNT = re.compile(rf"\s*({NUMBER})\s*([^\d\s.][^\d]{{0,30}}?)?\s*")
_DIGITS = 12
"""Longest number read."""
_AS_FORCE = {"kg": "kgf", "kilogram": "kgf", "kilograms": "kgf", "kilo": "kgf", "kilos": "kgf"}
"""Stringers say kilograms for the force of so many: 9.80665 N each [NIST SP 811]."""
_BASE_WORDS = {"mm": "mm, cm or in", "g": "g, oz or kg", "N": "kg, lb or N"}


def amount(text: str, base: str, what: str, example: str) -> float:
    """`text` in the computing unit `base` (mm, g or N; a kg is a kgf there).

    GapbookError, pointing at what was found, where it is no plain number with a unit of that kind. `what` names the amount.
    """
    expected = f"a number and {_BASE_WORDS[base]}, e.g. {example}"
    match = _AMOUNT.fullmatch(plain(text))
    if match is None or len(match[1]) > _DIGITS:
        raise fail("bad-amount", f"{what} is not understood", found=repr(text[:60]), expected=expected)
    word = (match[2] or "").strip()
    if not word:
        raise fail("no-unit", f"{what} has no unit", found=repr(text), expected=expected)
    code = _AS_FORCE.get(word) if base == "N" else None
    code = code or unit_names().get(word)
    if code is None or unit_base(code) != base:
        raise fail("wrong-unit", f"{what} has another unit", found=repr(word), expected=expected)
    return float(match[1]) * float(unit_factor(code))
