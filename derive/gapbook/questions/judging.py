"""A frame against the relations of a question: whether each holds, fails, or is too close to call."""

from __future__ import annotations

from typing import NamedTuple

from gapbook.questions.question import Relation
from gapbook.questions.subjects import Subject
from gapbook.science.comparison import Difference, Figure, difference


class Aim(NamedTuple):
    """A relation with the bed it refers to."""

    relation: Relation
    subject: Subject
    openness: Figure


class Judged(NamedTuple):
    """A frame against the aims: whether one of them fails, and the relations that are too close to call."""

    subject: Subject
    fails: bool
    unsure: tuple[Relation, ...]


def compared(one: Subject, aim: Aim) -> Difference | None:
    """A frame against a reference where their relation looks; None where the frame's openness is not known."""
    openness = one.openness(aim.relation.zone)
    return None if openness is None else difference(openness, aim.openness)


def holds(found: Difference, relation: Relation, confidence: float) -> bool | None:
    """Whether a relation holds; None where it is too close to call."""
    if relation.kind == "like":
        return abs(found.percent) <= float(relation.within_percent)
    verdict = found.verdict(confidence)
    if verdict == "too close to call":
        return None
    return (verdict == "tighter") == (relation.kind == "tighter")


def judge(one: Subject, aims: list[Aim], confidence: float) -> Judged:
    """A frame against every relation; one that is not known in a zone fails there."""
    unsure = []
    for aim in aims:
        found = compared(one, aim)
        held = False if found is None else holds(found, aim.relation, confidence)
        if held is False:
            return Judged(one, True, ())
        if held is None:
            unsure.append(aim.relation)
    return Judged(one, False, tuple(unsure))


def limiting(one: Subject, aims: list[Aim]) -> tuple[float, Difference] | None:
    """Of the relations that are not `like`, the least probable one: how probable it is, and its difference."""
    asked = [(aim.relation.kind, found) for aim in aims if aim.relation.kind != "like" and (found := compared(one, aim))]
    sure = [(found.tighter if kind == "tighter" else 1.0 - found.tighter, found) for kind, found in asked]
    return min(sure, key=lambda item: item[0], default=None)
