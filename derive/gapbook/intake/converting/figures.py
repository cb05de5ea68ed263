"""Figures and days as people write them: decimal commas, fractions of an inch, units beside figures, days in any order.

All arithmetic is exact (decimal). What a text alone does not tell (is `1,125` a little more than one, or a thousand?) is told
by other cells of the same file, or by whoever converts it; it is never guessed from one cell.
"""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from gapbook.errors import GapbookError, fail
from gapbook.science.units import lookup
from gapbook.tables.cells import quoted
from gapbook.tables.workbooks import Cell

COMMA, POINT = "comma", "point"
DAY_FIRST, MONTH_FIRST = "day-first", "month-first"
UNIT_WORDS = {
    '"': "in", "”": "in", "″": "in", "''": "in", "inches": "in", "inch": "in", "ins": "in",
    "millimetres": "mm", "millimeters": "mm",
    "millimetre": "mm", "millimeter": "mm", "centimetres": "cm", "centimeters": "cm", "grams": "g", "gram": "g", "gr": "g",
    "grammes": "g", "kilograms": "kg", "ounces": "oz", "ounce": "oz", "sqin": "sq in",
    "sq. in.": "sq in", "square inches": "sq in",
    "in²": "in2", "cm²": "cm2", "square centimetres": "cm2", "kg·cm²": "kg.cm2", "kg cm²": "kg.cm2", "kgcm²": "kg.cm2",
    "kgcm2": "kg.cm2", "kg·cm2": "kg.cm2", "lbs": "lb", "pounds": "lb", "newton": "N", "newtons": "N",
}  # fmt: skip
"""Units as people write them beside figures, and the name that readings take. Common practice, no source."""
_FIGURE = re.compile(r"[+-]?(?:[0-9]|[.,](?=[0-9]))(?:[0-9.,]|[ '’](?=[0-9]))*(?:(?<=[0-9])[ -]?/[ ]?[0-9]+)?")
_FRACTION = re.compile(r"([+-]?)(?:([0-9]+)[ -])?([0-9]+) ?/ ?([0-9]+)")
_GROUPED = re.compile(r"[+-]?[0-9]{1,3}(?:[ '’][0-9]{3})+(?:[.,][0-9]+)?|[+-]?[0-9.,]+")
_ORDERED = re.compile(r"([0-9]{1,4})[./-]([0-9]{1,2})[./-]([0-9]{1,4})\.?")
_NAMED = re.compile(
    r"(?:([0-9]{1,2})(?:st|nd|rd|th|\.)? ([A-Za-z]{3,9})\.?|([A-Za-z]{3,9})\.? ([0-9]{1,2})(?:st|nd|rd|th)?),? ([0-9]{4})"
)
_MONTHS = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
]
_EPOCH = datetime.date(1899, 12, 30)
"""Day 0 of the serial numbers of spreadsheets from March 1900 on (ECMA-376 part 1, 18.17.4.1)."""
_FIRST_SERIAL, _LAST_SERIAL = 29221, 73051
"""The first days of 1980 and 2100 as serial numbers: others are not taken for days."""


class Figure(NamedTuple):
    """A figure as a table may hold it, and the unit that stood beside it; None if none did."""

    text: str
    unit: str | None = None


class Habits(NamedTuple):
    """How a file writes what one cell does not tell.

    decimal: COMMA, POINT, or None if nothing tells.
    dates: DAY_FIRST, MONTH_FIRST, or None if nothing tells.
    units: words for units, besides those of gapbook.
    """

    decimal: str | None = None
    dates: str | None = None
    units: Mapping[str, str] = {}


@lru_cache(maxsize=1 << 14)
def plain(text: str) -> str:
    """A text without blanks around it, and with plain signs for the blanks, dashes and fractions of typography."""
    if text.isascii():
        return " ".join(text.split())
    out = "".join(
        f" {unicodedata.normalize('NFKC', sign)}"
        if unicodedata.category(sign) == "No" and "⁄" in unicodedata.normalize("NFKC", sign)
        else sign
        for sign in text
    )
    out = out.replace("⁄", "/").replace("−", "-").replace("–", "-")
    return " ".join(out.split())


@lru_cache(maxsize=1 << 14)
def number_text(value: float) -> str:
    """A number of a spreadsheet at the 15 digits that spreadsheets keep, never with an exponent."""
    return format(Decimal(f"{value:.15g}"), "f")


def decimal_told(texts: Iterable[str]) -> str | None:
    """Which sign parts decimals, as far as the figures among `texts` tell; None, too, if they contradict each other."""
    told = set()
    for text in texts:
        if found := _FIGURE.match(plain(text)):
            told |= {_decimal_of(found[0])}
    told.discard(None)
    return told.pop() if len(told) == 1 else None


def _decimal_of(figure: str) -> str | None:
    """COMMA or POINT if this figure cannot be read with the other one."""
    commas, points = figure.count(","), figure.count(".")
    if commas and points:
        return COMMA if figure.rindex(",") > figure.rindex(".") else POINT
    tail = len(figure) - 1 - max(figure.rfind(","), figure.rfind("."))
    if commas + points > 1:
        return POINT if commas else COMMA  # the sign that comes twice parts thousands
    if commas + points == 1 and (tail != 3 or figure.lstrip("+-").startswith(("0", ",", "."))):
        return COMMA if commas else POINT
    return None


def order_told(texts: Iterable[str]) -> str | None:
    """Which of day and month comes first, as far as the days among `texts` tell; None, too, if they contradict each other."""
    told = set()
    for text in texts:
        if (found := _ORDERED.fullmatch(plain(text))) and len(found[1]) < 3:
            first, second = int(found[1]), int(found[2])
            if first > 12 >= second:
                told.add(DAY_FIRST)
            elif second > 12 >= first:
                told.add(MONTH_FIRST)
    return told.pop() if len(told) == 1 else None


def figure(cell: Cell, habits: Habits) -> Figure:
    """The figure in a cell. GapbookError `not-a-number` or `ambiguous-number`."""
    if isinstance(cell, bool | datetime.date | datetime.time | datetime.timedelta):
        what = "true or false" if isinstance(cell, bool) else f"a date or time, {cell}"
        fix = "Spreadsheets turn fractions such as 3/4 into dates: format the cell as text and type it again"
        raise fail("not-a-number", "the cell holds no figure", found=what, expected="a number", fix=fix)
    if isinstance(cell, float | int):
        return Figure(number_text(cell))
    text = plain(str(cell))
    found = _FIGURE.match(text)
    if found is None:
        raise _no_number(str(cell))
    words = text[found.end() :].strip()
    if words.startswith("/") or any(sign.isdigit() for sign in words.replace("2", "")):
        raise _no_number(str(cell))
    value = _number(found[0].strip(), habits, str(cell))
    try:
        return Figure(value, unit_name(words, habits) if words else None)
    except GapbookError as error:
        raise GapbookError(*(replace(problem, found=quoted(str(cell))) for problem in error.problems)) from None


def _number(text: str, habits: Habits, whole: str) -> str:
    if "/" in text:
        return _fraction(text, whole)
    if not _GROUPED.fullmatch(text):
        raise _no_number(whole)
    bare = re.sub("[ '’]", "", text)
    mark = _decimal_of(bare) or habits.decimal
    if mark is None and "," in bare:
        expected = "one that can only be read one way, as 10.125 or 10125"
        fix = "Say --decimal comma or --decimal point"
        raise fail(
            "ambiguous-number", "the comma may part decimals or thousands", found=quoted(whole), expected=expected, fix=fix
        )
    point, group = (",", ".") if mark == COMMA else (".", ",")
    if group in bare and not re.fullmatch(
        rf"[+-]?[0-9]{{1,3}}(?:{re.escape(group)}[0-9]{{3}})+(?:{re.escape(point)}[0-9]*)?", bare
    ):
        raise _no_number(whole)
    bare = bare.replace(group, "").replace(point, ".")
    if bare.count(".") > 1:
        raise _no_number(whole)
    return bare


def _fraction(text: str, whole: str) -> str:
    found = _FRACTION.fullmatch(text)
    if found is None or not int(found[4]):
        raise _no_number(whole)
    sign, units, above, below = found[1], int(found[2] or 0), int(found[3]), int(found[4])
    if below & (below - 1) or below > 1024 or (units and above >= below):
        fix = "Rules are divided in halves, quarters, eighths and so on; write other fractions as decimals"
        raise fail(
            "not-a-number", "the fraction cannot be one of an inch", found=quoted(whole), expected="such as 12 15/16", fix=fix
        )
    return sign + format((Decimal(units) + Decimal(above) / Decimal(below)).normalize(), "f")


def _no_number(text: str) -> Exception:
    return fail(
        "not-a-number", "the cell holds no figure", found=quoted(text), expected="a number", fix="Type the figure again"
    )


def unit_name(words: str, habits: Habits) -> str:
    """The name that readings take for a unit. GapbookError `unit-unknown`."""
    text = plain(words)
    for name in (text, text.lower().rstrip(".")):
        found = habits.units.get(name) or UNIT_WORDS.get(name) or name
        if lookup(found) is not None:
            return found
    fix = "Write it as mm, in, g or oz, or give it a meaning under [units] of a --map file"
    raise fail("unit-unknown", "an unknown unit", found=quoted(words), expected="such as mm, in, g, oz", fix=fix)


def converted(text: str, unit: str, target: str) -> str:
    """A figure of one unit in another of the same dimension: exact, to 9 significant digits. GapbookError `unit-dimension`."""
    one, other = lookup(unit), lookup(target)
    if one is None or other is None or one.base != other.base:
        raise fail("unit-dimension", "the unit measures something else", found=unit, expected=f"a unit like {target}")
    if one.code == other.code:
        return text
    value = Decimal(text) * Decimal(repr(one.factor)) / Decimal(repr(other.factor))
    return format(Decimal(f"{value:.9g}").normalize(), "f")


def day(cell: Cell, habits: Habits) -> str:
    """The day in a cell, as YYYY-MM-DD. GapbookError `bad-date` or `ambiguous-date`."""
    if isinstance(cell, datetime.datetime):
        return cell.date().isoformat()
    if isinstance(cell, datetime.date):
        return cell.isoformat()
    if isinstance(cell, (bool, datetime.time, datetime.timedelta)) or cell is None:
        raise _no_day(str(cell))
    text = plain(number_text(cell) if isinstance(cell, (float, int)) else cell)
    if text.isdecimal() and _FIRST_SERIAL <= int(text) < _LAST_SERIAL:
        return (_EPOCH + datetime.timedelta(days=int(text))).isoformat()
    if named := _NAMED.fullmatch(text):
        month = (named[2] or named[3]).lower()
        months = [number for number, name in enumerate(_MONTHS, 1) if name.startswith(month[:4] if month != "sept" else "sep")]
        return _day(int(named[5]), months[0] if len(months) == 1 else 0, int(named[1] or named[4]), text)
    if not (found := _ORDERED.fullmatch(text)):
        raise _no_day(text)
    if len(found[1]) == 4:
        return _day(int(found[1]), int(found[2]), int(found[3]), text)
    if len(found[1]) > 2 or len(found[3]) not in (2, 4):
        raise _no_day(text)
    first, second = int(found[1]), int(found[2])
    year = int(found[3]) if len(found[3]) == 4 else 2000 + int(found[3])
    order = habits.dates or (DAY_FIRST if first == second else None)
    if order is None:
        expected = "a day that can only be read one way, such as 2026-04-03"
        fix = "Say --dates day-first or --dates month-first"
        raise fail("ambiguous-date", "which is the day, which the month?", found=quoted(text), expected=expected, fix=fix)
    return _day(year, second, first, text) if order == DAY_FIRST else _day(year, first, second, text)


def _day(year: int, month: int, number: int, text: str) -> str:
    try:
        return datetime.date(year, month, number).isoformat()
    except ValueError:
        raise _no_day(text) from None


def _no_day(text: str) -> Exception:
    return fail(
        "bad-date",
        "the cell holds no day",
        found=quoted(text),
        expected="a date, such as 2026-04-03",
        fix="Type it as YYYY-MM-DD",
    )
