"""Cells that a schema forbids although they are of its type: a launch angle of 1200. `check` finds them; what only reads a
table is warned of them.
"""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING

from gapbook.tables.package import DERIVED_TABLES, Package
from gapbook.tables.schemas import Field
from gapbook.tables.store import Store, literal, quoted

if TYPE_CHECKING:
    import numpy as np
    import pyarrow as pa

_FIGURES = ("number", "integer")
NAMED = 3
"""So many columns are named in a warning."""


class CellsNotAllowed(UserWarning):
    """What is answered rests on a table with cells that its schema forbids."""


def forbids(field: Field | None, column: pa.ChunkedArray) -> np.ndarray:
    """Which values of a column its field forbids [rows]: figures beyond its limits, words that are not on its list. NULL is
    none of them. A column without a field has no limits.
    """
    import numpy as np  # late: a question must not wait for it
    import pyarrow.compute as pc

    banned = np.zeros(len(column), dtype=bool)
    if field is None:
        return banned
    tests = []
    if field.type in _FIGURES:
        tests += [pc.less(column, field.minimum)] if field.minimum is not None else []
        tests += [pc.greater(column, field.maximum)] if field.maximum is not None else []
    elif field.enum:
        tests.append(pc.invert(pc.is_in(column, value_set=_words(field))))
    for test in tests:
        banned |= np.asarray(pc.and_(pc.fill_null(test, False), pc.is_valid(column)))
    return banned


def _words(field: Field) -> pa.Array:
    import pyarrow as pa  # late: as above

    return pa.array(list(field.enum), pa.string())


def warn_if_forbidden(store: Store, package: Package, table: str) -> None:
    """Warn (CellsNotAllowed) of the cells of a loaded table that its schema forbids. Derived tables are not looked at."""
    if table in DERIVED_TABLES:
        return
    fields = [(field, test) for field in package.schema(table).fields if (test := _test(field)) is not None]
    if not fields:
        return
    counts = ", ".join(
        f"count(*) FILTER (WHERE {test}), any_value({quoted(f.name)}) FILTER (WHERE {test})" for f, test in fields
    )
    (row,) = store.rows(f"SELECT {counts} FROM {quoted(table)}")
    found = [(field, row[2 * n], row[2 * n + 1]) for n, (field, _) in enumerate(fields) if row[2 * n]]
    if not found:
        return
    told = "; ".join(
        f"{field.name}: {number}, such as {value} (expected {field.says()})" for field, number, value in found[:NAMED]
    )
    more = f"; and {len(found) - NAMED} columns more" if len(found) > NAMED else ""
    text = f"{package.shown(table)} holds cells that its schema forbids: {told}{more}; run gapbook check"
    warnings.warn(text, CellsNotAllowed, stacklevel=2)


def _test(field: Field) -> str | None:
    """SQL that is true for a forbidden value; None if nothing is forbidden."""
    name, tests = quoted(field.name), []
    if field.type in _FIGURES:
        tests += [f"{name} < {float(field.minimum)!r}"] if field.minimum is not None else []
        tests += [f"{name} > {float(field.maximum)!r}"] if field.maximum is not None else []
    elif field.enum:
        tests.append(f"{name} NOT IN ({', '.join(literal(word) for word in field.enum)})")
    return " OR ".join(tests) or None
