"""`gapbook merge A B`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, Operation, TableOption, amending

HELP = f"""Make one of two frames, people, copies or instruments that are one: B goes, and what named B names A.

Readings that would meet get the next repeat numbers; the very same figures are kept once.

{OUTCOME}"""


@amending
def merge(
    kept: Annotated[str, typer.Argument(metavar="A", help="The id that stays.")],
    other: Annotated[str, typer.Argument(metavar="B", help="The id that goes.")],
    table: TableOption = None,
) -> Operation:
    """Plan it."""
    from gapbook.intake import amendments  # late: see shared

    return lambda opened: amendments.merge(opened, kept, other, table)
