"""What was probably meant by a cell or a row that is not allowed: the usual slips of people and of spreadsheets."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence

from gapbook.science.units import ALIASES, UNITS
from gapbook.tables.cells import cell_problem
from gapbook.tables.schemas import Field, Schema

_DAY = re.compile(r"\s*(\d{1,4})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{1,4})\.?\s*", re.ASCII)
_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*[^\d\s.,].*", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
BLANK_ROW = "Every cell of this row is blank: take the row out"


def mend_cell(code: str, item: Field, text: str) -> str | None:
    """What to write instead of a cell that broke rule `code`; None if nothing better is known than what the rule says."""
    if code == "limit":
        return _likely_unit(item, text) or _within(item)
    if code == "pattern":
        return _as_id(item, text)
    if code != "type":
        return None
    if item.type == "date":
        return _as_day(text)
    if text.strip() not in item.missing and cell_problem(item, text.strip()) is None:
        return "Take out the blanks around it"
    if item.type in ("number", "integer"):
        return _as_number(item, text.strip())
    return "Write true or false" if item.type == "boolean" else None


def mend_row(schema: Schema, cells: Sequence[str]) -> str | None:
    """What to do with a row that has another number of cells than the table has columns; None if nothing is known."""
    width = len(schema.names)
    if len(cells) == width + 1:
        for place in range(width):
            if said := _with_a_point(schema, cells, place):
                return said
    if len(cells) > width and not any(cells[width:]):
        return "Take out the commas at the end of the row"
    if len(cells) == 1 and max(cells[0].count(";"), cells[0].count("\t")) == width - 1:
        return "Save the file with commas between the cells"
    return None


def _with_a_point(schema: Schema, cells: Sequence[str], place: int) -> str | None:
    """What to write, if the row becomes sound when the cell at `place` and the next are joined to one number."""
    item, whole, part = schema.fields[place], cells[place], cells[place + 1]
    row = [*cells[:place], f"{whole}.{part}", *cells[place + 2 :]]
    if item.type != "number" or not whole or not part.isdigit():
        return None
    if any(cell_problem(field, text) for text, field in zip(row, schema.fields, strict=True)):
        return None
    return f"Write {row[place]} with a point for {item.name}: a comma begins a new cell"


def _within(item: Field) -> str | None:
    """What to do about a number outside its limits, if its column has no fixed unit; None if it has one."""
    if item.type == "integer":
        return f"Write {item.says()}"
    if item.unit is None:
        column = "tension_unit" if item.name.endswith("tension") else "unit"
        return f"Read it again; its unit stands in {column}, so nothing need be converted"
    return None


def own_key(schema: Schema) -> str | None:
    """What to do with a row whose key another row has, if the key is one id; None if more columns make it up, because then
    another day or repeat number makes a new key, as the rule says.
    """
    if len(schema.primary_key) != 1:
        return None
    return f"Take the row out, or give the new one its own {schema.primary_key[0]}"


def _as_number(item: Field, text: str) -> str | None:
    if _COMMA.fullmatch(text) and cell_problem(item, text.replace(",", ".")) is None:
        return f"Write {text.replace(',', '.')}, with a point"
    if number := _WITH_UNIT.fullmatch(text):
        return f"Write the number alone, {number[1].replace(',', '.')}; units have their own column"
    return None


def _as_day(text: str) -> str | None:
    """How to write a date in year-month-day; both days if it may be day-month or month-day."""
    numbers = _DAY.fullmatch(text)
    if numbers is None:
        return None
    one, two, three = (int(part) for part in numbers.groups())
    orders = [(one, two, three)] if len(numbers[1]) == 4 else []
    if len(numbers[3]) == 4:
        orders = orders or [(three, two, one), (three, one, two)]
    days = dict.fromkeys(day for order in orders if (day := _iso(*order)))
    return f"Write {' or '.join(days)}: year, month, day" if days else None


def _iso(year: int, month: int, day: int) -> str | None:
    try:
        return datetime.date(year, month, day).isoformat()
    except ValueError:
        return None


def _as_id(item: Field, text: str) -> str | None:
    """How to write a text as an id."""
    near = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
    return f"Write {near}, the same everywhere" if near and cell_problem(item, near) is None else None


def _everyday(code: str) -> str:
    """The everyday name of a unit, or its code if it has none."""
    return next((alias for alias, unit in ALIASES.items() if unit == code), code)


def _likely_unit(item: Field, text: str) -> str | None:
    """What to write instead of a number outside the limits of a field with a fixed unit, if it would lie inside them when read
    in another unit; None if there is no such unit.
    """
    if item.unit is None or (own := UNITS.get(item.unit)) is None:
        return None
    offers = []
    for unit in UNITS.values():
        value = float(text) * unit.factor / own.factor
        low, high = item.minimum, item.maximum
        if unit.base == own.base and (low is None or value >= low) and (high is None or value <= high):
            offers.append(f"{value:.5g} if {text} is in {_everyday(unit.code)}")
    return f"The column is in {item.unit}: write {', or '.join(offers)}" if offers else None
