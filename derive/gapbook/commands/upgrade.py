"""`gapbook upgrade`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json
from gapbook.screens import page
from gapbook.signs import safe
from gapbook.tables.opening import open_package

HELP = """Add to an older package the optional tables and fields that came later: corrections, admissions, digests, ORCID iDs.

New tables are empty, new columns come last and are blank, and nothing else changes. Everything is added or nothing.
JSON: {"status", "added", "package"}; status is "upgraded", "would-upgrade" or "up-to-date"; added has "table" and "field", the
latter blank for a whole table."""


def upgrade(
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would be added; write nothing.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, add, say so."""
    from gapbook.tables.upgrading import upgrade as upgrading  # late: see shared

    opened = open_package(package)
    added = upgrading(opened, dry_run)
    status = "up-to-date" if not added else "would-upgrade" if dry_run else "upgraded"
    with outcome():
        if as_json:
            print_json({"status": status, "added": [one._asdict() for one in added], "package": package_document(opened)})
        elif not added:
            page.write("Nothing to add: the package has every table and field.\n")
        else:
            verb = "Would add" if dry_run else "Added"
            page.write(
                "".join(f"{verb} {safe(f'{one.table}.{one.field}' if one.field else f'table {one.table}')}\n" for one in added)
            )
            if not dry_run:
                page.write("Next: gapbook derive, then gapbook check\n")
