"""`gapbook admit PATH`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import (
    ConfidenceOption,
    JsonOption,
    PackageOption,
    checked_confidence,
    outcome,
    package_document,
    print_json,
)
from gapbook.errors import fail
from gapbook.screens import page
from gapbook.tables.opening import open_package

if TYPE_CHECKING:
    from gapbook.intake.admit import Acceptance

HELP = """Check a contribution and add its rows to the catalogue: all of them or none.

PATH is a folder with CSVs of the catalogue's tables, holding the contribution's own rows. Errors refuse it, and so do
warnings that nobody accepted; an accepted one is written to exceptions.csv with its reason and who says so, a contributor the
catalogue has already, in the same step. Rows the catalogue has already are passed over. What is derived is computed anew and
put in place together with the rows. Cells stay as they were written.

JSON: {"status", "dry_run", "rows", "already_there", "accepted", "open", "change", "check", "package"}; status is
"admitted", "admissible" (on a dry run), "already-there" or "refused"; rows and already_there count by table; accepted and
open are findings; change is null, or {"beds", "uncertainty_only", "new_frames", "verdicts"}; a bed has "specimen_id",
"frame_id", "new", "zones", a zone "zone", "before", "after", "difference_percent"; verdicts has "confidence", "pairs",
"changed", "frames", each "frame_id", "changed", "against" (the first five); check is the document of gapbook check.

Exit status: 0 admitted, nothing to add, or would be; 1 refused; 2 bad usage, or a package that cannot be used."""


def admit(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="Folder of the contribution.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would change; write nothing.")] = False,
    accept: Annotated[list[str] | None, typer.Option("--accept", help="Code of a warning to accept; repeatable.")] = None,
    reason: Annotated[str | None, typer.Option("--reason", help="Why it is accepted.")] = None,
    who: Annotated[str | None, typer.Option("--who", help="contributor_id of who accepts it; one the catalogue has.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, admit, print."""
    from gapbook.intake.admit import Terms, document  # late: see shared
    from gapbook.intake.admit import admit as add
    from gapbook.screens.admit import Typed, offer, screen

    codes = tuple(accept or ())
    sure = checked_confidence(confidence)
    terms = Terms(_acceptance(codes, reason, who), dry_run, sure)
    opened = open_package(package)
    admission = add(opened, path, terms, page.Progress())
    with outcome(1 if admission.status == "refused" else 0):
        if as_json:
            print_json({**document(admission, terms), "package": package_document(opened)})
        else:
            page.show(*screen(admission, str(path)))
            if line := offer(admission, Typed(path, package, dry_run, confidence, codes, reason, who)):
                page.write(f"  {line}\n")


def _acceptance(codes: tuple[str, ...], reason: str | None, who: str | None) -> Acceptance | None:
    """What the options accept; None if nothing. GapbookError unless code, reason and person are given together."""
    from gapbook.intake.admit import Acceptance  # late: see shared

    if not codes and reason is None and who is None:
        return None
    reason, who = (reason or "").strip(), (who or "").strip()
    if not codes or not reason or not who:
        expected = "--accept CODE --reason TEXT --who CONTRIBUTOR_ID"
        raise fail("usage", "accepting a warning takes its code, a reason and who says so", expected=expected)
    return Acceptance(codes, reason, who)
