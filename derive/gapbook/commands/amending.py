"""What the commands that change what was admitted share: their options, and how they run and print an operation."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Annotated, Any

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

if TYPE_CHECKING:
    from gapbook.intake.amending import Operation as Operation
else:
    Operation = Any  # late: see shared; options are read from annotations, and this one is none

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


def amending(plan: Callable[..., Operation]) -> Callable[..., None]:
    """The command that does the operation which `plan` gives, and prints what became of it. Its arguments and options are those
    of `plan` and those that all such commands have.
    """
    own = list(inspect.signature(plan, eval_str=True).parameters.values())
    common = list(inspect.signature(_done, eval_str=True).parameters.values())[1:]
    named = [one for one in own if one.default is one.empty]
    others = [one for one in own if one.default is not one.empty]

    @wraps(plan)
    def command(**given: Any) -> None:
        _done(plan(**{one.name: given.pop(one.name) for one in own}), **given)

    whole = [*named, *common[:2], *others, *common[2:]]
    command.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [one.replace(kind=inspect.Parameter.KEYWORD_ONLY) for one in whole]
    )
    return command


def _done(
    operation: Operation,
    reason: ReasonOption,
    who: WhoOption,
    dry_run: DryRunOption = False,
    package: PackageOption = None,
    confidence: ConfidenceOption = None,
    as_json: JsonOption = False,
) -> None:
    from gapbook.intake.amending import Terms, amend  # late: see shared
    from gapbook.screens.amended import screen

    opened = open_package(package)
    terms = Terms(reason.strip(), who.strip(), dry_run, checked_confidence(confidence))
    amended = amend(opened, operation, terms, report)
    with outcome(1 if amended.status == "refused" else 0):
        if as_json:
            said = amended.to_json()
            print_json({"status": said.pop("status"), "dry_run": dry_run, **said, "package": package_document(opened)})
        else:
            page.show(*screen(amended))
