"""From a question to its answer: select by ranges, compare with the references, keep apart what is too close to call.

Answers are made by `model_construct`: their figures are our own, and a question should not wait for them to be validated.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from gapbook.questions.aims import Aim, aims_of, limiting
from gapbook.questions.answer import Answer, Counts, Entry, PackageName, Reasons, Reference
from gapbook.questions.exclusions import left_out
from gapbook.questions.notes import notes_of
from gapbook.questions.question import Question, Relation, TraitRelation
from gapbook.questions.selection import Selection, selection, value_sql
from gapbook.questions.subjects import IDENTITY, Subject, of_row, score_columns
from gapbook.questions.traits import TRAITS
from gapbook.science.comparison import Figure, difference, why
from gapbook.tables.store import Store


def answer(store: Store, question: Question, first: int | None = None, said: Sequence[str] = ()) -> Answer:
    """Answer `question` from the derived tables. GapbookError if nobody knows a reference, or what it is asked about.

    store: the derived tables.
    question: the question.
    first: only so many entries of each list are made; None for all.
    said: sentences on how the question was read, to which those on how it is answered are added.
    """
    zones = list(dict.fromkeys([question.zone, *(relation.zone for relation in question.relations)]))
    columns = list(dict.fromkeys(column for zone in zones for column in score_columns(zone)))
    aims = aims_of(store, question, columns)
    chosen = selection(store, question, columns)
    itself = {aim.subject.frame_id for aim in aims if aim.subject is not None and aim.subject.kind == "frame"}
    candidates = _candidates(store, chosen, columns, aims, itself)
    known = candidates.known(aims)
    judged = _sorted(_judged(known, aims, question.confidence), known, aims, question)
    passed = [item for item in judged if not item.unsure]
    undecided = [item for item in judged if item.unsure]
    matches = passed[: question.limit]
    unknown = len(candidates.rows) - len(known.rows)
    base = _base(aims, question)
    making = _Making(known, aims, base, question, len(chosen.asked))
    relations = (*question.relations, *question.trait_relations)
    return Answer.model_construct(
        question=question,
        reference=_reference(aims, base),
        searched=_searched(store, itself),
        matches=[making.entry(one) for one in matches[:first]],
        undecided=[making.entry(one) for one in undecided[:first]],
        package=PackageName.model_construct(name=store.package.name, version=store.package.version),
        notes=(*said, *notes_of(question, aims)),
        left_out=left_out(store, chosen, aims, question.confidence, itself, unknown, not passed),
        counts=Counts(len(passed), len(matches), len(undecided)),
        unsure=tuple(one for one in relations if any(one in item.unsure for item in undecided)),
        asked=chosen.asked,
    )


class _Candidates(NamedTuple):
    """Frames that pass every range, as rows of IDENTITY and `columns`. Only those shown become a Subject."""

    columns: list[str]
    rows: list[tuple[Any, ...]]

    def place(self, column: str) -> int:
        """The index of a column in the rows."""
        return len(IDENTITY) + self.columns.index(column)

    def known(self, aims: Sequence[Aim]) -> _Candidates:
        """Those of which everything is known that is compared."""
        needed = [self.place(name) for place in range(len(aims)) for name in _aim_names(place)]
        return self._replace(rows=[row for row in self.rows if all(row[place] is not None for place in needed)])

    def figures(self, aim: int) -> list[tuple[float, float]]:
        """What is compared in a relation, and its standard uncertainty, of every row."""
        value, u = (self.place(name) for name in _aim_names(aim))
        return [(row[value], row[u]) for row in self.rows]


def _aim_names(place: int) -> tuple[str, str]:
    """The names under which rows have the figures that are compared in a relation."""
    return f"compared {place}", f"u_compared {place}"


class _Judged(NamedTuple):
    """A frame that fails no relation, and the relations that are too close to call."""

    row: tuple[Any, ...]
    unsure: tuple[Relation | TraitRelation, ...]


def _candidates(store: Store, chosen: Selection, columns: list[str], aims: list[Aim], itself: set[str]) -> _Candidates:
    where = " AND ".join(clause.condition for clause in chosen.clauses) or "true"
    asked = [value_sql(TRAITS[one.trait], one.zone) for one in chosen.asked]
    compared = [name for aim in aims for name in (aim.value, aim.u)]
    picked = ", ".join([*(f"s.{column}" for column in (*IDENTITY, *columns)), *asked, *compared])
    order = chosen.order or "s.frame_id"
    rows = store.rows(f"SELECT {picked} FROM {chosen.source} WHERE {where} ORDER BY {order}")
    names = [*columns, *(_asked(number) for number in range(len(asked)))]
    names += [name for place in range(len(aims)) for name in _aim_names(place)]
    return _Candidates(names, [row for row in rows if row[0] not in itself])


def _judged(known: _Candidates, aims: list[Aim], confidence: float) -> list[_Judged]:
    """The frames that fail none of the relations."""
    if not aims:
        return [_Judged(row, ()) for row in known.rows]
    by_relation = [aim.outcomes(known.figures(place), confidence) for place, aim in enumerate(aims)]
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
    """The frames in the order asked. An order by a trait or by name is the order in which SQL gave them. With a limit alone,
    those come first of which the first relation holds most strongly.
    """
    by = question.order.by if question.order is not None else None
    if by is not None and by != "closest":
        return frames
    strongest = by is None and question.limit is not None and bool(aims)
    if by == "closest" or (strongest and aims[0].relation.kind == "like"):
        value = known.place(_aim_names(0)[0])
        return sorted(frames, key=lambda one: (abs(math.log(one.row[value] / aims[0].figure.value)), one.row[0]))
    value = known.place(_aim_names(0)[0] if strongest else f"openness_{question.zone}")
    turned = -1 if strongest and aims[0].relation.kind in ("more_open", "not_tighter", "more", "not_less") else 1
    return sorted(frames, key=lambda one: (math.inf if one.row[value] is None else turned * one.row[value], one.row[0]))


class _Base(NamedTuple):
    """What differences are taken from: the first reference and its openness in the zone asked about."""

    subject: Subject | None
    openness: Figure


def _base(aims: list[Aim], question: Question) -> _Base | None:
    if not aims:
        return None
    relation, bed = aims[0].relation, aims[0].subject
    if bed is None:
        return _Base(bed, aims[0].figure) if isinstance(relation, Relation) else None
    openness = bed.openness(relation.zone if isinstance(relation, Relation) else question.zone)
    return _Base(bed, openness) if openness is not None else None


class _Making(NamedTuple):
    """What entries are made of."""

    known: _Candidates
    aims: list[Aim]
    base: _Base | None
    question: Question
    asked: int

    def entry(self, judged: _Judged) -> Entry:
        """The entry of a frame."""
        one, zone = of_row(judged.row, self.known.columns), self.question.zone
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
            "asked": tuple(one.scores[_asked(number)] for number in range(self.asked)),
        }
        if self.aims:
            figures = [(judged.row[self.known.place(v)], judged.row[self.known.place(u)]) for v, u in self._names()]
            limit = limiting(self.aims, figures)
            entry["probability"] = limit[0] if limit is not None else None
            if self.base is not None and openness is not None:
                delta = difference(openness, self.base.openness)
                said = limit[1] if limit is not None and limit[1] is not None else delta
                entry |= {
                    "difference_percent": delta.percent,
                    "u_difference_percent": delta.u_percent,
                    "verdict": said.verdict(self.question.confidence),
                    "why": reasons(one, self.base.subject, zone) if self.base.subject is not None else None,
                }
        return Entry.model_construct(None, **entry)

    def _names(self) -> list[tuple[str, str]]:
        return [_aim_names(place) for place in range(len(self.aims))]


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


def _reference(aims: list[Aim], base: _Base | None) -> Reference | None:
    if not aims or base is None:
        return None
    peers, bed = aims[0].peers, base.subject
    if peers is not None:
        return Reference.model_construct(
            frame_id=peers.peers.words,
            openness=base.openness.value,
            u_openness=base.openness.u,
            basis="measured",
            frames=peers.frames,
            spread_percent=peers.spread_percent,
        )
    assert bed is not None
    return Reference.model_construct(
        frame_id=bed.frame_id, openness=base.openness.value, u_openness=base.openness.u, basis=bed.basis
    )
