"""The data dictionary: every table and view with its columns, as Markdown to print or to keep beside an analysis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from gapbook.screens.findings import markdown_table
from gapbook.signs import markdown

if TYPE_CHECKING:
    from gapbook.tables.views import Column, View


def dictionary(name: str, version: str, views: Sequence[View]) -> str:
    """All `views` of the package called `name`, one table of Markdown each."""
    lines = [f"# {markdown(name)} {markdown(version)}: data dictionary", ""]
    for view in views:
        lines += [f"## {markdown(view.name)}", "", markdown(view.description), ""]
        rows = [tuple(map(markdown, _cells(column))) for column in view.columns]
        lines += [*markdown_table(("column", "what it is", "type", "unit", "what it may hold"), rows), ""]
    return "\n".join(lines)


def _cells(column: Column) -> tuple[str, ...]:
    holds = "" if column.field is None else column.field.says()
    return column.name, column.description, column.type, column.unit, holds
