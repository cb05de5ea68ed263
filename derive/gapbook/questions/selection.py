"""Which frames pass which clause of a question: ranges as SQL over the derived tables, relations by the one verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from gapbook.questions.aims import trait_source
from gapbook.questions.answer import Asked
from gapbook.questions.question import Either, NoneOf, Order, Part, Pattern, Question, Relation, TraitRelation, Without
from gapbook.questions.ranges import Range, shown
from gapbook.questions.subjects import IDENTITY, subject
from gapbook.questions.traits import TRAITS, Trait, decimals_in, unit_word
from gapbook.questions.wording import clauses
from gapbook.tables.store import Store, literal, quoted

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
    denied = [item for item in question.none_of if isinstance(item, Range)]
    every = (*question.ranges, *denied, *(one for group in question.either for one in group))
    named: list[tuple[Trait, str | None]] = [(one.about, one.zone) for one in every]
    named += [(TRAITS[one.trait], one.zone) for one in asked(question)]
    if question.order is not None and question.order.by in TRAITS:
        named.append((TRAITS[question.order.by], question.order.zone or question.zone))
    needed: dict[str, set[str]] = {"scores": {*IDENTITY, *columns}}
    for trait, zone in named:
        needed.setdefault(trait.table, set()).add(trait.column_in(zone))
    source = f"{store.load('scores', sorted(needed.pop('scores')))} s"
    for table, wanted in needed.items():
        source += f" LEFT JOIN ({frame_rows(store, table, sorted(wanted))}) {table} ON {table}.frame_id = s.frame_id"
    for place, relation in enumerate(question.trait_relations):
        source += trait_source(store, place, relation.about)
    said = [(words, part) for words, part in clauses(question) if not isinstance(part, Relation | TraitRelation)]
    conditions = [_clause(store, words, part) for words, part in said]
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
    for relation in question.trait_relations:
        shown_beside = relation.about.asked
        if shown_beside is not None:
            traits.setdefault((shown_beside, None), Asked(shown_beside, None, None))
    for one in (*question.ranges, *(group[0] for group in question.either)):
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


def _clause(store: Store, words: str, part: Part) -> Clause:
    if isinstance(part, Without):
        frame = subject(store, part.reference, []).frame_id
        return Clause(words, f"(s.frame_id <> {literal(frame)})", "s.frame_id", "0", str)
    if isinstance(part, Either):
        each = [_range_clause(words, one) for one in part.ranges]
        either = " OR ".join(one.condition for one in each)
        return Clause(words, f"({either})", each[0].value, f"least({', '.join(one.miss for one in each)})", each[0].told)
    if isinstance(part, NoneOf) and isinstance(part.item, Range):
        inside = _range_clause(words, part.item)
        condition = f"({inside.value} IS NOT NULL AND NOT {inside.condition})"
        return Clause(words, condition, inside.value, "0", inside.told)
    if isinstance(part, NoneOf):
        one = _pattern_clause(words, (part.item,))  # type: ignore[arg-type]
        return Clause(words, f"(NOT {one.condition})", one.value, "0", str)
    return _range_clause(words, part) if isinstance(part, Range) else _pattern_clause(words, part)  # type: ignore[arg-type]


def _pattern_clause(words: str, patterns: tuple[Pattern, ...]) -> Clause:
    either = " OR ".join(f"(s.mains = {one.mains} AND s.crosses = {one.crosses})" for one in patterns)
    apart = ", ".join(f"abs(s.mains - {one.mains}) + abs(s.crosses - {one.crosses})" for one in patterns)
    return Clause(words, f"({either})", "s.mains || 'x' || s.crosses", f"least({apart})", str)


def _range_clause(words: str, item: Range) -> Clause:
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
