"""Whether the parts of a question can all hold, and the one form of those that say the same."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from gapbook.errors import GapbookError, fail
from gapbook.questions.ranges import Bound, Range
from gapbook.questions.relations import Pattern, Relation
from gapbook.questions.traits import TRAITS, ZONES

_TRAIT_ORDER = {key: place for place, key in enumerate(TRAITS)}
_KIND_ORDER = {"tighter": 0, "more_open": 1, "like": 2}


def settle_ranges(ranges: Iterable[Range]) -> tuple[Range, ...]:
    """Ranges of one trait, zone and unit made one, in the traits' order [GapbookError contradiction]."""
    merged: dict[tuple[str, str | None, str], Range] = {}
    for one in ranges:
        key = (one.trait, one.zone, one.unit)
        merged[key] = _both(merged[key], one) if key in merged else one
    settled = tuple(sorted(merged.values(), key=_place))
    _share_values(settled)
    return settled


def _place(one: Range) -> tuple[int, int, str]:
    return _TRAIT_ORDER[one.trait], ZONES.index(one.zone) if one.zone else -1, one.unit


def _both(first: Range, second: Range) -> Range:
    """The range in which both hold, of two in the same trait, zone and unit."""
    lows = [bound for bound in (first.low, second.low) if bound is not None]
    highs = [bound for bound in (first.high, second.high) if bound is not None]
    low = max(lows, key=lambda bound: (bound.threshold("low"), bound.inclusive, bound.step), default=None)
    high = min(highs, key=lambda bound: (bound.threshold("high"), not bound.inclusive, -bound.step), default=None)
    try:
        return Range(trait=first.trait, zone=first.zone, unit=first.unit, low=low, high=high)
    except GapbookError:
        raise _contradiction(f"the ranges of {first.about.title} exclude each other") from None


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
            raise _contradiction(f"the ranges of {one.about.title} exclude each other")


def settle_relations(relations: Iterable[Relation]) -> tuple[Relation, ...]:
    """Relations without doubles, as they were named, of two `like` the closer [GapbookError contradiction]."""
    settled: dict[tuple[int, int, str], Relation] = {}
    for one in relations:
        key = (ZONES.index(one.zone), _KIND_ORDER[one.kind], one.reference)
        if key in settled and settled[key].within_percent <= one.within_percent:
            continue
        settled[key] = one
    for zone, kind, reference in settled:
        if kind == _KIND_ORDER["tighter"] and (zone, _KIND_ORDER["more_open"], reference) in settled:
            raise _contradiction(f"nothing is both tighter and more open than {reference} in the same place")
    return tuple(settled.values())


def settle_patterns(ranges: tuple[Range, ...], patterns: Iterable[Pattern]) -> tuple[Pattern, ...]:
    """The alternative patterns that the ranges of mains and crosses allow [GapbookError contradiction if none]."""
    listed = sorted(set(patterns), key=lambda pattern: (pattern.mains, pattern.crosses))
    allowed = tuple(pattern for pattern in listed if all(_allows(one, pattern) for one in ranges))
    if listed and not allowed:
        raise _contradiction("none of the patterns has the mains and crosses asked for")
    return allowed


def _allows(one: Range, pattern: Pattern) -> bool:
    return one.trait not in ("mains", "crosses") or one.holds(float(getattr(pattern, one.trait)))


def common_patterns(first: tuple[Pattern, ...], second: tuple[Pattern, ...]) -> tuple[Pattern, ...]:
    """What two lists of alternatives have in common; an empty list asks for nothing [GapbookError contradiction]."""
    if not first or not second:
        return first or second
    common = tuple(pattern for pattern in first if pattern in second)
    if not common:
        raise _contradiction("the patterns exclude each other")
    return common


def pattern_ranges(pattern: Pattern) -> tuple[Range, Range]:
    """One pattern as a range of mains and one of crosses."""
    return tuple(  # type: ignore[return-value]
        Range(trait=trait, low=bound, high=bound)
        for trait, bound in (
            ("mains", Bound(value=Decimal(pattern.mains))),
            ("crosses", Bound(value=Decimal(pattern.crosses))),
        )
    )


def _contradiction(message: str) -> GapbookError:
    return fail("contradiction", message, fix="Leave one of them out")
