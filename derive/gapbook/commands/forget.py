"""`gapbook forget PERSON`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, DryRunOption, ReasonOption, WhoOption, run
from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption

HELP = f"""Take a person's name and id out of every table and log, and put a pseudonym in; readings stay.

{OUTCOME}"""


def forget(
    person: Annotated[str, typer.Argument(metavar="PERSON", help="The contributor_id.")],
    reason: ReasonOption,
    who: WhoOption,
    dry_run: DryRunOption = False,
    package: PackageOption = None,
    confidence: ConfidenceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan it, do it, print it."""
    from gapbook.intake import amendments  # late: see shared

    run(
        lambda opened: amendments.forget(opened, person),
        reason, who, dry_run=dry_run, package=package, confidence=confidence, as_json=as_json,
    )  # fmt: skip
