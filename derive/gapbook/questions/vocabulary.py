"""Every phrase of the question language: its kind (a terminal of grammar.lark) and what it means.

Phrases stand in the lower case they have after `traits.plain`, words one space apart. No phrase has two kinds, so
the longest phrase that fits decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Literal, NamedTuple

from gapbook.questions.traits import TRAITS, superlatives, trait_names, unit_names, zone_names


class Side(NamedTuple):
    """The end of a range that a comparing phrase sets, and whether the end itself is included."""

    end: Literal["low", "high", "both"]
    inclusive: bool = True


class Phrase(NamedTuple):
    """A phrase of the language, the terminal it is, and its meaning."""

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
}
NOUNS = ("frame", "frames", "racquet", "racquets", "racket", "rackets")
_NOISE = (
    *("show", "me", "find", "list", "give", "please", "i", "want", "all", "any", "every", "which", "what"),
    *("with", "that", "have", "having", "has", "whose", "where", "is", "are", "the", "a", "an", "=", ":"),
    *("in the", "at", "on", "near", "towards", "if", "bed", "beds", "string bed", "pattern", "string pattern", "range"),
)
"""Words that may stand anywhere in a clause and change nothing."""


def _pairs(kind: str, table: dict[object, tuple[str, ...]]) -> Iterable[Phrase]:
    return (Phrase(text, kind, meaning) for meaning, texts in table.items() for text in texts)


def listed() -> list[Phrase]:
    """Every phrase there is."""
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
        everything += _pairs(kind, table)  # type: ignore[arg-type]
    return everything


@cache
def phrases() -> dict[str, Phrase]:
    """Every phrase by its text."""
    return {phrase.text: phrase for phrase in listed()}


@cache
def by_first_sign() -> dict[str, tuple[Phrase, ...]]:
    """The phrases that start with a sign, the longest first."""
    found: dict[str, list[Phrase]] = {}
    for phrase in phrases().values():
        found.setdefault(phrase.text[0], []).append(phrase)
    return {sign: tuple(sorted(listed, key=lambda phrase: -len(phrase.text))) for sign, listed in found.items()}


@cache
def words(*, meaningful: bool = False) -> frozenset[str]:
    """Every single word the language knows, or only those that change what a question means, and the nouns."""
    texts = (text for text, phrase in phrases().items() if not (meaningful and phrase.kind == "NOISE"))
    single = (word for text in (*texts, *NOUNS) for word in text.split(" "))
    return frozenset(word for word in single if word.isascii() and word.isalpha())
