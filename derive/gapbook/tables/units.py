"""Dictionary-coded columns as numbers: ids as positions, and units as factors to a computing unit.

A computing unit is the one that quantities of a dimension are computed in: mm, cm2, g, kg.cm2 or N.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import repeat

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science.grouping import FloatArray, IntArray
from gapbook.science.units import lookup, names
from gapbook.tables.package import Package
from gapbook.tables.reader import line_of_row, texts

NAMED = 5
"""At most so many faults of one kind are named in an error."""


def codes(column: pa.ChunkedArray) -> IntArray:
    """Codes of a dictionary-coded column [R]; -1 for null."""
    return raw_codes(column).astype(np.int64)


def raw_codes(column: pa.ChunkedArray) -> NDArray[np.int32]:
    """The same as int32, without a copy if nothing is null and the column is in one piece."""
    parts = [np.asarray(chunk.indices.fill_null(-1) if chunk.null_count else chunk.indices) for chunk in column.chunks]
    return parts[0] if len(parts) == 1 else np.concatenate([np.zeros(0, dtype=np.int32), *parts])


Ids = Sequence[str] | Mapping[str, int]
"""Ids in order, or the number of each id, which is quicker if there are many and they are used often."""


def positions(column: pa.ChunkedArray, ids: Ids) -> IntArray:
    """The position in `ids` of the text of each code of a column, -1 if it is not there; and a last -1, for null."""
    place = ids if isinstance(ids, Mapping) else {name: number for number, name in enumerate(ids)}
    return np.array([*map(place.get, texts(column), repeat(-1)), -1], dtype=np.int64)


def renumber(column: pa.ChunkedArray, ids: Ids) -> IntArray:
    """The position in `ids` of each row's text [R]; -1 for null and for a text that is not there."""
    return np.asarray(positions(column, ids)[codes(column)])


def factors(
    package: Package, table: str, column: pa.ChunkedArray, bases: Sequence[str], base: IntArray, name: str = "unit"
) -> FloatArray:
    """The factor from each row's unit to its computing unit [R]; NaN for null.

    package: where the table is
    table: its name
    column: the units
    bases: computing units
    base: the place in `bases` of each row's computing unit [R]
    name: what the column is called

    GapbookError, with the line, if a unit is unknown or of another dimension.
    """
    code = codes(column)
    if not len(code):
        return np.zeros(0)
    grid = np.array([[_factor(text, one) for one in bases] for text in [*texts(column), ""]])
    factor = np.asarray(grid[code, base])
    bad = np.flatnonzero(np.isnan(factor) & (code >= 0))
    if len(bad):
        raise unit_error(package, table, column, [(int(row), bases[base[row]]) for row in bad[:NAMED]], name)
    return factor


def factor_by_code(package: Package, table: str, column: pa.ChunkedArray, base: str, name: str = "unit") -> FloatArray:
    """The factor to one computing unit of each code of a column of units; NaN for a code that no row has.

    package: where the table is
    table: its name
    column: the units
    base: the computing unit of all rows
    name: what the column is called

    GapbookError, with the line, if a unit is unknown or of another dimension.
    """
    factor = np.array([_factor(text, base) for text in texts(column)])
    if np.isnan(factor).any() and len(bad := np.flatnonzero(np.isnan(factor)[codes(column)])):
        raise unit_error(package, table, column, [(int(row), base) for row in bad[:NAMED]], name)
    return factor


def _factor(text: str, base: str) -> float:
    unit = lookup(text)
    return unit.factor if unit is not None and unit.base == base else float("nan")


def unit_error(package: Package, table: str, column: pa.ChunkedArray, rows: list[tuple[int, str]], name: str) -> GapbookError:
    """The error for rows whose unit cannot be used.

    package: where the table is
    table: its name
    column: the units
    rows: each row's number and the computing unit it should have
    name: what the column is called
    """
    return GapbookError(*(_problem(package, table, row, str(column[row].as_py()), base, name) for row, base in rows))


def _problem(package: Package, table: str, row: int, text: str, base: str, name: str) -> Problem:
    known = lookup(text) is not None
    return Problem(
        "unit-dimension" if known else "unit-unknown",
        "the unit measures something else" if known else "an unknown unit",
        Place(package.shown(table), line_of_row(package, table, row), name),
        found=repr(text),
        expected="one of " + ", ".join(names(base)),
    )
