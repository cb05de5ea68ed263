"""`gapbook photo IMAGE... --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, print_json, print_written
from gapbook.tables.opening import open_package

HELP = """Read a strung bed off a photograph taken on the two pages of `gapbook pages`, and write it as a contribution.

Straighten the strings, lay the head on both pages with its tip up, and photograph it from about 60 cm in soft light, level,
without flash or zoom. Measure the two scale bars, the frame's height at 3 and 9 o'clock and, if you can, the four gaps from the
outer strings to the inner edge. Two or more pictures of the same lay are read together and are more exact.

What cannot be read honestly is refused (exit status 1): only overlay.png is written then. Look at it in any case: green lines
must lie on the strings. Then: check DIR, compare fern-98 DIR, draw DIR --out bed.svg, admit DIR.
It was tried on rendered photographs: hold a first bed of yours against a calliper, with gapbook agreement.
JSON: {"written", "family", "u_scale_percent", "u_position_mm", "camera", "quality", "refused"}; marks in mm from the first
string, mains from left to right, crosses from tip to throat."""


def photo(
    image: Annotated[list[Path], typer.Argument(metavar="IMAGE...", help="JPEG or PNG, as the phone made it.")],
    out: Annotated[Path, typer.Option("--out", help="Folder of the contribution; new or empty.")],
    beam: Annotated[float, typer.Option("--beam", help="Height of the frame at 3 and 9 o'clock, mm.")],
    bar_left: Annotated[float, typer.Option("--bar-left", help="Length of the left page's scale bar by a rule, mm.")],
    bar_right: Annotated[float, typer.Option("--bar-right", help="Length of the right page's scale bar, mm.")],
    frame: Annotated[str | None, typer.Option("--frame", help="A frame or a specimen of the catalogue.")] = None,
    pattern: Annotated[str | None, typer.Option("--pattern", help='16x19 or "16x19 98 sq in", for any other frame.')] = None,
    edges: Annotated[
        str | None, typer.Option("--edges", help="Inner edge to the middle of the outer string: left,right,tip,throat, mm.")
    ] = None,
    tip: Annotated[str, typer.Option("--tip", help="Where the tip points in the picture: up, down, left or right.")] = "up",
    contributor: Annotated[str | None, typer.Option("--contributor", help="Your contributor_id, such as ada-moss.")] = None,
    specimen: Annotated[str | None, typer.Option("--specimen", help="Id of the copy; default FRAME-CONTRIBUTOR.")] = None,
    on: Annotated[str | None, typer.Option("--on", help="The day of reading, YYYY-MM-DD; default today.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, read, write or refuse."""
    from gapbook.photo import opening, reading  # late: see shared
    from gapbook.photo.refusals import RefusedError
    from gapbook.pictures.overlay import overlay
    from gapbook.progress import report
    from gapbook.questions import measuring_sheet as sheets
    from gapbook.questions import photographing
    from gapbook.screens.photo import refused
    from gapbook.tables.files import read_bytes
    from gapbook.tables.store import Store

    photographing.check(beam, tip, frame, pattern)
    sheets.must_be_free(out)
    store = Store(open_package(package))
    planned = photographing.session(store, frame or pattern or "", contributor, specimen, on)
    gaps = photographing.edges_of(edges)
    pictures = [opening.opened(read_bytes(one, str(one), largest=opening.LARGEST_FILE), str(one)) for one in image]
    digests = tuple(one.digest for one in pictures)
    measured = photographing.Measured(beam, (bar_left, bar_right), gaps, tip, digests)
    flats: list[opening.Pixels] = []
    try:
        asked = reading.Asked(planned.mains, planned.crosses, beam, measured.bars, tip)
        read = reading.read(pictures, asked, report, flats)
    except RefusedError as error:
        picture = overlay(flats[-1] if flats else pictures[0].pixels, None, f"refused: {error}")
        written = photographing.write_overlay(picture, out)
        with outcome(1):
            if as_json:
                print_json({"written": [str(written)], **photographing.REFUSED, "refused": error.refusal._asdict()})
            else:
                refused(error.refusal, str(written))
        return
    said = f"{planned.specimen_id}: scale {100 * read.u_scale:.2f} %, places {read.u_position:.3f} mm (standard uncertainties)"
    picture = overlay(read.located[0].flat, read, said)
    files, tool = photographing.write(store, planned, read, measured, out, picture)
    document = {**photographing.document(read), "specimen_id": planned.specimen_id}
    print_written(files, document, as_json, photographing.notes(planned, read, tool, out))
