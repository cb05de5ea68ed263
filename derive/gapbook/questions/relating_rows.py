"""The rows that `relate` rests on: which columns may be named, and which playtests count."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from gapbook.errors import GapbookError, fail
from gapbook.questions.relations_found import NotUsed
from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.relation import Sample, indicators
from gapbook.tables.limits import forbids
from gapbook.tables.package import Package
from gapbook.tables.sql import query
from gapbook.tables.store import quoted
from gapbook.tables.views import PLAYTESTS_WITH_BEDS, Column, View

if TYPE_CHECKING:
    import pyarrow as pa

OFFERED = 3
_FIGURES = ("number", "integer")
_IN_OWN_UNITS = {"main_tension": "main_tension_n", "cross_tension": "cross_tension_n"}
"""Columns whose unit each row states, and the column of the same in one unit."""
_MADE_OF = {
    "main_tension_n": ("main_tension",),
    "cross_tension_n": ("cross_tension",),
    "mean_tension_n": ("main_tension", "cross_tension"),
    "stiffness_n_per_mm": ("main_tension", "cross_tension"),
}
"""Columns that a view makes, and the ones with limits that they are made of."""
_IDS = ("playtest_id", "specimen_id", "frame_id", "tester_id")


class Read(NamedTuple):
    """The playtests that an association rests on.

    sample: their figures
    playtest_ids: their ids, as specimen_ids
    specimen_ids: their copies' ids
    frame_ids: the frame that each number in `sample.frame` stands for
    tester_ids: the tester that each number in `sample.tester` stands for
    not_used: how many others there are, and why they do not count
    """

    sample: Sample
    playtest_ids: list[str]
    specimen_ids: list[str]
    frame_ids: list[str]
    tester_ids: list[str]
    not_used: NotUsed

    @property
    def frames(self) -> int:
        """How many frames they are of."""
        return len(self.frame_ids)

    @property
    def testers(self) -> int:
        """How many testers they are of."""
        return len(self.tester_ids)


def check_columns(columns: dict[str, Column], traits: Sequence[str], outcomes: Sequence[str], given: Sequence[str]) -> None:
    """GapbookError unless the columns are there, once each, and of figures (those held: of figures or words).

    columns: those of the view, by name
    traits: the names of traits
    outcomes: the names of outcomes
    given: the names of columns to hold
    """
    for what, names in (("a trait", traits), ("an outcome", outcomes)):
        if not names:
            raise fail("usage", f"relate needs {what}", expected="a column of " + PLAYTESTS_WITH_BEDS)
    for name in (*traits, *outcomes, *given):
        if name not in columns:
            raise _unknown(columns, name)
        if name in _IN_OWN_UNITS:
            fix = f"Use {_IN_OWN_UNITS[name]}"
            raise fail("mixed-units", f"{name} is in the unit each stringer set", expected="one unit", fix=fix)
    for name in (*traits, *outcomes):
        if columns[name].type not in _FIGURES:
            raise fail("not-a-figure", f"{name} is no figure", found=columns[name].type, expected="a column of numbers")
    for name in given:
        if columns[name].type not in (*_FIGURES, "string", "boolean"):
            raise fail("not-a-figure", f"{name} cannot be held", found=columns[name].type, expected="numbers or words")
    named = [*traits, *outcomes, *given]
    if twice := sorted({name for name in named if named.count(name) > 1}):
        raise fail("named-twice", f"{twice[0]} is named twice", fix="Name each column once")


def _unknown(columns: dict[str, Column], name: str) -> GapbookError:
    usable = [name for name in columns if not name.startswith("u_") and name not in _IN_OWN_UNITS]
    near = difflib.get_close_matches(name.lower(), usable, OFFERED, 0.5)
    near = near or [other for other in usable if name and name.lower() in other][:OFFERED]
    fix = "Nearest: " + ", ".join(near) if near else "See gapbook sql --views"
    return fail("unknown-column", f"{PLAYTESTS_WITH_BEDS} has no such column", found=name, fix=fix)


def read(package: Package, view: View, trait: str, outcome: str, given: Sequence[str]) -> Read:
    """The playtests of measured beds that have trait, outcome and all columns held, each as the schemas allow it.

    package: the data package
    view: its playtests_with_beds
    trait: a column of the view
    outcome: another
    given: those held
    """
    names = [trait, outcome, *given]
    known = {column.name: column for column in view.columns}
    limited = list(dict.fromkeys([*names, *(part for one in names for part in _MADE_OF.get(one, ()))]))
    u_trait = [name for name in ("u_" + trait,) if name in known]
    picked = ", ".join(quoted(name) for name in dict.fromkeys([*_IDS, "sessions", *limited, *u_trait]))
    data = query(package, f"SELECT {picked} FROM {PLAYTESTS_WITH_BEDS} ORDER BY playtest_id")
    used, not_used = _used(data, known, names, limited)
    data = data.filter(used)

    def figures(name: str) -> FloatArray:
        return np.asarray(data[name].cast("float64"), dtype=float)

    def words(name: str) -> tuple[list[str], IntArray]:
        levels, codes = np.unique(np.asarray(data[name].to_pylist(), dtype=str), return_inverse=True)
        return levels.tolist(), codes.astype(np.int64)

    held = [np.zeros((data.num_rows, 0))]
    for name in given:
        held.append(figures(name)[:, None] if known[name].type in _FIGURES else indicators(words(name)[1]))
    (frame_ids, frame), (tester_ids, tester) = words("frame_id"), words("tester_id")
    return Read(
        sample=Sample(
            outcome=figures(outcome),
            trait=figures(trait),
            given=np.concatenate(held, axis=1),
            tester=tester,
            frame=frame,
            u_trait=figures(u_trait[0]) if u_trait else None,
            specimen=words("specimen_id")[1],
        ),
        playtest_ids=data["playtest_id"].to_pylist(),
        specimen_ids=data["specimen_id"].to_pylist(),
        frame_ids=frame_ids,
        tester_ids=tester_ids,
        not_used=not_used,
    )


def _used(data: pa.Table, known: dict[str, Column], names: list[str], limited: list[str]) -> tuple[BoolArray, NotUsed]:
    """Which rows count, and why the others do not."""

    def blank(*columns: str) -> BoolArray:
        missing = [np.asarray(data[name].is_null()) for name in columns]
        return np.logical_or.reduce(missing)

    no_bed = blank("sessions")
    banned = np.zeros(data.num_rows, dtype=bool)
    for name in limited:
        banned |= forbids(known[name].field, data[name])
    lacking = blank("frame_id", "tester_id", *names)
    banned &= ~no_bed
    lacking &= ~no_bed & ~banned
    used = ~(no_bed | banned | lacking)
    return used, NotUsed(no_bed=int(no_bed.sum()), not_allowed=int(banned.sum()), blank=int(lacking.sum()))
