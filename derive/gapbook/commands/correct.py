"""`gapbook correct ROW --value V`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, Operation, TableOption, amending

HELP = f"""Give one cell of an admitted row another value, and remember the old one.

ROW is the row's key as check shows it, or parts of it that no other row has, such as fern-98-a/main/0/7.

{OUTCOME}"""


@amending
def correct(
    row: Annotated[str, typer.Argument(metavar="ROW", help="The row's key, or parts of it.")],
    value: Annotated[str, typer.Option("--value", help="The new value, as it is to be written.")],
    column: Annotated[str, typer.Option("--column", help="The column.")] = "value",
    table: TableOption = None,
) -> Operation:
    """Plan it."""
    from gapbook.intake import amendments  # late: see shared

    return lambda opened: amendments.correct(opened, row, column, value, table)
