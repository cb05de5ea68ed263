"""`gapbook withdraw SPECIMEN|SESSION|ROW`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, DryRunOption, ReasonOption, TableOption, WhoOption, run
from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption

HELP = f"""Take out a specimen with all its readings, the rows of a session, or one row, and remember it.

A session is named by parts of its rows' keys, such as fern-98-a/tam-veldrick/calliper-tam/2023-12-18.

{OUTCOME}"""


def withdraw(
    what: Annotated[str, typer.Argument(metavar="SPECIMEN|SESSION|ROW", help="An id, or a row's key or parts of it.")],
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
        lambda opened: amendments.withdraw(opened, what, table),
        reason, who, dry_run=dry_run, package=package, confidence=confidence, as_json=as_json,
    )  # fmt: skip
