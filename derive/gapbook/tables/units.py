"""Coded columns as numbers: ids as positions, and the text beside each value as the factor to a computing unit."""

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
"""Faults of one kind that an error names."""


def codes(column: pa.ChunkedArray) -> IntArray:
    """Codes of a dictionary-coded column [R]; -1 for null."""
    return raw_codes(column).astype(np.int64)


def raw_codes(column: pa.ChunkedArray) -> NDArray[np.int32]:
    """The same as they are kept, without a copy where nothing is null and the column is in one piece."""
    parts = [np.asarray(chunk.indices.fill_null(-1) if chunk.null_count else chunk.indices) for chunk in column.chunks]
    return parts[0] if len(parts) == 1 else np.concatenate([np.zeros(0, dtype=np.int32), *parts])


Ids = Sequence[str] | Mapping[str, int]
"""Ids in order, or the number of each: quicker where they are many and asked for often."""


def positions(column: pa.ChunkedArray, ids: Ids) -> IntArray:
    """For each code of a coded column its position in `ids`, -1 where it is not there; and a last -1 for null."""
    place = ids if isinstance(ids, Mapping) else {name: number for number, name in enumerate(ids)}
    return np.array([*map(place.get, texts(column), repeat(-1)), -1], dtype=np.int64)


def renumber(column: pa.ChunkedArray, ids: Ids) -> IntArray:
    """A coded column [R] as positions in `ids`; -1 for null and for what is not there."""
    return np.asarray(positions(column, ids)[codes(column)])


def factors(
    package: Package, table: str, column: pa.ChunkedArray, bases: Sequence[str], base: IntArray, name: str = "unit"
) -> FloatArray:
    """Factor of each row [R] to its computing unit, which stands in `bases` at place `base` [R]; null rows get NaN.

    GapbookError, with the line, for a unit that is unknown or of another dimension.
    """
    code = codes(column)
    if not len(code):
        return np.zeros(0)
    grid = np.array([[_factor(text, one) for one in bases] for text in [*texts(column), ""]])
    found = np.asarray(grid[code, base])
    bad = np.flatnonzero(np.isnan(found) & (code >= 0))
    if len(bad):
        raise unit_error(package, table, column, [(int(row), bases[base[row]]) for row in bad[:NAMED]], name)
    return found


def factor_by_code(package: Package, table: str, column: pa.ChunkedArray, base: str, name: str = "unit") -> FloatArray:
    """Factor to `base` for each code of a unit column, where every row is of that dimension; NaN for a code no row has.

    GapbookError, with the line, for a unit that is unknown or of another dimension.
    """
    found = np.array([_factor(text, base) for text in texts(column)])
    if np.isnan(found).any() and len(bad := np.flatnonzero(np.isnan(found)[codes(column)])):
        raise unit_error(package, table, column, [(int(row), base) for row in bad[:NAMED]], name)
    return found


def _factor(text: str, base: str) -> float:
    unit = lookup(text)
    return unit.factor if unit is not None and unit.base == base else float("nan")


def unit_error(package: Package, table: str, column: pa.ChunkedArray, rows: list[tuple[int, str]], name: str) -> GapbookError:
    """The error for rows, each with the computing unit it should have."""
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
