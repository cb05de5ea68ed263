"""`gapbook export --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json, print_rows
from gapbook.tables.opening import open_package

HELP = """Write the package as Parquet, or as CSV: all tables and views, with their units.

Beside them a descriptor (datapackage.json), checksums (SHA256SUMS) and a citation (CITATION.cff). DIR is new or empty, or
holds an earlier export, which is replaced whole. An export answers questions itself (--package DIR), but is read-only.
With --raw only what was read off frames, which needs nothing derived; --partitions N cuts its spacings into N Parquet files,
as Spark likes them. JSON: {"out", "rows": {TABLE: N}, "package": {"name", "version"}}."""


def export(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write.")],
    as_csv: Annotated[bool, typer.Option("--csv", help="CSV instead of Parquet.")] = False,
    raw: Annotated[bool, typer.Option("--raw", help="Raw tables only; nothing need be derived first.")] = False,
    partitions: Annotated[int, typer.Option("--partitions", metavar="N", min=1, help="Parquet files of spacings.")] = 1,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, write, say so."""
    from gapbook.tables.export import export as write  # late: see shared

    opened = open_package(package)
    form = "csv" if as_csv else "parquet"
    rows = write(opened, out, form=form, raw=raw, partitions=partitions)
    with outcome():
        if as_json:
            print_json({"out": str(out), "rows": rows, "package": package_document(opened)})
        else:
            print_rows(
                {
                    str(out / "data" / (name if name == "spacings" and partitions > 1 else f"{name}.{form}")): count
                    for name, count in rows.items()
                }
            )
