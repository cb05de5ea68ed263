"""From a question to its answer: select by ranges, compare with the references, keep apart what is too close to call.

Answers are made by `model_construct`: their figures are our own, and a question should not wait for them to be validated.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from gapbook.errors import fail
from gapbook.questions.answer import (
    Answer,
    Counts,
    Entry,
    Excluded,
    LeftOut,
    NearMiss,
    PackageName,
    Reasons,
    Reference,
)
from gapbook.questions.question import Question, Relation
from gapbook.questions.selection import Selection, selection
from gapbook.questions.subjects import IDENTITY, Subject, of_row, score_columns, subject
from gapbook.questions.traits import ZONE_WORDS
from gapbook.questions.wording import relation_words
from gapbook.science.comparison import Difference, Figure, difference, why
from gapbook.tables.store import Store

NEAREST = 5
"""Near misses named when nothing matches."""


class Aim(NamedTuple):
    """A relation with the bed it refers to."""

    relation: Relation
    subject: Subject
    openness: Figure


class Judged(NamedTuple):
    """A frame against the aims: passes, undecided or fails, and which relation it fails first."""

    subject: Subject
    verdict: str
    failed: Relation | None


def answer(store: Store, question: Question, first: int | None = None) -> Answer:
    """Answer `question` from the derived tables; with `first`, only so many entries of each list are made out.

    GapbookError for a reference nobody knows, or whose openness is not known where it is asked about.
    """
    zones = list(dict.fromkeys([question.zone, *(relation.zone for relation in question.relations)]))
    columns = list(dict.fromkeys(column for zone in zones for column in score_columns(zone)))
    aims = [_aim(store, relation, columns) for relation in question.relations]
    chosen = selection(store, question, columns)
    itself = {aim.subject.frame_id for aim in aims if aim.subject.kind == "frame"}
    candidates = [one for one in _candidates(store, chosen, columns) if one.frame_id not in itself]
    known = [one for one in candidates if all(one.openness(zone) for zone in zones)] if aims else candidates
    judged = [_judge(one, aims, question.confidence) for one in known]
    passed = _sorted([item.subject for item in judged if item.verdict == "passes"], aims, question)
    undecided = _sorted([item.subject for item in judged if item.verdict == "undecided"], aims, question)
    matches = passed[: question.limit]
    result = Answer.model_construct(
        question=question,
        reference=_reference(aims),
        searched=_searched(store, itself),
        matches=[_entry(one, aims, question) for one in matches[:first]],
        undecided=[_entry(one, aims, question) for one in undecided[:first]],
        package=PackageName.model_construct(name=store.package.name, version=store.package.version),
    )
    result._counts = Counts(len(passed), len(matches), len(undecided))
    result._left_out = _left_out(store, chosen, aims, judged, len(candidates) - len(known), itself, not passed)
    return result


def _aim(store: Store, relation: Relation, columns: list[str]) -> Aim:
    found = subject(store, relation.reference, columns)
    openness = found.openness(relation.zone)
    if openness is None:
        place = ZONE_WORDS[relation.zone].place
        reason = "nobody measured its bed" if found.basis == "counted" else "its strings do not reach across that window"
        raise fail(
            "reference-blank",
            f"the openness of {found.name} {place} is not known: {reason}",
            fix="Compare in the centre, or with a measured frame",
        )
    return Aim(relation, found, openness)


def _candidates(store: Store, chosen: Selection, columns: list[str]) -> list[Subject]:
    where = " AND ".join(clause.condition for clause in chosen.clauses) or "true"
    picked = ", ".join(f"s.{column}" for column in (*IDENTITY, *columns))
    order = chosen.order or "s.frame_id"
    rows = store.rows(f"SELECT {picked} FROM {chosen.source} WHERE {where} ORDER BY {order}")
    return [of_row(row, columns) for row in rows]


def _searched(store: Store, itself: set[str]) -> int:
    ((count,),) = store.rows("SELECT count(*) FROM scores WHERE NOT list_contains(?, frame_id)", [sorted(itself)])
    return int(count)


def _compared(one: Subject, aim: Aim) -> Difference | None:
    openness = one.openness(aim.relation.zone)
    return None if openness is None else difference(openness, aim.openness)


def _holds(found: Difference, relation: Relation, confidence: float) -> bool | None:
    """Whether a relation holds; None where it is too close to call."""
    if relation.kind == "like":
        return abs(found.percent) <= float(relation.within_percent)
    verdict = found.verdict(confidence)
    if verdict == "too close to call":
        return None
    return (verdict == "tighter") == (relation.kind == "tighter")


def _judge(one: Subject, aims: list[Aim], confidence: float) -> Judged:
    undecided = False
    for aim in aims:
        found = _compared(one, aim)
        held = False if found is None else _holds(found, aim.relation, confidence)
        if held is False:
            return Judged(one, "fails", aim.relation)
        undecided = undecided or held is None
    return Judged(one, "undecided" if undecided else "passes", None)


def _sorted(found: list[Subject], aims: list[Aim], question: Question) -> list[Subject]:
    """In the order asked; the selection came in that order already where it is one of traits or names."""
    by = question.order.by if question.order is not None else None
    if by is None:
        zone = question.zone
        return sorted(found, key=lambda one: (one.values.get(f"openness_{zone}") or math.inf, one.frame_id))
    if by == "closest":
        gaps = {one.frame_id: _compared(one, aims[0]) for one in found}
        return sorted(found, key=lambda one: (abs(gap.log) if (gap := gaps[one.frame_id]) else math.inf, one.frame_id))
    return found


def _entry(one: Subject, aims: list[Aim], question: Question) -> Entry:
    zone = question.zone
    openness = one.openness(zone)
    entry: dict[str, Any] = {
        "frame_id": one.frame_id,
        "basis": one.basis,
        "mains": one.mains,
        "crosses": one.crosses,
        "head_area_cm2": one.head_area_cm2,
        "openness": openness.value if openness else None,
        "u_openness": openness.u if openness else None,
    }
    found = _compared(one, aims[0]) if aims else None
    if found is None:
        return Entry.model_construct(None, **entry)
    kind = aims[0].relation.kind
    probability = None if kind == "like" else found.tighter if kind == "tighter" else 1.0 - found.tighter
    made = Entry.model_construct(
        None,
        **entry,
        difference_percent=found.percent,
        probability=probability,
        verdict=found.verdict(question.confidence),
        why=reasons(one, aims[0].subject, zone),
    )
    made._u_difference_percent = found.u_percent
    return made


def reasons(one: Subject, other: Subject, zone: str) -> Reasons | None:
    """Why the openness of two beds differs in a zone, in percent; None where their heads are not known."""
    mine, theirs = one.build(zone), other.build(zone)
    if mine is None or theirs is None:
        return None
    parts = why(mine, theirs)
    return Reasons.model_construct(
        size=parts.size.percent,
        count=parts.strings.percent,
        drilling=parts.drilling.percent if parts.drilling else None,
        zone=parts.zone.percent if parts.zone else None,
    )


def _reference(aims: list[Aim]) -> Reference | None:
    if not aims:
        return None
    aim = aims[0]
    return Reference.model_construct(
        frame_id=aim.subject.frame_id,
        openness=aim.openness.value,
        u_openness=aim.openness.u,
        basis=aim.subject.basis,
    )


def _left_out(
    store: Store,
    chosen: Selection,
    aims: list[Aim],
    judged: list[Judged],
    unknown: int,
    itself: set[str],
    nothing: bool,
) -> LeftOut:
    """How many frames each clause leaves out, and, where nothing matches, the frames that only just fail."""
    passing = [clause.condition for clause in chosen.clauses]
    excluded, near = [], []
    others = "NOT list_contains(?, s.frame_id)"
    if passing:
        fails = [f"CAST(NOT {condition} AS INTEGER)" for condition in passing]
        total = " + ".join(fails)
        picked = ", ".join(f"sum({one}), sum(CASE WHEN {one} = 1 AND {total} = 1 THEN 1 ELSE 0 END)" for one in fails)
        (counts,) = store.rows(f"SELECT {picked} FROM {chosen.source} WHERE {others}", [sorted(itself)])
        for number, clause in enumerate(chosen.clauses):
            frames, only = (int(count or 0) for count in counts[2 * number : 2 * number + 2])
            excluded.append(Excluded.model_construct(clause=clause.words, frames=frames, only=only))
            if nothing and only:
                rest = " AND ".join(one for one in passing if one != clause.condition) or "true"
                rows = store.rows(
                    f"SELECT s.frame_id, {clause.shown} FROM {chosen.source} "
                    f"WHERE {others} AND NOT {clause.condition} AND {rest} ORDER BY s.frame_id LIMIT {NEAREST}",
                    [sorted(itself)],
                )
                near += [NearMiss.model_construct(frame_id=name, clause=clause.words, found=str(found)) for name, found in rows]
    for aim in aims:
        failing = [item for item in judged if item.failed is aim.relation]
        words = relation_words(aim.relation)
        excluded.append(Excluded.model_construct(clause=words, frames=len(failing), only=len(failing)))
        if nothing:
            near = _near_relation(failing, aim, words) + near
    return LeftOut.model_construct(clauses=tuple(excluded), unknown_zone=unknown, near_misses=tuple(near[:NEAREST]))


def _near_relation(failing: list[Judged], aim: Aim, words: str) -> list[NearMiss]:
    found = [(item.subject.frame_id, _compared(item.subject, aim)) for item in failing]
    near = sorted((abs(gap.percent), name, gap.percent) for name, gap in found if gap is not None)
    return [
        NearMiss.model_construct(frame_id=name, clause=words, found=f"{percent:+.1f} %") for _, name, percent in near[:NEAREST]
    ]
