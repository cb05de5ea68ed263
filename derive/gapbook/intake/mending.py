"""What was probably meant by a cell or a row that is not allowed: the usual slips of people and of spreadsheets."""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Sequence

from gapbook.science.mass_properties import POINT_MM
from gapbook.science.units import ALIASES, INCH, UNITS
from gapbook.tables.cells import cell_problem
from gapbook.tables.schemas import Field, Schema

_DAY = re.compile(r"\s*(\d{1,4})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{1,4})\.?\s*", re.ASCII)
_WITH_UNIT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*[^\d\s.,].*", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_FRACTION = re.compile(
    r"(?:(\d+)(?:\s+|\s*-\s*|\s+and\s+))?(\d+)\s*/\s*(\d+)\s*(?:[a-z\"'\u2032\u2033.]+)?", re.ASCII | re.IGNORECASE
)
_POINTS = re.compile(
    r"\s*([+-]?\d+(?:[.,]\d+)?)?\s*(?:(?:pts?|points?)\b\.?)?\s*(h\.?l|hl|head[ -]?light|h\.?h|hh|head[ -]?heavy)?\.?\s*",
    re.IGNORECASE,
)
MOST_POINTS = 10
"""A bare figure up to this is taken for points; a larger one is rather a balance in inches. Common practice, no source."""
USUAL_LENGTH_MM = 685.0
"""Length of a frame that conversions are shown for if none is known: 27 in."""
BLANK_ROW = "Every cell of this row is blank: take the row out"


def mend_cell(code: str, item: Field, text: str) -> str | None:
    """What to write instead of a cell that broke rule `code`; None if nothing better is known than what the rule says."""
    if code == "limit":
        return _points(item, text) or _likely_unit(item, text) or _within(item)
    if code == "pattern":
        return _as_id(item, text)
    if code != "type":
        return None
    if item.type == "date":
        return _as_day(text)
    if text.strip() not in item.missing and cell_problem(item, text.strip()) is None:
        return "Take out the blanks around it"
    if item.type in ("number", "integer"):
        return _points(item, text) or _as_fraction(item, text.strip()) or _as_number(item, text.strip())
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


def _as_fraction(item: Field, text: str) -> str | None:
    """How to write a number with a fraction in it, as rules in inches are read: `12 15/16`."""
    plain = "".join(f" {unicodedata.normalize('NFKC', sign)}" if unicodedata.category(sign) == "No" else sign for sign in text)
    parts = _FRACTION.fullmatch(plain.replace("\u2044", "/").strip())
    if parts is None or not int(parts[3]):
        return None
    value = int(parts[1] or 0) + int(parts[2]) / int(parts[3])
    said = f"{value:.6f}".rstrip("0").rstrip(".")
    if item.type == "integer":
        return None
    if item.unit == "mm":
        return f"The column is in mm, and {said} in is {value * INCH:.5g} mm: write {value * INCH:.5g}"
    return f"Write {said}, which is {text} as a decimal, and in beside it if these are inches"


def in_points(text: str) -> int | None:
    """Whether a text speaks of balance points: -1 if head light, 1 if head heavy, 0 if it does not say which; None if it does
    not speak of them. The number before them may be there or not: `4 pts HL`, `points`.
    """
    parts = _POINTS.fullmatch(text)
    if parts is None or not re.search(r"[a-z]", text, re.IGNORECASE):
        return None
    return 0 if parts[2] is None else -1 if "l" in parts[2].lower().replace(".", "").removeprefix("head") else 1


def points_advice(points: float, side: int | None, length: float = USUAL_LENGTH_MM) -> str:
    """What a balance in points is from the butt, and what to write.

    points: how many
    side: -1 head light, 1 head heavy; 0 or None: not said
    length: of the frame [mm]
    """
    middle, away = length / 2.0, abs(points) * POINT_MM
    size = "a frame" if length == USUAL_LENGTH_MM else "this frame"
    if not away:
        said = f"even balance is {middle:.0f} mm"
    elif side:
        said = f"{abs(points):g} points head {'light' if side < 0 else 'heavy'} are {middle + side * away:.0f} mm"
    else:
        said = f"{abs(points):g} points head light are {middle - away:.0f} mm, head heavy {middle + away:.0f} mm"
    return (
        f"Points are eighths of an inch from the middle: {said} from the butt, in {size} {length:.0f} mm long. "
        "Write that in mm, or better the distance as it was read; gapbook shows points itself"
    )


def _points(item: Field, text: str) -> str | None:
    """What to write in place of a balance in points; None if it is none. In readings, only the words tell it."""
    number = _POINTS.fullmatch(text)
    if item.name not in ("balance_mm", "value") or number is None or number[1] is None:
        return None
    points, side = float(number[1].replace(",", ".")), in_points(text)
    if side is None and (abs(points) > MOST_POINTS or (item.name == "value" and points >= 0.0)):
        return None
    advice = points_advice(points, side or (-1 if points < 0.0 else 0))
    return advice if side is not None or item.name != "value" else f"No reading is negative. A balance? {advice}"


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
