"""Tables that keep their figures whole in a narrow window: words wrap first, then a table is turned or cut in pieces."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.text import Text

from gapbook.screens import page

Rows = Sequence[tuple[str, Sequence[str]]]


def grid(corner: str, headings: Sequence[str], rows: Rows, *, turn: bool = False, justify: str = "right") -> RenderableType:
    """A table of `rows` (label, cells) under `headings`, as wide as the window at most.

    Where even wrapped words do not fit it is turned on its side, if `turn` allows, and cut into tables of fewer columns.
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


def _word(cell: str) -> int:
    """Narrowest a cell may be: a figure with its ± stays whole, words may wrap."""
    return len(cell) if "±" in cell else max((len(word) for word in cell.split()), default=0)


def _least(labels: Sequence[str], headings: Sequence[str], rows: Rows) -> int:
    """Columns a table needs with every word wrapped that may be."""
    widths = [max(map(_word, column)) for column in _columns(labels, headings, rows)]
    return sum(widths) + len(widths) - 1


def _columns(labels: Sequence[str], headings: Sequence[str], rows: Rows) -> list[list[str]]:
    return [list(labels), *([heading, *(cells[number] for _, cells in rows)] for number, heading in enumerate(headings))]


def _table(corner: str, headings: Sequence[str], rows: Rows, justify: str, room: int) -> RenderableType:
    columns = _columns(_labels(corner, rows), headings, rows)
    least = [max(map(_word, column)) for column in columns]
    wanted = [max(map(len, column)) for column in columns]
    spare = room - sum(least) - len(columns) + 1
    made = page.table((corner, "left"), *((heading, justify) for heading in headings))
    for number, column in enumerate(made.columns):
        more = min(max(spare, 0), wanted[number] - least[number])
        column.no_wrap = False
        column.width = least[number] + more
        spare -= more
    for label, cells in rows:
        made.add_row(Text(label), *(Text(cell) for cell in cells))
    return made
