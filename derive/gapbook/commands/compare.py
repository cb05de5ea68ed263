"""`gapbook compare A B [...]`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption, UnitsOption, checked_confidence, print_json
from gapbook.screens import page

HELP = """Compare beds side by side with the first one named: verdict, and why they differ.

Each is a frame, a specimen, or the folder of a contribution.

JSON: {"where", "confidence", "beds", "contrasts", "package"}; a bed has its "scores" and its frame's "handling", rows as in
the tables of these names; a contrast has "name", "against", "where", "difference_percent", "u_difference_percent",
"probability_tighter", "verdict", "why"."""


def compare(
    names: Annotated[list[str], typer.Argument(metavar="A B [...]", help="Frames, specimens or folders.")],
    where: Annotated[str, typer.Option("--where", help="centre, left, right, sides, tip, throat or even.")] = "centre",
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, compare, print."""
    from gapbook.catalogue import open_catalogue  # late: see shared

    sure = checked_confidence(confidence)
    catalogue = open_catalogue(package)
    comparison = catalogue.compare(*names, where=where, confidence=sure)
    if as_json:
        print_json(comparison.model_dump(mode="json"))
        return
    from gapbook.pictures.terminal import measured, side_by_side  # late: numpy, which JSON does not need
    from gapbook.questions.portrait import is_derived
    from gapbook.screens.comparisons import screen

    drawing = side_by_side(measured(catalogue.package, comparison.beds), page.width())
    page.show(*screen(comparison, units, drawing, is_derived(catalogue.package, "handling")))
