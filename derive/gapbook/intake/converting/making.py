"""The rows that are being made: cells turned into what the schemas allow, with every change, guess and problem noted."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from gapbook.errors import GapbookError, Place, Problem
from gapbook.intake.converting.columns import Vocabulary
from gapbook.intake.converting.figures import COMMA, Figure, Habits, converted, day, figure, number_text, plain
from gapbook.science.units import lookup
from gapbook.tables.cells import cell_problem, quoted
from gapbook.tables.grids import Grid
from gapbook.tables.package import Package
from gapbook.tables.schemas import FALSE_VALUES, ID, TRUE_VALUES, Field
from gapbook.tables.workbooks import Cell

MOST_PROBLEMS = 100
"""So many problems are gathered before reading stops."""
_NO_ID = re.compile(r"[^a-z0-9]+")
_YES, _NO = ("yes", "y"), ("no", "n")


class Change(NamedTuple):
    """A cell that is written otherwise than it was sent.

    file: where it stood, with the sheet.
    cell: which cell.
    column: the field it went to.
    sent: what was sent.
    written: what is written.
    """

    file: str
    cell: str
    column: str
    sent: str
    written: str


class Row(NamedTuple):
    """A row of a table: its cells, and where it came from."""

    cells: dict[str, str]
    place: Place


@dataclass
class Making:
    """What is made of all files together.

    package: the package that the contribution is meant for.
    words: the names of columns and words.
    habits: how the file at hand writes figures and days.
    rows: the rows by table.
    changes: cells that are written otherwise than they were sent.
    guesses: what was guessed, in words, in order.
    problems: what cannot be read.
    """

    package: Package
    words: Vocabulary
    habits: Habits
    rows: dict[str, list[Row]] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    guesses: dict[str, None] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    _judged: dict[tuple[str, str, str], str | None] = field(default_factory=dict)
    _told: set[tuple[str, ...]] = field(default_factory=set)

    def guess(self, words: str, *once: str) -> None:
        """Note what was guessed; the same words, or a guess of the same kind, which `once` names, count once."""
        if once not in self._told or not once:
            self.guesses.setdefault(words)
            self._told.add(once)

    def refuse(self, problem: Problem) -> None:
        """Note a problem. GapbookError if there are too many to go on."""
        if problem not in self.problems:
            self.problems.append(problem)
        if len(self.problems) >= MOST_PROBLEMS:
            raise GapbookError(*self.problems)

    def add(self, table: str, cells: dict[str, str], place: Place) -> None:
        """A new row; its cells are judged by the table's schema."""
        schema = self.package.schema(table)
        for item in schema.fields:
            text = cells.get(item.name, "")
            known = (table, item.name, text)
            if known not in self._judged:
                self._judged[known] = cell_problem(item, text)
            if (code := self._judged[known]) is not None:
                where = replace(place, column=item.name)
                fix = f"Fill in {item.name}" if code == "required" else "Mend the cell"
                message = "a cell is missing" if code == "required" else "the table cannot hold this"
                self.refuse(Problem(code, message, where, quoted(text), item.says(), fix))
        own = {name: cells[name] for name in schema.names if name in cells}
        self.rows.setdefault(table, []).append(Row(own, place))


class Reader:
    """Reads the cells of one grid; what cannot be read becomes a problem, and the cell blank."""

    def __init__(self, making: Making, grid: Grid) -> None:
        self.making, self.grid = making, grid
        self._unchanged: dict[tuple[object, ...], str] = {}

    def _try(self, act: object, place: tuple[int, int], name: str) -> object:
        try:
            return act()  # type: ignore[operator]
        except GapbookError as error:
            for problem in error.problems:
                self.making.refuse(replace(problem, place=self.grid.place(*place, name)))
            return None

    def _changed(self, cell: Cell, text: str, place: tuple[int, int], name: str) -> None:
        sent = number_text(cell) if isinstance(cell, float | int) and not isinstance(cell, bool) else str(cell)
        if sent != text:
            self.making.changes.append(Change(self.grid.name, self.grid.cell(*place), name, sent, text))

    def figure(self, cell: Cell, place: tuple[int, int], name: str) -> Figure | None:
        """A figure and the unit beside it; None if it cannot be read."""
        found = self._try(lambda: figure(cell, self.making.habits), place, name)
        if isinstance(found, Figure):
            if isinstance(cell, str) and "," in cell and "." not in cell and "." in found.text:
                where = f"{self.grid.file}: a comma is a decimal comma, as in {quoted(cell)} ({self.grid.cell(*place)})"
                self.making.guess(where, self.grid.file, "comma")
            self._changed(cell, found.text, place, name)
            return found
        return None

    def in_unit(self, cell: Cell, place: tuple[int, int], item: Field, unit: str | None) -> str:
        """A figure in the unit of its field; blank if it cannot be read.

        cell: the figure.
        place: its row and column.
        item: the field.
        unit: the unit of its column; None if nothing tells it.
        """
        found = self.figure(cell, place, item.name)
        if found is None:
            return ""
        told = found.unit or unit
        if item.unit is None or item.unit == "1" or lookup(item.unit) is None:
            return found.text
        if told is None:
            if float(found.text) == 0.0:
                return found.text
            fix = f"Name the column {item.name}, or write the unit in its name or beside the figure"
            self.making.refuse(
                Problem("no-unit", "nothing tells the unit", self.grid.place(*place, item.name), found.text, fix=fix)
            )
            return ""
        text = self._try(lambda: converted(found.text, told, str(item.unit)), place, item.name)
        if not isinstance(text, str):
            return ""
        if text != found.text:
            self._changed(f"{found.text} {told}", text, place, item.name)
        return text

    def day(self, cell: Cell, place: tuple[int, int], name: str) -> str:
        """A day as YYYY-MM-DD."""
        text = self._try(lambda: day(cell, self.making.habits), place, name)
        if not isinstance(text, str):
            return ""
        self._changed(cell, text, place, name)
        if isinstance(cell, str | float | int) and str(cell) != text:
            order = f"{self.making.habits.dates.replace('-', ' ')}, " if self.making.habits.dates else ""
            sent = number_text(cell) if not isinstance(cell, str) else cell
            where = f"{self.grid.file}: days are written {order}as {quoted(sent)} ({self.grid.cell(*place)}) for {text}"
            self.making.guess(where, self.grid.file, "days", order)
        return text

    def truth(self, cell: Cell, place: tuple[int, int], name: str) -> str:
        """true or false."""
        text = self.making.words.word(self.text(cell))
        low = text.lower()
        out = "true" if text in TRUE_VALUES or low in _YES else "false" if text in FALSE_VALUES or low in _NO else text
        out = text if text in (*TRUE_VALUES, *FALSE_VALUES) and isinstance(cell, str) else out
        self._changed(cell, out, place, name)
        return out

    def text(self, cell: Cell) -> str:
        """A text as it is."""
        if isinstance(cell, bool):
            return str(cell).lower()
        return number_text(cell) if isinstance(cell, float | int) else str(cell).strip()

    def word(self, cell: Cell, place: tuple[int, int], item: Field) -> str:
        """A text; if the field takes listed words, that of them which is meant."""
        text = self.text(cell)
        out = self.making.words.word(text)
        if item.enum and out not in item.enum:
            low = out.lower().replace(" ", "_")
            family = self.making.words.family(out) if item.name == "family" else None
            singular = low.removesuffix("s")
            out = family or (low if low in item.enum else singular if singular in item.enum else out)
        self._changed(cell, out, place, item.name)
        return out

    def name(self, cell: Cell, place: tuple[int, int], name: str) -> str:
        """A name as an id."""
        text = self.making.words.word(self.text(cell))
        out = slug(text)
        if out != text:
            self.making.guess(f"{quoted(text)} is called {out} ({name})")
        self._changed(cell, out, place, name)
        return out

    def cell(self, cell: Cell, place: tuple[int, int], item: Field, unit: str | None = None) -> str:
        """A cell as its field has it; blank if it cannot be read.

        cell: what was sent.
        place: its row and column.
        item: the field.
        unit: the unit of its column; None if nothing tells it.
        """
        if cell is None:
            return ""
        known = (type(cell), cell, item.name, unit, self.making.habits.decimal, self.making.habits.dates)
        if known in self._unchanged:
            return self._unchanged[known]
        noted = len(self.making.changes), len(self.making.problems), len(self.making.guesses)
        text = self._as(cell, place, item, unit)
        if text and noted == (len(self.making.changes), len(self.making.problems), len(self.making.guesses)):
            self._unchanged[known] = text  # nothing was to be noted, so nothing is the next time
        return text

    def _as(self, cell: Cell, place: tuple[int, int], item: Field, unit: str | None) -> str:
        if isinstance(cell, str) and plain(cell) in item.missing:
            return plain(cell)
        if item.type == "date":
            return self.day(cell, place, item.name)
        if item.type == "boolean":
            return self.truth(cell, place, item.name)
        if item.type in ("number", "integer"):
            is_plain = isinstance(cell, str) and not (self.making.habits.decimal == COMMA and "." in cell)
            if is_plain and unit in (None, item.unit) and cell_problem(item, str(cell)) is None:
                return str(cell)  # as exact as it was sent
            return self.in_unit(cell, place, item, unit)
        return self.name(cell, place, item.name) if item.pattern == ID else self.word(cell, place, item)


def slug(text: str) -> str:
    """A name as an id: small letters without accents, digits, hyphens; the text itself if it is one already."""
    bare = unicodedata.normalize("NFKD", text.replace("ß", "ss")).encode("ascii", "ignore").decode().lower()
    return _NO_ID.sub("-", bare).strip("-") or text
