"""A question cut into tokens: numbers, references, and the phrases of the vocabulary, the longest that fits.

Words that are surely meant, though misspelt, are read as what they are; the question says so.
"""

from __future__ import annotations

import re
from functools import lru_cache

from gapbook.questions.fillers import PEOPLE
from gapbook.questions.homonyms import MEASURED, PLURAL, Place, kind_there
from gapbook.questions.matching import NO_PHRASE, longest_phrase, number_words
from gapbook.questions.names import NOBODY, Named, Names, Piece, Unheard, pieces
from gapbook.questions.numerals import digits_at, words_at
from gapbook.questions.ranges import Side
from gapbook.questions.spelling import nearest_words
from gapbook.questions.token import Token
from gapbook.questions.traits import plain
from gapbook.questions.vocabulary import Phrase, Way, phrases, words

OPEN = "open"
"""The meaning of a quotation mark that is not closed."""
_AGE = re.compile(r"\(\d{1,2}\)")
_YEARS = re.compile(r"\d{1,2}(?= *(?:[,.;]|and\b|but\b|$))")
_NUMBER = re.compile(r"-?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_SET = re.compile(r"[\[{]\s*[\d.]+(?:\s*[,;]\s*[\d.]+)+\s*[\]}]")
"""`{16, 18}` is a list of alternatives, `[105, 115]` a range."""
_SOME = re.compile(r" of (?:my|our|his|her|their|us|them)\b")
_QUOTED = re.compile(r"\"[^\"]+\"|'[^']+'(?![a-z0-9])")
_PATH = re.compile(r"\.{1,2}[/\\][^\s\"',;]*|[^\s\"',;]*[a-z_~][^\s\"',;]*[/\\][^\s\"',;]+|[/\\~][^\s\"',;]+")
_PLACEHOLDER = re.compile(r"FRAME(?:-[A-Z])?(?![A-Za-z0-9])")
"""Stands for a frame in what is offered."""
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)+")
_WORD = re.compile(r"[^\W\d_]+(?:['’][^\W\d_]+)?")
_GOVERNS = ("THAN", "LIKE", "OF", "AS", "NOT", "VERSUS", "COMPARE", "BOTH")
"""After these comes a reference, so that whatever looks like an id, a folder or a quotation is one."""
_MOST_TYPOS = 8


def tokens(text: str, names: Names = NOBODY, *, slips: bool = True) -> list[Token]:
    """`text` as tokens, noise included. References keep their case. With `slips`, misspelt words are read as what they are."""
    return _Cutter(text, names, slips).cut()


def significant(text: str, names: Names = NOBODY) -> list[Token]:
    """`text` as tokens without those that change nothing."""
    return [token for token in tokens(text, names) if token.kind != "NOISE"]


class _Cutter:
    """Cuts one text."""

    def __init__(self, text: str, names: Names, slips: bool) -> None:
        self.text, self.line, self.names = text, plain(text), names
        self.pieces: list[Piece] = pieces(text)
        self.place = {piece.start: number for number, piece in enumerate(self.pieces)}
        self.done: list[Token] = []
        self.typos = 0 if slips else _MOST_TYPOS
        self.inside = ""

    def cut(self) -> list[Token]:
        position = 0
        while position < len(self.line):
            if self.line[position] == " ":
                position += 1
                continue
            token = self._token(position)
            self.done.append(token)
            position = token.end
        return self.done

    def _last(self) -> str:
        return next((token.kind for token in reversed(self.done) if token.kind not in ("NOISE", "GIVE")), "")

    def _token(self, start: int) -> Token:
        last = self._last()
        return (
            self._aside(start)
            or self._reference(start, last)
            or self._number(start, last)
            or self._phrase(start, last)
            or self._misspelt(start)
            or self._unknown(start)
        )

    def _aside(self, start: int) -> Token | None:
        """Quotation marks that hold no name, and the age of somebody: `my daughter (13)`, `my son is 12`."""
        sign = self.line[start]
        if sign in "[{" and _SET.match(self.line, start):
            self.inside = "TO" if sign == "[" else "OR"
            return Token("NOISE", sign, start, start + 1)
        if self.inside and sign in "]},;":
            kind, self.inside = ("NOISE", "") if sign in "]}" else (self.inside, self.inside)
            return Token(kind, "or" if kind == "OR" else "-" if kind == "TO" else sign, start, start + 1)
        if sign in "\"'" and not (
            start and (self.line[start - 1].isdigit() or (sign == "'" and self.line[start - 1].isalpha()))
        ):
            whole = sign in self.line[start + 1 :] or any(one.text == sign and one.kind == "NOISE" for one in self.done)
            if self._reference(start, self._last()) is None:
                return Token("NOISE" if whole else "UNKNOWN", sign, start, start + 1, None if whole else OPEN)
        said = [token.text for token in self.done[-2:]]
        if (match := _AGE.match(self.line, start)) and said and said[-1] in PEOPLE:
            return Token("NOISE", match[0], start, match.end())
        if (match := _YEARS.match(self.line, start)) and said[-1:] == ["is"] and said[0] in PEOPLE:
            return Token("NOISE", match[0], start, match.end())
        return None

    def _reference(self, start: int, last: str) -> Token | None:
        """A quotation, a folder, an id, or a frame by its name."""
        line, governed = self.line, last in _GOVERNS
        quoted = line[start] in "\"'" and (start == 0 or line[start - 1] == " ")
        if quoted and (match := _QUOTED.match(line, start)):
            named = self._named(start + 1)
            if named is not None and named.end >= match.end() - 1:
                return Token("REF", self.text[start : match.end()], start, match.end(), named.frames)
            if governed:
                return Token("REF", self.text[start + 1 : match.end() - 1], start, match.end())
        if match := _PLACEHOLDER.match(self.text, start):
            return Token("REF", match[0].lower(), start, match.end())
        if governed and (match := _PATH.match(line, start)):
            return Token("REF", self.text[start : match.end()], start, match.end())
        if not line[start].isalpha():
            return self._by_id(start) if line[start].isdigit() else None
        named = self._named(start)
        by_id = self._by_id(start)
        if named is not None and (by_id is None or named.end >= by_id.end):
            meaning = named.frames or Unheard(self.names.near(line[start : named.end]))
            return Token("REF", line[start : named.end], start, named.end, meaning, named.read_as)
        return by_id

    def _by_id(self, start: int) -> Token | None:
        """An id: words and numbers with hyphens, a number among them, that are no phrase."""
        match = _ID.match(self.line, start)
        if (
            match is None
            or words_at(self.line, start)
            or not any(sign.isalpha() for sign in match[0])
            or not match[0][0].isalpha()
        ):
            return None
        if match[0] in phrases() or not (self._last() in _GOVERNS or any(sign.isdigit() for sign in match[0])):
            return None
        known = match[0].partition("-")[0] in words() and self._last() not in _GOVERNS
        if known or re.fullmatch(r"[a-z]{1,2}-[0-9.]+", match[0]) or (start and self.line[start - 1].isalnum()):
            return None
        return Token("REF", match[0], start, match.end(), self.names.unheard(match[0]))

    def _named(self, start: int) -> Named | None:
        place = self.place.get(start)
        if place is None or (start and self.line[start - 1].isalpha()):
            return None
        return self.names.at(self.pieces, place, self.line, words())

    def _number(self, start: int, last: str) -> Token | None:
        line = self.line
        minus = line[start] == "-" and (last in MEASURED or last == "REF" or (start and line[start - 1] not in " (<>=.,±~"))
        if not minus and (spelled := words_at(line, start)) is not None:
            number, end, plural = spelled
            if some := _SOME.match(line, end):
                return Token("NOISE", line[start : some.end()], start, some.end())
            return Token("NUMBER", number, start, end, PLURAL if plural else None)
        written = None if minus else digits_at(line, start)
        if written is None or _padded(written[0]):
            return None
        number, end = written
        if line.startswith("s", end) and not line[end + 1 : end + 2].isalnum():
            return Token("NUMBER", number, start, end + 1, PLURAL)
        if line.startswith("'s", end):
            return Token("NUMBER", number, start, end + 2, PLURAL)
        return Token("NUMBER", number, start, end)

    def _phrase(self, start: int, last: str) -> Token | None:
        phrase, end = longest_phrase(self.line, start)
        if phrase is not None and phrase.kind == "OR_MORE" and phrase.text != "+" and not self._ends_a_bound(phrase, end, last):
            phrase, end = longest_phrase(self.line, start, without="OR_MORE")
        if phrase is None:
            return None
        kind = self._kind(phrase, end, last)
        text, meaning = self.line[start:end], phrase.meaning
        if kind == "NUMBER":
            text, meaning = str(phrase.meaning or 1), None
        if kind == "COMPARE" and phrase.kind == "EXTREME":
            meaning = Side("low" if text == "minimal" else "high")
        if kind == "ZONE" and phrase.kind != "ZONE":
            meaning = "tip"
        if kind == "ADJECTIVE" and text == "even":
            meaning = Way("evenness", 1)
        if text == "long" and kind == "TRAIT":
            meaning = phrases()["length"].meaning
        if text == "m" and last == "NUMBER":
            meaning = phrases()["mains"].meaning
        if kind == "TRAIT" and text in ("x", "size"):
            meaning = phrases()["crosses" if text == "x" else "head"].meaning
        return Token(kind, text, start, end, meaning)

    def _kind(self, phrase: Phrase, end: int, last: str) -> str:
        """The kind of a phrase after what stands before and before what follows it."""
        following, start = self.line[end:].lstrip(), end - len(phrase.text)
        return kind_there(
            Place(
                text=phrase.text,
                kind=phrase.kind,
                last=last,
                done=self.done,
                following=following,
                number=self._number_ahead(following),
                blanks=(self.line[start - 1 : start] == " ", self.line[end : end + 1] == " "),
                next_kind=lambda: self._kind_ahead(end),
                names=lambda: self._names_ahead(end),
                pattern=lambda: self._is_pattern(end),
            )
        )

    def _ends_a_bound(self, phrase: Phrase, end: int, last: str) -> bool:
        """Whether `or more` belongs to a number before it, and not to a comparative after it: `and more open`."""
        counted = last == "TRAIT" and [one.kind for one in self.done if one.kind != "NOISE"][-2:-1] == ["NUMBER"]
        if last not in MEASURED and not counted:
            return False
        goes_on = self._kind_ahead(end) in ("ADJECTIVE", "LEAN", "TRAIT", "HOLES", "SIZE", "THAN", "COMPARATIVE")
        bounds = phrases().get(phrase.text.partition(" ")[2], NO_PHRASE).kind == "COMPARE"
        return " " not in phrase.text or not (goes_on or (bounds and self._number_ahead(self.line[end:].lstrip())))

    def _kind_ahead(self, end: int) -> str:
        """The kind of the next phrase, past what changes nothing."""
        for _ in range(3):
            while end < len(self.line) and self.line[end] in " \"'":
                end += 1
            phrase, after = longest_phrase(self.line, end) if end < len(self.line) else (None, end)
            if phrase is None or phrase.kind != "NOISE":
                return phrase.kind if phrase is not None else ""
            end = after
        return ""

    def _is_pattern(self, end: int) -> bool:
        """Whether the numbers on both sides of a slash are counts of a string pattern."""
        before, after = self.done[-1].text, _NUMBER.match(self.line[end:].lstrip())
        counts = before.isdigit() and after is not None and after[0].isdigit()
        return counts and int(before) in range(12, 21) and int(after[0]) in range(13, 25)  # type: ignore[index]

    def _number_ahead(self, following: str) -> bool:
        return bool(re.match(r"[-.]?\d|\.{2}", following)) or following.split(" ")[0] in number_words()

    def _names_ahead(self, end: int) -> bool:
        """Whether a frame is named next, past words that change nothing."""
        for _ in range(3):
            while end < len(self.line) and self.line[end] == " ":
                end += 1
            if end >= len(self.line):
                return False
            if self._named(end) or self._by_id(end) or _PLACEHOLDER.match(self.text, end):
                return True
            match = _WORD.match(self.line, end)
            if match is None or phrases().get(match[0], NO_PHRASE).kind not in ("NOISE", "NOUN"):
                return False
            end = match.end()
        return False

    def _misspelt(self, start: int) -> Token | None:
        """A word that is surely meant to be one of the language."""
        match = _WORD.match(self.line, start)
        if match is None or len(match[0]) < 3 or not match[0].isascii() or self.typos >= _MOST_TYPOS:
            return None
        self.typos += 1
        near = _nearest(match[0])
        meant = {one: phrases().get(one) for one in near}
        if any(phrase is not None and phrase.kind == "TOPIC" for phrase in meant.values()):
            return None
        kinds = {(phrase.kind, str(phrase.meaning)) for phrase in meant.values() if phrase is not None}
        if len(near) > 1 and len(kinds) == 1:
            near = near[:1]
        if len(near) != 1:
            return None
        end = match.end()
        instead = self.line[:start] + near[0] + self.line[end:]
        phrase, after = longest_phrase(instead, start)
        if phrase is None or after < start + len(near[0]):
            return None
        after += end - start - len(near[0])
        kind = phrase.kind
        text, meaning = (str(phrase.meaning), None) if kind == "NUMBER" else (phrase.text, phrase.meaning)
        return Token(kind, text, start, after, meaning, None if kind == "NOISE" else near[0])

    def _unknown(self, start: int) -> Token:
        match = _WORD.match(self.line, start)
        end = match.end() if match else start + 1
        return Token("UNKNOWN", self.line[start:end], start, end)


@lru_cache(maxsize=256)
def _nearest(word: str) -> list[str]:
    """The words of the language nearest to a word."""
    return nearest_words(word, words())


def _padded(number: str) -> bool:
    """Whether a number has leading zeros, as the part after a thousands separator has."""
    whole = number.lstrip("-").partition(".")[0]
    return len(whole) > 1 and whole[0] == "0"
