"""`gapbook withdraw SPECIMEN|SESSION|ROW`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, Operation, TableOption, amending

HELP = f"""Take out a specimen with all its readings, the rows of a session, or one row, and remember it.

A session is named by parts of its rows' keys, such as fern-98-a/tam-veldrick/calliper-tam/2023-12-18.

{OUTCOME}"""


@amending
def withdraw(
    what: Annotated[str, typer.Argument(metavar="SPECIMEN|SESSION|ROW", help="An id, or a row's key or parts of it.")],
    table: TableOption = None,
) -> Operation:
    """Plan it."""
    from gapbook.intake import amendments  # late: see shared

    return lambda opened: amendments.withdraw(opened, what, table)
