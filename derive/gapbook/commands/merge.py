"""`gapbook merge A B`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, DryRunOption, ReasonOption, TableOption, WhoOption, run
from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption

HELP = f"""Make one of two frames, people, copies or instruments that are one: B goes, and what named B names A.

Readings that would meet get the next repeat numbers; the very same figures are kept once.

{OUTCOME}"""


def merge(
    kept: Annotated[str, typer.Argument(metavar="A", help="The id that stays.")],
    other: Annotated[str, typer.Argument(metavar="B", help="The id that goes.")],
    reason: ReasonOption,
    who: WhoOption,
    table: TableOption = None,
    dry_run: DryRunOption = False,
    package: PackageOption = None,
    confidence: ConfidenceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan it, do it, print it."""
    from gapbook.intake import amendments  # late: see shared

    run(
        lambda opened: amendments.merge(opened, kept, other, table),
        reason, who, dry_run=dry_run, package=package, confidence=confidence, as_json=as_json,
    )  # fmt: skip
