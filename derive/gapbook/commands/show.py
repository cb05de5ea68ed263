"""`gapbook show FRAME`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, UnitsOption, print_json
from gapbook.screens import page

if TYPE_CHECKING:
    from gapbook.catalogue import Catalogue
    from gapbook.questions.portrait import Portrait
    from gapbook.screens.frames import Copy

HELP = """Show everything known and derived about one frame, with its bed drawn.

--add puts weight on: "5 g at 680 mm" (from the butt), "0.2 oz at 26.5 in", "5 g at the tip", "10 g over 0-180 mm" or
"10 g at the grip" for a heavier grip, spread evenly.

JSON: {"frame", "scores", "handling", "with_additions", "mechanics", "specimens", "beds", "package"}, rows as in the tables
of these names; with_additions is null without --add, else {"additions", "added_mass_g", "added_swingweight_kgcm2",
"handling"}: additions have "text", "mass_g", "from_mm" and "to_mm", handling its columns from mass_g on."""

NAMED = "A frame_id; or the specimen_id of a measured copy: its frame is shown, with that copy's bed drawn."


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
    from gapbook.catalogue import open_catalogue  # late: see shared

    catalogue = open_catalogue(package)
    portrait = catalogue.show(frame, add or ())
    if as_json:
        print_json(portrait.model_dump(mode="json"))
        return
    from gapbook.questions.portrait import is_derived
    from gapbook.screens.frames import screen

    copy = _copy(catalogue, portrait, frame)
    page.show(*screen(portrait, copy, units, is_derived(catalogue.package, "handling")))


def _copy(catalogue: Catalogue, portrait: Portrait, named: str) -> Copy | None:
    """The copy that was named, else the first one, with its bed drawn and its stiffness; None if nobody measured one."""
    if not portrait.beds:
        return None
    from gapbook.pictures.terminal import alone, of_row  # late: numpy, which JSON and counted frames do not need
    from gapbook.questions.subjects import spellings
    from gapbook.screens.frames import ACROSS, ALONG, Copy

    ids = spellings(named)
    bed = next((row for row in portrait.beds if row["specimen_id"] in ids), portrait.beds[0])
    specimen = bed["specimen_id"]
    drawing = alone(of_row(bed, catalogue.strings(specimen)), page.width())
    stiffness = catalogue.stiffness_map(specimen, ACROSS, ALONG).tolist() if portrait.mechanics else None
    return Copy(specimen, drawing, stiffness)
