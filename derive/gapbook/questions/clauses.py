"""A question cut into its clauses, quotations and `between A and B` kept whole."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from gapbook.questions.traits import plain

LONGEST_QUESTION = 2000
"""Characters a question may have."""

_AND = re.compile(r"(?:and|&)(?![a-z0-9-])")
_NUMBER_AHEAD = re.compile(r" *(?:and|&) *[-.0-9]")
_BETWEEN = re.compile(r"(?:^|[^a-z0-9-])between(?![a-z0-9-])")


class Clause(NamedTuple):
    """A clause as typed and where it stands in the question, in columns from 0 (`end` is the first after it)."""

    text: str
    start: int
    end: int
    quote_open: bool = False


def unprintable(text: str) -> int | None:
    """The column of the first control or invisible formatting character, or None."""
    for column, sign in enumerate(text):
        if unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp"):
            return column
    return None


def split(text: str) -> list[Clause]:
    """The clauses of `text`, which are parted by commas, semicolons and `and`; empty ones are left out."""
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
    """Where the question ends without its question mark or full stop."""
    end = len(line.rstrip(" ?!"))
    closed = end > 1 and line[end - 1] == "." and (line[end - 2].isalnum() or line[end - 2] in "\"'%")
    return end - 1 if closed else end


def _opens_quotation(line: str, position: int) -> bool:
    """Whether a quotation mark opens a quotation here: after a digit it is inches, inside a word an apostrophe."""
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
