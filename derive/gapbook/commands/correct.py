"""`gapbook correct ROW --value V`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, DryRunOption, ReasonOption, TableOption, WhoOption, run
from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption

HELP = f"""Give one cell of an admitted row another value, and remember the old one.

ROW is the row's key as check shows it, or parts of it that no other row has, such as fern-98-a/main/0/7.

{OUTCOME}"""


def correct(
    row: Annotated[str, typer.Argument(metavar="ROW", help="The row's key, or parts of it.")],
    value: Annotated[str, typer.Option("--value", help="The new value, as it is to be written.")],
    reason: ReasonOption,
    who: WhoOption,
    column: Annotated[str, typer.Option("--column", help="The column.")] = "value",
    table: TableOption = None,
    dry_run: DryRunOption = False,
    package: PackageOption = None,
    confidence: ConfidenceOption = None,
    as_json: JsonOption = False,
) -> None:
    """Plan it, do it, print it."""
    from gapbook.intake import amendments  # late: see shared

    run(
        lambda opened: amendments.correct(opened, row, column, value, table),
        reason, who, dry_run=dry_run, package=package, confidence=confidence, as_json=as_json,
    )  # fmt: skip
