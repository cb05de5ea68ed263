"""`gapbook derive`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption

HELP = """Recompute catalogue/derived from the catalogue.

Nothing is written unless everything asked for could be computed; each file is swapped in whole. JSON: {"written":
{TABLE: ROWS}, "package": {"name", "version"}}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("derive", help=HELP)(derive)


def derive(
    part: Annotated[list[str] | None, typer.Option("--part", help="beds, handling or mechanics; default all.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, derive, print."""
    from gapbook.commands.printing import outcome, print_json
    from gapbook.screens import page
    from gapbook.tables import regenerate
    from gapbook.tables.opening import open_package

    opened = open_package(package)
    rows = regenerate.derive(opened, part)
    with outcome():
        if as_json:
            print_json({"written": rows, "package": {"name": opened.name, "version": opened.version}})
        else:
            page.write("".join(f"{opened.shown(name)}: {count:,} rows\n" for name, count in rows.items()))
