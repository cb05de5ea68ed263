"""`gapbook chart X Y`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import DarkOption, JsonOption, PackageOption, PictureOption, UnitsOption, print_written
from gapbook.tables.opening import open_package
from gapbook.tables.package import caution

HELP = """Chart two traits of every frame against each other, with error bars (k = 2); the mark's shape is the string pattern.

A trait is named as in questions ("centre mesh", "sides mesh", "head area", swingweight), or by a column of scores,
handling, mechanics or frames (drilling_main). --question, --pattern and --head choose frames, as ask and find do; the
reference is always drawn. The suffix of --out says how: .svg, .png or .pdf.

JSON: {"written", "x", "y", "frames", "left_out", "named", "question"}."""


def chart(
    x: Annotated[str, typer.Argument(help="The trait across.")],
    y: Annotated[str, typer.Argument(help="The trait upwards.")],
    out: PictureOption,
    against: Annotated[str | None, typer.Option("--against", help="A frame to mark as the reference.")] = None,
    labels: Annotated[int, typer.Option("--labels", min=0, max=500, help="Names there are at most.")] = 40,
    question: Annotated[str | None, typer.Option("--question", help="Show the frames that match this question.")] = None,
    pattern: Annotated[list[str] | None, typer.Option("--pattern", help="Show this pattern, 16x19; may be repeated.")] = None,
    head: Annotated[str | None, typer.Option("--head", help="Show these heads, 95..98 (sq in).")] = None,
    dark: DarkOption = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Open, look up, draw."""
    from gapbook.pictures import chart as picture  # late: see shared
    from gapbook.pictures.figure import checked
    from gapbook.questions.chart_data import chart_data, wanted
    from gapbook.tables.store import Store

    checked(out)
    opened = open_package(package)
    store = Store(opened)
    data = chart_data(store, x, y, against, units, wanted(store, question, pattern or (), head))
    named = picture.chart(data, out, dark=dark, most=labels, caution=caution(opened))
    document = {"x": data.x.label, "y": data.y.label, "frames": len(data.points), "left_out": data.left_out, "named": named}
    print_written([out], {**document, "question": data.asked}, as_json)
