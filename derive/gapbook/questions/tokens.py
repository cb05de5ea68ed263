"""A clause cut into the words of the question language, each with its kind, its meaning and where it stands."""

from __future__ import annotations

import re
from typing import NamedTuple

from gapbook.questions.traits import plain
from gapbook.questions.vocabulary import Phrase, by_first_sign

_NUMBER = re.compile(r"-?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_REFERENCE = re.compile(r"\"[^\"]+\"|'[^']+'|[^\s\"']+")
_UNKNOWN = re.compile(r"[^\W\d_]+|[^\s]")
_AFTER_THESE_A_REFERENCE = ("THAN", "LIKE", "OF")
_AFTER_THESE_A_DASH_IS_TO = ("NUMBER", "UNIT", "LEAN")


class Token(NamedTuple):
    """A word or phrase of a clause: `kind` is a terminal of the grammar, UNKNOWN or NOISE; columns count from 0."""

    kind: str
    text: str
    start: int
    end: int
    meaning: object = None


def tokens(text: str) -> list[Token]:
    """`text` as tokens, noise included. References keep their case."""
    line = plain(text)
    found: list[Token] = []
    position = 0
    while position < len(line):
        if line[position] == " ":
            position += 1
            continue
        token = _token(text, line, position, found)
        found.append(token)
        position = token.end
    return found


def _token(text: str, line: str, start: int, before: list[Token]) -> Token:
    """The token at `start`; what stands before decides between a dash and a minus, a unit and a preposition."""
    last = next((token.kind for token in reversed(before) if token.kind != "NOISE"), "")
    if last in _AFTER_THESE_A_REFERENCE and (match := _REFERENCE.match(line, start)):
        return Token("REF", text[start : match.end()], start, match.end())
    signed = last not in _AFTER_THESE_A_DASH_IS_TO
    if (signed or line[start] != "-") and (match := _NUMBER.match(line, start)) and not _padded(match[0]):
        return Token("NUMBER", match[0], start, match.end())
    phrase, end = _longest_phrase(line, start)
    if phrase is not None:
        return Token(_kind(phrase, last, before), line[start:end], start, end, phrase.meaning)
    match = _UNKNOWN.match(line, start)
    end = match.end() if match else start + 1
    return Token("UNKNOWN", line[start:end], start, end)


def _padded(number: str) -> bool:
    """Whether a number is written with leading zeros: what a thousands separator leaves behind."""
    whole = number.lstrip("-").partition(".")[0]
    return len(whole) > 1 and whole[0] == "0"


def _longest_phrase(line: str, start: int) -> tuple[Phrase | None, int]:
    for phrase in by_first_sign().get(line[start], ()):
        end = _end_of(phrase.text, line, start)
        if end and (phrase.kind == "BY" or _word_ends(phrase.text, line, end)):
            return phrase, end
    return None, start


def _end_of(phrase: str, line: str, start: int) -> int:
    """Where `phrase` ends when it stands at `start` with any number of spaces between its words; 0 if it does not."""
    if " " not in phrase:
        return start + len(phrase) if line.startswith(phrase, start) else 0
    position = start
    for word in phrase.split(" "):
        while line.startswith(" ", position):
            position += 1
        if not line.startswith(word, position):
            return 0
        position += len(word)
    return position


def _word_ends(phrase: str, line: str, end: int) -> bool:
    return not (phrase[-1].isalnum() and end < len(line) and line[end].isalnum())


def _kind(phrase: Phrase, last: str, before: list[Token]) -> str:
    """The kind of a phrase where it stands: `in` is a unit after a number only, `of` matters after `within` only."""
    if phrase.text in ("in", '"') and last != "NUMBER":
        return "NOISE" if phrase.text == "in" else "UNKNOWN"
    if phrase.kind == "OF" and not any(token.kind == "WITHIN" for token in before):
        return "NOISE"
    return phrase.kind
