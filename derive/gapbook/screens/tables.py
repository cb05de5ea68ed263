"""Results of SQL, and the list of views, on a screen and in JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from rich.console import RenderableType
from rich.text import Text

from gapbook.screens import page
from gapbook.screens.text import plural, safe

if TYPE_CHECKING:
    import pyarrow as pa

    from gapbook.tables.joined import View

SHOWN = 200


def json_rows(result: pa.Table) -> list[dict[str, Any]]:
    """Rows of a result for JSON: numbers as they are, everything else JSON has no type for as text."""
    return [{name: _plain(value) for name, value in row.items()} for row in result.to_pylist()]


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


def result_screen(result: pa.Table) -> list[RenderableType]:
    """A result as a table: the first rows, and how many there are."""
    import pyarrow as pa

    numeric = [pa.types.is_integer(item.type) or pa.types.is_floating(item.type) for item in result.schema]
    made = page.table(
        *((safe(name), "right" if number else "left") for name, number in zip(result.column_names, numeric, strict=True))
    )
    for row in result.slice(0, SHOWN).to_pylist():
        made.add_row(*(Text(_cell(value)) for value in row.values()))
    parts: list[RenderableType] = [made]
    if result.num_rows > SHOWN:
        parts.append(Text(f"the first {SHOWN} of {plural(result.num_rows, 'row')}; --json gives all", page.QUIET))
    return parts


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return f"{value:.6g}" if isinstance(value, float) else safe(str(value))


def view_document(view: View) -> dict[str, Any]:
    """A view for JSON."""
    columns = [column._asdict() for column in view.columns]
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
