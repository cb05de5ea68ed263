"""`gapbook drill --head AREA --pattern MxC --centre MM --sides +P%`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import DarkOption, JsonOption, PackageOption, UnitsOption, outcome, print_json, print_written
from gapbook.screens import page
from gapbook.tables.opening import open_package

HELP = """Where strings would have to lie for the meshes you want in the centre and at the sides: smooth, alike on both sides,
in steps of 0.1 mm, and no gap below --least-gap. What cannot be had is said, and the nearest is given instead.

With --out the bed is drawn, and beside the picture stands a folder, named after it (drilling.svg and drilling-csv), that
gapbook compare and draw read. check and admit refuse it: nobody read it off a frame. A drawing is geometry; what a frame can
bear is not considered.
JSON: {"mains", "crosses", "head_area_cm2", "head_width_mm", "head_length_mm", "asked": {"centre_mm", "side_opening",
"least_gap_mm"}, "reached", "held_by", "mesh_mm": {ZONE: MM}, "side_opening", "denser_than_centre", "mains_x_mm",
"crosses_y_mm", "cautions", "written"}."""


def drill(
    head: Annotated[str, typer.Option("--head", help='Head area with its unit: "98 sq in" or "632 cm2".')],
    pattern: Annotated[str, typer.Option("--pattern", help="Mains and crosses: 16x19.")],
    centre: Annotated[str, typer.Option("--centre", help="Mesh wanted in the centre, mm.")],
    sides: Annotated[str, typer.Option("--sides", help='How much more open the sides are: +12%; or their mesh: "12.1 mm".')],
    least_gap: Annotated[float, typer.Option("--least-gap", help="The smallest gap, mm; also to the inner edge.")] = 7.0,
    out: Annotated[Path | None, typer.Option("--out", help="Picture to write: .svg, .png or .pdf.")] = None,
    dark: DarkOption = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Open, solve, write, print."""
    from gapbook.questions import drilling  # late: see shared
    from gapbook.questions.measuring_sheet import must_be_free, writing
    from gapbook.screens.drill import CAUTIONS, DRAWN, screen
    from gapbook.tables.store import Store

    folder = None
    if out is not None:
        from gapbook.pictures.figure import checked

        folder = checked(out).with_name(f"{out.stem}-csv")
        must_be_free(folder)
    store = Store(open_package(package))
    bed = drilling.drilled(drilling.target_of(store, head, pattern, centre, sides, least_gap))
    written: list[Path] = []
    if out is not None and folder is not None:
        from gapbook.pictures.draw import draw

        with writing(drilling.tables(store, bed), store.package, folder) as csvs:
            draw(drilling.drawn(bed), None, out, dark=dark, caution=DRAWN)
        written = [out, *csvs]
    document = bed.document() | {"cautions": list(CAUTIONS)}
    with outcome():
        if as_json:
            print_json(document | {"written": [str(path) for path in written]})
            return
        from gapbook.pictures.terminal import DRAWING, alone, of_drawn

        page.show(*screen(bed, alone(of_drawn(drilling.drawn(bed)), page.width(), DRAWING), units))
        print_written(written, {}, False)
