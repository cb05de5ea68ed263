"""From a question to its answer: select by ranges, compare with the references, keep apart what is too close to call.

Answers are made by `model_construct`: their figures are our own, and a question should not wait for them to be validated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from gapbook.errors import fail
from gapbook.questions.answer import Answer, Counts, Entry, PackageName, Reasons, Reference
from gapbook.questions.exclusions import left_out
from gapbook.questions.question import Question, Relation
from gapbook.questions.selection import Aim, Selection, compared, limiting, outcomes, selection, value_sql
from gapbook.questions.subjects import IDENTITY, Subject, of_row, score_columns, subject
from gapbook.questions.traits import TRAITS, ZONE_WORDS
from gapbook.science.comparison import why
from gapbook.tables.store import Store


def answer(store: Store, question: Question, first: int | None = None) -> Answer:
    """Answer `question` from the derived tables; with `first`, only so many entries of each list are made.

    GapbookError if nobody knows a reference, or if its openness is not known in the zone asked about.
    """
    zones = list(dict.fromkeys([question.zone, *(relation.zone for relation in question.relations)]))
    columns = list(dict.fromkeys(column for zone in zones for column in score_columns(zone)))
    aims = [_aim(store, relation, columns) for relation in question.relations]
    chosen = selection(store, question, columns)
    itself = {aim.subject.frame_id for aim in aims if aim.subject.kind == "frame"}
    candidates = _candidates(store, chosen, columns, itself)
    known = candidates.known(zones) if aims else candidates
    judged = _sorted(_judged(known, aims, question.confidence), known, aims, question)
    passed = [item for item in judged if not item.unsure]
    undecided = [item for item in judged if item.unsure]
    matches = passed[: question.limit]
    unknown = len(candidates.rows) - len(known.rows)
    return Answer.model_construct(
        question=question,
        reference=_reference(aims),
        searched=_searched(store, itself),
        matches=[_entry(one, known.columns, aims, question, len(chosen.asked)) for one in matches[:first]],
        undecided=[_entry(one, known.columns, aims, question, len(chosen.asked)) for one in undecided[:first]],
        package=PackageName.model_construct(name=store.package.name, version=store.package.version),
        left_out=left_out(store, chosen, aims, question.confidence, itself, unknown, not passed),
        counts=Counts(len(passed), len(matches), len(undecided)),
        unsure=tuple(one for one in question.relations if any(one in item.unsure for item in undecided)),
        asked=chosen.asked,
    )


def _aim(store: Store, relation: Relation, columns: list[str]) -> Aim:
    bed = subject(store, relation.reference, columns)
    openness = bed.openness(relation.zone)
    if openness is None:
        place = ZONE_WORDS[relation.zone].place
        reason = "nobody measured its bed" if bed.basis == "counted" else "its strings do not reach across that window"
        raise fail(
            "reference-blank",
            f"the openness of {bed.name} {place} is not known: {reason}",
            fix="Compare in the centre, or with a measured frame",
        )
    return Aim(relation, bed, openness)


class _Candidates(NamedTuple):
    """Frames that pass every range, as rows of IDENTITY and `columns`. Only those shown become a Subject."""

    columns: list[str]
    rows: list[tuple[Any, ...]]

    def place(self, column: str) -> int:
        """The index of a column in the rows."""
        return len(IDENTITY) + self.columns.index(column)

    def openness(self, zone: str) -> tuple[int, int]:
        """The indices of openness in a zone and of its standard uncertainty."""
        return self.place(f"openness_{zone}"), self.place(f"u_openness_{zone}")

    def known(self, zones: Sequence[str]) -> _Candidates:
        """Those whose openness is known in all these zones."""
        needed = [place for zone in zones for place in self.openness(zone)]
        return self._replace(rows=[row for row in self.rows if all(row[place] is not None for place in needed)])


class _Judged(NamedTuple):
    """A frame that fails no relation, and the relations that are too close to call."""

    row: tuple[Any, ...]
    unsure: tuple[Relation, ...]


def _candidates(store: Store, chosen: Selection, columns: list[str], itself: set[str]) -> _Candidates:
    where = " AND ".join(clause.condition for clause in chosen.clauses) or "true"
    asked = [value_sql(TRAITS[one.trait], one.zone) for one in chosen.asked]
    picked = ", ".join([*(f"s.{column}" for column in (*IDENTITY, *columns)), *asked])
    order = chosen.order or "s.frame_id"
    rows = store.rows(f"SELECT {picked} FROM {chosen.source} WHERE {where} ORDER BY {order}")
    names = [*columns, *(_asked(number) for number in range(len(asked)))]
    return _Candidates(names, [row for row in rows if row[0] not in itself])


def _judged(known: _Candidates, aims: list[Aim], confidence: float) -> list[_Judged]:
    """The frames that fail none of the relations."""
    if not aims:
        return [_Judged(row, ()) for row in known.rows]
    by_relation = []
    for aim in aims:
        value, u = known.openness(aim.relation.zone)
        by_relation.append(outcomes(aim, ((row[value], row[u]) for row in known.rows), confidence))
    each = zip(known.rows, zip(*by_relation, strict=True), strict=True)
    relations = [aim.relation for aim in aims]
    return [
        _Judged(row, tuple(relation for relation, said in zip(relations, sides, strict=True) if not said))
        for row, sides in each
        if min(sides) >= 0
    ]


def _asked(number: int) -> str:
    """The name under which a subject has the value of a trait that was asked about."""
    return f"asked {number}"


def _searched(store: Store, itself: set[str]) -> int:
    ((count,),) = store.rows("SELECT count(*) FROM scores WHERE NOT list_contains(?, frame_id)", [sorted(itself)])
    return int(count)


def _sorted(frames: list[_Judged], known: _Candidates, aims: list[Aim], question: Question) -> list[_Judged]:
    """The frames in the order asked. An order by a trait or by name is the order in which SQL gave them."""
    by = question.order.by if question.order is not None else None
    if by is None:
        value = known.place(f"openness_{question.zone}")
        return sorted(frames, key=lambda one: (one.row[value] or math.inf, one.row[0]))
    if by == "closest":
        value, reference = known.place(f"openness_{aims[0].relation.zone}"), aims[0].openness.value
        return sorted(frames, key=lambda one: (abs(math.log(one.row[value] / reference)), one.row[0]))
    return frames


def _entry(judged: _Judged, columns: list[str], aims: list[Aim], question: Question, asked: int) -> Entry:
    one, zone = of_row(judged.row, columns), question.zone
    openness = one.openness(zone)
    entry: dict[str, Any] = {
        "frame_id": one.frame_id,
        "basis": one.basis,
        "mains": one.mains,
        "crosses": one.crosses,
        "head_area_cm2": one.head_area_cm2,
        "openness": openness.value if openness else None,
        "u_openness": openness.u if openness else None,
        "unsure": judged.unsure,
        "asked": tuple(one.scores[_asked(number)] for number in range(asked)),
    }
    delta = compared(one, aims[0]) if aims else None
    if delta is not None:
        probability, limit = limiting(one, aims) or (None, delta)
        entry |= {
            "difference_percent": delta.percent,
            "u_difference_percent": delta.u_percent,
            "probability": probability,
            "verdict": limit.verdict(question.confidence),
            "why": reasons(one, aims[0].subject, zone),
        }
    return Entry.model_construct(None, **entry)


def reasons(one: Subject, other: Subject, zone: str) -> Reasons | None:
    """Why the openness of two beds differs in a zone, in percent; None if their heads are not known."""
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
