"""`gapbook retension FROM TO --at TENSION`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, UnitsOption, print_json
from gapbook.screens import page

HELP = """Give the pull tension at which TO has the centre stiffness FROM has at --at: two models of geometry and tension.

Each is a measured frame, a specimen, or the folder of a contribution. One model has taut strings that do not stretch, the
other strings that do, pressed in by 5, 15 and 25 mm; ± covers both. With --crosses, --at is the mains' pull, the answer is
TO's mains' pull, and TO's crosses keep the ratio you gave. Outside 180 to 300 N, judged in whole N, no tension is given,
only why; ± is cut off there too.
JSON: {"from", "to", "at_n", "tension_n", "u_tension_n", "least_n", "most_n", "linear_n", "u_linear_n",
"stretching_least_n", "stretching_most_n", "stiffness_from_n_per_mm", "stiffness_to_n_per_mm", "dwell_percent",
"u_dwell_percent", "crosses_at_n", "crosses_tension_n", "outside", "cautions"}. "least_n" and "most_n" are the ends of ±
within the range; then what each model gives alone, and the two stiffnesses at the pull asked about, by the linear model.
"dwell_percent" is how much longer a ball stays in TO than in FROM at that pull, at most: half a period of a mass on a
spring, for comparison only. Null where there is no figure. "outside" says why: "asked" if the pull asked about lies
outside, "stiffer" or "softer" if TO is so and the pull it takes lies outside; else null. "cautions" are
{"code", "text", "source"}."""


def retension(
    source: Annotated[str, typer.Argument(metavar="FROM", help="The bed whose stiffness is wanted.")],
    target: Annotated[str, typer.Argument(metavar="TO", help="The bed to be strung.")],
    at: Annotated[str, typer.Option("--at", help="Pull tension of FROM: 24kg, 53lb or 235N.")],
    crosses: Annotated[str | None, typer.Option("--crosses", help="Pull tension of FROM's crosses, if another.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Open, match, print."""
    from gapbook.catalogue import open_catalogue  # late: see shared
    from gapbook.screens.retension import screen

    matched = open_catalogue(package).retension(source, target, at, crosses)
    if as_json:
        print_json(matched.document())
    else:
        page.show(*screen(matched, units))
