"""`gapbook release VERSION`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, package_document, print_json
from gapbook.progress import report
from gapbook.screens import page
from gapbook.tables.opening import open_package

HELP = """Release a version of the package: check it, state the version, write CHANGELOG.md, CITATION.cff and the export.

It is refused if a check finds errors or if a derived table does not follow from the catalogue; then nothing is written. The
changelog lists frames and beds that were added, beds that changed by more than their standard uncertainty since the export of
the version before (--since, else the one in --out), corrections, withdrawals and contributions. CITATION.cff names the
contributors, with their ORCID iDs.

JSON: {"version", "status", "errors", "drift", "rows", "changes", "package"}; status is "released" or "refused".

Exit status: 0 released; 1 refused; 2 bad usage, or a package that cannot be used."""


def release(
    version: Annotated[str, typer.Argument(metavar="VERSION", help="MAJOR.MINOR.PATCH, above the one the package has.")],
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder of the export, as of gapbook export.")],
    since: Annotated[Path | None, typer.Option("--since", metavar="DIR", help="Export of the version before.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, release, print."""
    from gapbook.intake.release import release as make  # late: see shared
    from gapbook.screens.findings import screen

    opened = open_package(package)
    made = make(opened, version, out, since, say=report)
    with outcome(1 if made.is_refused else 0):
        if as_json:
            print_json({**made.to_json(), "package": package_document(opened)})
        elif made.report.errors:
            page.show(*screen(made.report, f"Not released: {opened.name}"))
        elif made.drift:
            page.write(f"Not released: {len(made.drift):,} rows of derived tables do not follow from the catalogue.\n")
            page.write("gapbook derive --check names them; gapbook derive puts them right.\n")
        else:
            page.write_data(f"Released {version}; the export is in {out}.\n\n{made.changes}")
