"""`gapbook derive`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json, print_rows
from gapbook.tables.opening import open_package

HELP = """Recompute catalogue/derived from the catalogue.

Nothing is written unless everything asked for could be computed; each file is swapped in whole. JSON: {"written":
{TABLE: ROWS}, "package": {"name", "version"}}."""


def derive(
    part: Annotated[list[str] | None, typer.Option("--part", help="beds, handling or mechanics; default all.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, derive, print."""
    from gapbook.tables import derived  # late: see shared

    opened = open_package(package)
    rows = derived.derive(opened, part)
    with outcome():
        if as_json:
            print_json({"written": rows, "package": package_document(opened)})
        else:
            print_rows({opened.shown(name): count for name, count in rows.items()})
