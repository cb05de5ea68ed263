"""`gapbook admit PATH`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.options import ConfidenceOption, JsonOption, PackageOption, checked_confidence
from gapbook.science.comparison import CONFIDENCE

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


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("admit", help=HELP)(admit)


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
    from gapbook.commands.printing import outcome, print_json
    from gapbook.intake.admit import Terms, document
    from gapbook.intake.admit import admit as add
    from gapbook.screens import page
    from gapbook.screens.page import Progress
    from gapbook.tables.opening import open_package

    codes = accept or []
    sure = CONFIDENCE if confidence is None else checked_confidence(confidence)
    terms = Terms(_acceptance(codes, reason, who), dry_run, sure)
    opened = open_package(package)
    found = add(opened, path, terms, Progress())
    with outcome(1 if found.status == "refused" else 0):
        if as_json:
            print_json({**document(found, terms), "package": {"name": opened.name, "version": opened.version}})
        else:
            from gapbook.screens.admit import Typed, offer, screen

            page.show(*screen(found, str(path)))
            if line := offer(found, Typed(str(path), _options(package, dry_run, confidence), tuple(codes), reason, who)):
                page.write(f"  {line}\n")


def _options(package: Path | None, dry_run: bool, confidence: float | None) -> tuple[str, ...]:
    """The options that a next command keeps, as they were given."""
    where = () if package is None else ("--package", str(package))
    sure = () if confidence is None else ("--confidence", repr(confidence))
    return (*where, *(["--dry-run"] if dry_run else []), *sure)


def _acceptance(codes: list[str], reason: str | None, who: str | None) -> Acceptance | None:
    """What the options accept; GapbookError where a code comes without reason and person, or these without a code."""
    from gapbook.errors import fail
    from gapbook.intake.admit import Acceptance

    if not codes and reason is None and who is None:
        return None
    reason, who = (reason or "").strip(), (who or "").strip()
    if not codes or not reason or not who:
        expected = "--accept CODE --reason TEXT --who CONTRIBUTOR_ID"
        raise fail("usage", "accepting a warning takes its code, a reason and who says so", expected=expected)
    return Acceptance(tuple(codes), reason, who)
