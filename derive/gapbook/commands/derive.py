"""`gapbook derive`."""

from __future__ import annotations

import re
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json, print_rows
from gapbook.errors import fail
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
JSON: {"drift": [{"table", "row_key", "kind", "columns"}], "package"}; kind is "differs", "missing" or "left-over".

With --out DIR the tables are written there, as Parquet or CSV, and the package stays as it is; DIR is new or empty, or holds
what was written so before. JSON: {"out", "rows": {TABLE: N}, "package"}.

With --memory, spacings larger than that are dealt into temporary files first and gone over file by file, by one process.

--engine spark (pip install 'gapbook[spark]', Java 17 or newer) goes over spacings that outgrow one machine. Specimens that
cannot be used are then left out, and DIR has a table `rejects` that names each, why, and how to mend it."""
Engine = StrEnum("Engine", ["local", "spark"])


def derive(
    part: Annotated[list[str] | None, typer.Option("--part", help="beds, handling or mechanics; default all.")] = None,
    check: Annotated[bool, typer.Option("--check", help="Write nothing; say which rows differ.")] = False,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Folder to write, instead of the package.")] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="With --out: CSV instead of Parquet.")] = False,
    engine: Annotated[Engine, typer.Option("--engine", help="What goes over the spacings; spark needs --out.")] = Engine.local,
    master: Annotated[str | None, typer.Option("--master", help="Spark's master; default local[*].")] = None,
    parts: Annotated[int | None, typer.Option("--parts", metavar="N", min=1, help="Spark's partitions.")] = None,
    spacings: Annotated[
        str | None, typer.Option("--spacings", metavar="URI", help="Parquet that Spark reads instead of the package's.")
    ] = None,
    memory: Annotated[
        str | None, typer.Option("--memory", metavar="SIZE", help="About how much memory to take, as 800MB or 1GB.")
    ] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, derive, print."""
    from gapbook.tables import derived  # late: see shared

    is_spark = engine is Engine.spark
    _must_go_together(
        {"--check with --out": check and out is not None, "--csv without --out": as_csv and out is None}
        | {"--engine spark without --out": is_spark and out is None}
        | {"--memory with --check or --engine spark": memory is not None and (check or is_spark)}
        | {"--master, --parts or --spacings without --engine spark": any((master, parts, spacings)) and not is_spark}
    )
    size = None if memory is None else _bytes(memory)
    opened = open_package(package)
    if check:
        _check(opened, part, as_json)
        return
    if out is not None:
        from gapbook.tables.derived_out import Cluster, derive_into  # late: see shared

        cluster = Cluster(master, parts, spacings) if is_spark else None
        rows = derive_into(opened, out, part, "csv" if as_csv else "parquet", cluster, size)
        with outcome():
            if as_json:
                print_json({"out": str(out), "rows": rows, "package": package_document(opened)})
            else:
                print_rows({f"{out / 'data' / name}.{'csv' if as_csv else 'parquet'}": count for name, count in rows.items()})
        return
    rows = derived.derive(opened, part, memory=size)
    with outcome():
        if as_json:
            print_json({"written": rows, "package": package_document(opened)})
        else:
            print_rows({opened.shown(name): count for name, count in rows.items()})


def _bytes(text: str) -> int:
    """A size in bytes. GapbookError unless it is a number and one of MB and GB."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?) ?(MB|GB)", text.strip(), re.ASCII | re.IGNORECASE)
    if found is None:
        raise fail("usage", "no size", found=repr(text), expected="a number of MB or GB, as 800MB or 1GB")
    return int(float(found[1]) * (1e6 if found[2].upper() == "MB" else 1e9))


def _must_go_together(refused: dict[str, bool]) -> None:
    """GapbookError for the first pair of options that do not go together."""
    for options, are_given in refused.items():
        if are_given:
            raise fail("usage", f"{options} does not go")


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
