"""One cell of a table: whether its field allows its text, and what value the text stands for.

This is the only place that judges a cell. Derive, store, check and admission all ask here.
"""

from __future__ import annotations

import csv
import datetime
import math
import re
from collections.abc import Collection, Iterator

from gapbook.errors import fail
from gapbook.signs import HIDDEN
from gapbook.tables.schemas import FALSE_VALUES, ID, TRUE_VALUES, Field

LONGEST = csv.field_size_limit()
"""Characters that any cell may have."""
SHOWN = 120
"""Characters of a cell that people are shown."""
HARMFUL = ("formula", "control-character")
"""Codes of text that can harm people who open the file, but no computation. So only check and admission refuse it."""
Value = str | float | bool | datetime.date
_DECIMAL = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_INTEGER = re.compile(r"-?\d+", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_ID = re.compile(ID)
_FORMULA = tuple("=+-@＝＋－＠")
"""A spreadsheet takes a text that starts like this for a formula, some of them after blanks, or in their full-width form."""
_WIDEST = 2**63


def cell_problem(field: Field, text: str, ignored: Collection[str] = ()) -> str | None:
    """The code of the first thing that is wrong with a cell; None if nothing is.

    field: the cell's column
    text: what is written
    ignored: codes that are not looked for

    Codes: required, type, limit, formula, control-character, enum, pattern, too-long.
    GapbookError `schema` if the field's pattern cannot be used.
    """
    if text in field.missing:
        return "required" if field.required else None
    if len(text) > LONGEST:
        return "too-long"
    if field.type == "string":
        return next((code for code in _text_problems(field, text) if code not in ignored), None)
    if field.type == "boolean":
        return None if text in TRUE_VALUES or text in FALSE_VALUES else "type"
    if field.type == "date":
        return None if _is_date(text) else "type"
    return _number_problem(field, text)


def cell_value(field: Field, text: str) -> Value | None:
    """The value of a cell that is allowed; None if the cell states nothing."""
    if text in field.missing:
        return None
    if field.type == "number":
        return float(text)
    if field.type == "integer":
        return int(text)
    if field.type == "boolean":
        return text in TRUE_VALUES
    return datetime.date.fromisoformat(text) if field.type == "date" else text


def quoted(text: str) -> str:
    """A cell as it is shown to people: what does not print is escaped, and a long one is cut."""
    return repr(text) if len(text) <= SHOWN else f"{text[:SHOWN]!r}… ({len(text)} characters)"


def _text_problems(field: Field, text: str) -> Iterator[str]:
    """Codes of everything that is wrong with a text, first the one that is reported."""
    if text.startswith(("\t", "\r")) or text.lstrip().startswith(_FORMULA):
        yield "formula"
    if HIDDEN.search(text):
        yield "control-character"
    if field.enum and text not in field.enum:
        yield "enum"
    if field.pattern is not None and not _fits(field.pattern, text):
        yield "pattern"
    if field.max_length is not None and len(text) > field.max_length:
        yield "too-long"


def _fits(pattern: str, text: str) -> bool:
    """Whether a text as a whole fits a pattern.

    A pattern may come from a stranger's schema, and Python's engine can take for ever over one. So only the pattern of ids,
    which nearly all columns have, is run by it; others are run by Arrow's, which takes a time linear in the text.
    """
    if pattern == ID:
        return _ID.fullmatch(text) is not None
    import pyarrow as pa  # here: a question looks at numbers only and must not wait for pyarrow
    import pyarrow.compute as pc

    try:
        return bool(pc.match_substring_regex(text, rf"\A(?:{pattern})\z").as_py())
    except pa.ArrowInvalid as error:
        raise fail("schema", f"the pattern {pattern} of the schema cannot be used: {error}") from None


def _number_problem(field: Field, text: str) -> str | None:
    form = _DECIMAL if field.type == "number" else _INTEGER
    if not form.fullmatch(text) or not math.isfinite(number := float(text)):
        return "type"
    if (field.minimum is not None and number < field.minimum) or (field.maximum is not None and number > field.maximum):
        return "limit"
    return None if field.type == "number" or _is_64_bit(text) else "type"


def _is_64_bit(text: str) -> bool:
    try:
        return -_WIDEST <= int(text) < _WIDEST
    except ValueError:  # Python refuses a number of more than 4300 digits
        return False


def _is_date(text: str) -> bool:
    if not _DATE.fullmatch(text):
        return False
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True
