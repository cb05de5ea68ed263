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

HELP = """Show everything known and derived about one frame, your own measured copy, or a bare pattern, with its bed drawn.

A pattern, 16x19 or "16x19 98 sq in", is a bed that nobody measured: it is estimated from its counts. Without a head area, that
of the package's frames of this pattern is assumed, and said.

--add puts weight on: "5 g at 680 mm" (from the butt), "0.2 oz at 26.5 in", "5 g at the tip", "10 g over 0-180 mm" or
"10 g at the grip" for a heavier grip, spread evenly.

JSON: {"name", "kind", "frame", "scores", "handling", "with_additions", "mechanics", "specimens", "beds", "budgets",
"handling_own", "assumed_head", "package"}, rows as in the tables of these names. kind is frame, folder or pattern; of a
folder, scores and mechanics are its copy's, and handling_own names what was read on it; assumed_head is null, or
{"median_cm2", "spread_percent", "frames", "of_pattern"} if a pattern was named without a head area. with_additions is null
without --add, else {"additions", "added_mass_g", "added_swingweight_kgcm2", "handling"}: additions have "text", "mass_g",
"from_mm" and "to_mm", handling its columns from mass_g on. budgets says of each bed {"specimen_id", "parts", "largest",
"advice"}: parts are {"part", "share", "basis"} of u² of the openness in the centre, the largest first; basis is read,
stated, pooled or assumed."""

NAMED = (
    "A frame_id; a specimen_id, whose frame is shown with that copy's bed drawn; the folder of your own readings; or a "
    "pattern such as 16x19."
)


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
    # late: numpy, which JSON and counted frames do not need
    from gapbook.pictures.terminal import alone, of_row
    from gapbook.questions.subjects import spellings
    from gapbook.screens.frames import ACROSS, ALONG, Copy
    from gapbook.tables.copies import give_of, map_of

    ids = spellings(named)
    bed = next((row for row in portrait.beds if row["specimen_id"] in ids), portrait.beds[0])
    specimen = bed["specimen_id"]
    strings = catalogue.strings(named if portrait.kind == "folder" else specimen)
    drawing = alone(of_row(bed, strings), page.width())
    head = bed["head_width_mm"], bed["head_length_mm"], bed["head_exponent"]
    stiffness = map_of(strings, head, ACROSS, ALONG).tolist() if portrait.mechanics else None
    return Copy(specimen, drawing, stiffness, give_of(strings, head) if portrait.mechanics else None)
