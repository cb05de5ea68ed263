"""`gapbook draw FRAME`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import DarkOption, JsonOption, PackageOption, PictureOption, print_written
from gapbook.errors import fail
from gapbook.tables.opening import open_package
from gapbook.tables.package import caution

HELP = """Draw a measured bed: strings woven where they were read, every mesh shaded by its size, windows and gaps.

The suffix of --out says how: .svg, .png or .pdf, at half size. Same input, same bytes. JSON: {"written", "specimens"}."""


def draw(
    frame: Annotated[str, typer.Argument(help="A measured frame (its first copy is drawn), a specimen, or a folder.")],
    out: PictureOption,
    other: Annotated[str | None, typer.Option("--with", help="A second bed laid over; coloured where they differ.")] = None,
    stiffness: Annotated[bool, typer.Option("--stiffness", help="Shade by stiffness where struck (a model).")] = False,
    dark: DarkOption = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, look up, draw."""
    from gapbook.pictures import draw as picture  # late: see shared
    from gapbook.pictures.figure import checked
    from gapbook.questions.bed_data import centre_verdict, drawn_bed, two_beds
    from gapbook.tables.store import Store

    checked(out)
    if stiffness and other is not None:
        raise fail("bad-option", "--stiffness and --with cannot both be given", fix="Draw one picture of each")
    opened = open_package(package)
    store = Store(opened)
    bed, second = (drawn_bed(store, frame, stiffness), None) if other is None else two_beds(store, frame, other)
    shown = [one for one in (bed, second) if one is not None]
    said = None if all(one.contributed for one in shown) else caution(opened)
    contrast = None if other is None else centre_verdict(store, frame, other)
    picture.draw(bed, second, out, dark=dark, caution=said, contrast=contrast)
    print_written([out], {"specimens": [one.specimen_id for one in shown]}, as_json)
