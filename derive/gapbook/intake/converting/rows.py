"""Lists turned into rows: of one table, cell by cell, or of readings and spacings (`flat.py`)."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from gapbook.errors import Problem
from gapbook.intake.converting.columns import QUANTITIES, Column
from gapbook.intake.converting.filling import Filling
from gapbook.intake.converting.flat import DECLARED, Flat, named, pattern
from gapbook.intake.converting.lists import List
from gapbook.intake.converting.making import Making, Reader
from gapbook.tables.cells import quoted
from gapbook.tables.package import RAW_TABLES

_SIGNS = {
    "playtests": {"playtest_id"}, "exceptions": {"rule", "row_key"}, "testers": {"tester_id", "style"},
    "instruments": {"instrument_id", "resolution"}, "contributors": {"contributor_id", "since"},
}  # fmt: skip
"""Columns by which a list of one table is known."""
_FLAT = ("spacings", "readings")


def table_of(one: List) -> str | None:
    """The table whose rows a list has; None if it has readings or spacings."""
    targets = one.targets()
    for hint in (one.grid.sheet or "", Path(one.grid.file).stem):
        if (name := hint.strip().lower()) in RAW_TABLES:
            if name not in _FLAT and _is_of(one, name):
                return name
            return None if name in _FLAT else _known_by(targets)
    return _known_by(targets)


def _is_of(one: List, table: str) -> bool:
    key = {"exceptions": "rule"}.get(table, f"{table.removesuffix('s')}_id")
    return key in one.targets() or key in one.context


def _known_by(targets: set[str]) -> str | None:
    for table, signs in _SIGNS.items():
        if signs <= targets:
            return table
    is_read = targets & {"taken_on", "contributor_id", "instrument_id", "value", "gap", "mark", "string", "quantity", "repeat"}
    if is_read:
        return None
    if "frame_id" in targets and "maker" in targets and "specimen_id" not in targets:
        return "frames"
    return "specimens" if {"specimen_id", "frame_id"} <= targets and not targets & {*QUANTITIES} else None


def read_list(making: Making, one: List, filling: Filling, given: Mapping[str, str]) -> None:
    """Add the rows of a list; what cannot be read is noted as a problem.

    making: gathers what is made.
    one: the list.
    filling: gathers who read what of which copy.
    given: what holds for all rows, by its name in `mapping.GIVEN`.
    """
    reader = Reader(making, one.grid)
    seen: dict[tuple[object, ...], Column] = {}
    for place, column in one.columns.items():
        named = (column.target, column.family, column.no)
        if column.target not in ("", "edge") and named in seen:
            problem = Problem(
                "column-twice", "two columns hold the same", one.grid.place(one.header, place), quoted(column.told),
                "one column for each", f"Take one of {quoted(seen[named].told)} and {quoted(column.told)} out",
            )  # fmt: skip
            return making.refuse(problem)
        seen[named] = column
    if beyond := [
        (row, place)
        for row in one.rows
        for place, cell in enumerate(one.grid.rows[row])
        if cell is not None and place not in one.columns
    ]:
        first = one.grid.cell(*beyond[0])
        making.guess(
            f"{one.grid.name}, {first}: {len(beyond)} cells below no name of a column are left out, this one the first"
        )
    if (table := table_of(one)) is not None:
        return _whole_rows(making, reader, one, table)
    flat = Flat(making, reader, one, filling, given)
    for row in one.rows:
        flat.read(row)
    return None


def _whole_rows(making: Making, reader: Reader, one: List, table: str) -> None:
    """Rows of one table, a column a field."""
    schema = making.package.schema(table)
    columns = {}
    for place, column in one.columns.items():
        target = DECLARED.get(column.target, column.target) if table == "frames" else column.target
        if target in schema.names or (table == "frames" and target == "pattern"):
            columns[place] = column._replace(target=target)
        elif target:
            making.guess(f"{one.grid.name}: the column {quoted(column.told)} is left out: {table} has none like it")
    for row in one.rows:
        cells: dict[str, str] = {}
        for place, column in columns.items():
            cell = one.cell(row, place)
            if cell is None:
                continue
            if column.target == "pattern":
                cells |= pattern(making, reader, cell, (row, place))
            else:
                cells[column.target] = reader.cell(
                    cell, (row, place), schema.field(column.target), column.unit or named(column)
                )
        if cells:
            making.add(table, cells, one.grid.place(row))
