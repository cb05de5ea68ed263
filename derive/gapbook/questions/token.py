"""What a question is cut into: words, phrases, numbers and names."""

from __future__ import annotations

from typing import NamedTuple


class Token(NamedTuple):
    """A word, phrase, number or name of a question.

    kind: a name of the grammar, UNKNOWN, or NOISE for what changes nothing.
    text: as it is in the question, in plain lower case unless it is a reference.
    start: its first column in the question, from 0.
    end: the first column after it.
    meaning: that of its phrase; of a number whether it is in the plural; of a reference the frames it may be.
    read_as: what a misspelt word or name was taken for; None if it is as it should be.
    """

    kind: str
    text: str
    start: int
    end: int
    meaning: object = None
    read_as: str | None = None
