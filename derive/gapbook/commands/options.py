"""Options that several commands share."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from gapbook.science.comparison import CONFIDENCE


class Units(StrEnum):
    """What people are shown."""

    metric = "metric"
    imperial = "imperial"


PackageOption = Annotated[
    Path | None,
    typer.Option("--package", help="Data package to use: its folder. Else GAPBOOK_PACKAGE, else the one at hand."),
]
JsonOption = Annotated[bool, typer.Option("--json", help="One JSON document on stdout.")]
UnitsOption = Annotated[
    Units | None, typer.Option("--units", help="Units for people; default sq in beside cm², the rest metric.")
]
ConfidenceOption = Annotated[
    float | None,
    typer.Option("--confidence", help=f"How sure a verdict must be, above 0.5 and below 1; default {CONFIDENCE:g}."),
]


def checked_confidence(confidence: float | None) -> float:
    """The confidence asked for, CONFIDENCE if none was; GapbookError unless it lies above 0.5 and below 1."""
    from gapbook.questions import question

    return question.checked_confidence(confidence)
