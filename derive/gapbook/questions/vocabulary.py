"""The words of the question language: every phrase with its kind (a name in `grammar`) and its meaning.

Phrases are written as `traits.plain` writes them, with one space between words. No phrase has two kinds, so that the longest
phrase that fits is taken; `tokens` gives a few of them another kind beside certain words.
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from gapbook.questions import fillers
from gapbook.questions.numerals import NUMBER_WORDS
from gapbook.questions.ranges import Side
from gapbook.questions.synonyms import AGAINST, ASKING, GIVING, NEAREST_TO, NOUNS, TRAIT_SYNONYMS, UNIT_SYNONYMS, ZONE_SYNONYMS
from gapbook.questions.topics import TOPICS
from gapbook.questions.traits import TRAITS, superlatives, trait_names, unit_names, zone_names


class Phrase(NamedTuple):
    """A phrase of the language, its kind, which is a name in the grammar, and its meaning."""

    text: str
    kind: str
    meaning: object = None


class Way(NamedTuple):
    """Which way a word compares: the key of `relations.COMPARED` or `openness` (None if a noun has to say), and -1 or 1."""

    axis: str | None
    sign: int


OPENNESS = "openness"
_CONTRACTED = re.compile(r"[a-z](?:n't|'(?:m|ve|re|s))\b")
_BOTH_ENDS = ("between", "from", "exactly", "precisely")
_COMPARE: dict[Side, tuple[str, ...]] = {
    Side("high", False): ("under", "below", "before", "sub", "sub-", "<", "lt", "beneath", "short of"),
    Side("low", False): (
        *("over", "above", "after", ">", "gt", "exceeds", "exceeding", "exceed", "beyond", "in excess of", "upwards of"),
    ),
    Side("low"): (
        *("at least", "at or above", "at or over", "minimum", "min", "min.", "since", ">=", "≥", "=>", "not under"),
        "not below", "no less than", "not less than", "no lower than", "no under",
    ),
    Side("high"): (
        *("at most", "up to", "maximum", "max", "max.", "until", "<=", "≤", "=<", "not over", "not above", "not exceeding"),
        *("at or below", "at or under", "no more than", "not more than", "no higher than", "nothing above", "nothing over"),
    ),
}  # fmt: skip
_OR_MORE: dict[Side, tuple[str, ...]] = {
    Side("low"): (
        *("or more", "or over", "or above", "or larger", "or bigger", "or higher", "or heavier", "or longer", "or up", "+"),
        *("and up", "and over", "and above", "and more", "upwards", "plus", "or later", "or newer", "minimum or more"),
    ),
    Side("high"): (
        *("or less", "or fewer", "or under", "or below", "or smaller", "or lower", "or lighter", "or shorter"),
        *("and under", "and below", "and less", "tops", "or earlier", "or older", "and down"),
    ),
}
_LEAN: dict[int, tuple[str, ...]] = {
    -1: ("head light", "head-light", "headlight", "hl"),
    0: ("even balance", "balance even", "balance is even", "evenly balanced"),
    1: ("head heavy", "head-heavy", "headheavy", "hh"),
}
_COMPARATIVE: dict[Way, tuple[str, ...]] = {
    Way(OPENNESS, -1): (
        "tighter",
        "denser",
        "more closely spaced",
        "more closely strung",
        "more closely woven",
        "closer together",
        "closer spaced",
        "closer",
        "finer",
    ),
    Way(OPENNESS, 1): (
        "opener",
        "looser",
        "airier",
        "roomier",
        "more airy",
        "more roomy",
        "less dense",
        "less tight",
        "more spaced out",
        "more spread out",
        "wider apart",
        "further apart",
        "farther apart",
        "wider spaced",
    ),
    Way("mass", -1): ("lighter",),
    Way("mass", 1): ("heavier",),
    Way("length", -1): ("shorter",),
    Way("length", 1): ("longer",),
    Way("beam", -1): ("thinner", "slimmer"),
    Way("beam", 1): ("thicker",),
    Way("stiffness", -1): ("softer",),
    Way("stiffness", 1): ("stiffer", "firmer"),
    Way("evenness", 1): ("evener",),
    Way("release_year", -1): ("older", "earlier"),
    Way("release_year", 1): ("newer", "later", "more recent"),
    Way("drilling", -1): (
        "drilled closer",
        "more closely drilled",
        "drilled more closely",
        "drilled tighter",
        "closer drilled",
    ),
    Way("drilling", 1): (
        "drilled wider",
        "more widely drilled",
        "drilled more widely",
        "wider drilled",
        "drilled less closely",
    ),
}
_ADJECTIVE: dict[Way, tuple[str, ...]] = {
    Way(OPENNESS, -1): ("tight", "dense", "close", "tightly", "densely", "closely spaced"),
    Way(OPENNESS, 1): ("open", "opened", "loose", "openly"),
    Way("mass", -1): ("light", "light weight", "lightweight"),
    Way("mass", 1): ("heavy",),
    Way("length", -1): ("short",),
    Way("length", 1): ("long", "extended"),
    Way("beam", -1): ("thin", "slim"),
    Way("beam", 1): ("thick",),
    Way("stiffness", -1): ("soft",),
    Way("stiffness", 1): ("stiff", "firm"),
    Way("evenness", 1): ("uniform", "regular"),
    Way("release_year", -1): ("old",),
    Way("release_year", 1): ("new", "recent"),
    Way("head_area", 1): ("oversize", "oversized"),
    Way("head_area", -1): ("midsize", "midplus", "mid-size"),
}
_SIZER: dict[Way, tuple[str, ...]] = {
    Way(None, -1): ("less", "fewer", "lower", "reduced"),
    Way(None, 1): ("more", "moar", "higher", "greater", "increased"),
    Way("head_area", -1): ("smaller",),
    Way("head_area", 1): ("bigger", "larger"),
    Way(OPENNESS, -1): ("narrower",),
    Way(OPENNESS, 1): ("wider",),
}
_SIZE: dict[Way, tuple[str, ...]] = {
    Way(None, -1): ("low",),
    Way(None, 1): ("high",),
    Way("head_area", -1): ("small",),
    Way("head_area", 1): ("big", "large"),
    Way(OPENNESS, -1): ("narrow", "fine"),
    Way(OPENNESS, 1): ("wide",),
}
_BASIS: dict[bool, tuple[str, ...]] = {
    True: (
        "measured only",
        "only measured",
        "measured",
        "only measured ones",
        "meas only",
        "meas",
        "no estimates",
        "exclude estimates",
        "excluding estimates",
        "without estimates",
        "no estimated ones",
        "not estimated",
        "no counted ones",
        "not counted",
        "not guessed",
        "measured yourselves",
        "really measured",
        "measured beds only",
        "measured frames only",
        "only the measured ones",
        "measured ones only",
        "no guesses",
        "basis measured",
        "actually measured",
    ),
    False: ("counted too", "counted as well", "any basis", "measured or counted"),
}
_EXTREME: dict[bool, tuple[str, ...]] = {
    False: ("lowest", "smallest", "least", "minimal"),
    True: ("highest", "largest", "biggest", "greatest", "maximal"),
}
_MORE_SUPERLATIVES: dict[tuple[str, bool], tuple[str, ...]] = {
    ("openness", True): ("openest", "loosest", "widest open"),
    ("openness", False): ("finest",),
    ("closest", False): ("closest", "nearest"),
}
_PLAIN_KINDS: dict[str, tuple[str, ...]] = {
    "TO": ("to", "through", "-", "..", "…", "till"),
    "AND": ("and", "&", "∧"),
    "COMMA": (",", ";", "|", ":", ".", "?", "!", "but", "plus also"),
    "BY": ("x", "*", "/"),
    "OR": ("or", "and/or", "nor", "or else"),
    "ABOUT": (
        *("about", "around", "roughly", "approximately", "approx", "approx.", "ca", "ca.", "circa", "~", "≈", "ish", "-ish"),
        *("or so", "or thereabouts"),
        "give or take",
    ),
    "PLUS_MINUS": ("±", "+ / -", "+/-", "+-", "plus or minus", "plus minus"),
    "THAN": ("than",),
    "LIKE": (
        *("like", "similar to", "close to", "the same as", "same as", "just like", "comparable to", "closer to", "near to"),
        *("alternative to", "alternatives to", "with the bed of", "most like", *NEAREST_TO),
    ),
    "SAME": ("same", "identical", "similar"),
    "WITHIN": ("within", "w/in"),
    "OF": ("of",),
    "AS": ("as", "just as", "without losing", "every bit as", "equally"),
    "NOT": (
        *("not", "no", "without", "except", "except for", "excluding", "excl", "excl.", "exclude", "other than", "apart from"),
        *("!=", "≠", "<>", "hide", "leave out", "leaving out", "drop", "skip", "neither", "forget", "rather than"),
        *("instead of", "in place of", "rule out", "ruling out", "filter out", "take out", "keep out", "throw out", "cut out"),
        *("remove", "get rid of", "anything other than", "not any", "omit", "omitting"),
        *("ignore", "ignoring", "avoid", "avoiding"),
        *("but not", "nothing", "non", "never", "besides", "aside from", "bar", "minus", "isn't", "aren't", "don't want"),
        *("can't", "cannot", "mustn't", "shouldn't", "doesn't", "won't", "wouldn't", "but one", "can't be", "cannot be"),
        *("anything but", "everything but", "all but", "anything except"),
    ),
    "BOTH": ("both", "either"),
    "MOST": ("most", "the majority of", "average", "the average", "your average", "typical", "normal", "ordinary", "usual"),
    "EVERYWHERE": (
        *("everywhere", "every zone", "all zones", "every area", "all over", "throughout", "all over the bed", "each zone"),
        *("across the bed", "across the string bed", "across the whole bed", "all areas"),
        *("every part", "all parts", "in every respect of the bed"),
    ),
    "HOLES": (
        *("holes", "hole", "gaps", "gap", "string gaps", "string gap", "spacing", "string spacing", "spaces", "space"),
        *("spaces between strings", "space between strings", "gaps between strings", "spacings", "spaced", "squares"),
        *("space between the strings", "gaps between the strings", "spaces between the strings", "openings"),
    ),
    "BED": ("bed", "beds", "string bed", "string beds", "stringbed", "stringbeds", "pattern", "patterns", "string pattern",
            "string patterns", "string-bed", "sp"),
    "FIRST": ("first", "firstly"),
    "TOP": ("top", "limit", "n=", "n =", "first of all", "the first"),
    "SORT": ("sort by", "sorted by", "order by", "ordered by", "ranked by", "in order of", "rank by", "sort on", "by"),
    "NAME": ("name", "frame id"),
    "CONFIDENCE": ("confidence", "confident", "sure"),
    "SIGNED": ("signed",),
    "TOO": ("too", "a bit too", "far too"),
    "PRONOUN": (),
    "VERSUS": ("vs", "vs.", "versus", "v", *AGAINST),
}  # fmt: skip


def listed() -> list[Phrase]:
    """Every phrase of the language."""
    more_superlatives = [(text, way) for way, texts in _MORE_SUPERLATIVES.items() for text in texts]
    everything = [
        *(Phrase(text, "TRAIT", meaning) for text, meaning in trait_names().items()),
        *(Phrase(text, "ZONE", meaning) for text, meaning in zone_names().items()),
        *(Phrase(text, "UNIT", meaning) for text, meaning in unit_names().items()),
        *(Phrase(text, "SUPERLATIVE", meaning) for text, meaning in superlatives().items()),
        *(Phrase(text, "SUPERLATIVE", way) for text, way in more_superlatives),
        *(Phrase(text, "DIRECTION", False) for text in ("ascending", "asc", "low to high")),
        *(Phrase(text, "DIRECTION", True) for text in ("descending", "desc", "high to low")),
        *(Phrase(text, "COMPARE", Side("both")) for text in _BOTH_ENDS),
        *(Phrase(text, kind) for kind, texts in _PLAIN_KINDS.items() for text in texts),
        *(Phrase(text, "NOUN") for text in NOUNS),
        *(Phrase(text, "ASKING") for text in ASKING),
        *(Phrase(text, "GIVE") for text in GIVING if text != "name"),
        *(Phrase(text, "NUMBER", number) for text, number in NUMBER_WORDS.items()),
        *(Phrase(text, "TOPIC", topic) for topic, about in TOPICS.items() for text in about.words),
    ]
    for kind, table in (
        ("COMPARE", _COMPARE),
        ("OR_MORE", _OR_MORE),
        ("LEAN", _LEAN),
        ("COMPARATIVE", _COMPARATIVE),
        ("ADJECTIVE", _ADJECTIVE),
        ("SIZER", _SIZER),
        ("SIZE", _SIZE),
        ("BASIS", _BASIS),
        ("EXTREME", _EXTREME),
    ):
        everything += (Phrase(text, kind, meaning) for meaning, texts in table.items() for text in texts)
    for kind, synonyms, meanings in (
        ("TRAIT", TRAIT_SYNONYMS, trait_names()),
        ("ZONE", ZONE_SYNONYMS, {zone: zone for zone in ZONE_SYNONYMS}),
        ("UNIT", UNIT_SYNONYMS, {unit: unit for unit in UNIT_SYNONYMS}),
    ):
        everything += (Phrase(text, kind, meanings[name]) for name, texts in synonyms.items() for text in texts)
    known = {phrase.text for phrase in everything}
    everything += (Phrase(trait.key, "TRAIT", (trait,)) for trait in TRAITS.values() if trait.key not in known)
    everything += (Phrase(text, "NOISE") for text in (*sorted(fillers.WORDS), *fillers.PHRASES) if text not in known)
    return everything + _without_apostrophes(everything)


def _without_apostrophes(everything: list[Phrase]) -> list[Phrase]:
    """`dont want`, `isnt`, `im`: the phrases with an apostrophe as they are typed in haste, if they are no others."""
    known = {phrase.text for phrase in everything}
    typed = [phrase._replace(text=phrase.text.replace("'", "")) for phrase in everything if _CONTRACTED.search(phrase.text)]
    return [phrase for phrase in typed if phrase.text not in known]


@cache
def phrases() -> dict[str, Phrase]:
    """Every phrase by its text."""
    return {phrase.text: phrase for phrase in listed()}


@cache
def by_first_sign() -> dict[str, dict[str, tuple[Phrase, ...]]]:
    """The phrases by their first sign and first word, the longest first."""
    starting: dict[str, dict[str, list[Phrase]]] = {}
    for phrase in phrases().values():
        starting.setdefault(phrase.text[0], {}).setdefault(phrase.text.split(" ")[0], []).append(phrase)
    return {
        sign: {word: tuple(sorted(each, key=lambda phrase: -len(phrase.text))) for word, each in by_word.items()}
        for sign, by_word in starting.items()
    }


@cache
def words(*, meaningful: bool = False) -> frozenset[str]:
    """Every single word of the language; if `meaningful`, only those that change what a question means."""
    texts = (text for text, phrase in phrases().items() if not (meaningful and phrase.kind in ("NOISE", "NOUN", "ASKING")))
    single = (word for text in texts for word in text.split(" "))
    return frozenset(word for word in single if word.isascii() and word.isalpha())
