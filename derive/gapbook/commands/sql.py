"""`gapbook sql "SELECT ..."`."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from gapbook.commands.shared import JsonOption, PackageOption, print_json, print_written
from gapbook.errors import GapbookError, fail
from gapbook.screens import page
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package

HELP = """Run one read-only SELECT over the package's tables and views.

--views lists them with their columns and units. JSON: {"columns": [...], "rows": [{...}]}; of --views {"views": [{"name",
"description", "columns": [{"name", "type", "unit", "description"}]}]}; with --parquet {"written": [...], "rows": N}; a
figure that is no number (nan, inf) is null. Of columns with one name the later ones are numbered (a, a_2). A query that
takes more time or memory than its limits is stopped."""


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
    from gapbook.screens import tables  # late: see shared
    from gapbook.tables.sql import Limits, csv_text, query, write_parquet

    if list_views and (as_csv or parquet is not None):
        raise fail("usage", "--views goes with --json only", found="--csv" if as_csv else "--parquet", fix="Leave it out")
    opened = open_package(package)
    if list_views:
        _print_views(opened, as_json)
        return
    if statement is None:
        raise fail("usage", "sql needs a statement", fix="Write one SELECT in quotes, or --views")
    if as_csv and (as_json or parquet is not None):
        raise fail("usage", "a result has one form", found="--csv and another", fix="Ask for one of --json, --csv, --parquet")
    result = query(opened, statement, Limits(seconds, memory), _end)
    if parquet is not None:
        write_parquet(result, parquet)
        print_written([parquet], {"rows": result.num_rows}, as_json)
    elif as_csv:
        page.write_data(csv_text(result))
    elif as_json:
        print_json({"columns": result.column_names, "rows": tables.json_rows(result)})
    else:
        page.show(*tables.result_screen(result))


def _print_views(package: Package, as_json: bool) -> None:
    from gapbook.screens import tables  # late: see shared
    from gapbook.tables.views import views

    listed = views(package)
    if as_json:
        print_json({"views": [tables.view_document(view) for view in listed]})
    else:
        page.show(*tables.views_screen(listed))


def _end(error: GapbookError) -> NoReturn:
    """End the program with exit status 2, whatever it is doing. Nothing has been written yet."""
    page.complain(error)
    sys.stderr.flush()
    os._exit(2)
