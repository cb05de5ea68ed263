"""Results of SQL, and the list of views, on a screen and in JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

from rich.cells import cell_len
from rich.console import RenderableType
from rich.text import Text

from gapbook.screens import page
from gapbook.screens.text import plural, safe

if TYPE_CHECKING:
    import pyarrow as pa

    from gapbook.tables.joined import View

SHOWN = 200
"""Rows of a table shown."""
FEW = 5
"""Rows that are shown one below the other where their columns do not fit side by side."""
_EXACT = 1e15
"""Size below which every whole number is one of its own as a 64-bit float."""
_NAMED = 6
"""Columns that are named where they are left out."""


def json_rows(result: pa.Table) -> list[dict[str, Any]]:
    """Rows of a result for JSON: numbers as they are (null for those that are none), all else JSON has no type for as text."""
    from gapbook.tables.results import values

    columns = [[_plain(value) for value in values(column)] for column in result.columns]
    return [dict(zip(result.column_names, row, strict=True)) for row in zip(*columns, strict=True)]


def _plain(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, list):
        return [_plain(item) for item in value]
    if isinstance(value, dict):
        return {str(name): _plain(item) for name, item in value.items()}
    return str(value)


class _Shown(NamedTuple):
    """A column as it is printed; `whole` is the width below which a figure or a word would be cut."""

    name: str
    number: bool
    cells: list[str]
    whole: int
    widest: int


def result_screen(result: pa.Table) -> list[RenderableType]:
    """A result as a table: the first rows, and how many there are. No figure is cut: where the columns do not fit side by
    side, a few rows are shown one below the other, and of many the columns that fit, with how many more there are.
    """
    first = result.slice(0, SHOWN)
    columns = [_shown(name, column) for name, column in zip(first.column_names, first.columns, strict=True)]
    fitting = _fitting(columns, page.width())
    if fitting < len(columns) and 0 < result.num_rows <= FEW:
        return _records(columns, result.num_rows)
    parts: list[RenderableType] = [_side_by_side(columns[:fitting], first.num_rows)]
    if left := [column.name for column in columns[fitting:]]:
        names = ", ".join(left[:_NAMED]) + (", ..." if len(left) > _NAMED else "")
        parts.append(Text(f"and {plural(len(left), 'more column')}: {names} (--csv or --json gives all)", page.QUIET))
    if result.num_rows > SHOWN:
        parts.append(Text(f"the first {SHOWN} of {plural(result.num_rows, 'row')}; --json gives all", page.QUIET))
    return parts


def _shown(name: str, column: pa.ChunkedArray) -> _Shown:
    import pyarrow as pa

    from gapbook.tables.results import values

    kind = column.type
    number = pa.types.is_integer(kind) or pa.types.is_floating(kind)
    cells = [_cell(value) for value in values(column)]
    prose = pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_nested(kind)
    words = [word for cell in cells for word in cell.split()] if prose else cells
    shown = safe(name)
    whole = max(map(cell_len, (shown, *words)))
    return _Shown(shown, number, cells, whole, max(whole, *map(cell_len, cells), 0))


def _fitting(columns: list[_Shown], across: int) -> int:
    """How many columns fit side by side with their figures and words whole: the first one at least."""
    taken = 0
    for number, column in enumerate(columns):
        taken += column.whole + (number > 0)
        if taken > across:
            return max(number, 1)
    return len(columns)


def _side_by_side(columns: list[_Shown], rows: int) -> RenderableType:
    made = page.table(*((column.name, "right" if column.number else "left") for column in columns))
    spare = page.width() - sum(column.whole for column in columns) - len(columns) + 1
    for column, drawn in zip(columns, made.columns, strict=True):
        more = max(min(column.widest - column.whole, spare), min(spare, 0))
        drawn.width, drawn.no_wrap = column.whole + more, False
        spare -= more
    for row in range(rows):
        made.add_row(*(Text(column.cells[row]) for column in columns))
    return made


def _records(columns: list[_Shown], rows: int) -> list[RenderableType]:
    """Rows one below the other, a line for each column."""
    parts: list[RenderableType] = []
    across, names = page.width(), max(cell_len(column.name) for column in columns)
    widest = max(cell_len(cell) for column in columns for cell in column.cells)
    names = min(names, max(across - 1 - widest, across // 2))
    for row in range(rows):
        made = page.table((f"row {row + 1}", "left"), ("", "left"))
        made.columns[0].width, made.columns[0].no_wrap = names, False
        made.columns[1].width = across - 1 - names
        for column in columns:
            made.add_row(Text(column.name), Text(column.cells[row]))
        parts += [made, *([Text()] if row + 1 < rows else [])]
    return parts


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.0f}" if value.is_integer() and abs(value) < _EXACT else f"{value:.6g}"
    return safe(str(value))


def view_document(view: View) -> dict[str, Any]:
    """A view for JSON."""
    columns = [{name: getattr(column, name) for name in ("name", "type", "unit", "description")} for column in view.columns]
    return {"name": view.name, "description": view.description, "columns": columns}


def views_screen(found: list[View]) -> list[RenderableType]:
    """Every view with its columns."""
    parts: list[RenderableType] = []
    for view in found:
        parts += [Text(view.name, page.HEADING), Text(view.description, page.QUIET)]
        made = page.table(("column", "left"), ("type", "left"), ("unit", "left"), ("", "left"))
        for column in view.columns:
            made.add_row(*(Text(cell) for cell in (column.name, column.type, column.unit, column.description)))
        parts += [made, Text()]
    return parts
