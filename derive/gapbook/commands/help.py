"""`gapbook help [TOPIC]`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.screens import page

HELP = """Tell about a topic: phrases of questions, how a bed is read, what the scores mean, or exit codes.

Without a topic, it lists them. gapbook COMMAND --help tells about a command."""


def help(
    topic: Annotated[str | None, typer.Argument(metavar="TOPIC", help="phrases, reading, scores or exit-codes.")] = None,
) -> None:
    """Look up, print."""
    from gapbook.screens.topics import told  # late: see shared

    page.write(told(topic))
