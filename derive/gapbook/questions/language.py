"""The question language: a typed question made into a Question, or an error that points at what is not understood."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass, replace
from typing import NamedTuple

from gapbook.errors import GapbookError, Problem, fail
from gapbook.questions.beside import beside, is_held
from gapbook.questions.discourse import READERS, Said, put_together, reference_of
from gapbook.questions.grammar import clauses
from gapbook.questions.intents import About, intent
from gapbook.questions.names import NOBODY, Names
from gapbook.questions.nearest import nearest
from gapbook.questions.question import Draft, Part, Question
from gapbook.questions.token import Token
from gapbook.questions.tokens import OPEN, tokens
from gapbook.questions.topics import TOPICS
from gapbook.questions.traits import UNIT_WORDS, plain
from gapbook.questions.wording import part_words

LONGEST_QUESTION = 2000
"""Characters a question may have."""
MOST_TOKENS = 240
"""Words, numbers and signs that change the meaning, at most."""
EXAMPLES = (
    "95-98 sq in, 16 mains, tighter centre than FRAME",
    "16x19 and mass under 320 g, most open first, top 5",
    "like FRAME, more open sides than FRAME, measured only",
)
"""Questions that are shown if nothing was asked."""

_MOST_OFFERED = 8
"""At most so many bad clauses of a question get offers; the others are only pointed at."""
_EVERY = ("all", "any", "every", "each")
"""With one of these `racquet` asks for all of them; alone it asks nothing."""
_DROPPED = ("what", "what's", "whats")


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


class Reading(NamedTuple):
    """A typed question as it was understood.

    asked: the question, or what is asked about one frame, two, or a word.
    notes: sentences on words and names that were not taken as they were typed.
    """

    asked: Question | About
    notes: tuple[str, ...] = ()


def parse(text: str, names: Names = NOBODY) -> Question:
    """The question that `text` asks. Errors: QuestionError with every clause that is not understood, or if it asks about a
    frame or a word (`read` understands that).
    """
    return parse_with_notes(text, names)[0]


def parse_with_notes(text: str, names: Names = NOBODY) -> tuple[Question, tuple[str, ...]]:
    """The question that `text` asks, and sentences on words and names not taken as they were typed. Errors: as of `parse`."""
    asked, notes = read(text, names)
    if isinstance(asked, Question):
        return asked, notes
    fix = f"Ask at the command line, or run {asked.command}"
    raise QuestionError(text, ClauseProblem("about-a-frame", "this asks for no list of frames", fix=fix, end=len(text)))


def read(text: str, names: Names = NOBODY) -> Reading:
    """What `text` asks. Errors: QuestionError with every clause that is not understood, or with what the catalogue cannot know.

    text: the question as it was typed.
    names: the names of the catalogue's frames; without them only ids, quotations and folders are references.
    """
    _check_signs(text)
    found = tokens(text, names)
    _check_quotes(text, found)
    _check_topics(text, found)
    notes = _notes(text, found)
    if (about := intent(found)) is not None:
        return Reading(about, notes)
    significant = _significant(found)
    if len(significant) > MOST_TOKENS:
        message = f"a question has at most {MOST_TOKENS} words, numbers and signs that matter"
        raise QuestionError(text, ClauseProblem("too-long", message, None, f"{len(significant)}", start=0, end=len(text)))
    every = any(token.text in _EVERY for token in found)
    if not any(token.kind not in ("COMMA", "AND", "GIVE", "BOTH") for token in significant) and not any(
        token.kind == "NOUN" and (token.text.endswith("s") or every) for token in found
    ):
        fix = "Ask for instance: " + "; ".join(EXAMPLES)
        problem = ClauseProblem("empty-question", "nothing was asked", fix=fix, end=len(text), offers=EXAMPLES)
        raise QuestionError(text, problem)
    return Reading(_question(text, found, significant), notes)


def part_of(text: str) -> Part | None:
    """What the clause `text`, without slips of the pen, says; None if its words change nothing. Errors: GapbookError."""
    found = tokens(text, slips=False)
    _check_quotes(text, found)
    said = _said(found, _significant(found))
    problems = [one.problem or _unknown() for one in said if one.problem is not None or one.clause.rule == "unknown"]
    if problems:
        raise GapbookError(problems[0])
    parts = [part for one in said for part in one.parts]
    if len(parts) > 1:
        raise GapbookError(_unknown())
    return parts[0] if parts else None


def unknown_unit(text: str) -> Problem | None:
    """The problem of words after a number that are no unit; None if the clause is not understood without them either."""
    unit = _stray_after_number(_significant(tokens(text)))
    if unit is None or not _fits_but_for_a_unit(text[: unit[0]] + text[unit[1] :]):
        return None
    return _no_such_unit(text[unit[0] : unit[1]])


def _no_such_unit(found: str) -> Problem:
    expected = ", ".join(words[0] for words in UNIT_WORDS.values())
    return Problem("unknown-unit", "there is no such unit", found=found, expected=expected)


def _unknown() -> Problem:
    return Problem("unknown-clause", "this is not understood")


def _significant(found: list[Token]) -> list[Token]:
    """The tokens that clauses are made of: no noise, no beds, and frames only after a number (`5 frames`)."""
    kept: list[Token] = []
    for token in found:
        counted = token.kind == "NOUN" and kept and kept[-1].kind == "NUMBER" and kept[-1].meaning is None
        if counted and len(kept) > 1 and kept[-2].kind == "BY":
            counted = False
        dropped = token.kind in ("NOISE", "BED") or (token.kind == "ASKING" and token.text in _DROPPED)
        if not dropped and (token.kind != "NOUN" or counted):
            kept.append(token)
    return _without_same(kept)


def _without_same(kept: list[Token]) -> list[Token]:
    """The tokens without `same` before a figure: `in the same size, 100` is 100."""
    kinds = [token.kind for token in kept]
    dropped: set[int] = set()
    for place, kind in enumerate(kinds):
        if kind != "SAME":
            continue
        if kinds[place + 1 : place + 2] == ["NUMBER"] or kinds[place + 1 : place + 3] == ["TRAIT", "NUMBER"]:
            dropped.add(place)
        elif kinds[place + 1 : place + 4] == ["TRAIT", "COMMA", "NUMBER"] and kept[place + 1].text == "size":
            dropped |= {place, place + 2}
    return [token for place, token in enumerate(kept) if place not in dropped]


def _said(found: list[Token], significant: list[Token]) -> list[Said]:
    made = [beside(clause, found) for clause in clauses(significant, READERS)]
    return put_together(made, lambda token: is_held(token, found))


def _question(text: str, found: list[Token], significant: list[Token]) -> Question:
    said = _said(found, significant)
    problems = _problems(text, significant, said)
    draft = Draft()
    for one in said:
        try:
            for part in one.parts:
                draft.add(part)
        except GapbookError as error:
            problems.append(_pointed(text, one.clause.tokens, error.problems[0]))
    if not problems:
        try:
            return draft.question()
        except GapbookError as error:
            problems.append(_pointed(text, significant, error.problems[0]))
    raise QuestionError(text, *sorted(problems, key=lambda problem: problem.start))


def _problems(text: str, significant: list[Token], said: list[Said]) -> list[ClauseProblem]:
    """The problems of clauses. Tokens that no clause takes are pointed at with the words around them, from comma to comma."""
    problems: dict[tuple[int, int], ClauseProblem] = {}
    pieces = _between_commas(significant)
    for one in said:
        if one.clause.rule == "unknown":
            piece = next(piece for piece in pieces if one.clause.tokens[0] in piece)
            where = (piece[0].start, piece[-1].end)
            if where not in problems:
                problems[where] = _pointed(text, piece, _unknown(), offering=len(problems) < _MOST_OFFERED)
    covered = list(problems)
    for one in said:
        if one.problem is not None:
            where = (one.clause.tokens[0].start, one.clause.tokens[-1].end)
            if not any(start <= where[0] and where[1] <= end for start, end in covered):
                problems[where] = _pointed(text, one.clause.tokens, one.problem, offering=len(problems) < _MOST_OFFERED)
    return list(problems.values())


def _between_commas(significant: list[Token]) -> list[list[Token]]:
    pieces: list[list[Token]] = [[]]
    for token in significant:
        if token.kind in ("COMMA", "AND"):
            pieces.append([])
            if token.kind == "AND":
                pieces[-1:] = [[]]
        else:
            pieces[-1].append(token)
    lone = [[token] for token in significant if token.kind in ("COMMA", "AND")]
    return [piece for piece in pieces if piece] + lone


def _pointed(text: str, taken: list[Token] | tuple[Token, ...], problem: Problem, *, offering: bool = True) -> ClauseProblem:
    """A problem with its place in the question, and the nearest clauses that would be understood."""
    start, end = taken[0].start, taken[-1].end
    clause = text[start:end]
    if problem.code == "unknown-clause" and (unit := _stray_after_number(list(taken))) is not None:
        without = (text[start : unit[0]] + text[unit[1] : end]).strip()
        if _fits_but_for_a_unit(without):
            start, end = unit
            problem = _no_such_unit(text[start:end])
    offers = nearest(clause, problem.code, understood) if offering else ()
    return ClauseProblem(
        problem.code,
        problem.message if problem.found is None else f"{problem.message} ({problem.found})",
        found=clause,
        expected=problem.expected,
        fix="Nearest: " + "; ".join(offers) if offers else problem.fix,
        start=start,
        end=end,
        offers=offers,
    )


def _fits_but_for_a_unit(clause: str) -> bool:
    try:
        return part_of(clause) is not None
    except GapbookError as error:
        return error.problems[0].code in ("no-unit", "no-side", "no-trait")


def _stray_after_number(taken: list[Token]) -> tuple[int, int] | None:
    """Where the first unknown words after a number start and end."""
    for place, token in enumerate(taken[1:], 1):
        if taken[place - 1].kind == "NUMBER" and token.kind == "UNKNOWN" and token.text.isalpha():
            end = place
            while end < len(taken) and taken[end].kind == "UNKNOWN":
                end += 1
            return token.start, taken[end - 1].end
    return None


def understood(text: str) -> str | None:
    """The canonical words of clauses, or None if they are not understood."""
    try:
        found = tokens(text)
        _check_topics(text, found)
        said = _said(found, _significant(found))
        if any(one.problem is not None or one.clause.rule == "unknown" for one in said):
            return None
        parts = [part for one in said for part in one.parts]
        draft = Draft()
        for part in parts:
            draft.add(part)
    except GapbookError:
        return None
    return ", ".join(map(part_words, parts)) or None


def _check_topics(text: str, found: list[Token]) -> None:
    """Refuse what the catalogue cannot know, and say what comes nearest."""
    asked = {str(token.meaning) for token in found if token.kind == "TOPIC"}
    for topic, about in TOPICS.items():
        if topic in asked:
            token = next(token for token in found if token.kind == "TOPIC" and token.meaning == topic)
            if topic == "price" and token.text.startswith("how much") and _compares(found):
                continue
            message, fix = about.missing, about.nearest
            raise QuestionError(text, ClauseProblem("not-in-catalogue", message, fix=fix, start=token.start, end=token.end))


def _compares(found: list[Token]) -> bool:
    return any(token.kind in ("COMPARATIVE", "ADJECTIVE", "SIZER", "THAN") for token in found)


def _notes(text: str, found: list[Token]) -> tuple[str, ...]:
    """What was not taken as it was typed."""
    notes = []
    for token in found:
        typed = text[token.start : token.end]
        if token.kind == "REF" and isinstance(token.meaning, tuple) and len(token.meaning) == 1:
            (frame,) = token.meaning
            if token.read_as is not None:
                notes.append(f"“{typed}” is read as {reference_of(token)}.")
            elif plain(typed).replace(" ", "-") != frame and not _ends_alike(typed, frame):
                notes.append(f"“{typed}” is {frame}.")
        elif token.read_as is not None:
            notes.append(f"“{typed}” is read as “{token.read_as}”.")
    return tuple(dict.fromkeys(notes))


def _ends_alike(typed: str, frame: str) -> bool:
    """Whether a name is the frame's id but for spaces, hyphens and the maker before it."""
    letters = "".join(sign for sign in plain(typed) if sign.isalnum())
    return letters.endswith(frame.replace("-", ""))


def _check_signs(text: str) -> None:
    """Refuse texts that are too long, or have characters that cannot be shown."""
    hidden = _unprintable(text)
    if hidden is not None:
        found, message = f"U+{ord(text[hidden]):04X}", "a question has no control characters"
        raise QuestionError(text, ClauseProblem("control-character", message, None, found, start=hidden, end=hidden + 1))
    if len(text) > LONGEST_QUESTION:
        found, message = f"{len(text)} characters", f"a question has at most {LONGEST_QUESTION} characters"
        raise QuestionError(text, ClauseProblem("too-long", message, None, found, start=0, end=len(text)))


def _check_quotes(text: str, found: list[Token]) -> None:
    """Refuse a quotation that is not closed."""
    for token in found:
        if token.kind == "UNKNOWN" and token.text in ('"', "'") and token.meaning == OPEN:
            problem = fail("open-quotation", "a quotation mark is not closed", fix="Close it").problems[0]
            raise QuestionError(text, replace(_pointed(text, [token], problem, offering=False), end=len(text)))


def _unprintable(text: str) -> int | None:
    """The column of the first control or invisible formatting character, or None."""
    hidden = ("Cc", "Cf", "Cs", "Zl", "Zp")
    return next((column for column, sign in enumerate(text) if unicodedata.category(sign) in hidden), None)
