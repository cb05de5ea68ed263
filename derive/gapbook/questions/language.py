"""The question language: a typed question made into a Question, or an error that points at what is not understood.

A question is cut into clauses, and each clause is read by itself. Quotations and `between A and B` are never cut.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import NamedTuple

from gapbook.errors import GapbookError, Problem, fail
from gapbook.questions.meaning import part_of, unknown_unit
from gapbook.questions.nearest import nearest, respelt
from gapbook.questions.question import Draft, Part, Question
from gapbook.questions.traits import plain
from gapbook.questions.vocabulary import NOUNS, tokens
from gapbook.questions.wording import part_words

LONGEST_QUESTION = 2000
"""Characters a question may have."""

_AND = re.compile(r"(?:and|&)(?![a-z0-9-])")
_NUMBER_AHEAD = re.compile(r" *(?:and|&) *[-.0-9]")
_BETWEEN = re.compile(r"(?:^|[^a-z0-9-])between(?![a-z0-9-])")
EXAMPLES = (
    "95-98 sq in, 16 mains, tighter centre than FRAME",
    "16x19 and mass under 320 g, most open first, top 5",
    "like FRAME, more open sides than FRAME, measured only",
)
"""Questions that are shown if nothing was asked."""

_MOST_OFFERED = 8
"""At most so many bad clauses of a question get offers; the others are only pointed at."""


class Clause(NamedTuple):
    """A clause as typed, and its place in the question.

    text: its text.
    start: its first column, from 0.
    end: the first column after it.
    quote_open: whether a quotation mark in it is not closed.
    """

    text: str
    start: int
    end: int
    quote_open: bool = False


@dataclass(frozen=True)
class ClauseProblem(Problem):
    """What is wrong with one clause: `found` is its text, from column `start` of the question (from 0) to before `end`, and
    `offers` are clauses near it that would be understood.
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
            if (part := _part(clause)) is not None:
                draft.add(part)
        except GapbookError as error:
            problem = _problem(clause, error.problems[0], offering=len(problems) < _MOST_OFFERED)
            problems.append(_in_company(problem, clause, clauses, text))
    if not problems:
        try:
            return draft.question()
        except GapbookError as error:
            problems.append(_problem(Clause(text, 0, len(text)), error.problems[0], offering=False))
    raise QuestionError(text, *problems)


def _checked_clauses(text: str) -> list[Clause]:
    """The clauses of a question. QuestionError if it has none, is too long, or has characters that cannot be shown."""
    hidden = _unprintable(text)
    if hidden is not None:
        found, message = f"U+{ord(text[hidden]):04X}", "a question has no control characters"
        raise QuestionError(text, ClauseProblem("control-character", message, None, found, start=hidden, end=hidden + 1))
    if len(text) > LONGEST_QUESTION:
        found, message = f"{len(text)} characters", f"a question has at most {LONGEST_QUESTION} characters"
        raise QuestionError(text, ClauseProblem("too-long", message, None, found, start=0, end=len(text)))
    clauses = _split(text)
    if any(token.kind != "NOISE" or token.text in NOUNS for clause in clauses for token in tokens(clause.text)):
        return clauses
    fix = "Ask for instance: " + "; ".join(EXAMPLES)
    raise QuestionError(text, ClauseProblem("empty-question", "nothing was asked", fix=fix, end=len(text), offers=EXAMPLES))


def _part(clause: Clause) -> Part | None:
    """What a clause says; None if its words change nothing. Errors: GapbookError."""
    if clause.quote_open:
        raise fail("open-quotation", "a quotation mark is not closed", fix="Close it")
    return part_of(clause.text)


def _understood(text: str) -> str | None:
    """The canonical words of one clause or several, or None if they are not understood."""
    try:
        parts = [part for clause in _split(text) if (part := _part(clause)) is not None]
        draft = Draft()
        for part in parts:
            draft.add(part)
    except GapbookError:
        return None
    return ", ".join(map(part_words, parts)) or None


def _problem(clause: Clause, problem: Problem, *, offering: bool) -> ClauseProblem:
    """A problem with its place in the question, and the nearest clauses that would be understood."""
    if offering and problem.code == "unknown-clause" and not any(_understood(one) for one in respelt(clause.text)):
        problem = unknown_unit(clause.text) or problem
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
    """The problem, its offers made to fit the other clauses of `text`."""
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
    """The two clauses in canonical words if the first has no reference and can take that of the other; else None."""
    reference = next((token.text for token in tokens(other.text) if token.kind == "REF"), None)
    if reference is None or any(token.kind == "REF" for token in tokens(clause.text)):
        return None
    whole = (_understood(f"{one} than {reference}") for one in respelt(clause.text))
    words, others = next((one for one in whole if one is not None), None), _understood(other.text)
    if words is None or others is None:
        return None
    return _understood(f"{words}, {others}" if clause.start < other.start else f"{others}, {words}")


def _with_a_reference(offer: str, clauses: list[Clause]) -> str:
    """The offer; if it is `closest first` and no clause names a frame, with `like FRAME` before it."""
    if offer != "closest first" or any(token.kind == "REF" for clause in clauses for token in tokens(clause.text)):
        return offer
    return f"like FRAME, {offer}"


def _unprintable(text: str) -> int | None:
    """The column of the first control or invisible formatting character, or None."""
    hidden = ("Cc", "Cf", "Cs", "Zl", "Zp")
    return next((column for column, sign in enumerate(text) if unicodedata.category(sign) in hidden), None)


def _split(text: str) -> list[Clause]:
    """The clauses of `text`, cut at commas, semicolons and `and`; empty ones are left out."""
    line = plain(text)
    ended = _end_of_question(line)
    cuts, start, position = [], 0, 0
    quote = ""
    while position < ended:
        sign = line[position]
        if quote:
            quote = "" if sign == quote else quote
        elif _opens_quotation(line, position):
            quote = sign
        elif width := _separator(line, start, position):
            cuts.append((start, position))
            start = position = position + width
            continue
        position += 1
    clauses = [_trimmed(text, *cut) for cut in (*cuts, (start, ended))]
    if quote:
        clauses[-1] = clauses[-1]._replace(quote_open=True)
    return [clause for clause in clauses if clause.text]


def _end_of_question(line: str) -> int:
    """The column at which the question ends, without its question mark or full stop."""
    end = len(line.rstrip(" ?!"))
    closed = end > 1 and line[end - 1] == "." and (line[end - 2].isalnum() or line[end - 2] in "\"'%")
    return end - 1 if closed else end


def _opens_quotation(line: str, position: int) -> bool:
    """Whether a quotation begins here. After a digit the mark means inches, and inside a word it is an apostrophe."""
    before = line[position - 1] if position else " "
    return (line[position] == '"' and not before.isdigit()) or (line[position] == "'" and before == " ")


def _separator(line: str, start: int, position: int) -> int:
    """How many characters the separator at `position` takes; 0 if none is there."""
    if line[position] in ",;":
        return 1
    match = _AND.match(line, position) if line[position] in "a&" else None
    if match is None or (position and (line[position - 1].isalnum() or line[position - 1] in "-'")):
        return 0
    between = _BETWEEN.search(line, start, position)
    if between and _NUMBER_AHEAD.match(line, position) and not _AND.search(line, between.end(), position):
        return 0
    return match.end() - position


def _trimmed(text: str, start: int, end: int) -> Clause:
    piece = text[start:end]
    start += len(piece) - len(piece.lstrip())
    end = start + len(piece.strip())
    return Clause(text[start:end], start, end)
