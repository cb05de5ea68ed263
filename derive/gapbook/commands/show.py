"""`gapbook show FRAME`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption, UnitsOption

HELP = """Show everything known and derived about one frame, with its bed drawn.

--add puts weight on: "5 g at 680 mm" (from the butt), "0.2 oz at 26.5 in", "5 g at the tip", "10 g over 0-180 mm" or
"10 g at the grip" for a heavier grip, spread evenly.

JSON: {"frame", "scores", "handling", "with_additions", "mechanics", "specimens", "beds", "package"}, rows as in the tables
of these names; with_additions is null without --add, else {"additions", "added_mass_g", "added_swingweight_kgcm2",
"handling"}: additions have "text", "mass_g", "from_mm" and "to_mm", handling its columns from mass_g on."""

NAMED = "A frame_id; or the specimen_id of a measured copy: its frame is shown, with that copy's bed drawn."


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("show", help=HELP)(show)


def show(
    frame: Annotated[str, typer.Argument(help=NAMED)],
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    add: Annotated[
        list[str] | None, typer.Option("--add", metavar="'MASS at PLACE'", help="Weight put on; may be given again.")
    ] = None,
) -> None:
    """Open, look up, print."""
    from gapbook.catalogue import open_catalogue
    from gapbook.commands.printing import print_json
    from gapbook.screens import page

    catalogue = open_catalogue(package)
    found = catalogue.show(frame, add or ())
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    from gapbook.pictures.terminal import alone, of_row
    from gapbook.questions.portrait import is_derived
    from gapbook.questions.subjects import spellings
    from gapbook.screens.frames import ACROSS, ALONG, Copy, screen

    named = spellings(frame)
    bed = next((row for row in found.beds if row["specimen_id"] in named), found.beds[0] if found.beds else None)
    copy = None
    if bed is not None:
        drawing = alone(of_row(bed, catalogue.strings(bed["specimen_id"])), page.width())
        struck = catalogue.stiffness_map(bed["specimen_id"], ACROSS, ALONG).tolist() if found.mechanics else None
        copy = Copy(bed["specimen_id"], drawing, struck)
    page.show(*screen(found, copy, units, is_derived(catalogue.package, "handling")))
