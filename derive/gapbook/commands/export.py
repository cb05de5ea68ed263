"""`gapbook export --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption

HELP = """Write the package as Parquet: all tables, raw and derived, with their units in the fields' metadata.

Beside them a descriptor (datapackage.json), checksums (SHA256SUMS) and a citation (CITATION.cff). DIR is new or empty, or
holds an earlier export, which is replaced whole. JSON: {"out", "rows": {TABLE: N}, "package": {"name", "version"}}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("export", help=HELP)(export)


def export(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, write, say so."""
    from gapbook.commands.printing import outcome, print_json
    from gapbook.screens import page
    from gapbook.screens.text import safe
    from gapbook.tables.export import export as write
    from gapbook.tables.opening import open_package

    opened = open_package(package)
    rows = write(opened, out)
    with outcome():
        if as_json:
            print_json({"out": str(out), "rows": rows, "package": {"name": opened.name, "version": opened.version}})
        else:
            page.write("".join(f"{safe(str(out / 'data' / name))}.parquet: {count:,} rows\n" for name, count in rows.items()))
