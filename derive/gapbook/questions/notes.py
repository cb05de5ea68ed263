"""Sentences on how a question was taken: what a relation means under uncertainty, what a class is, how large a step is."""

from __future__ import annotations

import math
from collections.abc import Sequence

from gapbook.questions.aims import Aim
from gapbook.questions.question import Question, Relation
from gapbook.questions.relations import COMPARED
from gapbook.questions.wording import part_words
from gapbook.science.units import half_up

_STEP = ((16, 19), (18, 20))
"""Two common patterns, whose difference people can feel."""
MESH_MM = 0.1
_DENIED = {
    "not_tighter": ("more open or too close to call", "tighter"),
    "not_more_open": ("tighter or too close to call", "more open"),
}


def notes_of(question: Question, aims: Sequence[Aim]) -> tuple[str, ...]:
    """Sentences on relations whose meaning is not plain from their words, without doubles."""
    notes: list[str] = []
    for aim in aims:
        notes += _about_a_class(aim)
        notes += _about_a_denial(aim, question.confidence)
        notes += _without_u(aim)
    if aims and question.limit is not None and question.order is None:
        notes.append(f"Strongest first: “{part_words(aims[0].relation)}” decides the order.")
    return tuple(dict.fromkeys(notes))


def _about_a_class(aim: Aim) -> list[str]:
    if aim.peers is None:
        return []
    peers, frames, spread = aim.peers
    mesh, u = MESH_MM * aim.figure.value, MESH_MM * aim.figure.u
    measured = f"the {frames} measured frames of {peers.words}" if frames > 1 else f"the one measured frame of {peers.words}"
    around = f"; they spread by {half_up(spread, 1)} % (standard deviation)" if frames > 1 else ""
    named = peers.words.removeprefix("most ")
    other = f" gapbook compare takes “{named}” for one bed, estimated from its counts, which can differ." if peers.mains else ""
    return [
        f"“{peers.words}” stands for the median of {measured}: mesh {half_up(mesh, 2)} ± {half_up(2 * u, 2)} mm{around}.{other}"
    ]


def _about_a_denial(aim: Aim, confidence: float) -> list[str]:
    if not aim.relation.kind.startswith("not_"):
        return []
    sure = f"{100 * confidence:g} %"
    if isinstance(aim.relation, Relation):
        kept, left = _DENIED[aim.relation.kind]
    else:
        about = COMPARED[aim.relation.trait]
        less, more = about.less, about.more
        left = less if aim.relation.kind == "not_less" else more
        kept = f"{more if left == less else less}, alike, or too close to call"
    return [f"“{part_words(aim.relation)}” keeps what is {kept}; only what is {left} with {sure} or more is left out."]


def _without_u(aim: Aim) -> list[str]:
    if isinstance(aim.relation, Relation) or aim.relation.about.u is not None:
        return []
    return [f"“{part_words(aim.relation)}” goes by the figures as declared."]


def step() -> str:
    """How large the step between two common patterns is, to set differences beside."""
    (mains, crosses), (more_mains, more_crosses) = _STEP
    percent = 100.0 * (math.sqrt(mains * crosses / (more_mains * more_crosses)) - 1.0)
    before, after = f"{mains}x{crosses}", f"{more_mains}x{more_crosses}"
    return f"For size: from {before} to {after} on one head, evenly drilled, the mesh changes by {half_up(percent, 1)} %."
