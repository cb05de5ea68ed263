"""`gapbook history SPECIMEN|FRAME`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, package_document, print_json
from gapbook.screens import page
from gapbook.tables.opening import open_package

HELP = """What happened to a specimen, a frame with its copies, or another id: when it was read, admitted of which contribution
and by whom, accepted, corrected and why.

JSON: {"id", "events", "package"}; an event has "on", "what", "table", "row_key", "detail", "who", "reason"."""


def history(
    name: Annotated[str, typer.Argument(metavar="SPECIMEN|FRAME", help="The id.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, look, print."""
    from gapbook.intake.history import history as events_of  # late: see shared
    from gapbook.screens import amended

    opened = open_package(package)
    events = events_of(opened, name)
    if as_json:
        print_json({"id": name, "events": [one.to_json() for one in events], "package": package_document(opened)})
    else:
        page.show(*amended.history(name, events))
