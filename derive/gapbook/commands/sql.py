"""`gapbook sql "SELECT ..."`."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from gapbook.commands.shared import JsonOption, PackageOption, print_json, print_written
from gapbook.errors import GapbookError, fail
from gapbook.screens import page
from gapbook.signs import safe_json
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package

if TYPE_CHECKING:
    from gapbook.tables.sql import Limits

HELP = """Run one read-only SELECT over the package's tables and views.

--views lists them with their columns and units. JSON: {"columns": [...], "rows": [{...}]}; of --views {"views": [{"name",
"description", "columns": [{"name", "type", "unit", "description"}]}]}; with --parquet {"written": [...], "rows": N}; a
figure that is no number (nan, inf) is null. Of columns with one name the later ones are numbered (a, a_2). A query that
takes more time or memory than its limits is stopped, and so is printing its result: the output then ends early."""


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
    from gapbook.tables.sql import Limits, csv_pieces, query, write_parquet

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
    limits, begun = Limits(seconds, memory), time.monotonic()
    result = query(opened, statement, limits, _end)
    taken = time.monotonic() - begun
    if parquet is not None:
        write_parquet(result, parquet)
        print_written([parquet], {"rows": result.num_rows}, as_json)
    elif as_csv:
        _print(map(page.as_data, csv_pieces(result)), limits, taken)
    elif as_json:
        _print(map(safe_json, tables.json_pieces(result)), limits, taken)
    else:
        page.show(*tables.result_screen(result))


def _print(pieces: Iterator[str], limits: Limits, taken: float) -> None:
    """Print a result piece by piece. GapbookError if making the pieces takes longer than is left of the limit of time.

    pieces: the parts of the text
    limits: what the query may take
    taken: what it took already [s]; waiting for whoever reads the text does not count
    """
    from gapbook.tables.sql import too_long  # late: see shared

    while True:
        begun = time.monotonic()
        piece = next(pieces, None)
        taken += time.monotonic() - begun
        if piece is None:
            return
        if taken > limits.seconds:
            raise too_long(limits)
        page.put(piece)


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
