"""`gapbook export --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json, print_rows
from gapbook.tables.opening import open_package

HELP = """Write the package as Parquet: all tables, raw and derived, with their units in the fields' metadata.

Beside them a descriptor (datapackage.json), checksums (SHA256SUMS) and a citation (CITATION.cff). DIR is new or empty, or
holds an earlier export, which is replaced whole. JSON: {"out", "rows": {TABLE: N}, "package": {"name", "version"}}."""


def export(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, write, say so."""
    from gapbook.tables.export import export as write  # late: see shared

    opened = open_package(package)
    rows = write(opened, out)
    with outcome():
        if as_json:
            print_json({"out": str(out), "rows": rows, "package": package_document(opened)})
        else:
            print_rows({f"{out / 'data' / name}.parquet": count for name, count in rows.items()})
