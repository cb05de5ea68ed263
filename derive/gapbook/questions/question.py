"""A question to the catalogue: its parts, whether all of them can hold, and one form for questions that say the same."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from decimal import Decimal
from typing import Literal, NamedTuple, Self

from pydantic import Field, field_validator, model_validator

from gapbook.errors import GapbookError, fail
from gapbook.questions.ranges import Bound, Frozen, Range
from gapbook.questions.traits import TRAITS, ZONES, Zone, plain
from gapbook.science.comparison import CONFIDENCE

SLUG = re.compile(r"[a-z0-9][a-z0-9-]*")
LIKE_PERCENT = Decimal(3)
"""`like` means within so many percent if no other percentage is given."""
LONGEST_REFERENCE = 300
MOST_FRAMES = 10**9
"""The largest limit that can be asked for."""
_TRAIT_ORDER = {key: place for place, key in enumerate(TRAITS)}
_KIND_ORDER = {"tighter": 0, "more_open": 1, "like": 2}


def reference_text(text: str) -> str:
    """A reference as it is kept: ids in lower case, folder paths (with a slash or a dot in them) as they are."""
    return text if any(sign in text for sign in "/\\.") else text.lower()


class Relation(Frozen):
    """How the openness of a frame stands to that of a reference."""

    kind: Literal["tighter", "more_open", "like"] = Field(description="tighter, more_open, or like (close to it).")
    zone: Zone = Field(default="centre", description="Where the two are compared.")
    reference: str = Field(description="A frame_id, a specimen_id, or the folder of a contribution.")
    within_percent: Decimal = Field(default=LIKE_PERCENT, description="For like: how far the openness may differ.")

    @field_validator("reference")
    @classmethod
    def _nameable(cls, reference: str) -> str:
        """Only text that can be written in a question: one line, not empty, not with both kinds of quotation marks."""
        text = reference.strip()
        unwritable = any(unicodedata.category(sign)[0] == "C" or sign in "\u2028\u2029" for sign in text)
        if not text or len(text) > LONGEST_REFERENCE or unwritable or {'"', "'"} <= set(plain(text)):
            expected = "a frame id, a specimen id or a folder"
            raise fail("bad-reference", "this cannot be a reference", found=repr(reference)[:60], expected=expected)
        return text

    @model_validator(mode="before")
    @classmethod
    def _usual_percent(cls, data: object) -> object:
        """Only `like` has a percentage. Other kinds keep the usual one, so that equal relations are equal objects."""
        if isinstance(data, dict) and data.get("kind") in ("tighter", "more_open"):
            return {**data, "within_percent": LIKE_PERCENT}
        return data

    @field_validator("within_percent")
    @classmethod
    def _a_share(cls, percent: Decimal) -> Decimal:
        if not Decimal("1e-9") <= percent <= 100 or len(percent.as_tuple().digits) > 12:
            raise fail("bad-percent", "within takes a percentage above 0, at most 100", found=str(percent)[:40])
        return Decimal(f"{percent.normalize():f}")


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


class Order(Frozen):
    """What the answer is sorted by: openness (tightest or most open first), closest, name, or any other trait."""

    by: str = Field(description="openness, closest (to the reference), name (the frame_id), or another trait's key.")
    zone: Zone | None = Field(default=None, description="Where on the bed; for openness without one, the zone asked about.")
    descending: bool = Field(default=False, description="From the highest down: most open, heaviest, Z to A.")

    @model_validator(mode="before")
    @classmethod
    def _usual_zone(cls, data: object) -> object:
        """The trait's first zone if none is named; openness keeps None."""
        by = data.get("by") if isinstance(data, dict) else None
        if isinstance(data, dict) and data.get("zone") is None and by in TRAITS and by != "openness":
            zones = TRAITS[by].zones
            return {**data, "zone": zones[0] if zones else None}
        return data

    @model_validator(mode="after")
    def _sortable(self) -> Order:
        if self.by not in TRAITS and self.by not in ("closest", "name"):
            expected = ", ".join(("closest", "name", *TRAITS))
            raise fail("unknown-trait", "answers cannot be sorted by this", found=self.by, expected=expected)
        zones = TRAITS[self.by].zones if self.by in TRAITS else ()
        if self.zone is not None and self.zone not in zones:
            raise fail("wrong-zone", f"{self.by.replace('_', ' ')} has no such zone", found=self.zone)
        if self.by == "closest" and self.descending:
            raise fail("bad-order", "closest comes first; there is no farthest first")
        return self


def settle_ranges(ranges: Iterable[Range]) -> tuple[Range, ...]:
    """Ranges, those of one trait, zone and unit made one, in the traits' order [GapbookError contradiction].

    A figure alone (`27 in`) stays beside other ranges, because its ends are wider than theirs; so do two bounds that would
    make one.
    """
    halves: dict[tuple[str, str | None, str], list[Range]] = {}
    settled: dict[Range, None] = {}
    for one in ranges:
        if one.is_wide:
            settled[one] = None
        else:
            halves.setdefault((one.trait, one.zone, one.unit), []).extend(_halves(one))
    settled |= dict.fromkeys(part for parts in halves.values() for part in _joined(parts))
    ordered = tuple(sorted(settled, key=_place))
    _share_values(ordered)
    return ordered


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
        raise _contradiction(f"the ranges of {low.about.title} exclude each other") from None
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
            raise _contradiction(f"the ranges of {one.about.title} exclude each other")


def settle_relations(relations: Iterable[Relation]) -> tuple[Relation, ...]:
    """Relations without doubles, in their order; of two `like`, the closer one stays [GapbookError contradiction]."""
    settled: dict[tuple[int, int, str], Relation] = {}
    for one in relations:
        key = (ZONES.index(one.zone), _KIND_ORDER[one.kind], one.reference)
        if key not in settled or settled[key].within_percent > one.within_percent:
            settled[key] = one
    for zone, kind, reference in settled:
        if kind == _KIND_ORDER["tighter"] and (zone, _KIND_ORDER["more_open"], reference) in settled:
            raise _contradiction(f"nothing is both tighter and more open than {reference} in the same place")
    return tuple(settled.values())


def settle_patterns(ranges: tuple[Range, ...], patterns: Iterable[Pattern]) -> tuple[Pattern, ...]:
    """The alternative patterns that the ranges of mains and crosses allow [GapbookError contradiction if they allow none]."""
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
    mains, crosses = Bound(value=Decimal(pattern.mains)), Bound(value=Decimal(pattern.crosses))
    return Range(trait="mains", low=mains, high=mains), Range(trait="crosses", low=crosses, high=crosses)


def _contradiction(message: str) -> GapbookError:
    return fail("contradiction", message, fix="Leave one of them out")


def checked_confidence(confidence: float | None) -> float:
    """The confidence asked for, CONFIDENCE if it is None. GapbookError unless it is above 0.5 and below 1."""
    sure = CONFIDENCE if confidence is None else confidence
    if not 0.5 < sure < 1.0:
        expected = "above 0.5 and below 1, e.g. 0.9"
        raise fail("bad-confidence", "no verdict has this confidence", found=f"{sure:g}", expected=expected)
    return sure


class Question(Frozen):
    """What is asked for. Of a match, every range and relation holds, and one of the patterns if several are given.

    Questions that say the same are equal objects: ranges of one trait, zone and unit are merged, parts have a fixed order
    (relations keep theirs), and a single pattern is kept as ranges of mains and crosses.
    """

    ranges: tuple[Range, ...] = Field(default=(), description="Traits between bounds.")
    patterns: tuple[Pattern, ...] = Field(
        default=(), description="String patterns of which one must fit; empty, or two and more."
    )
    relations: tuple[Relation, ...] = Field(default=(), description="Relations to reference frames.")
    measured_only: bool = Field(default=False, description="Whether frames without a measured bed are left out.")
    order: Order | None = Field(default=None, description="The order asked for; none is tightest first.")
    limit: int | None = Field(default=None, ge=1, le=MOST_FRAMES, description="How many frames at most.")
    confidence: float = Field(default=CONFIDENCE, gt=0.5, lt=1.0, description="How sure a verdict must be.")

    @model_validator(mode="after")
    def _settled(self) -> Self:
        """Merge the parts that say the same [GapbookError contradiction, no-reference]."""
        relations = settle_relations(self.relations)
        ranges = settle_ranges(self.ranges)
        patterns = settle_patterns(ranges, self.patterns)
        if len(patterns) == 1:
            ranges, patterns = settle_ranges((*ranges, *pattern_ranges(patterns[0]))), ()
        if self.order is not None and self.order.by == "closest" and not relations:
            raise fail("no-reference", "closest first needs a frame to be close to", fix="Add: like FRAME")
        for name, settled in (("ranges", ranges), ("patterns", patterns), ("relations", relations)):
            object.__setattr__(self, name, settled)  # frozen for everyone else
        return self

    @property
    def reference(self) -> str | None:
        """The reference that the answer is set against: that of the first relation."""
        return self.relations[0].reference if self.relations else None

    @property
    def zone(self) -> Zone:
        """The zone asked about: of the first relation, else the order, else a range of mesh or openness, or the centre."""
        zones = [relation.zone for relation in self.relations]
        zones += [self.order.zone] if self.order is not None and self.order.zone is not None else []
        zones += [one.zone for one in self.ranges if one.trait in ("mesh", "openness") and one.zone is not None]
        return zones[0] if zones else "centre"


class Setting(NamedTuple):
    """A part that a question has only once: order, limit, measured_only or confidence."""

    name: str
    value: Order | int | float


Part = Range | Relation | Setting | tuple[Pattern, ...]
"""What one clause says. The patterns of a tuple are alternatives."""


class Draft:
    """A question that is not yet complete. Clauses are added one by one, so that a contradiction has a clause to point at."""

    def __init__(self) -> None:
        self._ranges: tuple[Range, ...] = ()
        self._patterns: tuple[Pattern, ...] = ()
        self._relations: tuple[Relation, ...] = ()
        self._settings: dict[str, Order | int | float] = {}

    def add(self, part: Part) -> None:
        """Add what one clause says; if it contradicts the others, the draft stays as it was [GapbookError contradiction]."""
        if isinstance(part, Relation):
            self._relations = settle_relations((*self._relations, part))
        elif isinstance(part, Setting):
            if self._settings.setdefault(part.name, part.value) != part.value:
                raise fail("contradiction", "this was asked for otherwise before", fix="Leave one of them out")
        elif isinstance(part, Range):
            self._narrow((part,), ())
        elif len(set(part)) == 1:
            self._narrow(pattern_ranges(part[0]), ())
        else:
            self._narrow((), part)

    def _narrow(self, ranges: tuple[Range, ...], patterns: tuple[Pattern, ...]) -> None:
        settled = settle_ranges((*self._ranges, *ranges))
        self._patterns = settle_patterns(settled, common_patterns(self._patterns, patterns))
        self._ranges = settled

    def question(self) -> Question:
        """The question of all clauses so far [GapbookError no-reference]."""
        return Question(
            ranges=self._ranges,
            patterns=self._patterns,
            relations=self._relations,
            **self._settings,  # type: ignore[arg-type]
        )
