"""`gapbook sql "SELECT ..."`."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from gapbook.commands.shared import BesideOption, JsonOption, PackageOption, asked_package, print_json, print_written
from gapbook.errors import GapbookError, fail
from gapbook.screens import page
from gapbook.tables.files import LARGEST_TEXT, read_bytes
from gapbook.tables.package import Package

if TYPE_CHECKING:
    from gapbook.tables.sql import Limits

HELP = """Run one read-only SELECT over the package's tables and views.

The statement stands in quotes, in a file (--file), or comes from stdin (-). Each ? in it takes a --value. --with NAME=FILE
joins a table of yours, CSV with a header or Parquet; it is read first, then files are out of reach. --views lists tables and
views with their columns and units, --views NAME one of them, --views --markdown all of them as a data dictionary to print.

JSON: {"columns": [...], "rows": [{...}]}; --ndjson writes one row a line; of --views {"views": [{"name", "description",
"columns": [{"name", "type", "unit", "description"}]}]}; with --parquet {"written": [...], "rows": N}; a figure that is no
number (nan, inf) is null. Of columns with one name the later ones are numbered (a, a_2). A query that takes more time or
memory than its limits is stopped, and so is printing its result: the output then ends early."""


def sql(
    statement: Annotated[str | None, typer.Argument(help="One SELECT, in quotes; - for stdin; a name with --views.")] = None,
    list_views: Annotated[bool, typer.Option("--views", help="List views and columns.")] = False,
    markdown: Annotated[bool, typer.Option("--markdown", help="With --views: a data dictionary.")] = False,
    file: Annotated[Path | None, typer.Option("--file", metavar="FILE", help="File with the statement.")] = None,
    value: Annotated[list[str] | None, typer.Option("--value", metavar="V", help="Value of a ?, in order.")] = None,
    own: Annotated[list[str] | None, typer.Option("--with", metavar="NAME=FILE", help="A table of yours.")] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="CSV on stdout.")] = False,
    ndjson: Annotated[bool, typer.Option("--ndjson", help="One JSON object a row, one a line.")] = False,
    parquet: Annotated[Path | None, typer.Option("--parquet", metavar="FILE", help="Write it to a Parquet file.")] = None,
    seconds: Annotated[float, typer.Option("--seconds", min=0.001, max=86400.0, help="Time the query may take.")] = 60.0,
    memory: Annotated[float, typer.Option("--memory", min=1.0, max=1e6, help="Memory it may take, in MB.")] = 2000.0,
    package: PackageOption = None,
    beside: BesideOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, query, print or write."""
    from gapbook.screens import tables  # late: see shared
    from gapbook.tables.own_files import named_file, typed_value
    from gapbook.tables.results import csv_pieces, write_parquet
    from gapbook.tables.sql import Limits, query

    if list_views and (as_csv or ndjson or parquet is not None):
        found = "--csv" if as_csv else "--ndjson" if ndjson else "--parquet"
        raise fail("usage", "--views goes with --json and --markdown only", found=found, fix="Leave it out")
    if markdown and not list_views:
        raise fail("usage", "--markdown goes with --views", fix="Write --views --markdown")
    if list_views:
        with asked_package(package, beside) as opened:
            _print_views(opened, statement, as_json, markdown)
        return
    asked = _statement(statement, file)
    if len([form for form in (as_csv, ndjson, as_json and parquet is None, parquet is not None) if form]) > 1:
        raise fail("usage", "a result has one form", fix="Ask for one of --json, --ndjson, --csv, --parquet")
    theirs = dict(named_file(text) for text in own or ())
    values = [typed_value(text) for text in value or ()]
    limits, begun = Limits(seconds, memory), time.monotonic()
    with asked_package(package, beside) as opened:
        result = query(opened, asked, limits, _end, values, theirs)
    taken = time.monotonic() - begun
    if parquet is not None:
        write_parquet(result, parquet)
        print_written([parquet], {"rows": result.num_rows}, as_json)
    elif as_csv:
        _print(map(page.as_data, csv_pieces(result)), limits, taken)
    elif ndjson:
        _print(map(page.as_json, tables.json_lines(result)), limits, taken)
    elif as_json:
        _print(map(page.as_json, tables.json_pieces(result)), limits, taken)
    else:
        page.show(*tables.result_screen(result))


def _statement(statement: str | None, file: Path | None) -> str:
    """The statement, from where it stands. GapbookError if it stands nowhere or in two places."""
    if file is not None and statement is not None:
        raise fail("usage", "there are two statements", found="one in quotes and --file", fix="Leave one out")
    if file is not None:
        try:
            return read_bytes(file, str(file), largest=LARGEST_TEXT).decode("utf-8-sig")
        except UnicodeDecodeError:
            raise fail("encoding", f"{file} is not UTF-8") from None
    if statement == "-":
        return sys.stdin.read(LARGEST_TEXT)
    if statement is None:
        raise fail("usage", "sql needs a statement", fix="Write one SELECT in quotes, --file FILE, - for stdin, or --views")
    return statement


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


def _print_views(package: Package, name: str | None, as_json: bool, markdown: bool) -> None:
    from gapbook.screens import tables  # late: see shared
    from gapbook.screens.dictionary import dictionary
    from gapbook.tables.views import views_named

    listed = views_named(package, name)
    if as_json:
        print_json({"views": [tables.view_document(view) for view in listed]})
    elif markdown:
        page.write_data(dictionary(package.name, package.version, listed))
    else:
        page.show(*tables.views_screen(listed))


def _end(error: GapbookError) -> NoReturn:
    """End the program with exit status 2, whatever it is doing. Nothing has been written yet."""
    page.complain(error)
    sys.stderr.flush()
    os._exit(2)
