"""Relations with the figures of their references: who passes, how probable it is, and how far off the others are."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from gapbook.errors import fail
from gapbook.questions.question import Question, Relation, TraitRelation
from gapbook.questions.relations import Compared, Peers, peers_of
from gapbook.questions.subjects import Subject, subject
from gapbook.questions.traits import TRAITS, ZONE_WORDS, number, unit_word
from gapbook.science.comparison import (
    SHARED_STEP,
    SHARED_ZONES,
    Difference,
    Figure,
    SharedFigure,
    decisive,
    difference,
    verdicts,
)
from gapbook.science.units import UNITS, half_up
from gapbook.tables.store import Store, literal

_FINEST = 6
"""A percentage has at most so many decimals."""
_MEDIAN = math.sqrt(math.pi / 2)
"""Standard error of a median over that of a mean, for normal values in large samples (from memory)."""
_ROUNDING = 1e-9


class ClassFigures(NamedTuple):
    """What a class of frames is like: how many of it were measured, and the standard deviation of their openness [%]."""

    peers: Peers
    frames: int
    spread_percent: float


@dataclass(frozen=True)
class Aim:
    """A relation with its reference.

    relation: the relation.
    value: SQL for what is compared of a frame, with the tables of the selection.
    u: SQL for its standard uncertainty; of openness, for that of the comparison with the reference.
    figure: the reference's figure; of openness, its own uncertainty is part of `u`.
    subject: the bed of the reference; None if it is a class.
    peers: the class of the reference; None if it is a bed.
    """

    relation: Relation | TraitRelation
    value: str
    u: str
    figure: Figure
    subject: Subject | None
    peers: ClassFigures | None = None

    def outcomes(self, figures: Iterable[tuple[float, float]], confidence: float) -> list[int]:
        """Whether the relation holds of each figure (value, u): 1 if it does, -1 if it fails, 0 if it is too close to call or
        the figure is NaN.
        """
        kind = self.relation.kind
        if isinstance(self.relation, Relation) and kind == "like":
            within = float(self.relation.within_percent)
            apart = (abs(difference(Figure(*one), self.figure).percent) for one in figures)
            return [(percent <= within) - (percent > within) for percent in apart]
        denied, less = kind.startswith("not_"), kind.endswith(("tighter", "less"))
        said = (
            verdicts(figures, self.figure, confidence)
            if isinstance(self.relation, Relation)
            else self._sides(figures, confidence)
        )
        wanted = [-side if less else side for side in said]
        return [-1 if side > 0 else 1 for side in wanted] if denied else wanted

    def _sides(self, figures: Iterable[tuple[float, float]], confidence: float) -> list[int]:
        """-1 for figures surely less than the reference's, 1 for more. Without uncertainties they are taken as they stand."""
        times = decisive(confidence)
        sides = []
        for value, u in figures:
            apart, reach = value - self.figure.value, times * math.hypot(u, self.figure.u)
            if reach == 0.0:
                sides.append((apart > _ROUNDING) * 2 - 1 if abs(apart) > _ROUNDING else self._equal())
            else:
                sides.append((apart >= reach) * 1 - (apart <= -reach) * 1)
        return sides

    def _equal(self) -> int:
        """The side of a figure that is the reference's: neither less nor more of it, so that `less` and `more` both fail."""
        return 1 if self.relation.kind.endswith("less") else -1

    def probability(self, value: float, u: float) -> float | None:
        """How probable it is that the relation holds of a figure; None for `like`."""
        kind = self.relation.kind
        if kind == "like":
            return None
        if isinstance(self.relation, Relation):
            less = difference(Figure(value, u), self.figure).tighter
        else:
            apart, both = self.figure.value - value, math.hypot(u, self.figure.u)
            less = 0.5 * math.erfc(-apart / both / math.sqrt(2.0)) if both else float(apart > _ROUNDING)
            if not both and abs(apart) <= _ROUNDING:
                less = 0.0 if kind.endswith("less") else 1.0
        holds = less if kind.endswith(("tighter", "less")) else 1.0 - less
        return 1.0 - holds if kind.startswith("not_") else holds

    def miss(self, value: float) -> tuple[float, str]:
        """How far a figure is off, and that in words."""
        if isinstance(self.relation, Relation):
            percent = 100.0 * (value / self.figure.value - 1.0)
            within = float(self.relation.within_percent) if self.relation.kind == "like" else None
            return abs(percent), percent_words(percent, within)
        return abs(value - self.figure.value), self.told(value)

    def told(self, value: float) -> str:
        """A figure of the trait that is compared, in words."""
        assert isinstance(self.relation, TraitRelation)
        trait = TRAITS.get(self.relation.trait)
        if trait is None:
            return half_up(value, 1) + (" N/mm" if self.relation.trait == "stiffness" else "")
        return f"{number(value, trait, trait.units[0])} {unit_word(trait.units[0])}".rstrip()


def percent_words(value: float, within: float | None) -> str:
    """A difference in percent, fine enough to be seen outside `within`."""
    decimals = 1
    while within is not None and decimals < _FINEST and round(abs(value), decimals) <= within:
        decimals += 1
    return f"{half_up(value, decimals, plus=True)} %"


def trait_source(store: Store, place: int, about: Compared) -> str:
    """SQL that joins the trait of the relation at a place, and its standard uncertainty, to the scores `s`."""
    name = f"aim{place}"
    return f" LEFT JOIN ({_trait_rows(store, about)}) {name} ON {name}.frame_id = s.frame_id"


def _trait_rows(store: Store, about: Compared) -> str:
    """SQL for frame_id, value and u of a trait, one row a frame."""
    if about.table not in store.package.resources:
        raise fail("not-derived", f"this package has no table {about.table}", fix="Run gapbook derive")
    expressions = f"{about.value} {about.u or ''}"
    columns = [name for name in store.package.schema(about.table).names if re.search(rf"\b{name}\b", expressions)]
    strung = ["strung"] if about.table == "handling" else []
    table = store.load(about.table, ["frame_id", *columns, *strung])
    where = " WHERE strung" if strung else ""
    return f"SELECT frame_id, CAST({about.value} AS DOUBLE) AS value, CAST({about.u or 0} AS DOUBLE) AS u FROM {table}{where}"


def aims_of(store: Store, question: Question, columns: Sequence[str]) -> list[Aim]:
    """The relations of a question with the figures of their references [GapbookError unknown-frame, reference-blank]."""
    aims = [_openness_aim(store, relation, list(columns)) for relation in question.relations]
    for place, relation in enumerate(question.trait_relations):
        aims.append(_trait_aim(store, relation, place, list(columns)))
    return aims


def _openness_aim(store: Store, relation: Relation, columns: list[str]) -> Aim:
    value, u = f"s.openness_{relation.zone}", f"s.u_openness_{relation.zone}"
    peers = peers_of(relation.reference)
    if peers is not None:
        figure, figures = _class(store, peers, relation.zone)
        return Aim(relation, value, u, figure, None, figures)
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
    return Aim(relation, value, _u_compared(value, u, openness, relation.zone), Figure(openness.value, 0.0), bed)


def _u_compared(value: str, u: str, reference: SharedFigure, zone: str) -> str:
    """SQL for the standard uncertainty of a frame's openness beside a reference taken as exact, so that their difference has
    the one of `difference`: what instruments and people do to both cancels.
    """
    relative = (reference.u / reference.value) ** 2
    place = 2 + SHARED_ZONES.index(zone)
    effects = [f"WHEN {literal(cause)} THEN {effect * SHARED_STEP!r}" for cause, effect in reference.shared.items()]
    common = "0.0"
    if effects:
        of_part = (
            f"(CASE split_part(part, ' ', 1) {' '.join(effects)} ELSE 0.0 END) * CAST(split_part(part, ' ', {place}) AS DOUBLE)"
        )
        common = f"coalesce(list_sum([{of_part} FOR part IN string_split(s.shared, '; ')]), 0.0)"
    return f"{value} * sqrt(greatest(pow({u} / {value}, 2) + {relative!r} - 2.0 * {common}, 0.0))"


def _class(store: Store, peers: Peers, zone: str) -> tuple[Figure, ClassFigures]:
    """The median openness of the measured frames of a class, with its standard uncertainty, and what the class is like."""
    import statistics  # late: only a class needs it

    names = ["basis", "mains", "crosses", "head_area_cm2", f"openness_{zone}", f"u_openness_{zone}"]
    table = store.load("scores", names)
    picked = f"SELECT openness_{zone}, u_openness_{zone}, head_area_cm2 FROM {table}"
    known = f"basis = 'measured' AND openness_{zone} IS NOT NULL AND u_openness_{zone} IS NOT NULL"
    rows = store.rows(f"{picked} WHERE {known}")
    if peers.mains is not None:
        rows = store.rows(f"{picked} WHERE {known} AND mains = ? AND crosses = ?", [peers.mains, peers.crosses])
    if peers.square_inches is not None:
        factor = UNITS["[sin_i]"].factor
        rows = [row for row in rows if half_up(row[2] / factor) == str(peers.square_inches)]
    if not rows:
        message = f"no measured frame is a {peers.words}"
        raise fail("no-class", message, fix="Compare with another pattern, without the head size, or with a frame")
    values = sorted(row[0] for row in rows)
    middle = statistics.median(values)
    spread = statistics.stdev(math.log(value) for value in values) if len(values) > 1 else 0.0
    own = statistics.median(row[1] / row[0] for row in rows)
    relative = max(_MEDIAN * spread, own) / math.sqrt(len(values))
    return Figure(middle, middle * relative), ClassFigures(peers, len(values), 100.0 * spread)


def _trait_aim(store: Store, relation: TraitRelation, place: int, columns: list[str]) -> Aim:
    bed = subject(store, relation.reference, columns)
    rows = store.rows(f"SELECT value, u FROM ({_trait_rows(store, relation.about)}) WHERE frame_id = ?", [bed.frame_id])
    if not rows or rows[0][0] is None or rows[0][1] is None:
        title = TRAITS[relation.trait].title if relation.trait in TRAITS else relation.trait
        message = f"the {title} of {bed.frame_id} is not known"
        raise fail("reference-blank", message, fix="Compare with another frame, or in another trait")
    name = f"aim{place}"
    return Aim(relation, f"{name}.value", f"{name}.u", Figure(*rows[0]), bed)


def limiting(aims: Sequence[Aim], figures: Sequence[tuple[float, float]]) -> tuple[float, Difference | None] | None:
    """The least probable of the relations that are not `like`: its probability and, if it is of openness, the difference; None
    if all are `like`.
    """
    least: tuple[float, Difference | None] | None = None
    for aim, (value, u) in zip(aims, figures, strict=True):
        probability = aim.probability(value, u)
        if probability is not None and (least is None or probability < least[0]):
            delta = difference(Figure(value, u), aim.figure) if isinstance(aim.relation, Relation) else None
            least = probability, delta
    return least
