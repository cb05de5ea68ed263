"""`gapbook sql "SELECT ..."`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption

HELP = """Run one read-only SELECT over the package's tables and views.

--views lists them with their columns and units. JSON: {"columns": [...], "rows": [{...}]}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("sql", help=HELP)(sql)


def sql(
    statement: Annotated[str | None, typer.Argument(help="One SELECT, in quotes.")] = None,
    list_views: Annotated[bool, typer.Option("--views", help="List views and columns.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, query, print."""
    from gapbook.commands.printing import print_json
    from gapbook.errors import fail
    from gapbook.screens import page, tables
    from gapbook.tables.package import open_package
    from gapbook.tables.views import query, views

    opened = open_package(package)
    if list_views:
        found = views(opened)
        if as_json:
            print_json({"views": [tables.view_document(view) for view in found]})
        else:
            page.show(*tables.views_screen(found))
        return
    if statement is None:
        raise fail("usage", "sql needs a statement", fix='Write one SELECT in quotes, or --views')
    result = query(opened, statement)
    if as_json:
        print_json({"columns": result.column_names, "rows": tables.json_rows(result)})
    else:
        page.show(*tables.result_screen(result))
