"""`gapbook rename OLD NEW`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, DryRunOption, ReasonOption, TableOption, WhoOption, run
from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption

HELP = f"""Give a frame, a specimen, an instrument, a person, a tester or a playtest another id, everywhere it is used.

{OUTCOME}"""


def rename(
    old: Annotated[str, typer.Argument(metavar="OLD", help="The id as it is.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The id it is to have.")],
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
        lambda opened: amendments.rename(opened, old, new, table),
        reason, who, dry_run=dry_run, package=package, confidence=confidence, as_json=as_json,
    )  # fmt: skip
