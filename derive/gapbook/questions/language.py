"""The question language: a typed question made into a Question, or an error that points at what is not understood."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING, Any

from gapbook.errors import GapbookError, Problem
from gapbook.questions.clauses import LONGEST_QUESTION, Clause, split, unprintable
from gapbook.questions.consistency import common_patterns, settle_patterns, settle_ranges, settle_relations
from gapbook.questions.meaning import Part, Setting, meaning_of, not_understood
from gapbook.questions.nearest import nearest, respelt
from gapbook.questions.question import Question
from gapbook.questions.ranges import Range
from gapbook.questions.relations import Pattern, Relation
from gapbook.questions.tokens import Token, tokens
from gapbook.questions.traits import plain
from gapbook.questions.vocabulary import NOUNS
from gapbook.questions.wording import describe

if TYPE_CHECKING:
    from lark import Lark

EXAMPLES = (
    "95-98 sq in, 16 mains, tighter centre than FRAME",
    "16x19 and mass under 320 g, most open first, top 5",
    "like FRAME, more open sides than FRAME, measured only",
)
"""Questions to show whoever has asked nothing."""

_MOST_OFFERED = 8
"""So many bad clauses of a question get offers; the others are only pointed at."""


@dataclass(frozen=True)
class ClauseProblem(Problem):
    """What is wrong with one clause: columns `start` to `end` of the question (from 0, `end` excluded).

    `found` is the text there; `offers` are clauses near it that would be understood.
    """

    start: int = 0
    end: int = 0
    offers: tuple[str, ...] = ()


class QuestionError(GapbookError):
    """A question that is not understood: `text` as it was typed, and a ClauseProblem for each bad clause."""

    problems: tuple[ClauseProblem, ...]

    def __init__(self, text: str, *problems: ClauseProblem) -> None:
        super().__init__(*problems)
        self.text = text


def parse(text: str) -> Question:
    """The question that `text` asks. Errors: QuestionError with every clause that is not understood."""
    clauses = _checked_clauses(text)
    gathered = _Gathered()
    problems: list[ClauseProblem] = []
    for clause in clauses:
        try:
            if clause.quote_open:
                raise not_understood()
            part = _part(clause.text)
            if part is not None:
                gathered.add(part)
        except GapbookError as error:
            problems.append(_problem(clause, error, offering=len(problems) < _MOST_OFFERED))
    if not problems:
        try:
            return gathered.question()
        except GapbookError as error:
            problems.append(_problem(Clause(text, 0, len(text)), error, offering=False))
    raise QuestionError(text, *problems)
