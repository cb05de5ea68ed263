"""`gapbook derive`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json, print_rows
from gapbook.screens import page
from gapbook.signs import safe
from gapbook.tables.opening import open_package

if TYPE_CHECKING:
    from gapbook.tables.drift import Drift
    from gapbook.tables.package import Package

SHOWN = 10
"""Rows of one table that are shown."""
HELP = """Recompute catalogue/derived from the catalogue.

Nothing is written unless everything asked for could be computed; each file is swapped in whole. JSON: {"written":
{TABLE: ROWS}, "package": {"name", "version"}}.

With --check nothing is written: it says which rows are not what follows from the catalogue (exit status 1 if there are any).
JSON: {"drift": [{"table", "row_key", "kind", "columns"}], "package"}; kind is "differs", "missing" or "left-over"."""


def derive(
    part: Annotated[list[str] | None, typer.Option("--part", help="beds, handling or mechanics; default all.")] = None,
    check: Annotated[bool, typer.Option("--check", help="Write nothing; say which rows differ.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, derive, print."""
    from gapbook.tables import derived  # late: see shared

    opened = open_package(package)
    if check:
        _check(opened, part, as_json)
        return
    rows = derived.derive(opened, part)
    with outcome():
        if as_json:
            print_json({"written": rows, "package": package_document(opened)})
        else:
            print_rows({opened.shown(name): count for name, count in rows.items()})


def _check(package: Package, part: list[str] | None, as_json: bool) -> None:
    from gapbook.tables.drift import drift  # late: see shared

    found = drift(package, part)
    with outcome(1 if found else 0):
        if as_json:
            print_json({"drift": [one.to_json() for one in found], "package": package_document(package)})
        elif not found:
            page.write("The derived tables are what follows from the catalogue.\n")
        else:
            page.write("".join(f"{line}\n" for line in _lines(package, found)))


def _lines(package: Package, found: list[Drift]) -> list[str]:
    """What differs, table by table."""
    lines = []
    for table in dict.fromkeys(one.table for one in found):
        rows = [one for one in found if one.table == table]
        lines.append(f"{safe(package.shown(table))}: {len(rows):,} rows are not what follows from the catalogue")
        for one in rows[:SHOWN]:
            columns = f": {', '.join(one.columns[:3])}{' ...' if len(one.columns) > 3 else ''}" if one.columns else ""
            lines.append(f"  {safe(one.row_key) or 'the header'} {one.kind}{safe(columns)}")
        if len(rows) > SHOWN:
            lines.append(f"  and {len(rows) - SHOWN:,} more; --json lists all")
    return [*lines, "Run gapbook derive to put them right."]
