"""`gapbook admit PATH`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

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
from gapbook.progress import report
from gapbook.screens import page
from gapbook.tables.opening import open_package

HELP = """Check a contribution and add its rows to the catalogue: all of them or none.

PATH is a folder with CSVs of the catalogue's tables, holding the contribution's own rows. Errors refuse it, and so do
warnings that nobody accepted; an accepted one is written to exceptions.csv with its reason and who says so, a contributor the
catalogue has already, in the same step. A warning is accepted by its code and the row it stands at, or parts of the row's
key (--accept gap-out-of-line@tarn-95-a/cross/0/9); --one-by-one shows each on a terminal and asks for the reason. Rows the
catalogue has already are passed over. What is derived is computed anew and put in place together with the rows. Cells stay
as they were written.

JSON: {"status", "dry_run", "rows", "already_there", "accepted", "open", "change", "check", "package"}; status is
"admitted", "admissible" (on a dry run), "already-there" or "refused"; rows and already_there count by table; accepted and
open are findings; change is null, or {"beds", "uncertainty_only", "new_frames", "verdicts"}; a bed has "specimen_id",
"frame_id", "new", "zones", a zone "zone", "before", "after", "difference_percent"; verdicts has "confidence", "pairs",
"changed", "frames", each "frame_id", "changed", "against" (the first five); check is the document of gapbook check.

Exit status: 0 admitted, nothing to add, or would be; 1 refused; 2 bad usage, or a package that cannot be used."""


def admit(
    path: Annotated[Path, typer.Argument(metavar="PATH", help="Folder of the contribution.")],
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would change; write nothing.")] = False,
    accept: Annotated[list[str] | None, typer.Option("--accept", help="CODE@ROW of a warning to accept; repeatable.")] = None,
    all_of: Annotated[list[str] | None, typer.Option("--all-of", help="CODE of which all are accepted; repeatable.")] = None,
    one_by_one: Annotated[bool, typer.Option("--one-by-one", help="Ask for each open warning (needs --who).")] = False,
    reason: Annotated[str | None, typer.Option("--reason", help="Why it is accepted.")] = None,
    who: Annotated[str | None, typer.Option("--who", help="contributor_id of who admits; one the catalogue has.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    markdown: Annotated[bool, typer.Option("--markdown", help="As Markdown, for a pull request's comment.")] = False,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, admit, print."""
    from gapbook.commands.accepting import acceptance_of, ask
    from gapbook.intake.admit import Terms, document  # late: see shared
    from gapbook.intake.admit import admit as add
    from gapbook.screens.admission_markdown import admission_markdown
    from gapbook.screens.admit import Asked, Typed, offer, screen

    sure = checked_confidence(confidence)
    asked = Asked(tuple(accept or ()), tuple(all_of or ()), reason, who)
    terms = Terms(acceptance_of(asked, one_by_one), dry_run, sure, who=(who or "").strip())
    opened = open_package(package)
    admission = add(opened, path, terms, report)
    if one_by_one and admission.open and not admission.report.errors:
        terms = replace(terms, acceptance=ask(admission.open, terms.acceptance, str(who)))
        admission = add(opened, path, terms, report)
    with outcome(1 if admission.status == "refused" else 0):
        if as_json:
            print_json({**document(admission, terms), "package": package_document(opened)})
        elif markdown:
            page.write_data(admission_markdown(admission, str(path)))
        else:
            page.show(*screen(admission, str(path)))
            if line := offer(admission, Typed(path, package, dry_run, confidence, asked)):
                page.write(f"  {line}\n")
