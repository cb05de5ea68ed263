"""The words of the question language: every phrase with its kind (a terminal of grammar.lark) and its meaning, and how a
clause is cut into phrases.

Phrases are written as `traits.plain` writes them, with one space between words. No phrase has two kinds, so that the longest
phrase that fits is taken.
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from gapbook.questions.ranges import Side
from gapbook.questions.traits import TRAITS, plain, superlatives, trait_names, unit_names, zone_names


class Phrase(NamedTuple):
    """A phrase of the language, its kind, which is a terminal of the grammar, and its meaning."""

    text: str
    kind: str
    meaning: object = None


_BOTH_ENDS = ("between", "from", "exactly")
_COMPARE: dict[Side, tuple[str, ...]] = {
    Side("high", False): ("under", "below", "less than", "fewer than", "smaller than", "before", "<"),
    Side("low", False): ("over", "above", "more than", "greater than", "larger than", "after", ">"),
    Side("low"): ("at least", "no less than", "minimum", "min", "since", ">=", "≥"),
    Side("high"): ("at most", "no more than", "up to", "maximum", "max", "until", "<=", "≤"),
}
_OR_MORE: dict[Side, tuple[str, ...]] = {
    Side("low"): ("or more", "or over", "or above", "or larger"),
    Side("high"): ("or less", "or fewer", "or under", "or below", "or smaller"),
}
_LEAN: dict[int, tuple[str, ...]] = {
    -1: ("head light", "head-light", "headlight"),
    0: ("even balance", "balance even", "balance is even", "evenly balanced"),
    1: ("head heavy", "head-heavy", "headheavy"),
}
_COMPARATIVE: dict[str, tuple[str, ...]] = {
    "tighter": ("tighter", "denser", "less open", "more tight", "more dense"),
    "more_open": ("more open", "opener", "looser", "less tight", "less dense"),
}
_BASIS: dict[bool, tuple[str, ...]] = {
    True: ("measured only", "only measured", "measured"),
    False: ("counted too", "counted as well", "any basis", "measured or counted"),
}
_EXTREME: dict[bool, tuple[str, ...]] = {
    False: ("lowest", "smallest", "least"),
    True: ("highest", "largest", "biggest", "greatest"),
}
_PLAIN_KINDS: dict[str, tuple[str, ...]] = {
    "TO": ("to", "and", "through", "-", "..", "…"),
    "BY": ("x", "by", "*"),
    "OR": ("or",),
    "THAN": ("than",),
    "LIKE": ("like", "similar to", "close to", "the same as", "same as"),
    "WITHIN": ("within",),
    "OF": ("of",),
    "FIRST": ("first",),
    "TOP": ("top", "best", "limit"),
    "SORT": ("sort by", "sorted by", "order by", "ordered by"),
    "NAME": ("name", "frame id"),
    "CONFIDENCE": ("confidence", "confident", "sure"),
    "SIGNED": ("signed",),
}
NOUNS = ("frame", "frames", "racquet", "racquets", "racket", "rackets")
_NOISE = (
    *("show", "me", "find", "list", "give", "please", "i", "want", "all", "any", "every", "which", "what"),
    *("with", "that", "have", "having", "has", "whose", "where", "is", "are", "the", "a", "an", "=", ":"),
    *("in the", "at", "on", "near", "towards", "if", "bed", "beds", "string bed", "pattern", "string pattern", "range"),
)
"""Words that can be anywhere in a clause and change nothing."""

_NUMBER = re.compile(r"-?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_REFERENCE = re.compile(r"\"[^\"]+\"|'[^']+'|[^\s\"']+")
_UNKNOWN = re.compile(r"[^\W\d_]+|[^\s]")
_AFTER_THESE_A_REFERENCE = ("THAN", "LIKE", "OF")
_AFTER_THESE_A_DASH_IS_TO = ("NUMBER", "UNIT", "LEAN")


def listed() -> list[Phrase]:
    """Every phrase of the language."""
    everything = [
        *(Phrase(text, "TRAIT", meaning) for text, meaning in trait_names().items()),
        *(Phrase(text, "ZONE", meaning) for text, meaning in zone_names().items()),
        *(Phrase(text, "UNIT", meaning) for text, meaning in unit_names().items()),
        *(Phrase(text, "SUPERLATIVE", meaning) for text, meaning in superlatives().items()),
        Phrase("openest", "SUPERLATIVE", (TRAITS["openness"].key, True)),
        Phrase("closest", "SUPERLATIVE", ("closest", False)),
        Phrase("ascending", "DIRECTION", False),
        Phrase("descending", "DIRECTION", True),
        *(Phrase(text, "COMPARE", Side("both")) for text in _BOTH_ENDS),
        *(Phrase(text, kind) for kind, texts in _PLAIN_KINDS.items() for text in texts),
        *(Phrase(text, "NOISE") for text in (*_NOISE, *NOUNS)),
    ]
    for kind, table in (
        ("COMPARE", _COMPARE),
        ("OR_MORE", _OR_MORE),
        ("LEAN", _LEAN),
        ("COMPARATIVE", _COMPARATIVE),
        ("BASIS", _BASIS),
        ("EXTREME", _EXTREME),
    ):
        everything += (Phrase(text, kind, meaning) for meaning, texts in table.items() for text in texts)
    return everything


@cache
def phrases() -> dict[str, Phrase]:
    """Every phrase by its text."""
    return {phrase.text: phrase for phrase in listed()}


@cache
def by_first_sign() -> dict[str, tuple[Phrase, ...]]:
    """The phrases that start with a sign, the longest first."""
    starting: dict[str, list[Phrase]] = {}
    for phrase in phrases().values():
        starting.setdefault(phrase.text[0], []).append(phrase)
    return {sign: tuple(sorted(each, key=lambda phrase: -len(phrase.text))) for sign, each in starting.items()}


@cache
def words(*, meaningful: bool = False) -> frozenset[str]:
    """Every single word of the language; if `meaningful`, only the nouns and those that change what a question means."""
    texts = (text for text, phrase in phrases().items() if not (meaningful and phrase.kind == "NOISE"))
    single = (word for text in (*texts, *NOUNS) for word in text.split(" "))
    return frozenset(word for word in single if word.isascii() and word.isalpha())


class Token(NamedTuple):
    """A word or phrase of a clause.

    kind: a terminal of the grammar, UNKNOWN, or NOISE for what changes nothing.
    text: as it is in the clause, in plain lower case unless it is a reference.
    start: its first column in the clause, from 0.
    end: the first column after it.
    meaning: that of its phrase; None if there is none.
    """

    kind: str
    text: str
    start: int
    end: int
    meaning: object = None


def tokens(text: str) -> list[Token]:
    """`text` as tokens, noise included. References keep their case."""
    line = plain(text)
    cut: list[Token] = []
    position = 0
    while position < len(line):
        if line[position] == " ":
            position += 1
            continue
        token = _token(text, line, position, cut)
        cut.append(token)
        position = token.end
    return cut


def significant(text: str) -> list[Token]:
    """`text` as tokens without those that change nothing."""
    return [token for token in tokens(text) if token.kind != "NOISE"]


def _token(text: str, line: str, start: int, before: list[Token]) -> Token:
    """The token at `start`. The tokens before it decide whether a sign is a dash or a minus, and `in` a unit or not."""
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
    """Whether a number has leading zeros, as the part after a thousands separator has."""
    whole = number.lstrip("-").partition(".")[0]
    return len(whole) > 1 and whole[0] == "0"


def _longest_phrase(line: str, start: int) -> tuple[Phrase | None, int]:
    for phrase in by_first_sign().get(line[start], ()):
        end = _end_of(phrase.text, line, start)
        if end and (phrase.kind == "BY" or _word_ends(phrase.text, line, end)):
            return phrase, end
    return None, start


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


def _word_ends(phrase: str, line: str, end: int) -> bool:
    return not (phrase[-1].isalnum() and end < len(line) and line[end].isalnum())


def _kind(phrase: Phrase, last: str, before: list[Token]) -> str:
    """The kind of a phrase after these tokens: `in` is a unit only after a number, `of` matters only after `within`."""
    if phrase.text in ("in", '"') and last != "NUMBER":
        return "NOISE" if phrase.text == "in" else "UNKNOWN"
    if phrase.kind == "OF" and not any(token.kind == "WITHIN" for token in before):
        return "NOISE"
    return phrase.kind
