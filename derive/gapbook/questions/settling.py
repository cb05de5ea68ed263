"""Clauses that say the same made one, and clauses that cannot all hold found."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from pydantic import Field

from gapbook.errors import GapbookError, fail
from gapbook.questions.ranges import Bound, Frozen, Interval, Range
from gapbook.questions.relations import contradiction
from gapbook.questions.traits import TRAITS, ZONES

_TRAIT_ORDER = {key: place for place, key in enumerate(TRAITS)}


class Pattern(Frozen):
    """A string pattern: how many mains and crosses."""

    mains: int = Field(ge=1, le=100, description="Number of main strings.")
    crosses: int = Field(ge=1, le=100, description="Number of cross strings.")


def pattern_of(mains: str, crosses: str) -> Pattern:
    """The pattern with these counts, as written [GapbookError bad-pattern]."""
    if not all(count.isdigit() and 1 <= len(count) <= 2 and int(count) for count in (mains, crosses)):
        found = f"{mains}x{crosses}"
        raise fail("bad-pattern", "a string pattern is two whole numbers below 100", found=found, expected="16x19")
    return Pattern(mains=int(mains), crosses=int(crosses))


class Either(NamedTuple):
    """Ranges of one trait, of which one must hold: `16 or 18 mains`."""

    ranges: tuple[Range, ...]


class NoneOf(NamedTuple):
    """A range or a pattern that must not hold: `not 16x19`, `no 18 mains`."""

    item: Range | Pattern


class Without(NamedTuple):
    """A frame that is left out: `without fern-98`."""

    reference: str


def settle_ranges(ranges: Iterable[Range]) -> tuple[Range, ...]:
    """Ranges, those of one trait, zone and unit made one, in the traits' order [GapbookError contradiction].

    A figure alone (`27 in`) stays beside other ranges, because its ends are wider than theirs; so do two bounds that would
    make one.
    """
    halves: dict[tuple[str, str | None, str], list[Range]] = {}
    settled: dict[Range, None] = {}
    for one in map(_in_usual_unit, ranges):
        if one.is_wide:
            settled[one] = None
        else:
            halves.setdefault((one.trait, one.zone, one.unit), []).extend(_halves(one))
    settled |= dict.fromkeys(part for parts in halves.values() for part in _joined(parts))
    ordered = tuple(sorted(settled, key=_place))
    _share_values(ordered)
    return ordered


def _in_usual_unit(one: Range) -> Range:
    """The range; in grams if it is in kilograms and no figure alone, whose last digit says how wide it is."""
    if one.unit != "kg" or one.is_figure:
        return one
    low, high = (
        None if end is None else Bound(value=(end.value * 1000).normalize(), inclusive=end.inclusive)
        for end in (one.low, one.high)
    )
    return Range(trait=one.trait, zone=one.zone, unit="g", low=low, high=high)


def _halves(one: Range) -> list[Range]:
    """The range in parts with one end each."""
    if one.low is None or one.high is None:
        return [one]
    return [one.model_copy(update={"high": None}), one.model_copy(update={"low": None})]


def _place(one: Range) -> tuple[int, int, str, bool, Decimal]:
    bound = one.low or one.high
    assert bound is not None
    return _TRAIT_ORDER[one.trait], ZONES.index(one.zone) if one.zone else -1, one.unit, one.low is None, bound.value


def _joined(parts: list[Range]) -> list[Range]:
    """The range in which all parts hold that have one end each; two parts if one range would be a figure alone."""
    low = max((one for one in parts if one.low is not None), key=_strictest_low, default=None)
    high = min((one for one in parts if one.high is not None), key=_strictest_high, default=None)
    if low is None or high is None:
        return [one for one in (low, high) if one is not None]
    try:
        both = Range(trait=low.trait, zone=low.zone, unit=low.unit, low=low.low, high=high.high)
    except GapbookError:
        raise contradiction(f"both cannot hold for {low.about.title}") from None
    return [low, high] if both.is_wide else [both]


def _strictest_low(one: Range) -> tuple[Decimal, bool, Decimal]:
    threshold, bound = one.threshold("low"), one.low
    assert threshold is not None
    assert bound is not None
    return threshold, not bound.inclusive, -bound.step


def _strictest_high(one: Range) -> tuple[Decimal, bool, Decimal]:
    threshold, bound = one.threshold("high"), one.high
    assert threshold is not None
    assert bound is not None
    return threshold, bound.inclusive, -bound.step


def _share_values(settled: tuple[Range, ...]) -> None:
    """Refuse ranges of one trait and zone, in different units, that have no value in common."""
    lows: dict[tuple[str, str | None], float] = {}
    highs: dict[tuple[str, str | None], float] = {}
    for one in settled:
        key, interval = (one.trait, one.zone), one.interval()
        if interval.low is not None:
            lows[key] = max(interval.low, lows.get(key, interval.low))
        if interval.high is not None:
            highs[key] = min(interval.high, highs.get(key, interval.high))
        if key in lows and key in highs and lows[key] >= highs[key]:
            raise contradiction(f"both cannot hold for {one.about.title}")


def settle_either(ranges: tuple[Range, ...], groups: Iterable[tuple[Range, ...]]) -> tuple[tuple[Range, ...], ...]:
    """Groups of alternatives without doubles, each in order, less what the ranges exclude [GapbookError contradiction]."""
    settled: dict[tuple[Range, ...], None] = {}
    for group in groups:
        if len({(one.trait, one.zone, one.unit) for one in group}) != 1:
            raise fail("bad-alternatives", "alternatives are of one trait, in one zone and unit", expected="16 or 18 mains")
        possible = tuple(one for one in sorted(set(group), key=_size) if all(_overlap(one, other) for other in ranges))
        if not possible:
            raise contradiction(f"both cannot hold for {group[0].about.title}")
        settled[possible] = None
    return tuple(sorted(settled, key=lambda group: _place(group[0])))


def _size(one: Range) -> tuple[Decimal, Decimal]:
    low, high = one.low or one.high, one.high or one.low
    assert low is not None
    assert high is not None
    return low.value, high.value


def _overlap(first: Range, second: Range) -> bool:
    """Whether two ranges have a value in common; those of different traits or zones always do."""
    if (first.trait, first.zone) != (second.trait, second.zone):
        return True
    one, two = first.interval(), second.interval()
    low = max((end for end in (one.low, two.low) if end is not None), default=None)
    high = min((end for end in (one.high, two.high) if end is not None), default=None)
    return low is None or high is None or low < high


def settle_none_of(
    ranges: tuple[Range, ...], patterns: tuple[Pattern, ...], items: Iterable[Range | Pattern]
) -> tuple[tuple[Range | Pattern, ...], tuple[Pattern, ...]]:
    """What must not hold, in order, and the alternative patterns that are left [GapbookError contradiction]."""
    listed = dict.fromkeys(items)
    denied = [one for one in listed if isinstance(one, Pattern)]
    counts = {one.trait: one for one in ranges if one.trait in ("mains", "crosses")}
    for one in denied:
        pinned = [trait for trait in ("mains", "crosses") if trait in counts and counts[trait].is_figure]
        if len(pinned) == 2 and all(counts[trait].holds(float(getattr(one, trait))) for trait in pinned):
            raise contradiction(f"{one.mains}x{one.crosses} is asked for and left out")
    left = tuple(one for one in patterns if one not in denied)
    if patterns and not left:
        raise contradiction("all the patterns asked for are left out")
    out = [one for one in listed if isinstance(one, Range)]
    for item in out:
        same = (other for other in ranges if (other.trait, other.zone) == (item.trait, item.zone))
        if any(_covers(item.interval(), other.interval()) for other in same):
            raise contradiction(f"the same {item.about.title} is asked for and left out")
    in_order: tuple[Range | Pattern, ...] = (
        *sorted(out, key=lambda one: (*_place(one), *_size(one))),
        *sorted(denied, key=_counts),
    )
    return in_order, left


def _counts(pattern: Pattern) -> tuple[int, int]:
    return pattern.mains, pattern.crosses


def _covers(outer: Interval, inner: Interval) -> bool:
    low = outer.low is None or (inner.low is not None and outer.low <= inner.low)
    return low and (outer.high is None or (inner.high is not None and inner.high <= outer.high))


def settle_patterns(ranges: tuple[Range, ...], patterns: Iterable[Pattern]) -> tuple[Pattern, ...]:
    """The alternative patterns that the ranges of mains and crosses allow [GapbookError contradiction if they allow none]."""
    listed = sorted(set(patterns), key=_counts)
    allowed = tuple(pattern for pattern in listed if all(_allows(one, pattern) for one in ranges))
    if listed and not allowed:
        raise contradiction("none of the patterns has the mains and crosses asked for")
    return allowed


def _allows(one: Range, pattern: Pattern) -> bool:
    return one.trait not in ("mains", "crosses") or one.holds(float(getattr(pattern, one.trait)))


def common_patterns(first: tuple[Pattern, ...], second: tuple[Pattern, ...]) -> tuple[Pattern, ...]:
    """What two lists of alternatives have in common; an empty list asks for nothing [GapbookError contradiction]."""
    if not first or not second:
        return first or second
    common = tuple(pattern for pattern in first if pattern in second)
    if not common:
        raise contradiction("both cannot hold for the pattern")
    return common


def pattern_ranges(pattern: Pattern) -> tuple[Range, Range]:
    """One pattern as a range of mains and one of crosses."""
    mains, crosses = Bound(value=Decimal(pattern.mains)), Bound(value=Decimal(pattern.crosses))
    return Range(trait="mains", low=mains, high=mains), Range(trait="crosses", low=crosses, high=crosses)
