"""`gapbook compare A B [...]`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import (
    ConfidenceOption,
    DarkOption,
    JsonOption,
    PackageOption,
    UnitsOption,
    checked_confidence,
    print_json,
    print_written,
)
from gapbook.errors import fail
from gapbook.screens import page

if TYPE_CHECKING:
    from gapbook.catalogue import Catalogue

HELP = """Compare beds side by side with the first one named: verdict, and why they differ.

Each is a frame, a specimen, the folder of your own readings, or a pattern that nobody measured, such as "16x19 98 sq in".
--out writes it as one page (.pdf, .svg or .png) with up to four beds drawn; JSON then: {"written", "beds"}.

JSON: {"where", "confidence", "beds", "contrasts", "package"}; a bed has its "scores" and its frame's "handling", rows as in
the tables of these names, "handling_own" (what was read on the copy in a folder) and "assumed_head" (as of show); a contrast
has "name", "against", "where", "difference_percent", "u_difference_percent", "probability_tighter", "verdict", "why"."""


def compare(
    names: Annotated[list[str], typer.Argument(metavar="A B [...]", help="Frames, specimens, folders or patterns.")],
    where: Annotated[str, typer.Option("--where", help="centre, left, right, sides, tip, throat or even.")] = "centre",
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
    out: Annotated[Path | None, typer.Option("--out", help="Write one page: .pdf, .svg or .png.")] = None,
    dark: DarkOption = False,
) -> None:
    """Open, compare, print or write."""
    from gapbook.catalogue import open_catalogue  # late: see shared

    sure = checked_confidence(confidence)
    if dark and out is None:
        raise fail("bad-option", "--dark is for a page", fix="Name one: --out page.png")
    catalogue = open_catalogue(package)
    if out is not None:
        _write(catalogue, names, where, sure, units, out, dark, as_json)
        return
    comparison = catalogue.compare(*names, where=where, confidence=sure)
    if as_json:
        print_json(comparison.model_dump(mode="json"))
        return
    from gapbook.pictures.terminal import measured, side_by_side  # late: numpy, which JSON does not need
    from gapbook.questions.portrait import is_derived
    from gapbook.screens.comparisons import screen

    drawing = side_by_side(measured(catalogue.package, comparison.beds), page.width())
    page.show(*screen(comparison, units, drawing, is_derived(catalogue.package, "handling")))


def _write(
    catalogue: Catalogue,
    names: list[str],
    where: str,
    sure: float,
    units: str | None,
    out: Path,
    dark: bool,
    as_json: bool,
) -> None:
    from gapbook.pictures import review  # late: matplotlib
    from gapbook.pictures.figure import checked
    from gapbook.questions.bed_data import drawn_beds
    from gapbook.tables.package import caution

    checked(out)
    review.must_fit(names)
    comparison = catalogue.compare(*names, where=where, confidence=sure)
    own = all(bed.kind == "folder" for bed in comparison.beds)
    said = None if own else caution(catalogue.package)
    review.review(comparison, drawn_beds(catalogue.package, comparison.beds), out, units=units, dark=dark, caution=said)
    print_written([out], {"beds": [bed.name for bed in comparison.beds]}, as_json)
