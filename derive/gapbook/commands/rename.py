"""`gapbook rename OLD NEW`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, Operation, TableOption, amending

HELP = f"""Give a frame, a specimen, an instrument, a person, a tester or a playtest another id, everywhere it is used.

{OUTCOME}"""


@amending
def rename(
    old: Annotated[str, typer.Argument(metavar="OLD", help="The id as it is.")],
    new: Annotated[str, typer.Argument(metavar="NEW", help="The id it is to have.")],
    table: TableOption = None,
) -> Operation:
    """Plan it."""
    from gapbook.intake import amendments  # late: see shared

    return lambda opened: amendments.rename(opened, old, new, table)
