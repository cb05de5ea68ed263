"""Where in a grid the lists are: their headers, the rows below them, and what is said above them for all of their rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from gapbook.intake.converting.columns import Column, Vocabulary, left_out
from gapbook.intake.converting.mapping import key
from gapbook.tables.cells import quoted
from gapbook.tables.grids import Grid
from gapbook.tables.workbooks import Cell


@dataclass(frozen=True)
class Said:
    """A cell, and the row and column of its grid in which it stands."""

    cell: Cell
    row: int
    column: int


@dataclass(frozen=True)
class List:
    """One list of a grid.

    grid: where it is.
    header: the row of its header.
    columns: by number, what each column holds.
    context: what is said above it for all rows, by field.
    rows: the numbers of its rows.
    """

    grid: Grid
    header: int
    columns: dict[int, Column]
    context: dict[str, Said]
    rows: list[int] = field(default_factory=list)

    def cell(self, row: int, place: int) -> Cell:
        """A cell; None if it is blank, or the row ends before it."""
        cells = self.grid.rows[row]
        return cells[place] if place < len(cells) else None

    def targets(self) -> set[str]:
        """What its columns hold."""
        return {column.target for column in self.columns.values()}


def lists_of(grid: Grid, words: Vocabulary) -> tuple[list[List], list[str]]:
    """The lists of a grid in order, and what was guessed or left out, in words."""
    lists: list[List] = []
    guesses: list[str] = []
    context: dict[str, Said] = {}
    if (family := words.family(grid.sheet or "")) is not None:
        context["family"] = Said(family, 0, 0)
        guesses.append(f"{grid.name}: {family} strings, by its name")
    current: List | None = None
    for number, row in enumerate(grid.rows):
        filled = [(place, cell) for place, cell in enumerate(row) if cell is not None]
        if not filled:
            continue
        if said := _said(number, filled, words, current is None or len(filled) == 1):
            name, value, guess = said
            context = {**context, name: value}
            current = None
            if guess:
                guesses.append(f"{grid.name}, {grid.cell(number, filled[0][0])}: {guess}")
        elif (current is None or not any(cell is not None for cell in grid.rows[number - 1])) and (
            columns := _header(row, words)
        ):
            current = List(grid, number, columns, context)
            lists.append(current)
        elif current is not None:
            current.rows.append(number)
        else:
            guesses.append(
                f"{grid.name}, {grid.cell(number, filled[0][0])}: {quoted(str(filled[0][1]))} is left out, as a title"
            )
    for one in lists:
        guesses += _told(one, {item.told for item in _own(lists[: lists.index(one)])})
    return lists, guesses


def _own(lists: list[List]) -> Iterator[Column]:
    for one in lists:
        yield from one.columns.values()


def _told(one: List, before: set[str]) -> Iterator[str]:
    """What was guessed of a list's columns that no list before has."""
    shown = [item for item in one.columns.items() if not (item[1].exact and item[1].target) and item[1].told not in before]
    for _, group in groupby(shown, lambda item: item[0] if item[1].no is None else (item[1].target, item[1].family)):
        listed = list(group)
        (place, column), (_, last) = listed[0], listed[-1]
        where = f"{one.grid.name}, {one.grid.cell(one.header, place)}"
        if last is column:
            yield f"{where}: the column {quoted(column.told)} is {_means(column)}"
        else:
            yield f"{where}: the columns {quoted(column.told)} to {quoted(last.told)} are {_means(column)} to {last.no}"


def _means(column: Column) -> str:
    if column.target:
        return f"taken for {column.means}"
    return "left out, as you said" if column.exact else "left out: nobody knows its name"


def _said(
    number: int, filled: Sequence[tuple[int, Cell]], words: Vocabulary, may_be: bool
) -> tuple[str, Said, str | None] | None:
    """What a row above a list says for all of its rows: the field, its value, and what was guessed; None if it says nothing."""
    place, first = filled[0]
    if not may_be or not isinstance(first, str):
        return None
    if len(filled) == 1 and (family := words.family(first)) is not None:
        return "family", Said(family, number, place), None
    if len(filled) == 1 and ":" in first:
        name, _, rest = first.partition(":")
        value: Cell = rest.strip() or None
    elif len(filled) == 2:
        name, (place, value) = first, filled[1]
    else:
        return None
    column = words.column(name)
    if value is None or column is None or column.no is not None or not column.target:
        return None
    is_name = column.target != "family" and isinstance(value, str) and words.column(value) is not None
    if is_name or (column.target == "family" and words.family(str(value)) is None):
        return None
    guess = None if column.exact else f"{quoted(name)} is taken for {column.means}: {quoted(str(value))}"
    return column.target, Said(value, number, place), guess


def _header(row: list[Cell], words: Vocabulary) -> dict[int, Column] | None:
    """What the columns hold if the row is a header; None if it is none."""
    filled = [(place, cell) for place, cell in enumerate(row) if cell is not None]
    if any(not isinstance(cell, str | float | int) or isinstance(cell, bool) for _, cell in filled):
        return None
    names = [cell for _, cell in filled if isinstance(cell, str) and not key(cell).isdigit()]
    if len(names) < len(filled) and not _counts([cell for _, cell in filled if cell not in names]):
        return None
    columns = {place: words.column(cell) for place, cell in filled}
    known = [column for column in columns.values() if column is not None]
    named = [column for column in known if not key(column.told).isdigit()]
    if len(known) < 2 or not named or 2 * len(named) < len(names):
        return None
    return {place: column or left_out(row[place]) for place, column in columns.items()}


def _counts(cells: list[Cell]) -> bool:
    """Whether cells are the numbers of columns: three or more, one after the other, from 0 or 1."""
    numbers = [float(cell) if isinstance(cell, float | int) else float(key(str(cell))) for cell in cells]
    return len(numbers) > 2 and numbers[0] in (0.0, 1.0) and numbers == [numbers[0] + step for step in range(len(numbers))]
