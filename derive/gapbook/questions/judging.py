"""Frames against the relations of a question: whether each holds, fails, or is too close to call."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from gapbook.questions.question import Relation
from gapbook.questions.subjects import Subject
from gapbook.science.comparison import Difference, Figure, difference, verdicts


class Aim(NamedTuple):
    """A relation with the bed it refers to."""

    relation: Relation
    subject: Subject
    openness: Figure


def compared(one: Subject, aim: Aim) -> Difference | None:
    """A frame against a reference where their relation looks; None where the frame's openness is not known."""
    openness = one.openness(aim.relation.zone)
    return None if openness is None else difference(openness, aim.openness)


def outcomes(aim: Aim, figures: Iterable[tuple[float, float]], confidence: float) -> list[int]:
    """Whether a relation holds of beds, by their openness in its zone and its u: 1 if it holds, -1 if it fails, 0 if it is
    too close to call, or if a figure is NaN.
    """
    if aim.relation.kind != "like":
        side = -1 if aim.relation.kind == "tighter" else 1
        return [side * said for said in verdicts(figures, aim.openness, confidence)]
    within = float(aim.relation.within_percent)
    apart = (abs(difference(Figure(*one), aim.openness).percent) for one in figures)
    return [(percent <= within) - (percent > within) for percent in apart]


def limiting(one: Subject, aims: list[Aim]) -> tuple[float, Difference] | None:
    """Of the relations that are not `like`, the least probable one: how probable it is, and its difference."""
    asked = [(aim.relation.kind, found) for aim in aims if aim.relation.kind != "like" and (found := compared(one, aim))]
    sure = [(found.tighter if kind == "tighter" else 1.0 - found.tighter, found) for kind, found in asked]
    return min(sure, key=lambda item: item[0], default=None)
