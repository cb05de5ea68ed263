"""The clauses of a question as SQL over the derived tables: who passes which, and where each value is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from gapbook.questions.answer import Asked
from gapbook.questions.question import Order, Pattern, Question
from gapbook.questions.ranges import Range
from gapbook.questions.subjects import IDENTITY
from gapbook.questions.traits import TRAITS, Trait, decimals_in, number, unit_word
from gapbook.questions.wording import clauses
from gapbook.tables.store import Store, quoted

ALWAYS_SHOWN = ("head_area", "mains", "crosses")
"""Traits every entry has."""
MOST_ASKED = 2
"""Further traits shown at most."""


@dataclass(frozen=True)
class Clause:
    """A clause in words, and in SQL: a never-null condition of who passes it."""

    words: str
    condition: str
    value: str
    """SQL for the value a frame has, null if it is not known."""
    miss: str
    """SQL for how far the value is from passing, to rank by."""
    told: Callable[[Any], str]
    """The value of a frame that fails, in words."""


@dataclass(frozen=True)
class Selection:
    """The clauses that can be judged without a reference, and the SQL source they are judged over."""

    source: str
    clauses: tuple[Clause, ...]
    order: str | None
    """SQL to sort by, None if only the comparison can tell."""
    asked: tuple[Asked, ...]
    """Traits to show because they were asked about."""


def selection(store: Store, question: Question, columns: list[str]) -> Selection:
    """Load what the question needs, and put its clauses in SQL. `columns` are the score columns wanted beside."""
    traits = [TRAITS[one.trait] for one in question.ranges]
    if question.order is not None and question.order.by in TRAITS:
        traits.append(TRAITS[question.order.by])
    needed = {*IDENTITY, *columns}
    others: dict[str, set[str]] = {}
    for one in question.ranges:
        _need(one.about, one.zone, needed, others)
    if question.order is not None and question.order.by in TRAITS:
        _need(TRAITS[question.order.by], question.order.zone or question.zone, needed, others)
    source = f"{store.load('scores', sorted(needed))} s"
    for table, wanted in others.items():
        source += f" LEFT JOIN ({frame_rows(store, table, sorted(wanted))}) {table} ON {table}.frame_id = s.frame_id"
    found = [_clause(words, item) for words, item in clauses(question) if not hasattr(item, "kind")]
    if question.measured_only:
        measured = "(s.basis = 'measured')"
        found.append(Clause("measured only", measured, "s.basis", "0", str))
    return Selection(source, tuple(found), _order(question), asked(question))


def asked(question: Question) -> tuple[Asked, ...]:
    """The traits of the order and the ranges that an entry does not show anyway, each in its range's unit, else the usual."""
    found: dict[tuple[str, str | None], Asked] = {}
    order = question.order
    if order is not None and order.by in TRAITS:
        zone = order.zone or (question.zone if TRAITS[order.by].zones else None)
        found[order.by, zone] = Asked(order.by, zone, None)
    for one in question.ranges:
        key = (one.trait, one.zone)
        if key not in found or found[key].unit is None:
            found[key] = Asked(one.trait, one.zone, one.unit)
    plainly = {("mesh", question.zone), ("openness", question.zone)}
    return tuple(one for key, one in found.items() if one.trait not in ALWAYS_SHOWN and key not in plainly)[:MOST_ASKED]


def _need(trait: Trait, zone: str | None, needed: set[str], others: dict[str, set[str]]) -> None:
    wanted = needed if trait.table == "scores" else others.setdefault(trait.table, set())
    wanted.add(trait.column_in(zone))


def frame_rows(store: Store, table: str, columns: Iterable[str]) -> str:
    """SQL for columns of a table, one row a frame with its frame_id. Of handling the strung figures; of beds the geometric
    means over a frame's specimens, and no uncertainties (null).
    """
    names = [name for name in dict.fromkeys(columns) if name != "frame_id"]
    loaded = store.load(table, ["frame_id", *names, *(["strung"] if table == "handling" else [])])
    if table != "beds":
        picked = ", ".join(quoted(name) for name in ("frame_id", *names))
        return f"SELECT {picked} FROM {loaded}{' WHERE strung' if table == 'handling' else ''}"
    picked = ", ".join(["frame_id", *(f"{_mean(name)} AS {quoted(name)}" for name in names)])
    return f"SELECT {picked} FROM {loaded} GROUP BY frame_id"


def _mean(column: str) -> str:
    """SQL for the geometric mean of a column over what is above nought; of an uncertainty null."""
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
    condition = "(" + " AND ".join(held) + ")"
    miss = f"greatest({', '.join(short)})"
    return Clause(words, condition, value, miss, lambda found: found_words(found, item))


def _order(question: Question) -> str | None:
    order: Order | None = question.order
    if order is None or order.by == "closest":
        return None
    way = "DESC" if order.descending else "ASC"
    if order.by == "name":
        return f"s.frame_id {way}"
    value = value_sql(TRAITS[order.by], order.zone or question.zone)
    return f"{value} {way} NULLS LAST, s.frame_id"


def found_words(value: float, asked: Range) -> str:
    """A value outside a range, in the range's unit, at least as fine as its bounds are written: `90 sq in`."""
    bounds = [bound for bound in (asked.low, asked.high) if bound is not None]
    decimals = max(decimals_in(asked.about, asked.unit), *(-int(bound.value.as_tuple().exponent) for bound in bounds))
    shown = number(value, asked.about, asked.unit, decimals)
    if asked.unit == "points":
        lean = " head light" if shown.startswith("−") else " head heavy" if float(shown) else ""
        return f"{shown.lstrip('−')} points{lean}"
    return f"{shown} {unit_word(asked.unit)}".rstrip()
