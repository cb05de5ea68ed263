"""`gapbook chart X Y`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption, Units, UnitsOption

HELP = """Chart two traits of every frame against each other, with error bars (k = 2); the mark's shape is the string pattern.

A trait is named as in questions ("centre mesh", "sides mesh", "head area", swingweight), or by a column of scores,
handling, mechanics or frames (drilling_main). The suffix of --out says how: .svg, .png or .pdf.

JSON: {"written", "x", "y", "frames", "left_out", "named"}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("chart", help=HELP)(chart)


def chart(
    x: Annotated[str, typer.Argument(help="The trait across.")],
    y: Annotated[str, typer.Argument(help="The trait upwards.")],
    out: Annotated[Path, typer.Option("--out", help="File to write: .svg, .png or .pdf.")],
    against: Annotated[str | None, typer.Option("--against", help="A frame to mark as the reference.")] = None,
    labels: Annotated[int, typer.Option("--labels", min=0, max=500, help="Names there are at most.")] = 40,
    dark: Annotated[bool, typer.Option("--dark", help="Light on dark, for a screen.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Open, look up, draw."""
    from gapbook.pictures.figure import checked
    from gapbook.questions.chart_data import chart_data
    from gapbook.tables.opening import open_package
    from gapbook.tables.provenance import caution
    from gapbook.tables.store import Store

    checked(out)
    store = Store(open_package(package))
    found = chart_data(store, x, y, against, Units(units).value if units else None)
    from gapbook.commands.written import told
    from gapbook.pictures import chart as picture

    named = picture.chart(found, out, dark=dark, most=labels, caution=caution(store.package))
    more = {"x": found.x.label, "y": found.y.label, "frames": len(found.points), "left_out": found.left_out, "named": named}
    told(as_json, [out], more)
