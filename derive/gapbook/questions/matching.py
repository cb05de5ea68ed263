"""The longest phrase of the vocabulary that fits at a place of a text."""

from __future__ import annotations

from functools import cache

from gapbook.questions.vocabulary import Phrase, by_first_sign, phrases

NO_PHRASE = Phrase("", "UNKNOWN")
"""What stands for a phrase if there is none."""


@cache
def number_words() -> frozenset[str]:
    """The words that are numbers."""
    return frozenset(text for text, phrase in phrases().items() if phrase.kind == "NUMBER")


def longest_phrase(line: str, start: int, without: str = "") -> tuple[Phrase | None, int]:
    """The longest phrase, but none of the kind `without`, that begins at a column, and the column after it."""
    best: tuple[Phrase | None, int] = (None, start)
    for word, listed in by_first_sign().get(line[start], {}).items():
        if not line.startswith(word, start):
            continue
        for phrase in listed:
            if len(phrase.text) <= (best[1] - start if best[0] else 0):
                break
            end = _end_of(phrase.text, line, start)
            if end and phrase.kind != without and _word_ends(phrase, line, end):
                best = (phrase, end)
                break
    return best


def _end_of(phrase: str, line: str, start: int) -> int:
    """The column after `phrase` if it begins at `start`, with any number of spaces between words; 0 if it does not."""
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


def _word_ends(phrase: Phrase, line: str, end: int) -> bool:
    """Whether a word ends where the phrase does; an `x` between numbers needs no space."""
    if end >= len(line) or not phrase.text[-1].isalnum():
        return True
    if line[end].isdigit():
        return phrase.kind in ("BY", "UNIT", "TRAIT", "COMPARE", "LEAN", "TOP") and phrase.text in (
            "x",
            "hl",
            "hh",
            "sw",
            "top",
        )
    return not (line[end].isalnum() or line[end] in "²")
