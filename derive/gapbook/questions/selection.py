"""Which frames pass which clause of a question: ranges as SQL over the derived tables, relations by the one verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

from gapbook.questions.answer import Asked
from gapbook.questions.question import Order, Pattern, Question, Relation
from gapbook.questions.ranges import Range, shown
from gapbook.questions.subjects import IDENTITY, Subject
from gapbook.questions.traits import TRAITS, Trait, decimals_in, unit_word
from gapbook.questions.wording import clauses
from gapbook.science.comparison import Difference, Figure, difference, verdicts
from gapbook.tables.store import Store, quoted

ALWAYS_SHOWN = ("head_area", "mains", "crosses")
"""Traits every entry has."""
MOST_ASKED = 2
"""At most so many other traits are shown."""


@dataclass(frozen=True)
class Clause:
    """A clause that can be judged without a reference.

    words: the clause in words.
    condition: SQL for whether a frame passes it; never null.
    value: SQL for the value a frame has; null if it is not known.
    miss: SQL for how far the value is from passing, to sort by.
    told: puts the value of a frame that fails in words.
    """

    words: str
    condition: str
    value: str
    miss: str
    told: Callable[[Any], str]


@dataclass(frozen=True)
class Selection:
    """A question's clauses that can be judged without a reference.

    source: the SQL source they are judged over.
    clauses: the clauses.
    order: SQL to sort by; None if the order depends on the comparison with the reference.
    asked: traits to show because they were asked about.
    """

    source: str
    clauses: tuple[Clause, ...]
    order: str | None
    asked: tuple[Asked, ...]


def selection(store: Store, question: Question, columns: list[str]) -> Selection:
    """Load what the question needs, and put its clauses in SQL. `columns` are further score columns wanted."""
    named: list[tuple[Trait, str | None]] = [(one.about, one.zone) for one in question.ranges]
    if question.order is not None and question.order.by in TRAITS:
        named.append((TRAITS[question.order.by], question.order.zone or question.zone))
    needed: dict[str, set[str]] = {"scores": {*IDENTITY, *columns}}
    for trait, zone in named:
        needed.setdefault(trait.table, set()).add(trait.column_in(zone))
    source = f"{store.load('scores', sorted(needed.pop('scores')))} s"
    for table, wanted in needed.items():
        source += f" LEFT JOIN ({frame_rows(store, table, sorted(wanted))}) {table} ON {table}.frame_id = s.frame_id"
    conditions = [_clause(words, item) for words, item in clauses(question) if not hasattr(item, "kind")]
    if question.measured_only:
        conditions.append(Clause("measured only", "(s.basis = 'measured')", "s.basis", "0", str))
    return Selection(source, tuple(conditions), _order(question), asked(question))


def asked(question: Question) -> tuple[Asked, ...]:
    """The traits of order and ranges that an entry has no field for, each in the unit of its range, else in the usual one."""
    traits: dict[tuple[str, str | None], Asked] = {}
    order = question.order
    if order is not None and order.by in TRAITS:
        zone = order.zone or (question.zone if TRAITS[order.by].zones else None)
        traits[order.by, zone] = Asked(order.by, zone, None)
    for one in question.ranges:
        key = (one.trait, one.zone)
        if key not in traits or traits[key].unit is None:
            traits[key] = Asked(one.trait, one.zone, one.unit)
    plainly = {("mesh", question.zone), ("openness", question.zone)}
    return tuple(one for key, one in traits.items() if one.trait not in ALWAYS_SHOWN and key not in plainly)[:MOST_ASKED]


def frame_rows(store: Store, table: str, columns: Iterable[str]) -> str:
    """SQL for columns of a table, one row a frame with its frame_id. Handling gives the strung figures. Beds give geometric
    means over a frame's specimens, and null for uncertainties.
    """
    names = [name for name in dict.fromkeys(columns) if name != "frame_id"]
    loaded = store.load(table, ["frame_id", *names, *(["strung"] if table == "handling" else [])])
    if table != "beds":
        picked = ", ".join(quoted(name) for name in ("frame_id", *names))
        return f"SELECT {picked} FROM {loaded}{' WHERE strung' if table == 'handling' else ''}"
    picked = ", ".join(["frame_id", *(f"{_mean(name)} AS {quoted(name)}" for name in names)])
    return f"SELECT {picked} FROM {loaded} GROUP BY frame_id"


def _mean(column: str) -> str:
    """SQL for the geometric mean of the values above zero of a column; null for an uncertainty."""
    name = quoted(column)
    return "NULL" if column.startswith("u_") else f"exp(avg(ln(CASE WHEN {name} > 0 THEN {name} END)))"


def value_sql(trait: Trait, zone: str | None) -> str:
    """SQL for a trait in its computing unit."""
    column = f"{'s' if trait.table == 'scores' else trait.table}.{quoted(trait.column_in(zone))}"
    return column if trait.factor == 1.0 else f"{column} * {trait.factor!r}"


def _clause(words: str, item: Range | tuple[Pattern, ...]) -> Clause:
    if isinstance(item, tuple):
        either = " OR ".join(f"(s.mains = {one.mains} AND s.crosses = {one.crosses})" for one in item)
        apart = ", ".join(f"abs(s.mains - {one.mains}) + abs(s.crosses - {one.crosses})" for one in item)
        return Clause(words, f"({either})", "s.mains || 'x' || s.crosses", f"least({apart})", str)
    value, interval = value_sql(item.about, item.zone), item.interval()
    held, short = [f"{value} IS NOT NULL"], []
    if interval.low is not None:
        held.append(f"{value} >= {interval.low!r}")
        short.append(f"{interval.low!r} - {value}")
    if interval.high is not None:
        held.append(f"{value} < {interval.high!r}")
        short.append(f"{value} - {interval.high!r}")
    miss = f"greatest({', '.join(short)})"
    return Clause(words, f"({' AND '.join(held)})", value, miss, lambda value_there: value_words(value_there, item))


def _order(question: Question) -> str | None:
    order: Order | None = question.order
    if order is None or order.by == "closest":
        return None
    way = "DESC" if order.descending else "ASC"
    if order.by == "name":
        return f"s.frame_id {way}"
    value = value_sql(TRAITS[order.by], order.zone or question.zone)
    return f"{value} {way} NULLS LAST, s.frame_id"


def value_words(value: float, asked: Range) -> str:
    """A value outside a range, in the range's unit and with at least as many decimals as its bounds: `90 sq in`."""
    bounds = [bound for bound in (asked.low, asked.high) if bound is not None]
    decimals = max(decimals_in(asked.about, asked.unit), *(-int(bound.value.as_tuple().exponent) for bound in bounds))
    text = shown(value, asked.about, asked.unit, [asked], decimals)
    if asked.unit == "points":
        lean = " head light" if text.startswith("−") else " head heavy" if float(text) else ""
        return f"{text.lstrip('−')} points{lean}"
    return f"{text} {unit_word(asked.unit)}".rstrip()


class Aim(NamedTuple):
    """A relation with its reference, and the reference's openness in the relation's zone."""

    relation: Relation
    subject: Subject
    openness: Figure


def compared(one: Subject, aim: Aim) -> Difference | None:
    """A frame against a reference in the relation's zone; None if the frame's openness is not known there."""
    openness = one.openness(aim.relation.zone)
    return None if openness is None else difference(openness, aim.openness)


def outcomes(aim: Aim, figures: Iterable[tuple[float, float]], confidence: float) -> list[int]:
    """Whether a relation holds of beds: 1 if it holds, -1 if it fails, 0 if it is too close to call or if a figure is NaN.
    `figures` are each bed's openness in the relation's zone and its standard uncertainty.
    """
    if aim.relation.kind != "like":
        side = -1 if aim.relation.kind == "tighter" else 1
        return [side * said for said in verdicts(figures, aim.openness, confidence)]
    within = float(aim.relation.within_percent)
    apart = (abs(difference(Figure(*one), aim.openness).percent) for one in figures)
    return [(percent <= within) - (percent > within) for percent in apart]


def limiting(one: Subject, aims: list[Aim]) -> tuple[float, Difference] | None:
    """The least probable of the relations that are not `like`: its probability and its difference; None if all are `like`."""
    asked = [(aim.relation.kind, delta) for aim in aims if aim.relation.kind != "like" and (delta := compared(one, aim))]
    sure = [(delta.tighter if kind == "tighter" else 1.0 - delta.tighter, delta) for kind, delta in asked]
    return min(sure, key=lambda item: item[0], default=None)
