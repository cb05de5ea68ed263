"""Why frames are not in an answer: how many each clause leaves out, and which frames miss by one clause only."""

from __future__ import annotations

from gapbook.questions.answer import Excluded, LeftOut, NearMiss
from gapbook.questions.judging import Aim
from gapbook.questions.question import Relation
from gapbook.questions.selection import Clause, Selection
from gapbook.questions.wording import relation_words
from gapbook.science.comparison import Difference
from gapbook.science.rounding import half_up
from gapbook.tables.store import Store

NEAREST = 5
"""Near misses named when nothing matches."""
_FARTHEST = 40.0
"""Standard uncertainties from nought at which every verdict is given."""
_FINEST = 6
"""Decimals of a percentage at most."""


def left_out(
    store: Store, chosen: Selection, aims: list[Aim], confidence: float, itself: set[str], unknown_zone: int, nothing: bool
) -> LeftOut:
    """What each clause leaves out of all frames but the references `itself`; near misses where `nothing` matches.

    Every frame is judged by every clause on its own, relations included; one that a relation cannot decide is not left
    out by it.
    """
    clauses = [*chosen.clauses, *(relation_clause(aim, confidence) for aim in aims)]
    if not clauses:
        return LeftOut.model_construct(unknown_zone=unknown_zone)
    judged = _judged(chosen.source, clauses, aims)
    counts = ", ".join(
        f"count(*) FILTER (WHERE f{n}), count(*) FILTER (WHERE f{n} AND failed = 1 AND NOT blank), "
        f"count(*) FILTER (WHERE NOT p{n} AND met = {len(clauses) - 1})"
        for n in range(len(clauses))
    )
    (found,) = store.rows(f"SELECT {counts} FROM ({judged})", [sorted(itself)])
    excluded = [
        Excluded.model_construct(clause=clause.words, frames=frames, only=only, gains=gains)
        for clause, frames, only, gains in zip(clauses, found[0::3], found[1::3], found[2::3], strict=True)
    ]
    near = _near_misses(store, judged, clauses, excluded, itself) if nothing else []
    return LeftOut.model_construct(clauses=tuple(excluded), unknown_zone=unknown_zone, near_misses=tuple(near))


def _judged(source: str, clauses: list[Clause], aims: list[Aim]) -> str:
    """SQL for every frame: whether it passes (p) and fails (f) each clause, its value (v) there, how far off it is (m)."""
    each = ", ".join(
        f"{clause.condition} AS p{n}, {clause.fails} AS f{n}, {clause.value} AS v{n}, {clause.miss} AS m{n}"
        for n, clause in enumerate(clauses)
    )
    blank = " OR ".join(_blank(aim.relation) for aim in aims) or "false"
    met, failed = (" + ".join(f"CAST({sign}{n} AS INTEGER)" for n in range(len(clauses))) for sign in "pf")
    rows = f"SELECT s.frame_id, {each}, {blank} AS blank FROM {source} WHERE NOT list_contains(?, s.frame_id)"
    return f"SELECT *, {met} AS met, {failed} AS failed FROM ({rows})"


def _blank(relation: Relation) -> str:
    return f"(s.openness_{relation.zone} IS NULL OR s.u_openness_{relation.zone} IS NULL)"


def _near_misses(
    store: Store, judged: str, clauses: list[Clause], excluded: list[Excluded], itself: set[str]
) -> list[NearMiss]:
    """Frames that would match but for one clause: the nearest of each clause before the second nearest of any."""
    found: list[tuple[int, int, NearMiss]] = []
    for number, (clause, told) in enumerate(zip(clauses, excluded, strict=True)):
        if not told.gains:
            continue
        rows = store.rows(
            f"SELECT frame_id, v{number} FROM ({judged}) WHERE f{number} AND v{number} IS NOT NULL "
            f"AND met = {len(clauses) - 1} ORDER BY m{number}, frame_id LIMIT {NEAREST}",
            [sorted(itself)],
        )
        for place, (name, value) in enumerate(rows):
            miss = NearMiss.model_construct(frame_id=name, clause=clause.words, found=clause.told(value))
            found.append((place, -told.gains, miss))
    return [miss for _, _, miss in sorted(found, key=lambda item: item[:2])[:NEAREST]]


def relation_clause(aim: Aim, confidence: float) -> Clause:
    """A relation as SQL over the scores, by the rule of `judging.holds`."""
    relation, reference = aim.relation, aim.openness
    openness, u = f"s.openness_{relation.zone}", f"s.u_openness_{relation.zone}"
    percent = f"(100.0 * ({openness} / {reference.value!r} - 1.0))"
    if relation.kind == "like":
        within = float(relation.within_percent)
        known = f"abs({percent}) <= {within!r}"
        return Clause(
            relation_words(relation),
            f"({known} AND NOT {_blank(relation)}) IS TRUE",
            f"(NOT {known} AND NOT {_blank(relation)}) IS TRUE",
            percent,
            f"abs({percent})",
            lambda value: _percent_words(value, within),
        )
    log = f"ln({openness} / {reference.value!r})"
    spread = f"sqrt(pow({u} / {openness}, 2) + {(reference.u / reference.value) ** 2!r})"
    decided = f"{openness} <> {reference.value!r} AND abs({log}) >= {decisive(confidence)!r} * {spread}"
    tighter = f"({decided} AND {log} < 0) IS TRUE"
    more_open = f"({decided} AND {log} > 0) IS TRUE"
    passes, fails = (tighter, more_open) if relation.kind == "tighter" else (more_open, tighter)
    return Clause(relation_words(relation), passes, fails, percent, f"abs({percent})", _percent_words)


def decisive(confidence: float) -> float:
    """How many standard uncertainties a difference must be from nought for a verdict at this confidence."""
    low, high = 0.0, _FARTHEST
    while (middle := (low + high) / 2.0) not in (low, high):
        if Difference(middle, 1.0).verdict(confidence) == "too close to call":
            low = middle
        else:
            high = middle
    return high


def _percent_words(value: float, within: float | None = None) -> str:
    """A difference in percent, fine enough to be seen outside `within`."""
    decimals = 1
    while within is not None and decimals < _FINEST and round(abs(value), decimals) <= within:
        decimals += 1
    return f"{half_up(value, decimals, plus=True)} %"
