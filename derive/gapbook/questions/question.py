"""A question to the catalogue: what `ask` makes of a typed text and `find` of its options."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from gapbook.errors import fail
from gapbook.questions import options
from gapbook.questions.consistency import (
    pattern_ranges,
    settle_patterns,
    settle_ranges,
    settle_relations,
)
from gapbook.questions.options import SORTS
from gapbook.questions.ranges import Bound, Interval, Range, bound_holds
from gapbook.questions.relations import MOST_FRAMES, Order, Pattern, Relation
from gapbook.questions.traits import Zone
from gapbook.science.comparison import CONFIDENCE


def checked_confidence(confidence: float | None) -> float:
    """The confidence asked for, CONFIDENCE without; GapbookError unless it lies above 0.5 and below 1."""
    sure = CONFIDENCE if confidence is None else confidence
    if not 0.5 < sure < 1.0:
        expected = "above 0.5 and below 1, e.g. 0.9"
        raise fail("bad-confidence", "no verdict has this confidence", found=f"{sure:g}", expected=expected)
    return sure


class Question(BaseModel):
    """What is asked for: every range and relation holds of a match, and one of the patterns where several are given.

    Equal questions are equal objects: ranges of one trait, zone and unit are merged, the parts stand in a fixed
    order (relations as they were named), and a single pattern is kept as ranges of mains and crosses.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

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
        """Parts that say the same made one [GapbookError contradiction, no-reference]."""
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
        """The frame the answer is set against: that of the first relation."""
        return self.relations[0].reference if self.relations else None

    @property
    def zone(self) -> Zone:
        """The zone asked about: of the first relation, else of the order, else of a range of mesh or openness."""
        zones = [relation.zone for relation in self.relations]
        zones += [self.order.zone] if self.order is not None and self.order.zone is not None else []
        zones += [one.zone for one in self.ranges if one.trait in ("mesh", "openness") and one.zone is not None]
        return zones[0] if zones else "centre"


def from_options(
    *,
    head: str | None = None,
    mains: str | None = None,
    crosses: str | None = None,
    pattern: Iterable[str] | str = (),
    tighter_than: Iterable[str] | str = (),
    more_open_than: Iterable[str] | str = (),
    like: Iterable[str] | str = (),
    where: str = "centre",
    mass: str | None = None,
    balance: str | None = None,
    swingweight: str | None = None,
    length: str | None = None,
    basis: str = "any",
    sort: str | None = None,
    limit: int | None = None,
    confidence: float = CONFIDENCE,
) -> Question:
    """The question of `find`'s options, each as it was typed; every option that is not understood is reported.

    Ranges are `95..98`, `95..`, `..98` or `97`, with a unit after them where it is not the usual one (sq in, g,
    points head heavy, kg·cm², in). Several patterns are alternatives. Errors: GapbookError.
    """
    typed = {"head_area": head, "mains": mains, "crosses": crosses, "mass": mass, "balance": balance}
    typed |= {"swingweight": swingweight, "length": length}
    read = options.Reading()
    ranges = [read.range(trait, text) for trait, text in typed.items() if text is not None]
    relations = read.relations({"tighter": tighter_than, "more_open": more_open_than, "like": like}, where)
    patterns = read.patterns(pattern)
    order = read.order(sort, where, bool(relations))
    measured_only = read.basis(basis)
    read.check()
    try:
        return Question(
            ranges=tuple(one for one in ranges if one is not None),
            patterns=patterns,
            relations=relations,
            measured_only=measured_only,
            order=order,
            limit=limit,
            confidence=confidence,
        )
    except ValidationError as error:
        raise options.refused(error) from None


__all__ = [
    "CONFIDENCE",
    "SORTS",
    "Bound",
    "Interval",
    "Order",
    "Pattern",
    "Question",
    "Range",
    "Relation",
    "bound_holds",
    "from_options",
]
