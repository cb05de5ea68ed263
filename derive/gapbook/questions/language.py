"""The question language: a typed question made into a Question, or an error that points at what is not understood."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise, takewhile
from typing import TYPE_CHECKING, Any

from gapbook.errors import GapbookError, Problem, fail
from gapbook.questions.clauses import LONGEST_QUESTION, Clause, split, unprintable
from gapbook.questions.draft import Draft, Part
from gapbook.questions.meaning import meaning_of, not_understood
from gapbook.questions.nearest import nearest, respelt
from gapbook.questions.question import Question
from gapbook.questions.tokens import Token, tokens
from gapbook.questions.traits import UNIT_WORDS
from gapbook.questions.vocabulary import NOUNS
from gapbook.questions.wording import part_words

if TYPE_CHECKING:
    from lark import Lark, Tree

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
    draft = Draft()
    problems: list[ClauseProblem] = []
    for clause in clauses:
        try:
            part = _part(clause)
            if part is not None:
                draft.add(part)
        except GapbookError as error:
            found = _problem(clause, error.problems[0], offering=len(problems) < _MOST_OFFERED)
            problems.append(_in_company(found, clause, clauses, text))
    if not problems:
        try:
            return draft.question()
        except GapbookError as error:
            problems.append(_problem(Clause(text, 0, len(text)), error.problems[0], offering=False))
    raise QuestionError(text, *problems)


def _checked_clauses(text: str) -> list[Clause]:
    """The clauses of a question that has any and can be shown [QuestionError]."""
    hidden = unprintable(text)
    if hidden is not None:
        found = f"U+{ord(text[hidden]):04X}"
        message = "a question has no control characters"
        problem = ClauseProblem("control-character", message, None, found, start=hidden, end=hidden + 1)
        raise QuestionError(text, problem)
    if len(text) > LONGEST_QUESTION:
        found, message = f"{len(text)} characters", f"a question has at most {LONGEST_QUESTION} characters"
        raise QuestionError(text, ClauseProblem("too-long", message, None, found, start=0, end=len(text)))
    clauses = split(text)
    if any(token.kind != "NOISE" or token.text in NOUNS for clause in clauses for token in tokens(clause.text)):
        return clauses
    fix = "Ask for instance: " + "; ".join(EXAMPLES)
    message = "nothing was asked"
    raise QuestionError(text, ClauseProblem("empty-question", message, fix=fix, end=len(text), offers=EXAMPLES))


def _part(clause: Clause) -> Part | None:
    """What a clause says; None for one of words that change nothing. Errors: GapbookError."""
    if clause.quote_open:
        raise fail("open-quotation", "a quotation mark is not closed", fix="Close it")
    significant = [token for token in tokens(clause.text) if token.kind != "NOISE"]
    if not significant:
        return None
    if any(token.kind == "UNKNOWN" for token in significant):
        raise not_understood()
    return meaning_of(_tree(significant))


def _narrowed(text: str, problem: Problem) -> Problem:
    """The problem of a clause with unknown words: an unknown unit where all else is understood without it."""
    unit = _stray_after_number([token for token in tokens(text) if token.kind != "NOISE"])
    if problem.code != "unknown-clause" or unit is None or any(_understood(one) for one in respelt(text)):
        return problem
    start, end = unit
    try:
        _part(Clause(text[:start] + text[end:], 0, 0))
    except GapbookError as error:
        if error.problems[0].code not in ("no-unit", "no-side", "no-trait"):
            return problem
    expected = ", ".join(listed[0] for listed in UNIT_WORDS.values())
    return Problem("unknown-unit", "there is no such unit", found=text[start:end], expected=expected)


def _stray_after_number(significant: list[Token]) -> tuple[int, int] | None:
    """Where the first unknown words after a number start and end."""
    for before, token in pairwise(significant):
        if before.kind == "NUMBER" and token.kind == "UNKNOWN" and token.text.isalpha():
            later = takewhile(lambda one: one.kind == "UNKNOWN", significant[significant.index(token) :])
            return token.start, max(one.end for one in later)
    return None


def _understood(text: str) -> str | None:
    """The canonical words of one clause or several, or None where they are not understood."""
    try:
        parts = [_part(clause) for clause in split(text)]
        draft = Draft()
        for part in parts:
            if part is not None:
                draft.add(part)
    except GapbookError:
        return None
    return ", ".join(part_words(part) for part in parts if part is not None) or None


def _problem(clause: Clause, problem: Problem, *, offering: bool) -> ClauseProblem:
    """A problem with a clause, where it stands, and the nearest clauses that would be understood."""
    problem = _narrowed(clause.text, problem) if offering else problem
    offers = nearest(clause.text, problem.code, _understood) if offering else ()
    start, end = clause.start, clause.end
    if problem.code == "unknown-unit" and problem.found is not None:
        start += clause.text.find(problem.found)
        end = start + len(problem.found)
    return ClauseProblem(
        problem.code,
        problem.message if problem.found is None else f"{problem.message} ({problem.found})",
        found=clause.text,
        expected=problem.expected,
        fix="Nearest: " + "; ".join(offers) if offers else problem.fix,
        start=start,
        end=end,
        offers=offers,
    )


def _in_company(problem: ClauseProblem, clause: Clause, clauses: list[Clause], text: str) -> ClauseProblem:
    """The problem with its offers made to fit what the other clauses of `text` say."""
    place = clauses.index(clause)
    beside = (*clauses[place + 1 : place + 2], *clauses[max(place - 1, 0) : place])
    if problem.code == "unknown-clause" and problem.offers:
        for other in beside:
            if (both := _sharing(clause, other)) is not None:
                start, end = min(clause.start, other.start), max(clause.end, other.end)
                return replace(problem, found=text[start:end], fix=f"Nearest: {both}", start=start, end=end, offers=(both,))
    offers = tuple(_with_a_reference(offer, clauses) for offer in problem.offers)
    return problem if offers == problem.offers else replace(problem, fix="Nearest: " + "; ".join(offers), offers=offers)


def _sharing(clause: Clause, other: Clause) -> str | None:
    """The two clauses in canonical words where the first leaves its reference to the other; else None."""
    reference = next((token.text for token in tokens(other.text) if token.kind == "REF"), None)
    if reference is None or any(token.kind == "REF" for token in tokens(clause.text)):
        return None
    whole = (_understood(f"{one} than {reference}") for one in respelt(clause.text))
    words, others = next((one for one in whole if one is not None), None), _understood(other.text)
    if words is None or others is None:
        return None
    return _understood(f"{words}, {others}" if clause.start < other.start else f"{others}, {words}")


def _with_a_reference(offer: str, clauses: list[Clause]) -> str:
    """An order by closeness with a frame to be close to, where no clause names one."""
    if offer != "closest first" or any(token.kind == "REF" for clause in clauses for token in tokens(clause.text)):
        return offer
    return f"like FRAME, {offer}"


def _tree(significant: list[Token]) -> Tree[Any]:
    """The tree of a clause by the grammar [GapbookError unknown-clause]."""
    from lark import Token as Terminal
    from lark import UnexpectedInput

    try:
        return _parser().parse([Terminal(token.kind, token) for token in significant])
    except UnexpectedInput:
        raise not_understood() from None


@cache
def _parser() -> Lark:
    """The parser, made ready when the first question is typed."""
    from gapbook.questions.parser import load

    return load()
