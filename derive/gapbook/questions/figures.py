"""A trait's value as a person reads it: in a unit that may be asked for, at the trait's decimals."""

from __future__ import annotations

import math

from gapbook.questions.ranges import Range
from gapbook.questions.traits import UNIT_WORDS, Trait, unit_factor
from gapbook.science.rounding import half_up


def decimals_in(trait: Trait, unit: str) -> int:
    """Decimals of a trait in `unit`: its own in its usual unit, and as fine as that, to a power of ten, in another."""
    coarser = float(unit_factor(unit) / unit_factor(trait.units[0]))
    return max(trait.decimals + round(math.log10(coarser)), 0)


def number(value: float, trait: Trait, unit: str, decimals: int | None = None) -> str:
    """`value` [computing unit] as a number in `unit`."""
    return half_up(value / float(unit_factor(unit)), decimals_in(trait, unit) if decimals is None else decimals)


def unit_word(unit: str) -> str:
    """The word shown for a unit, empty where there is none."""
    return UNIT_WORDS[unit][0] if unit else ""


def found_words(value: float, asked: Range) -> str:
    """A value outside a range, in the range's unit, at least as fine as its bounds are written: `90 sq in`."""
    bounds = [bound for bound in (asked.low, asked.high) if bound is not None]
    decimals = max(decimals_in(asked.about, asked.unit), *(-int(bound.value.as_tuple().exponent) for bound in bounds))
    shown = number(value, asked.about, asked.unit, decimals)
    if asked.unit == "points":
        lean = " head light" if shown.startswith("−") else " head heavy" if float(shown) else ""
        return f"{shown.lstrip('−')} points{lean}"
    return f"{shown} {unit_word(asked.unit)}".rstrip()
