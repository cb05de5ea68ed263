"""`gapbook sql "SELECT ..."`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from gapbook.commands.options import JsonOption, PackageOption

if TYPE_CHECKING:
    from gapbook.errors import GapbookError

HELP = """Run one read-only SELECT over the package's tables and views.

--views lists them with their columns and units. JSON: {"columns": [...], "rows": [{...}]}; of --views {"views": [{"name",
"description", "columns": [{"name", "type", "unit", "description"}]}]}; with --parquet {"written": [...], "rows": N}; a
figure that is no number (nan, inf) is null. Of columns with one name the later ones are numbered (a, a_2). A query that
takes more time or memory than its limits is stopped."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("sql", help=HELP)(sql)


def sql(
    statement: Annotated[str | None, typer.Argument(help="One SELECT, in quotes.")] = None,
    list_views: Annotated[bool, typer.Option("--views", help="List views and columns.")] = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="CSV on stdout.")] = False,
    parquet: Annotated[Path | None, typer.Option("--parquet", metavar="FILE", help="Write it to a Parquet file.")] = None,
    seconds: Annotated[float, typer.Option("--seconds", min=0.001, max=86400.0, help="Time the query may take.")] = 60.0,
    memory: Annotated[float, typer.Option("--memory", min=1.0, max=1e6, help="Memory it may take, in MB.")] = 2000.0,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, query, print or write."""
    from gapbook.commands.printing import print_json
    from gapbook.errors import fail
    from gapbook.screens import page, tables
    from gapbook.tables.opening import open_package
    from gapbook.tables.views import query, views
    from gapbook.tables.watching import Limits

    if list_views and (as_csv or parquet is not None):
        raise fail("usage", "--views goes with --json only", found="--csv" if as_csv else "--parquet", fix="Leave it out")
    opened = open_package(package)
    if list_views:
        found = views(opened)
        if as_json:
            print_json({"views": [tables.view_document(view) for view in found]})
        else:
            page.show(*tables.views_screen(found))
        return
    if statement is None:
        raise fail("usage", "sql needs a statement", fix="Write one SELECT in quotes, or --views")
    if as_csv and (as_json or parquet is not None):
        raise fail("usage", "a result has one form", found="--csv and another", fix="Ask for one of --json, --csv, --parquet")
    result = query(opened, statement, Limits(seconds, memory), _end)
    if parquet is not None:
        from gapbook.commands.written import told
        from gapbook.tables.results import write_parquet

        write_parquet(result, parquet)
        told(as_json, [parquet], {"rows": result.num_rows})
    elif as_csv:
        from gapbook.tables.results import csv_text

        page.write_data(csv_text(result))
    elif as_json:
        print_json({"columns": result.column_names, "rows": tables.json_rows(result)})
    else:
        page.show(*tables.result_screen(result))


def _end(error: GapbookError) -> NoReturn:
    """End the program, whatever it is in the middle of: exit status 2. Nothing has been written yet."""
    import os
    import sys

    from gapbook.screens.page import complain

    complain(error)
    sys.stderr.flush()
    os._exit(2)
