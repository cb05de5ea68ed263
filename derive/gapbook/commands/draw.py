"""`gapbook draw FRAME`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption

HELP = """Draw a measured bed: strings woven where they were read, every mesh shaded by its size, windows and gaps.

The suffix of --out says how: .svg, .png or .pdf, at half size. Same input, same bytes. JSON: {"written", "specimens"}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("draw", help=HELP)(draw)


def draw(
    frame: Annotated[str, typer.Argument(help="A measured frame (its first copy is drawn), a specimen, or a folder.")],
    out: Annotated[Path, typer.Option("--out", help="File to write: .svg, .png or .pdf.")],
    other: Annotated[str | None, typer.Option("--with", help="A second bed laid over; shaded by the difference.")] = None,
    stiffness: Annotated[bool, typer.Option("--stiffness", help="Shade by stiffness where struck (a model).")] = False,
    dark: Annotated[bool, typer.Option("--dark", help="Light on dark, for a screen.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, look up, draw."""
    from gapbook.errors import fail
    from gapbook.pictures.figure import checked
    from gapbook.questions.bed_data import drawn_bed, two_beds
    from gapbook.tables.opening import open_package
    from gapbook.tables.provenance import caution
    from gapbook.tables.store import Store

    checked(out)
    if stiffness and other is not None:
        raise fail("bad-option", "--stiffness and --with exclude each other", fix="Draw one picture of each")
    store = Store(open_package(package))
    bed, second = (drawn_bed(store, frame, stiffness), None) if other is None else two_beds(store, frame, other)
    from gapbook.commands.written import told
    from gapbook.pictures import draw as picture

    shown = [one for one in (bed, second) if one is not None]
    said = None if all(one.contributed for one in shown) else caution(store.package)
    picture.draw(bed, second, out, dark=dark, caution=said)
    told(as_json, [out], {"specimens": [one.specimen_id for one in shown]})
