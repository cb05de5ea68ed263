"""Tables on a screen: plain ones, grids that keep their figures whole in a narrow window, results of SQL and views.

No figure is ever cut. In a narrow window words wrap first; then a table is turned, cut in pieces, or loses columns and says so.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from rich.cells import cell_len
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from gapbook.screens import page
from gapbook.screens.text import plural
from gapbook.signs import safe

if TYPE_CHECKING:
    import pyarrow as pa

    from gapbook.tables.views import View

SHOWN = 200
"""Rows of a result that are shown."""
LONGEST = 300
"""Characters of a cell that are shown; --csv and --json give all."""
FEW = 5
"""So many rows at most are shown one below the other if their columns do not fit side by side."""
_EXACT = 1e15
"""Below this size every whole number is exact as a 64-bit float."""
_ENCODER = json.JSONEncoder(ensure_ascii=False)
_NAMED = 6
"""Columns left out that are named."""

Rows = Sequence[tuple[str, Sequence[str]]]
"""Rows of a grid: a label and its cells."""


def plain(*columns: tuple[str, str]) -> Table:
    """A table without lines; columns are (heading, justify). Words of the first column and figures are kept whole."""
    made = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, header_style=page.QUIET, show_edge=False)
    for number, (heading, justify) in enumerate(columns):
        made.add_column(
            Text(heading, justify=justify),  # type: ignore[arg-type]
            justify=justify,  # type: ignore[arg-type]
            overflow="fold",
            no_wrap=justify == "right" or number == 0,
        )
    return made


def grid(corner: str, headings: Sequence[str], rows: Rows, *, turn: bool = False, justify: str = "right") -> RenderableType:
    """A table of `rows` under `headings`, at most as wide as the window.

    If it does not fit even with its words wrapped, rows become columns (only with `turn`), and it is cut into tables of fewer
    columns.

    corner: heading of the labels
    headings: of the columns of cells
    rows: a label and its cells
    turn: whether rows may become columns
    justify: side of the cells, "right" or "left"
    """
    room = page.width()
    if turn and _least(_labels(corner, rows), headings, rows) > room:
        cells = [(heading, [row[1][number] for row in rows]) for number, heading in enumerate(headings)]
        return grid(corner, [label for label, _ in rows], cells, justify=justify)
    pieces: list[RenderableType] = []
    start = 0
    while start < len(headings):
        end = len(headings)
        while end > start + 1 and _least(_labels(corner, rows), headings[start:end], _part(rows, start, end)) > room:
            end -= 1
        pieces += [Text()] if pieces else []
        pieces.append(_table(corner, headings[start:end], _part(rows, start, end), justify, room))
        start = end
    return Group(*pieces)


def _labels(corner: str, rows: Rows) -> list[str]:
    return [corner, *(label for label, _ in rows)]


def _part(rows: Rows, start: int, end: int) -> Rows:
    return [(label, cells[start:end]) for label, cells in rows]


def _least_width(cell: str) -> int:
    """The least width of a cell: a figure with its ± stays whole, words may wrap."""
    return len(cell) if "±" in cell else max((len(word) for word in cell.split()), default=0)


def _least(labels: Sequence[str], headings: Sequence[str], rows: Rows) -> int:
    """The width of a table [columns] in which every word that may wrap is wrapped."""
    widths = [max(map(_least_width, column)) for column in _columns(labels, headings, rows)]
    return sum(widths) + len(widths) - 1


def _columns(labels: Sequence[str], headings: Sequence[str], rows: Rows) -> list[list[str]]:
    return [list(labels), *([heading, *(cells[number] for _, cells in rows)] for number, heading in enumerate(headings))]


def _table(corner: str, headings: Sequence[str], rows: Rows, justify: str, room: int) -> RenderableType:
    columns = _columns(_labels(corner, rows), headings, rows)
    least = [max(map(_least_width, column)) for column in columns]
    wanted = [max(map(len, column)) for column in columns]
    spare = room - sum(least) - len(columns) + 1
    made = plain((corner, "left"), *((heading, justify) for heading in headings))
    for number, column in enumerate(made.columns):
        more = min(max(spare, 0), wanted[number] - least[number])
        column.no_wrap = False
        column.width = least[number] + more
        spare -= more
    for label, cells in rows:
        made.add_row(Text(label), *(Text(cell) for cell in cells))
    return made


def json_pieces(result: pa.Table) -> Iterator[str]:
    """The JSON document of a result in pieces: nan and infinity are null, and what JSON has no type for is text."""
    from gapbook.tables.results import slices, values  # late: other tables do without pyarrow

    names = [json.dumps(name, ensure_ascii=False) for name in result.column_names]
    listed = ",\n".join(f"    {name}" for name in names)
    yield f'{{\n  "columns": [\n{listed}\n  ],\n  "rows": ['
    row = "\n    {\n" + ",\n".join(f"      {name.replace('%', '%%')}: %s" for name in names) + "\n    }"
    between = ""
    for some in slices(result):
        columns = [[_json_text(value) for value in values(column)] for column in some.columns]
        yield between + ",".join(map(row.__mod__, zip(*columns, strict=True)))
        between = ","
    yield "\n  ]\n}\n" if between else "]\n}\n"


def json_lines(result: pa.Table) -> Iterator[str]:
    """The rows of a result as one JSON object a line, in pieces, with the values of `json_pieces`."""
    from gapbook.tables.results import slices, values  # late: other tables do without pyarrow

    for some in slices(result):
        columns = [[_json_value(value) for value in values(column)] for column in some.columns]
        rows = (dict(zip(some.column_names, row, strict=True)) for row in zip(*columns, strict=True))
        yield "".join(f"{json.dumps(row, ensure_ascii=False)}\n" for row in rows)


def _json_text(value: Any) -> str:
    if type(value) is int:
        return str(value)
    if type(value) is float:
        return repr(value) if math.isfinite(value) else "null"
    if value is None or isinstance(value, str):
        return _ENCODER.encode(value)
    return json.dumps(_json_value(value), ensure_ascii=False, indent=2).replace("\n", "\n      ")


def _json_value(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, list):
        return [_json_value(item) for item in value]
    if isinstance(value, dict):
        return {str(name): _json_value(item) for name, item in value.items()}
    return str(value)


class _Shown(NamedTuple):
    """A column as it is printed.

    name: its heading, made safe
    number: whether it holds figures
    cells: its values as text
    whole: the width below which a figure or a word would be cut
    widest: the width of its widest cell or heading
    """

    name: str
    number: bool
    cells: list[str]
    whole: int
    widest: int


def result_screen(result: pa.Table) -> list[RenderableType]:
    """A result as a table: the first rows, and how many there are.

    If the columns do not fit side by side, a few rows are shown one below the other; of many rows the columns that fit are
    shown, and the others are named.
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
    import pyarrow as pa  # late, as above

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
    """How many columns fit side by side with their figures and words whole; at least the first is shown."""
    taken = 0
    for number, column in enumerate(columns):
        taken += column.whole + (number > 0)
        if taken > across:
            return max(number, 1)
    return len(columns)


def _side_by_side(columns: list[_Shown], rows: int) -> RenderableType:
    made = plain(*((column.name, "right" if column.number else "left") for column in columns))
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
        made = plain((f"row {row + 1}", "left"), ("", "left"))
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
    text = str(value)
    if len(text) > LONGEST:
        text = f"{text[:LONGEST]}… ({len(text):,} characters)"
    return safe(text)


def view_document(view: View) -> dict[str, Any]:
    """A view for JSON."""
    columns = [{name: getattr(column, name) for name in ("name", "type", "unit", "description")} for column in view.columns]
    return {"name": view.name, "description": view.description, "columns": columns}


def views_screen(views: list[View]) -> list[RenderableType]:
    """Every view with its columns."""
    parts: list[RenderableType] = []
    for view in views:
        parts += [Text(view.name, page.HEADING), Text(view.description, page.QUIET)]
        made = plain(("column", "left"), ("type", "left"), ("unit", "left"), ("", "left"))
        for column in view.columns:
            made.add_row(*(Text(cell) for cell in (column.name, column.type, column.unit, column.description)))
        parts += [made, Text()]
    return parts
