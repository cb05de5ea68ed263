"""`gapbook show FRAME`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption, UnitsOption

HELP = """Show everything known and derived about one frame, with its bed drawn.

JSON: {"frame", "scores", "handling", "specimens", "beds", "package"}, rows as in the tables of these names."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("show", help=HELP)(show)


def show(
    frame: Annotated[str, typer.Argument(help="A frame_id, or a specimen_id for its frame.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Open, look up, print."""
    from gapbook.catalogue import open_catalogue
    from gapbook.commands.printing import print_json
    from gapbook.screens import page

    catalogue = open_catalogue(package)
    found = catalogue.show(frame)
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    from gapbook.pictures import plain
    from gapbook.screens.frames import screen

    bed = next((row for row in found.beds if row["specimen_id"] == frame), found.beds[0] if found.beds else None)
    drawing: list[str] = []
    if bed is not None:
        hoop = plain.Hoop(bed["head_width_mm"], bed["head_length_mm"], bed["head_exponent"])
        mains, slopes, crosses = (line.tolist() for line in catalogue.strings(bed["specimen_id"]))
        drawing = [*plain.bed(mains, slopes, crosses, hoop), plain.LEGEND]
    page.show(*screen(found, drawing, bed["specimen_id"] if bed else None, units))
