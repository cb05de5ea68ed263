"""Results as Arrow tables: one row an item, typed columns even where there are no rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pyarrow as pa


def tabulated(rows: Sequence[Mapping[str, Any]], columns: Mapping[str, str]) -> pa.Table:
    """Rows as a table with these columns, each of an Arrow type by name; what a row does not hold is null."""
    import pyarrow as pa

    types = {name: pa.type_for_alias(kind) for name, kind in columns.items()}
    return pa.table({name: pa.array([row.get(name) for row in rows], kind) for name, kind in types.items()})


def typed(texts: str = "", integers: str = "", numbers: str = "") -> dict[str, str]:
    """Columns by type, each a list of names with blanks between."""
    kinds = (("string", texts), ("int64", integers), ("float64", numbers))
    return {name: kind for kind, names in kinds for name in names.split()}
