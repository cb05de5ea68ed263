"""Numbers as people write them: digits with a point or a comma, halves and sixteenths, and words."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache

_UNITS = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen"),
    *("fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
)
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
NUMBER_WORDS = {word: str(number) for number, word in enumerate(_UNITS) if number > 1} | {
    word: str(10 * ten) for ten, word in enumerate((*_TENS, "hundred"), 2)
}
"""Words that are numbers by themselves. `one` mostly stands for a frame."""
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_DIGITS = re.compile(r"-?(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)")
_COMMA = re.compile(r"(?P<whole>\d{1,3}),(?P<part>\d{1,3})(?!\d|[,.]\d)")
_PART = re.compile(rf"\s?(?P<sign>[{''.join(_FRACTIONS)}])|[ -](?P<top>\d{{1,2}})/(?P<bottom>2|4|8|16|32|64)(?!\d|/)")
_LENGTH_AHEAD = re.compile(r"\s*(?:mm|cm|in|inch|inches|kg|\")(?![a-z])")
_HALF = re.compile(r" and a half(?![a-z0-9])")
_LETTERS = re.compile("[a-z]+")
_FIRST = frozenset(("a", *_UNITS, *_TENS, "hundred"))
_GAP = r"(?:[ -]| and )"


@cache
def _words() -> re.Pattern[str]:
    below_ten = "|".join(_UNITS[1:10])
    ten_up = rf"(?:{'|'.join(_TENS)})(?:[ -]?(?:{below_ten})(?![a-z]))?"
    small = rf"(?:{ten_up}|{'|'.join(sorted(_UNITS[2:], key=len, reverse=True))})"
    hundreds = rf"(?:(?P<hundreds>a|{below_ten})[ -])?hundred(?:{_GAP}(?P<rest>{small}|one)(?![a-z]))?"
    return re.compile(rf"(?:{hundreds}|(?P<small>{small}))(?P<plural>s)?(?![a-z])")


def digits_at(line: str, start: int) -> tuple[str, int] | None:
    """The number written in digits at a column, as a decimal, and the column after it; None if there is none."""
    if match := _COMMA.match(line, start):
        whole, part = match["whole"], match["part"]
        if _is_decimal(whole, part, line[match.end() :]):
            return f"{whole}.{part}", match.end()
    if line[start] in _FRACTIONS:
        return _added("0", _FRACTIONS[line[start]], start + 1)
    match = _DIGITS.match(line, start)
    if match is None:
        return None
    if "." not in match[0] and (part := _PART.match(line, match.end())):
        fraction = _FRACTIONS[part["sign"]] if part["sign"] else f"{part['top']}/{part['bottom']}"
        if (added := _added(match[0], fraction, part.end())) is not None:
            return added
    return match[0], match.end()


def _is_decimal(whole: str, part: str, after: str) -> bool:
    """Whether a comma without a space is a decimal one: `10,5 mm`, but not `95,97 or 98` and not `1,000`."""
    if len(part) == 1:
        return True
    if whole == "0":
        return True
    if len(part) == 3:
        return False
    return (
        not int(whole) <= 2 * int(part)
        or int(part) > 2 * int(whole)
        or (int(whole) < 60 and _LENGTH_AHEAD.match(after) is not None)
    )


def _added(whole: str, fraction: str, end: int) -> tuple[str, int] | None:
    top, bottom = (int(one) for one in fraction.split("/"))
    if not 0 < top < bottom:
        return None
    return f"{Decimal(whole) + Decimal(top) / Decimal(bottom):f}", end


def words_at(line: str, start: int) -> tuple[str, int, bool] | None:
    """The number written in words at a column, the column after it, and whether it is in the plural; None if there is none.

    `one` alone is no number: it mostly stands for a frame.
    """
    if not line[start].isalpha() or (start and line[start - 1].isalpha()):
        return None
    first = _LETTERS.match(line, start)
    if first is None or first[0].removesuffix("s") not in _FIRST:
        return None
    match = _words().match(line, start)
    if match is None:
        return None
    if match["small"]:
        value = _value(match["small"])
    else:
        value = 100 * (1 if match["hundreds"] in (None, "a") else _UNITS.index(match["hundreds"]))
        value += _value(match["rest"]) if match["rest"] else 0
    end = match.end()
    if half := _HALF.match(line, end):
        return f"{value}.5", half.end(), False
    return str(value), end, bool(match["plural"])


def _value(word: str) -> int:
    if word in _UNITS:
        return _UNITS.index(word)
    ten = next(one for one in _TENS if word.startswith(one))
    rest = word[len(ten) :].strip(" -")
    return 20 + 10 * _TENS.index(ten) + (_UNITS.index(rest) if rest else 0)
