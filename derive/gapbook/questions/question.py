"""A question to the catalogue: its parts, whether all of them can hold, and one form for questions that say the same."""

from __future__ import annotations

from typing import NamedTuple, Self

from pydantic import Field, model_validator

from gapbook.errors import fail
from gapbook.questions.ranges import Frozen, Range
from gapbook.questions.relations import LIKE_PERCENT as LIKE_PERCENT
from gapbook.questions.relations import SLUG as SLUG
from gapbook.questions.relations import Relation as Relation
from gapbook.questions.relations import TraitRelation as TraitRelation
from gapbook.questions.relations import checked_reference, settle_relations, settle_trait_relations
from gapbook.questions.relations import reference_text as reference_text
from gapbook.questions.settling import Either as Either
from gapbook.questions.settling import NoneOf as NoneOf
from gapbook.questions.settling import Pattern as Pattern
from gapbook.questions.settling import Without as Without
from gapbook.questions.settling import (
    common_patterns,
    pattern_ranges,
    settle_either,
    settle_none_of,
    settle_patterns,
    settle_ranges,
)
from gapbook.questions.settling import pattern_of as pattern_of
from gapbook.questions.traits import TRAITS, Zone
from gapbook.science.comparison import CONFIDENCE

MOST_FRAMES = 10**9
"""The largest limit that can be asked for."""


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
    either: tuple[tuple[Range, ...], ...] = Field(
        default=(), description="Groups of ranges of one trait, of which one must hold.", exclude_if=lambda value: not value
    )
    none_of: tuple[Range | Pattern, ...] = Field(
        default=(), description="Ranges and patterns that must not hold.", exclude_if=lambda value: not value
    )
    without: tuple[str, ...] = Field(
        default=(), description="Frames that are left out: frame_id or specimen_id.", exclude_if=lambda value: not value
    )
    relations: tuple[Relation, ...] = Field(default=(), description="Relations to reference frames.")
    trait_relations: tuple[TraitRelation, ...] = Field(
        default=(), description="Relations to reference frames in other traits.", exclude_if=lambda value: not value
    )
    measured_only: bool = Field(default=False, description="Whether frames without a measured bed are left out.")
    order: Order | None = Field(default=None, description="The order asked for; none is tightest first.")
    limit: int | None = Field(default=None, ge=1, le=MOST_FRAMES, description="How many frames at most.")
    confidence: float = Field(default=CONFIDENCE, gt=0.5, lt=1.0, description="How sure a verdict must be.")

    @model_validator(mode="after")
    def _settled(self) -> Self:
        """Merge the parts that say the same [GapbookError contradiction, no-reference]."""
        parts = _settled(self.ranges, self.patterns, self.either, self.none_of)
        relations = settle_relations(self.relations)
        if self.order is not None and self.order.by == "closest" and not relations:
            raise fail("no-reference", "closest first needs a frame to be close to", fix="Add: like FRAME")
        settled = {
            **parts._asdict(),
            "relations": relations,
            "trait_relations": settle_trait_relations(self.trait_relations),
            "without": tuple(sorted({checked_reference(one) for one in self.without})),
        }
        for name, value in settled.items():
            object.__setattr__(self, name, value)  # frozen for everyone else
        return self

    @property
    def reference(self) -> str | None:
        """The reference that the answer is set against: that of the first relation."""
        references = [one.reference for one in self.relations] + [one.reference for one in self.trait_relations]
        return references[0] if references else None

    @property
    def zone(self) -> Zone:
        """The zone asked about: of the first relation, else the order, else a range of mesh or openness, or the centre."""
        zones = [relation.zone for relation in self.relations]
        zones += [self.order.zone] if self.order is not None and self.order.zone is not None else []
        zones += [one.zone for one in self.ranges if one.trait in ("mesh", "openness") and one.zone is not None]
        return zones[0] if zones else "centre"


class _Parts(NamedTuple):
    """The parts of a question that exclude each other or not."""

    ranges: tuple[Range, ...]
    patterns: tuple[Pattern, ...]
    either: tuple[tuple[Range, ...], ...]
    none_of: tuple[Range | Pattern, ...]


def _settled(
    ranges: tuple[Range, ...],
    patterns: tuple[Pattern, ...],
    either: tuple[tuple[Range, ...], ...],
    none_of: tuple[Range | Pattern, ...],
) -> _Parts:
    """The parts in their one form [GapbookError contradiction]. A single pattern or alternative becomes ranges."""
    ranges = settle_ranges(ranges)
    none_of, patterns = settle_none_of(ranges, settle_patterns(ranges, patterns), none_of)
    if len(patterns) == 1:
        ranges, patterns = settle_ranges((*ranges, *pattern_ranges(patterns[0]))), ()
    groups = settle_either(ranges, either)
    alone = tuple(group[0] for group in groups if len(group) == 1)
    if alone:
        ranges = settle_ranges((*ranges, *alone))
    return _Parts(ranges, patterns, tuple(group for group in groups if len(group) > 1), none_of)


class Setting(NamedTuple):
    """A part that a question has only once: order, limit, measured_only or confidence."""

    name: str
    value: Order | int | float


Part = Range | Relation | TraitRelation | Setting | tuple[Pattern, ...] | Either | NoneOf | Without
"""What one clause says. The patterns of a tuple are alternatives."""


class Draft:
    """A question that is not yet complete. Clauses are added one by one, so that a contradiction has a clause to point at."""

    def __init__(self) -> None:
        self._parts = _Parts((), (), (), ())
        self._relations: tuple[Relation, ...] = ()
        self._trait_relations: tuple[TraitRelation, ...] = ()
        self._without: tuple[str, ...] = ()
        self._settings: dict[str, Order | int | float] = {}

    def add(self, part: Part) -> None:
        """Add what one clause says; if it contradicts the others, the draft stays as it was [GapbookError contradiction]."""
        parts = self._parts
        if isinstance(part, Relation):
            self._relations = settle_relations((*self._relations, part))
        elif isinstance(part, TraitRelation):
            self._trait_relations = settle_trait_relations((*self._trait_relations, part))
        elif isinstance(part, Setting):
            if self._settings.setdefault(part.name, part.value) != part.value:
                raise fail("contradiction", "this was asked for otherwise before", fix="Leave one of them out")
        elif isinstance(part, Without):
            self._without = (*self._without, part.reference)
        elif isinstance(part, Either):
            self._settle(parts._replace(either=(*parts.either, part.ranges)))
        elif isinstance(part, NoneOf):
            self._settle(parts._replace(none_of=(*parts.none_of, part.item)))
        elif isinstance(part, Range):
            self._settle(parts._replace(ranges=(*parts.ranges, part)))
        elif len(set(part)) == 1:
            self._settle(parts._replace(ranges=(*parts.ranges, *pattern_ranges(part[0]))))
        else:
            self._settle(parts._replace(patterns=common_patterns(parts.patterns, part)))

    def _settle(self, parts: _Parts) -> None:
        self._parts = _settled(*parts)

    def question(self) -> Question:
        """The question of all clauses so far [GapbookError no-reference]."""
        return Question(
            **self._parts._asdict(),
            without=self._without,
            relations=self._relations,
            trait_relations=self._trait_relations,
            **self._settings,  # type: ignore[arg-type]
        )
