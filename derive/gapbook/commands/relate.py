"""`gapbook relate TRAIT OUTCOME`."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import (
    ConfidenceOption,
    JsonOption,
    PackageOption,
    checked_confidence,
    print_json,
    print_written,
)
from gapbook.commands.shared import outcome as done
from gapbook.screens import page
from gapbook.signs import safe
from gapbook.tables.package import caution

if TYPE_CHECKING:
    from gapbook.questions.relating import Associations

HELP = """How a trait of measured beds goes with an outcome of their playtests. Association, not cause.

TRAIT (several with commas) and OUTCOME are columns of numbers of playtests_with_beds (see gapbook sql --views), tensions
only those in N. Testers have levels of their own; the interval is that of leaving one frame out at a time (CR3, t with
frames - 1 degrees of freedom); several traits, each in a regression of its own, are corrected together (Holm). Fewer than 8
frames (2 more for each column held) or 3 testers: no figure, only why. JSON: {"outcome", "outcome_unit", "given",
"confidence", "associations", "caution", "package"}; an association has "trait", "trait_unit", "slope", "u_slope", "low",
"high", "degrees_of_freedom", "p", "p_holm", "partial_correlation", "leave_one_out" {"low", "high", "low_without",
"high_without"}, "attenuation_percent", "frames", "testers", "playtests", "verdict" (rises, falls, cannot tell, no figure)
and "sentence"; figures are null where there are none."""


def relate(
    trait: Annotated[str, typer.Argument(metavar="TRAIT[,TRAIT]", help="What goes along, e.g. openness_centre.")],
    outcome: Annotated[str, typer.Argument(help="With what, e.g. launch_angle_deg.")],
    given: Annotated[str, typer.Option("--given", metavar="A,B", help="Columns held, e.g. head_area_cm2.")] = "",
    plot: Annotated[Path | None, typer.Option("--plot", help="Partial-regression plot to write: .png, .svg or .pdf.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, relate, print and plot."""
    from gapbook.catalogue import open_catalogue  # late: see shared
    from gapbook.screens.relations import screen

    sure = checked_confidence(confidence)
    if plot is not None:
        from gapbook.pictures.figure import checked  # only with --plot

        checked(plot)
    catalogue = open_catalogue(package)
    related = catalogue.relate(_names(trait), outcome.strip(), _names(given), sure)
    written = [] if plot is None else _plotted(related, plot, caution(catalogue.package))
    with done() if written else nullcontext():
        if as_json:
            print_json(related.model_dump(mode="json"))
            return
        page.show(*screen(related))
        if written:
            print_written(written, {}, as_json)


def _plotted(related: Associations, plot: Path, said: str | None) -> list[Path]:
    """Write the plot and return its path; if no trait has a figure, say so on stderr and write nothing.

    related: what was found
    plot: the file
    said: a caution on the package's data; None if there is none
    """
    if all(item.points is None for item in related.associations):
        sys.stderr.write(f"gapbook: no figure, so {safe(str(plot))} was not written\n")
        return []
    from gapbook.pictures.relation import plot_relation  # only with --plot

    plot_relation(related, plot, said)
    return [plot]


def _names(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]
