"""A question in the making: clause by clause, so that a contradiction is found at the clause that brings it."""

from __future__ import annotations

from typing import NamedTuple

from gapbook.errors import fail
from gapbook.questions.consistency import (
    common_patterns,
    pattern_ranges,
    settle_patterns,
    settle_ranges,
    settle_relations,
)
from gapbook.questions.question import Question
from gapbook.questions.ranges import Range
from gapbook.questions.relations import Order, Pattern, Relation


class Setting(NamedTuple):
    """A part of a question that is given once: order, limit, measured_only or confidence."""

    name: str
    value: Order | int | float


Part = Range | Relation | Setting | tuple[Pattern, ...]
"""What one clause says; a tuple of patterns are alternatives."""


class Draft:
    """The parts of a question gathered so far."""

    def __init__(self) -> None:
        self._ranges: tuple[Range, ...] = ()
        self._patterns: tuple[Pattern, ...] = ()
        self._relations: tuple[Relation, ...] = ()
        self._settings: dict[str, Order | int | float] = {}

    def add(self, part: Part) -> None:
        """Take in what one clause says, or leave the draft as it was [GapbookError contradiction]."""
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
        """The question asked so far [GapbookError no-reference]."""
        return Question(
            ranges=self._ranges,
            patterns=self._patterns,
            relations=self._relations,
            **self._settings,  # type: ignore[arg-type]
        )
