"""`gapbook advise FRAME [...]`."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption, UnitsOption, checked_confidence, print_found

HELP = """Say what a bed is likely to change for a player, each statement with the figure it rests on, and what to mind.

FRAME and --against are a frame, a specimen, or the folder of a contribution; without --against the bed is set against the
middle (the medians) of the package's measured frames. Nothing is claimed where two beds are too close to call, and no
tension is ever advised for a sore arm.

JSON: {"frame", "against", "style", "string", "arm", "tension_n", "confidence", "figures", "expect", "cautions", "unknown",
"package"}; a statement has "code", "topic", "text", "on" (the figure it rests on, or null) and "source"; a figure has
"unit", "value", "u", "against", "u_against", "difference_percent", "u_difference_percent", "probability_lower",
"verdict"."""


Style = StrEnum("Style", ["flat", "mixed", "topspin"])
StringKind = StrEnum("StringKind", ["polyester", "multifilament", "synthetic", "natural", "hybrid"])
Arm = StrEnum("Arm", ["fine", "sore"])


def advise(
    frame: Annotated[str, typer.Argument(help="The bed thought of.")],
    against: Annotated[str | None, typer.Option("--against", metavar="REF", help="The bed the player knows.")] = None,
    style: Annotated[Style | None, typer.Option("--style", help="How the player hits.")] = None,
    string: Annotated[StringKind | None, typer.Option("--string", help="What is in the bed.")] = None,
    arm: Annotated[Arm | None, typer.Option("--arm", help="How the arm is.")] = None,
    tension: Annotated[str | None, typer.Option("--tension", help="Pull tension: 24kg, 53 lb, 235 N.")] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, ask for advice, print."""
    from gapbook.catalogue import open_catalogue  # late: see shared
    from gapbook.screens.advise import screen

    sure = checked_confidence(confidence)
    advice = open_catalogue(package).advise(
        frame, against=against, style=style, string=string, arm=arm, tension=tension, confidence=sure
    )
    print_found(advice, screen, as_json, units)
