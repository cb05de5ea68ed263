"""What the commands that change what was admitted share: their options, and how they run and print an operation."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import checked_confidence, outcome, package_document, print_json
from gapbook.screens import page
from gapbook.tables.opening import open_package

if TYPE_CHECKING:
    from gapbook.intake.amending import Operation

ReasonOption = Annotated[str, typer.Option("--reason", help="Why, in words; it is kept in corrections.csv.")]
WhoOption = Annotated[str, typer.Option("--who", help="contributor_id of who decides it; one the catalogue has.")]
TableOption = Annotated[str | None, typer.Option("--table", help="The table it is in, if the id does not say it.")]
DryRunOption = Annotated[bool, typer.Option("--dry-run", help="Show what would change; write nothing.")]
OUTCOME = """What is derived is computed anew and put in place in the same step, and it is written to corrections.csv. If a
check would find new errors, it is refused.

JSON: {"status", "dry_run", "rows", "corrections", "findings", "change", "notes", "package"}; status is "changed",
"would-change" or "refused"; rows counts by table; a correction has "table", "row_key", "what", "column", "old", "new";
findings are new errors and warnings; change is as of gapbook admit.

Exit status: 0 changed, or would be; 1 refused; 2 bad usage, or nothing is called so."""
"""How each of these commands ends its help."""


def run(
    operation: Operation,
    reason: str,
    who: str,
    *,
    dry_run: bool,
    package: Path | None,
    confidence: float | None,
    as_json: bool,
) -> None:
    """Do an operation and print what became of it.

    operation: plans it.
    reason: why.
    who: who decides it.
    dry_run: whether nothing is written.
    package: the folder of the data package; None for the one at hand.
    confidence: how sure verdicts must be; None for the default.
    as_json: whether to print the JSON document.
    """
    from gapbook.intake.amending import Terms, amend  # late: see shared
    from gapbook.screens.amended import screen

    opened = open_package(package)
    terms = Terms(reason.strip(), who.strip(), dry_run, checked_confidence(confidence))
    amended = amend(opened, operation, terms, page.Progress())
    with outcome(1 if amended.status == "refused" else 0):
        if as_json:
            said = amended.to_json()
            print_json({"status": said.pop("status"), "dry_run": dry_run, **said, "package": package_document(opened)})
        else:
            page.show(*screen(amended))
