"""`gapbook relate TRAIT OUTCOME`."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from gapbook.commands.shared import (
    BesideOption,
    ConfidenceOption,
    JsonOption,
    PackageOption,
    asked_package,
    checked_confidence,
    print_json,
    print_written,
)
from gapbook.commands.shared import outcome as done
from gapbook.screens import page
from gapbook.signs import safe
from gapbook.tables.package import caution

if TYPE_CHECKING:
    from gapbook.questions.relations_found import Associations

HELP = """How traits of measured beds go with outcomes of their playtests. Association, not cause.

TRAIT and OUTCOME (several of each with commas) are columns of numbers of playtests_with_beds (see gapbook sql --views),
tensions only those in N. Each tester has their own baseline. The interval is for frames and players like these: it is made by
leaving out each frame and each tester (jackknife, Student's t by Satterthwaite); another is for these testers alone. Each
outcome and trait has a regression of its own, and all are corrected together (Holm). Fewer than 8 frames (2 more for each
column held) or 3 testers: no figure, only why. --residuals writes one row a playtest: residual, leverage, and the slope
without its frame and its tester.

JSON: {"given", "confidence", "associations", "caution", "package"}; an association has "outcome", "outcome_unit", "trait",
"trait_unit", "slope", "u_slope", "low", "high", "degrees_of_freedom", "p", "p_holm", "partial_correlation", "these_testers"
and "corrected" (for the trait's own uncertainty), each {"slope", "u_slope", "low", "high", "degrees_of_freedom", "p"},
"between_testers" {"deviation", "p"}, "odds" of a higher mark {"ratio", "low", "high", "degrees_of_freedom", "p"},
"curvature_p", "leave_one_out" and "leave_one_tester_out" {"low", "high", "low_without", "high_without"},
"attenuation_percent", "frames", "testers", "playtests", "not_used" {"no_bed", "not_allowed", "blank"}, "verdict" (rises,
falls, cannot tell, no figure) and "sentence"; figures are null where there are none."""


def relate(
    trait: Annotated[str, typer.Argument(metavar="TRAIT[,TRAIT]", help="What goes along, e.g. openness_centre.")],
    outcome: Annotated[str, typer.Argument(metavar="OUTCOME[,OUTCOME]", help="With what, e.g. launch_angle_deg.")],
    given: Annotated[str, typer.Option("--given", metavar="A,B", help="Columns held, e.g. head_area_cm2.")] = "",
    plot: Annotated[Path | None, typer.Option("--plot", help="Partial-regression plot to write: .png, .svg or .pdf.")] = None,
    residuals: Annotated[
        Path | None, typer.Option("--residuals", metavar="FILE", help="Residuals and influence to write: .csv or .parquet.")
    ] = None,
    package: PackageOption = None,
    beside: BesideOption = None,
    as_json: JsonOption = False,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, relate, print, plot and write."""
    from gapbook.catalogue import Catalogue  # late: see shared
    from gapbook.screens.relations import screen

    sure = checked_confidence(confidence)
    if plot is not None:
        from gapbook.pictures.figure import checked  # only with --plot

        checked(plot)
    if residuals is not None:
        from gapbook.tables.results import checked_form, write_table  # only with --residuals

        checked_form(residuals)
    with asked_package(package, beside) as asked:
        catalogue = Catalogue(asked)
        related = catalogue.relate(_names(trait), _names(outcome), _names(given), sure)
        written = [] if plot is None else _plotted(related, plot, caution(catalogue.package))
        if residuals is not None:
            write_table(related.residuals(), residuals)
            written.append(residuals)
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
