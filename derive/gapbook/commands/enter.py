"""`gapbook enter SHEET-CSV`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, print_json
from gapbook.screens import page
from gapbook.screens.text import plural
from gapbook.signs import safe
from gapbook.tables.opening import open_package

HELP = """Type the figures of a measuring sheet, in its order, into the folder that gapbook sheet wrote.

A whole row of gaps or marks goes on one line, with blanks between: 10.2 10.1 9.8. Decimal commas and fractions of an inch
(12 15/16) are read. What cannot be is refused; a figure out of line with its neighbours is asked about, and at the end the
strings are held against the head's size. "-" for an inner edge or a reading says that it was not read, "back" goes back a line,
"stop" or the end of input stops. Every line is kept at once: the same command goes on where it stopped.
JSON: {"folder", "typed", "left", "doubts"}."""


def enter(
    folder: Annotated[Path, typer.Argument(metavar="SHEET-CSV", help="The folder that gapbook sheet wrote.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, ask, say what is left."""
    from gapbook.intake.entering import Entry  # late: see shared
    from gapbook.intake.entering import enter as entering

    entry = Entry(open_package(package), folder)
    is_full = entering(entry, lambda: sys.stdin.readline() or None, _say)
    with outcome():
        if as_json:
            print_json({"folder": str(folder), "typed": entry.typed, "left": entry.left, "doubts": entry.doubts})
        elif is_full:
            page.write(f"The sheet is full. Next: gapbook check {safe(str(folder))}\n")
        else:
            page.write(f"{plural(entry.left, 'figure')} left. Go on with: gapbook enter {safe(str(folder))}\n")


def _say(text: str) -> None:
    """Prompts and remarks go to stderr, so that stdout has the outcome only."""
    sys.stderr.write("\n".join(safe(line) for line in text.split("\n")))
    sys.stderr.flush()
