"""Why frames are not in an answer: how many each clause leaves out, and which frames miss by one clause only.

Ranges are judged in SQL, because the store has their tables; relations here, by the verdict of `science/comparison`.
"""

from __future__ import annotations

from collections import Counter
from typing import Any, NamedTuple

from gapbook.questions.aims import Aim
from gapbook.questions.answer import Excluded, LeftOut, NearMiss
from gapbook.questions.selection import Clause, Selection
from gapbook.questions.wording import part_words
from gapbook.tables.store import Store

NEAREST = 5
"""So many near misses are named if nothing matches."""


class _Frames(NamedTuple):
    """Frames as one query gives them: rows of its own columns, and for each relation its outcome for every row."""

    rows: list[tuple[Any, ...]]
    outcomes: list[list[int]]


def left_out(
    store: Store, chosen: Selection, aims: list[Aim], confidence: float, itself: set[str], unknown_zone: int, nothing: bool
) -> LeftOut:
    """What each clause leaves out. Every clause, relations included, judges every frame on its own. A relation that is too
    close to call does not leave a frame out.

    store: the derived tables.
    chosen: the clauses that need no reference.
    aims: the relations.
    confidence: how sure a verdict must be.
    itself: the references, which are not counted.
    unknown_zone: how many frames have no openness in a zone asked about.
    nothing: whether nothing matches; if so, near misses are named.
    """
    words = [*(clause.words for clause in chosen.clauses), *(part_words(aim.relation) for aim in aims)]
    if not words:
        return LeftOut.model_construct(unknown_zone=unknown_zone)
    reader = _Reader(store, chosen, aims, confidence, itself)
    excluded = _excluded(words, reader.counts())
    near = _near_misses(reader, words, excluded) if nothing else []
    return LeftOut.model_construct(clauses=tuple(excluded), unknown_zone=unknown_zone, near_misses=tuple(near))


class _Reader:
    """Fetches frames of the selection and judges them by the relations."""

    def __init__(self, store: Store, chosen: Selection, aims: list[Aim], confidence: float, itself: set[str]) -> None:
        self.store, self.chosen, self.aims, self.confidence, self.itself = store, chosen, aims, confidence, sorted(itself)

    def frames(self, picked: list[str], conditions: list[str], order: str = "") -> _Frames:
        """`picked` columns of the frames that meet the conditions."""
        figures = [f"coalesce({name}, 'nan')" for aim in self.aims for name in (aim.value, aim.u)]
        where = " AND ".join(["NOT list_contains(?, s.frame_id)", *conditions])
        sql = f"SELECT {', '.join([*picked, *figures])} FROM {self.chosen.source} WHERE {where} {order}"
        rows = self.store.rows(sql, [self.itself])
        first = len(picked)
        judged = [
            _judged(aim, [(row[place], row[place + 1]) for row in rows], self.confidence)
            for place, aim in zip(range(first, first + len(figures), 2), self.aims, strict=True)
        ]
        return _Frames(rows, judged)

    def counts(self) -> Counter[tuple[int, ...]]:
        """How many frames there are of each kind. A kind says for each clause, in their order, whether the frames pass (1),
        fail (-1) or neither (0), and last whether their openness is not known in the zone of a relation (1).
        """
        clauses = self.chosen.clauses
        passed = " + ".join([f"CAST({clause.condition} AS INTEGER) * {1 << n}" for n, clause in enumerate(clauses)] or ["0"])
        blank = " OR ".join(f"{name} IS NULL" for aim in self.aims for name in (aim.value, aim.u)) or "false"
        frames = self.frames([f"{passed} + CAST({blank} AS INTEGER) * {1 << len(clauses)}", "count(*)"], [], "GROUP BY ALL")
        kinds: Counter[tuple[int, ...]] = Counter()
        for (bits, number, *_), *relations in zip(frames.rows, *frames.outcomes, strict=True):
            kinds[bits, *relations] += number
        return Counter(
            {
                (*(1 if bits >> n & 1 else -1 for n in range(len(clauses))), *relations, bits >> len(clauses)): number
                for (bits, *relations), number in kinds.items()
            }
        )


def _judged(aim: Aim, figures: list[tuple[float, float]], confidence: float) -> list[int]:
    """The outcomes of a relation; 0 for figures that are not known, also of a relation that is denied."""
    known = [(value, u) for value, u in figures if value == value]
    said = iter(aim.outcomes(known, confidence))
    return [next(said) if value == value else 0 for value, _ in figures]


def _excluded(words: list[str], counts: Counter[tuple[int, ...]]) -> list[Excluded]:
    excluded = []
    for number, clause in enumerate(words):
        fails = [(kind, frames) for kind, frames in counts.items() if kind[number] < 0]
        only = sum(frames for (*kind, blank), frames in fails if not blank and kind.count(-1) == 1)
        gains = sum(
            frames
            for (*kind, _), frames in counts.items()
            if kind[number] <= 0 and all(said > 0 for other, said in enumerate(kind) if other != number)
        )
        excluded.append(
            Excluded.model_construct(clause=clause, frames=sum(frames for _, frames in fails), only=only, gains=gains)
        )
    return excluded


def _near_misses(reader: _Reader, words: list[str], excluded: list[Excluded]) -> list[NearMiss]:
    """Frames that fail one clause only: first the nearest one of each clause, then the second nearest ones, and so on."""
    misses: list[tuple[int, int, NearMiss]] = []
    for number, told in enumerate(excluded):
        if told.gains:
            near = _by_range(reader, number) if number < len(reader.chosen.clauses) else _by_relation(reader, number)
            for place, (name, value) in enumerate(near[:NEAREST]):
                miss = NearMiss.model_construct(frame_id=name, clause=words[number], found=value)
                misses.append((place, -told.gains, miss))
    return [miss for _, _, miss in sorted(misses, key=lambda item: item[:2])[:NEAREST]]


def _by_range(reader: _Reader, number: int) -> list[tuple[str, str]]:
    """Frames that fail one range only, nearest first, with the value they have."""
    clause: Clause = reader.chosen.clauses[number]
    others = [other.condition for other in reader.chosen.clauses if other is not clause]
    conditions = [f"NOT {clause.condition}", f"{clause.value} IS NOT NULL", *others]
    frames = reader.frames(["s.frame_id", clause.value, f"{clause.miss} AS miss"], conditions, "ORDER BY miss, s.frame_id")
    held = [all(said > 0 for said in each) for each in zip(*frames.outcomes, strict=True)] or [True] * len(frames.rows)
    return [(row[0], clause.told(row[1])) for row, holds in zip(frames.rows, held, strict=True) if holds]


def _by_relation(reader: _Reader, number: int) -> list[tuple[str, str]]:
    """Frames that fail one relation only, nearest first, with their difference."""
    which = number - len(reader.chosen.clauses)
    aim = reader.aims[which]
    frames = reader.frames(["s.frame_id"], [clause.condition for clause in reader.chosen.clauses])
    near = []
    for row, each in zip(frames.rows, zip(*frames.outcomes, strict=True), strict=True):
        if each[which] < 0 and all(said > 0 for other, said in enumerate(each) if other != which):
            apart, words = aim.miss(row[1 + 2 * which])
            near.append((apart, row[0], words))
    return [(name, words) for _, name, words in sorted(near)]
