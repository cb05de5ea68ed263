"""Words that can be several things, and which one each is after what stands before it and before what follows.

`HOMONYMS` is read from its top: the first row of a word, or of its kind, that holds says what the word is.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from gapbook.questions.synonyms import AGAINST, PRONOUNS
from gapbook.questions.token import Token

MEASURED = ("NUMBER", "UNIT", "LEAN", "BALANCE")
"""After a token of these kinds a figure is complete."""
PLURAL = "plural"
"""The meaning of a number in the plural."""
OWN = ""
"""In place of a kind: the word is what the vocabulary says."""
_STRUNG = ("string", "strings", "strung", "pattern")
_BEFORE_TOP = ("COMPARATIVE", "ADJECTIVE", "NOISE", "REF", "AND", "COMMA", "HOLES")
_OWNERS = ("my", "our", "his", "her", "their", "your")
_WISHES = ("i'd", "would", "really")


class Place(NamedTuple):
    """Where a word stands.

    text: the word.
    kind: its kind in the vocabulary.
    last: the kind of the token before it, past those that change nothing.
    done: the tokens before it.
    following: what follows it.
    number: whether that begins with a number.
    blanks: whether a blank stands before it, and after it.
    next_kind: gives the kind of the next phrase, past what changes nothing.
    names: says whether a frame is named next.
    pattern: says whether the numbers on both sides are counts of a string pattern.
    """

    text: str
    kind: str
    last: str
    done: Sequence[Token]
    following: str
    number: bool
    blanks: tuple[bool, bool]
    next_kind: Callable[[], str]
    names: Callable[[], bool]
    pattern: Callable[[], bool]

    def says(self, words: Sequence[str], back: int) -> bool:
        """Whether one of the last few tokens is one of these words."""
        return any(one.text in words for one in self.done[-back:])

    def has(self, kind: str) -> bool:
        """Whether a token before it is of this kind."""
        return any(one.kind == kind for one in self.done)


class Homonym(NamedTuple):
    """A row of the table.

    words: what it is about: words, or a kind of the vocabulary, which is in capital letters.
    kind: what they are then; OWN for what the vocabulary says.
    when: whether the row holds.
    """

    words: tuple[str, ...]
    kind: str
    when: Callable[[Place], bool] = lambda at: True


def _is_inch(at: Place) -> bool:
    plural = any(one.meaning == PLURAL or one.kind == "BY" for one in at.done[-2:])
    return at.last == "NUMBER" and not plural and not (at.text == "in" and at.following[:1].isdigit())


def _is_idle_about(at: Place) -> bool:
    return not at.number and at.next_kind() not in ("AS", "ADJECTIVE", "SAME", "COMPARE", "UNIT")


def _is_range(at: Place) -> bool:
    """Whether `to` or the like stands between two figures, or after one with nothing behind it."""
    return at.last in MEASURED and (at.number or not at.following or at.following[0] in ",;.?!")


def _joins(at: Place) -> bool:
    """Whether a plus stands between two parts: `18 mains + 98 sq in`; after a figure it may be meant as `320+`."""
    return all(at.blanks) and at.following[:1] not in ("", ",", ";", ".", "?")


def _counts(at: Place) -> bool:
    return at.last in MEASURED


def _is_than(at: Place) -> bool:
    """Whether `compared to` says of a comparative what it is set against, and not of a frame."""
    last = next((one.kind for one in reversed(at.done) if one.kind in ("REF", "COMPARATIVE", "SIZER")), "REF")
    return at.text in AGAINST and last != "REF"


def _is_end(at: Place) -> bool:
    return at.last in MEASURED and not at.number


HOMONYMS = (
    Homonym(("in", '"', "in."), "UNIT", _is_inch),
    Homonym(("in", "in."), "NOISE"),
    Homonym(('"',), "UNKNOWN"),
    Homonym(("UNIT",), "UNIT", lambda at: at.last in ("NUMBER", "PLUS_MINUS", "TO", "TRAIT", "ABOUT", "OR_MORE")),
    Homonym(("UNIT",), "UNKNOWN"),
    Homonym(("OF",), "OF", lambda at: at.has("WITHIN")),
    Homonym(("OF",), "NOISE"),
    Homonym(("/",), "COMMA", lambda at: at.last in MEASURED and not at.pattern()),
    Homonym(("BY",), "AND", lambda at: at.last == "TRAIT" and at.number),
    Homonym(("minimal", "maximal"), "COMPARE", lambda at: at.kind == "EXTREME" and at.number),
    Homonym(("nor",), "UNKNOWN", lambda at: not at.has("NOT")),
    Homonym(("n",), "AND", lambda at: at.last in MEASURED and at.number and all(at.blanks)),
    Homonym(("-",), "NOISE", lambda at: at.last == "NUMBER" and at.next_kind() in ("TRAIT", "UNIT")),
    Homonym(("about",), "NOISE", _is_idle_about),
    Homonym(("from",), "NOISE", lambda at: at.next_kind() in ("SUPERLATIVE", "EXTREME", "MOST")),
    Homonym(("VERSUS",), "THAN", _is_than),
    Homonym(
        ("+",), "AND", lambda at: at.last in ("COMPARATIVE", "ADJECTIVE", "ZONE", "REF") or (_joins(at) and not _counts(at))
    ),
    Homonym(("+",), "UNKNOWN", _joins),
    Homonym(("right",), "NOISE", lambda at: at.following[:1] == "," and not at.last),
    Homonym(("so",), "AS", lambda at: at.last == "NOT" and at.next_kind() in ("ADJECTIVE", "LEAN")),
    Homonym(
        ("like",),
        "NOISE",
        lambda at: at.next_kind() in ("COMPARE", "SIZER", "COMPARATIVE", "TOP", "SUPERLATIVE", "NOT"),
    ),
    Homonym(("like",), "NOISE", lambda at: at.says(_WISHES, 2) and not at.names()),
    Homonym(("~",), "TO", lambda at: at.last in MEASURED and at.number and at.blanks != (True, False)),
    Homonym(("and",), "BY", lambda at: at.last == "NUMBER" and at.pattern() and at.says(_STRUNG, 4)),
    Homonym(("x",), "TRAIT", lambda at: at.last == "NUMBER" and not at.number and at.says(("m", "mains"), len(at.done))),
    Homonym(("by",), "NOISE", lambda at: at.last in ("THAN", "COMPARATIVE")),
    Homonym(("size",), "TRAIT", lambda at: at.last == "SAME"),
    Homonym(("one",), "NUMBER", lambda at: at.last in ("", "NOISE", "GIVE", "COMMA", "AND") and at.next_kind() == "NOUN"),
    Homonym(("by", "BY"), "BY", lambda at: at.last == "NUMBER" and at.number),
    Homonym(("by",), "SORT", lambda at: at.last != "LEAN"),
    Homonym(("by",), "NOISE"),
    Homonym(("/",), "VERSUS", lambda at: at.kind == "BY"),
    Homonym(("BY",), "BY"),
    Homonym((":",), "NOISE", lambda at: at.last in ("TRAIT", "ZONE")),
    Homonym((":",), OWN),
    Homonym(("too",), "TOO", lambda at: at.next_kind() in ("ADJECTIVE", "SIZE", "LEAN")),
    Homonym(("too",), "NOISE"),
    Homonym(("as",), "NOISE", lambda at: at.next_kind() == "TOO"),
    Homonym(("even",), "ADJECTIVE", lambda at: at.last in ("SIZER", "AS", "MOST")),
    Homonym(("even",), "NOISE", lambda at: at.next_kind() in ("COMPARATIVE", "SIZER", "ADJECTIVE", "THAN")),
    Homonym(("max", "max.", "maximum", "min", "min.", "minimum", "at most", "at least"), "OR_MORE", _is_end),
    Homonym(("long",), "TRAIT", lambda at: at.last == "UNIT"),
    Homonym(("until", "up to"), OWN, lambda at: not (at.last in MEASURED and at.number)),
    Homonym(("to", "through", "till", "until", "up to"), "TO", _is_range),
    Homonym(("to", "through", "till", "until", "up to"), "NOISE"),
    Homonym(("-",), "TO", lambda at: at.last in MEASURED or at.number),
    Homonym(("-",), "VERSUS", lambda at: at.last == "REF"),
    Homonym(("-",), "COMMA"),
    Homonym(tuple(sorted(PRONOUNS)), "PRONOUN", lambda at: at.last in ("THAN", "AS", "LIKE") and not at.names()),
    Homonym(("both",), "PRONOUN", lambda at: at.last == "THAN" and not at.names()),
    Homonym(("up",), "ZONE", lambda at: not at.number and at.last in ("COMPARATIVE", "ADJECTIVE")),
    Homonym(("top",), "ZONE", lambda at: not at.number and at.last in _BEFORE_TOP),
    Homonym(("old", "new"), "NOISE", lambda at: at.names() or at.says(_OWNERS, 1)),
    Homonym(("plus",), "COMMA", lambda at: at.last not in ("NUMBER", "UNIT", "LEAN")),
    Homonym(("n",), "TOP", lambda at: at.last in ("", "COMMA")),
)
"""What words are where they stand, the first row that holds."""


@lru_cache(maxsize=1024)
def _rows(text: str, kind: str) -> tuple[Homonym, ...]:
    """The rows about a word of a kind, in their order."""
    return tuple(row for row in HOMONYMS if text in row.words or kind in row.words)


def kind_there(at: Place) -> str:
    """The kind of a word where it stands."""
    return next((row.kind or at.kind for row in _rows(at.text, at.kind) if row.when(at)), at.kind)
