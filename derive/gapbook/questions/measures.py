"""Numbers with their units, as people write them, made into ranges of traits."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from gapbook.errors import fail
from gapbook.questions.ranges import Bound, Range, check_unit
from gapbook.questions.traits import TRAITS, UNIT_WORDS, Trait
from gapbook.questions.vocabulary import Side

POINTS = "points"
BALANCE = TRAITS["balance"]


class Quantity(NamedTuple):
    """A number, the unit named after it if any, and for a balance which way it leans (−1 head light, 1 head heavy)."""

    number: Decimal
    unit: str | None = None
    lean: int | None = None


class Ends(NamedTuple):
    """The ends of a range as written; either may be missing."""

    low: Quantity | None
    high: Quantity | None
    low_inclusive: bool = True
    high_inclusive: bool = True

    @property
    def given(self) -> list[Quantity]:
        """The ends that are there."""
        return [end for end in (self.low, self.high) if end is not None]


def one_sided(side: Side, quantity: Quantity) -> Ends:
    """The ends that a comparing phrase and a quantity make; `both` is exactly that quantity."""
    if side.end == "both":
        return Ends(quantity, quantity)
    if side.end == "low":
        return Ends(quantity, None, side.inclusive)
    return Ends(None, quantity, True, side.inclusive)


def measured_range(candidates: tuple[Trait, ...], zone: str | None, ends: Ends, *, usual_unit: bool = False) -> Range:
    """The range of the one of `candidates` that is counted in the unit written.

    `usual_unit`: the first candidate's usual unit, and signed points, are meant where nothing is said. Errors:
    GapbookError no-unit, no-side, mixed-units, wrong-unit and those of Range.
    """
    unit = _unit(candidates, ends, usual_unit)
    trait = next((trait for trait in candidates if unit in trait.units), candidates[0])
    check_unit(trait, unit)
    if unit == POINTS:
        ends = _on_one_axis(ends, usual_unit)
    low = None if ends.low is None else Bound(value=ends.low.number, inclusive=ends.low_inclusive)
    high = None if ends.high is None else Bound(value=ends.high.number, inclusive=ends.high_inclusive)
    return Range(trait=trait.key, zone=zone, unit=unit, low=low, high=high)  # type: ignore[arg-type]


def _unit(candidates: tuple[Trait, ...], ends: Ends, usual_unit: bool) -> str:
    """The unit both ends are in: the one named, else the usual one."""
    named = {quantity.unit for quantity in ends.given if quantity.unit is not None}
    if len(named) > 1:
        both = " and ".join(sorted(UNIT_WORDS[code][0] for code in named))
        raise fail("mixed-units", "both ends of a range must be in one unit", found=both)
    if named:
        return named.pop()
    if any(quantity.lean is not None for quantity in ends.given):
        return POINTS
    if len(candidates) > 1 and not usual_unit and not any(quantity.number < 0 for quantity in ends.given):
        expected = " or ".join(UNIT_WORDS[trait.units[0]][0] for trait in candidates)
        raise fail("no-unit", f"{candidates[0].title} needs a unit", expected=expected)
    return candidates[0].units[0]


def _on_one_axis(ends: Ends, signed: bool) -> Ends:
    """A balance in points on one axis, head light negative; at least 4 head light is at most −4."""
    leans = {quantity.lean for quantity in ends.given}
    lean = next((lean for lean in leans if lean), None)
    if lean is None:
        if not signed and all(quantity.number > 0 for quantity in ends.given):
            raise fail("no-side", "a balance in points is head light or head heavy")
        return ends
    if any(quantity.number < 0 for quantity in ends.given):
        raise fail("negative", "points head light or head heavy are never negative")
    values = [quantity.number * (quantity.lean or lean) for quantity in ends.given]
    if leans == {-1, 1}:
        return Ends(Quantity(min(values)), Quantity(max(values)))
    low = None if ends.low is None else Quantity(ends.low.number * lean)
    high = None if ends.high is None else Quantity(ends.high.number * lean)
    if lean > 0:
        return Ends(low, high, ends.low_inclusive, ends.high_inclusive)
    return Ends(high, low, ends.high_inclusive, ends.low_inclusive)


def leaning(lean: int) -> Range:
    """A balance that is head light (−1), even (0) or head heavy (1), without a figure."""
    zero = Bound(value=Decimal(0), inclusive=lean == 0)
    return Range(trait=BALANCE.key, unit=POINTS, low=zero if lean >= 0 else None, high=zero if lean <= 0 else None)
