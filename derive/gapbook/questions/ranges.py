"""A range of one trait: how it is made of numbers with units, and when a bound holds.

A bound holds for the value itself: `under 11 mm` takes 10.99 and not 11.00. A figure alone (`27 in`, `swingweight 320`) means
half a unit of its last digit either way, and so does a head area in whole square inches, as the trade writes it (98 sq in is
97.5 to 98.5). Halves round away from zero: 3.5 points head light is 4 points head light.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import ROUND_UP, Decimal
from typing import Literal, NamedTuple, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from gapbook.errors import fail
from gapbook.questions.traits import TRAITS, UNIT_WORDS, Trait, Zone, decimals_in, number, unit_factor

MOST_DECIMALS = 9
LARGEST = Decimal(10) ** 9
_NOISE = 1e-12
"""Allowance for the rounding errors of binary fractions, relative to a threshold, so that a value at a bound is at it."""


class Frozen(BaseModel):
    """The base of questions and answers: it cannot be changed, and takes no fields but those it declares."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Bound(Frozen):
    """One end of a range, in the unit of the range."""

    value: Decimal = Field(description="The bound as it was written: its decimals say how wide a figure alone is.")
    inclusive: bool = Field(default=True, description="Whether the bound itself is in the range.")

    @field_validator("value")
    @classmethod
    def _usable(cls, value: Decimal) -> Decimal:
        """At most a thousand million, at most nine decimals, no exponent and no negative zero."""
        if abs(value) > LARGEST:
            raise fail("number-out-of-range", "a bound must be a number of ordinary size", found=str(value)[:40])
        exponent = value.as_tuple().exponent
        if isinstance(exponent, int) and exponent < -MOST_DECIMALS:
            raise fail("number-out-of-range", f"a bound has at most {MOST_DECIMALS} decimals", found=str(value)[:40])
        plain = value if isinstance(exponent, int) and exponent <= 0 else value.quantize(Decimal(1))
        return plain if plain else abs(plain)

    @property
    def step(self) -> Decimal:
        """One unit of the bound's last decimal."""
        return Decimal(1).scaleb(int(self.value.as_tuple().exponent))


class Interval(NamedTuple):
    """The values that are in a range: low ≤ value < high [computing unit]; None if it has no such end."""

    low: float | None
    high: float | None

    def holds(self, value: float) -> bool:
        """Whether `value` [computing unit] lies in the interval."""
        return (self.low is None or value >= self.low) and (self.high is None or value < self.high)


class Range(Frozen):
    """A trait between two bounds, either of which may be missing."""

    trait: str = Field(description="The trait's key.")
    zone: Zone | None = Field(
        default=None, description="Where on the bed, for traits that have zones; the trait's first if none is given."
    )
    unit: str = Field(default="", description="The unit of the bounds: a UCUM code, %, points, /cm2, or '' for none.")
    low: Bound | None = Field(default=None, description="The lower bound.")
    high: Bound | None = Field(default=None, description="The upper bound.")

    @model_validator(mode="before")
    @classmethod
    def _usual_zone(cls, data: object) -> object:
        """The trait's first zone if none is named."""
        if isinstance(data, dict) and data.get("zone") is None and data.get("trait") in TRAITS:
            zones = TRAITS[data["trait"]].zones
            return {**data, "zone": zones[0] if zones else None}
        return data

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.trait not in TRAITS:
            raise fail("unknown-trait", "there is no such trait", found=self.trait, expected=", ".join(TRAITS))
        check_zone(self.about, self.zone)
        check_unit(self.about, self.unit)
        if self.low is None and self.high is None:
            raise fail("empty-range", f"a range of {self.about.title} needs a bound")
        for end in ("low", "high"):
            if (bound := getattr(self, end)) is not None:
                # Frozen for everyone else: the bound of a count is stored without decimals.
                object.__setattr__(self, end, _checked(self.about, bound))
        if self.is_empty:
            raise fail("empty-range", f"no value is in this range of {self.about.title}", found=self._ends)
        return self

    @property
    def about(self) -> Trait:
        """The trait the range is of."""
        return TRAITS[self.trait]

    @property
    def _ends(self) -> str:
        low = "" if self.low is None else f"{'from' if self.low.inclusive else 'over'} {self.low.value:f} "
        return low + ("" if self.high is None else f"{'to' if self.high.inclusive else 'under'} {self.high.value:f}")

    @property
    def is_empty(self) -> bool:
        """Whether nothing can be in the range, because its ends cross."""
        if self.low is None or self.high is None:
            return False
        interval = self.interval()
        crossed = interval.low is not None and interval.high is not None and interval.low >= interval.high
        return crossed or self.low.value > self.high.value

    @property
    def is_figure(self) -> bool:
        """Whether it is a figure alone, such as `27 in`."""
        low, high = self.low, self.high
        ends = low is not None and high is not None and low.inclusive and high.inclusive
        return ends and (low.value, low.step) == (high.value, high.step)  # type: ignore[union-attr]

    @property
    def is_wide(self) -> bool:
        """Whether it is a figure alone that takes values beyond its two ends, which are one."""
        return self.is_figure and self.low is not None and not self._by_trade(self.low)

    def _by_trade(self, bound: Bound) -> bool:
        """Whether values are rounded to a bound, as the trade does with whole square inches of head area, and as counts are."""
        return self.about.whole or ((self.trait, self.unit) == ("head_area", "[sin_i]") and bound.step == 1)

    def rounds(self, bound: Bound) -> bool:
        """Whether values are rounded to a bound of this range: as the trade does it, or to a figure alone."""
        return self.is_figure or self._by_trade(bound)

    def threshold(self, end: Literal["low", "high"]) -> Decimal | None:
        """The value from which (low) or up to which (high) values are in the range, in its unit; None without that end."""
        bound = self.low if end == "low" else self.high
        if bound is None or not self.rounds(bound):
            return None if bound is None else bound.value
        outwards = -1 if end == "low" else 1
        return bound.value + (outwards if bound.inclusive else -outwards) * bound.step / 2

    def interval(self) -> Interval:
        """The range for values as they are."""
        return Interval(self._limit("low"), self._limit("high"))

    def _limit(self, end: Literal["low", "high"]) -> float | None:
        """The end of `interval`, moved by more than the rounding errors of binary fractions: a half goes away from zero, and a
        bound is in the range or not as it says.
        """
        bound, threshold = self.low if end == "low" else self.high, self.threshold(end)
        if bound is None or threshold is None:
            return None
        limit = float(threshold * unit_factor(self.unit))
        if self.rounds(bound):
            return limit * (1.0 - _NOISE)
        return limit + _NOISE * max(abs(limit), 1.0) * (1 if (end == "high") == bound.inclusive else -1)

    def holds(self, value: float) -> bool:
        """Whether `value` [computing unit] is in the range."""
        return self.interval().holds(value)


_MORE_DIGITS = 4


def shown(value: float, trait: Trait, unit: str, ranges: Iterable[Range], decimals: int | None = None) -> str:
    """A value in words with as many decimals as it takes to look in or out of every range as it is: 11.00 under 11 is 10.998.

    value: the value [computing unit].
    trait: the trait it is of.
    unit: the code of the unit to show it in.
    ranges: ranges of this trait in the zone of the value.
    decimals: how many to show at least; None for those of the trait in this unit.
    """
    least = decimals_in(trait, unit) if decimals is None else decimals
    judged = list(ranges)
    for places in range(least, least + _MORE_DIGITS):
        text = number(value, trait, unit, places)
        said = float(text.replace("−", "-")) * float(unit_factor(unit))
        if all(one.holds(said) == one.holds(value) for one in judged):
            return text
    return number(value, trait, unit, least + _MORE_DIGITS)


def check_zone(trait: Trait, zone: str | None) -> None:
    """Refuse a zone in which the trait is not known [GapbookError wrong-zone]."""
    if zone is not None and zone not in trait.zones:
        known = f"one of {', '.join(trait.zones)}" if trait.zones else "no zone"
        raise fail("wrong-zone", f"{trait.title} is not known there", found=zone, expected=known)


def check_unit(trait: Trait, unit: str) -> None:
    """Refuse a unit of another dimension [GapbookError wrong-unit]."""
    if unit not in trait.units:
        expected = " or ".join(UNIT_WORDS[code][0] if code else "a plain number" for code in trait.units)
        found = UNIT_WORDS[unit][0] if unit in UNIT_WORDS else unit or "a plain number"
        raise fail("wrong-unit", f"{trait.title} cannot be given in this unit", found=found, expected=expected)


def _checked(trait: Trait, bound: Bound) -> Bound:
    """The bound, without decimals if the trait is a count [GapbookError negative, not-whole]."""
    if bound.value < 0 and not trait.signed:
        raise fail("negative", f"{trait.title} cannot be negative", found=f"{bound.value:f}")
    if not trait.whole:
        return bound
    if bound.value != bound.value.to_integral_value():
        raise fail("not-whole", f"{trait.title} can only be a whole number", found=f"{bound.value:f}")
    return bound.model_copy(update={"value": bound.value.quantize(Decimal(1))})


BALANCE = TRAITS["balance"]
POINTS = "points"


class Quantity(NamedTuple):
    """A number as it was written, the unit named after it, and for a balance -1 for head light and 1 for head heavy."""

    number: Decimal
    unit: str | None = None
    lean: int | None = None


class Side(NamedTuple):
    """The end of a range that a phrase such as `under` sets, and whether the end itself is included."""

    end: Literal["low", "high", "both"]
    inclusive: bool = True


class Ends(NamedTuple):
    """The ends of a range as written.

    low: the lower end; None if there is none.
    high: the upper end; None if there is none.
    low_inclusive: whether `low` itself is in the range.
    high_inclusive: whether `high` itself is in the range.
    """

    low: Quantity | None
    high: Quantity | None
    low_inclusive: bool = True
    high_inclusive: bool = True

    @property
    def given(self) -> list[Quantity]:
        """The ends that are there."""
        return [end for end in (self.low, self.high) if end is not None]


def one_sided(side: Side, quantity: Quantity) -> Ends:
    """The ends that a phrase such as `under` makes with a quantity; the side `both` is exactly that quantity."""
    if side.end == "both":
        return Ends(quantity, quantity)
    if side.end == "low":
        return Ends(quantity, None, side.inclusive)
    return Ends(None, quantity, True, side.inclusive)


def measured_range(candidates: tuple[Trait, ...], zone: str | None, ends: Ends, *, signed: bool = False) -> Range:
    """A range of the trait that the unit written fits. GapbookError no-unit, no-side, mixed-units, wrong-unit and as of Range.

    candidates: the traits that can be meant.
    zone: the zone named; None for the trait's first.
    ends: the ends as written.
    signed: whether a balance without a unit is in points, and head light negative.
    """
    unit = _unit(candidates, ends, signed)
    trait = next((trait for trait in candidates if unit in trait.units), candidates[0])
    check_unit(trait, unit)
    if unit == POINTS:
        ends = _on_one_axis(ends, signed)
    low = None if ends.low is None else Bound(value=ends.low.number, inclusive=ends.low_inclusive)
    high = None if ends.high is None else Bound(value=ends.high.number, inclusive=ends.high_inclusive)
    return Range(trait=trait.key, zone=zone, unit=unit, low=low, high=high)  # type: ignore[arg-type]


def _unit(candidates: tuple[Trait, ...], ends: Ends, signed: bool) -> str:
    """The unit of both ends: the one named, else the usual one."""
    named = {quantity.unit for quantity in ends.given if quantity.unit is not None}
    if len(named) > 1:
        both = " and ".join(sorted(UNIT_WORDS[code][0] for code in named))
        raise fail("mixed-units", "both ends of a range must be in one unit", found=both)
    if named:
        return named.pop()
    if any(quantity.lean is not None for quantity in ends.given):
        return POINTS
    if len(candidates) > 1 and not signed and not any(quantity.number < 0 for quantity in ends.given):
        expected = " or ".join(UNIT_WORDS[trait.units[0]][0] for trait in candidates)
        raise fail("no-unit", f"{candidates[0].title} needs a unit", expected=expected)
    return candidates[0].units[0]


def _on_one_axis(ends: Ends, signed: bool) -> Ends:
    """A balance in points on one axis, head light negative: at least 4 points head light is at most −4."""
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


ABOUT: dict[tuple[str, str], str] = {
    **dict.fromkeys((("mass", "g"), ("swingweight", "kg.cm2"), ("length", "mm")), "5"),
    ("mass", "[oz_av]"): "0.2", ("mass", "kg"): "0.005", ("length", "[in_i]"): "0.2", ("length", "cm"): "0.5",
    ("head_area", "[sin_i]"): "1", ("head_area", "cm2"): "6", ("head_area", "mm2"): "600", ("balance", "points"): "1",
    ("balance_mm", "mm"): "3", ("beam", "mm"): "1", ("release_year", ""): "1", ("mains", ""): "1", ("crosses", ""): "1",
}  # fmt: skip
"""How far `about` reaches either way, by trait and unit (common practice, no source); for others ABOUT_PERCENT."""
ABOUT_PERCENT = 3


def approximately(one: Range) -> Range:
    """`about 305 g`: the range around a figure alone [GapbookError unknown-clause for anything else]."""
    if not one.is_figure or one.low is None:
        raise fail("unknown-clause", "this is not understood")
    value = one.low.value
    width = ABOUT.get((one.trait, one.unit))
    apart = Decimal(width) if width else (abs(value) * ABOUT_PERCENT / 100).quantize(_fine(value), rounding=ROUND_UP)
    low, high = Bound(value=value - apart), Bound(value=value + apart)
    return Range(trait=one.trait, zone=one.zone, unit=one.unit, low=low, high=high)


def _fine(value: Decimal) -> Decimal:
    """A step of two digits of a hundredth part of a value: 0.01 for 1, 1 for 100."""
    return Decimal(1).scaleb(max(min(value.adjusted() - 2, 0), -MOST_DECIMALS))
