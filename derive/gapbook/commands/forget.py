"""`gapbook forget PERSON`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.amending import OUTCOME, Operation, amending

HELP = f"""Take a person's name and id out of every table and log, and put a pseudonym in; readings stay.

{OUTCOME}"""


@amending
def forget(
    person: Annotated[str, typer.Argument(metavar="PERSON", help="The contributor_id.")],
) -> Operation:
    """Plan it."""
    from gapbook.intake import amendments  # late: see shared

    return lambda opened: amendments.forget(opened, person)
