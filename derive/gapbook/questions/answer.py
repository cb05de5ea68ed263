"""Answers as data: what `ask` and `find` give to screens, JSON and Python alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

from pydantic import ConfigDict, Field

from gapbook.questions.question import Question, Relation, TraitRelation
from gapbook.questions.ranges import Frozen
from gapbook.questions.shown import Shown
from gapbook.science.comparison import Verdict

if TYPE_CHECKING:
    import pyarrow as pa


class Result(Frozen):
    """A part of an answer. Its validator is only built when it is first needed, so that a question need not wait for it."""

    model_config = ConfigDict(defer_build=True)


class PackageName(Result):
    """The data package an answer comes from."""

    name: str
    version: str


class Reference(Result):
    """The bed that the answer is set against, in the zone asked about.

    frame_id: the frame it is, or is a copy of; for a class its words, `16x19`.
    openness: its openness there; of a class the median of its measured frames.
    u_openness: the standard uncertainty of that.
    basis: measured or counted.
    frames: how many measured frames a class has; left out in JSON unless it is one, as all below.
    spread_percent: the standard deviation of their openness [%].
    """

    frame_id: str
    openness: float
    u_openness: float
    basis: str
    frames: int | None = Field(default=None, exclude_if=lambda value: value is None)
    spread_percent: float | None = Field(default=None, exclude_if=lambda value: value is None)


class Reasons(Result):
    """Parts of a difference in percent (100 times a natural logarithm, so that they add up).

    size: the part due to head size.
    count: the part due to the string count.
    drilling: the part due to drilling; None if one of the two beds is only counted.
    zone: the part due to the zone against the centre; None if the centre is asked about.
    """

    size: float
    count: float
    drilling: float | None
    zone: Annotated[float | None, Field(exclude_if=lambda value: value is None)] = None


class Asked(NamedTuple):
    """A trait that was asked about: its key, its zone if it has zones, and the unit asked in (None if none was named)."""

    trait: str
    zone: str | None
    unit: str | None


class Entry(Result):
    """One frame of an answer, in the zone asked about.

    frame_id: the frame.
    basis: measured or counted.
    mains: its main strings.
    crosses: its cross strings.
    head_area_cm2: its declared head area [cm²].
    openness: its openness there; None if it is not known.
    u_openness: the standard uncertainty of that.
    difference_percent: how much more open it is than the first reference [%]; None if there is none, as all below.
    probability: how probable the least probable relation is, `like` not counted; None if only `like` was asked.
    verdict: the verdict of that relation; if only `like` was asked, of the first one.
    why: the parts of the difference from the first reference; None if a head is not known.
    u_difference_percent: the standard uncertainty of difference_percent; not in JSON, as all below.
    unsure: the relations that are too close to call.
    asked: values of the answer's `asked` traits [computing units], None if they are not known.
    """

    frame_id: str
    basis: str
    mains: int
    crosses: int
    head_area_cm2: float
    openness: float | None
    u_openness: float | None
    difference_percent: float | None = None
    probability: float | None = None
    verdict: Verdict | None = None
    why: Reasons | None = None
    u_difference_percent: float | None = Field(default=None, exclude=True, repr=False)
    unsure: tuple[Relation | TraitRelation, ...] = Field(default=(), exclude=True, repr=False)
    asked: tuple[float | None, ...] = Field(default=(), exclude=True, repr=False)


class Excluded(Result):
    """A clause of the question, and how many frames it leaves out.

    clause: the clause in words.
    frames: how many frames fail it.
    only: how many of these fail no other clause.
    gains: how many more frames would match without the clause.
    """

    clause: str
    frames: int
    only: int
    gains: int = 0


class NearMiss(Result):
    """A frame that fails one clause only: the clause in words, and the value that the frame has instead."""

    frame_id: str
    clause: str
    found: str


class LeftOut(Result):
    """What people are told about the frames that are neither matches nor undecided."""

    clauses: tuple[Excluded, ...] = ()
    unknown_zone: int = 0
    near_misses: tuple[NearMiss, ...] = ()


class Counts(NamedTuple):
    """How many frames match (`found`), how many of these are within the limit asked for, and how many are too close to call."""

    found: int
    matches: int
    undecided: int


class Answer(Shown, Result):
    """The answer to a question.

    question: the question as it was understood.
    reference: the bed it is set against; None if nothing is compared.
    searched: how many frames were looked at, without the references themselves.
    matches: the frames that match, in the order asked.
    undecided: the frames that met every other clause but are too close to call.
    package: the data package it comes from.
    notes: sentences on how the question was taken; in JSON only if there are any.
    left_out: why the other frames are not in the answer; not in JSON, as all below.
    counts: how many frames there are, whether or not each of them was made an entry.
    unsure: the relations that leave a frame too close to call, in the question's order.
    asked: traits that were asked about and that entries have no field for.
    """

    question: Question
    reference: Reference | None
    searched: int
    matches: list[Entry]
    undecided: list[Entry]
    package: PackageName
    notes: tuple[str, ...] = Field(default=(), exclude_if=lambda value: not value)
    left_out: LeftOut = Field(default_factory=LeftOut.model_construct, exclude=True)
    counts: Counts = Field(default=Counts(0, 0, 0), exclude=True)
    unsure: tuple[Relation | TraitRelation, ...] = Field(default=(), exclude=True)
    asked: tuple[Asked, ...] = Field(default=(), exclude=True)

    def __repr__(self) -> str:
        names = ", ".join(entry.frame_id for entry in self.matches[:5]) + (" …" if len(self.matches) > 5 else "")
        return f"<Answer: {self.counts.found} of {self.searched} match ({names}); {self.counts.undecided} too close to call>"

    def to_arrow(self) -> pa.Table:
        """One row a frame, matches first, then those too close to call (`decided` is false); the parts of why as columns."""
        columns = typed("frame_id basis", "mains crosses", "head_area_cm2 openness u_openness difference_percent")
        columns = {"decided": "bool", **columns, **typed(numbers="u_difference_percent probability"), **typed("verdict")}
        parts = ("size", "count", "drilling", "zone")
        columns |= typed(numbers=" ".join(f"why_{part}" for part in parts))
        rows: list[dict[str, object]] = []
        for entry in (*self.matches, *self.undecided):
            row = entry.model_dump(exclude={"why"}) | {"u_difference_percent": entry.u_difference_percent}
            row |= {f"why_{part}": getattr(entry.why, part, None) for part in parts}
            rows.append(row | {"decided": len(rows) < len(self.matches)})
        return tabulated(rows, columns)


def tabulated(rows: Sequence[Mapping[str, Any]], columns: Mapping[str, str]) -> pa.Table:
    """Rows as a table. `columns` are names with Arrow types by name; what a row does not hold is null."""
    import pyarrow as pa  # a question on the command line does not need it

    types = {name: pa.type_for_alias(kind) for name, kind in columns.items()}
    return pa.table({name: pa.array([row.get(name) for row in rows], kind) for name, kind in types.items()})


def typed(texts: str = "", integers: str = "", numbers: str = "") -> dict[str, str]:
    """Columns with their Arrow types, from names with blanks between."""
    kinds = (("string", texts), ("int64", integers), ("float64", numbers))
    return {name: kind for kind, names in kinds for name in names.split()}
