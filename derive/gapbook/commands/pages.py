"""`gapbook pages`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PictureOption, print_written

HELP = """Two pages to print, on which a strung head is photographed for `gapbook photo`.

Each page has a strip of coded squares along its outer edge, a scale bar to be measured with a rule (printers shrink), a
tinted field for the head, and the steps in words. A .pdf holds both pages; .svg and .png become two files.
JSON: {"written", "bar_mm", "paper", "tint"}."""


def pages(
    out: PictureOption,
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    tint: Annotated[str, typer.Option("--tint", help="blue, orange or green: one that your strings do not have.")] = "blue",
    as_json: JsonOption = False,
) -> None:
    """Check, draw, tell."""
    from gapbook.errors import fail  # late: see shared
    from gapbook.photo.layout import PAPERS
    from gapbook.pictures import pages as picture
    from gapbook.pictures.figure import checked

    if paper not in PAPERS:
        raise fail("bad-paper", "--paper does not take this", found=paper, expected=", ".join(PAPERS))
    written = picture.pages(PAPERS[paper], tint, checked(out))
    document = {"bar_mm": PAPERS[paper].bar_mm, "paper": paper, "tint": tint}
    notes = [
        f"Print at 100 %. The bars are {PAPERS[paper].bar_mm:g} mm long if nothing was shrunk: measure both.",
        "Then photograph the head on the pages, and read on in gapbook photo --help.",
    ]
    print_written(written, document, as_json, notes)
