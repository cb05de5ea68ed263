"""Families that are whole for another count of strings than their frame declares, and mains and crosses that are swapped."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layings import Layings, layings
from gapbook.intake.once import once
from gapbook.intake.rule import Rule
from gapbook.intake.rules.kinds import head_size, mistaken
from gapbook.intake.study import Study
from gapbook.science.grouping import IntArray, distinct
from gapbook.tables.spacings import CROSS, MAIN

COUNTED = ("missing-numbers", "surplus-numbers")
FITS = 0.05
"""How near edge to edge must come to the head's width or length, as a part of it, for a single run to prove another count.
Common practice, no source: the outermost gap is about a tenth of either."""
REACHES = 0.9
"""Part of the width or length that a run without inner edges does not reach, and one with them does."""


class Run(NamedTuple):
    """A run: its specimen and session, the count it is whole for (0 for none), whether the inner edges were read then, from
    the one to the other [mm]; whether it may have the declared count with one edge left out; and whether it is numbered from 1
    where it should be from 0.
    """

    specimen: int
    session: int
    strings: int
    edges: bool
    span: float
    short: bool
    from_one: bool


class Other(NamedTuple):
    """A family of a specimen whose count is another than its frame declares, with its runs."""

    specimen: int
    family: int
    strings: int
    declared: int
    runs: tuple[Run, ...]


def as_read(study: Study, mine: IntArray) -> Run:
    """What the layings `mine` of one run say together."""
    laid = layings(study)
    specimen, session, family = (int(one[mine[0]]) for one in (laid.specimen, laid.session, laid.family))
    have = np.flatnonzero((laid.row[mine] >= 0).any(axis=0))
    low, high = int(have[0]), int(have[-1])
    is_mark = bool(laid.is_mark[mine[0]])
    last = int(laid.strings[mine[0]]) - (not is_mark)
    edges = low == 0
    if low > 1 or len(have) != high - low + 1:
        return Run(specimen, session, 0, edges, 0.0, False, False)
    span = _span(laid, mine, low, high)
    across = head_size(study, specimen, family, float(laid.station[mine[0]]))
    from_one = low == 1 and high == last + 2 and span > REACHES * across
    strings = 0 if from_one else high - edges if is_mark else high + (not edges)
    return Run(specimen, session, strings, edges, span, high == last + low, from_one)


def _span(laid: Layings, mine: IntArray, low: int, high: int) -> float:
    """From the first number to the last [mm], in the middle of the layings that have them all; 0 where none has."""
    filled = laid.value[mine][:, low : high + 1]
    filled = filled[~np.isnan(filled).any(axis=1)]
    if not len(filled):
        return 0.0
    return float(np.median(filled[:, -1] - filled[:, 0] if laid.is_mark[mine[0]] else filled.sum(axis=1)))


def _runs(study: Study, specimen: int, family: int) -> tuple[Run, ...]:
    """The runs of a family of a specimen, but those whose kind is mistaken."""
    laid = layings(study)
    mine = laid.of_specimen(specimen, family)
    mine = mine[~mistaken(study)[mine]]
    if not len(mine):
        return ()
    each = distinct(laid.run[mine])
    return tuple(as_read(study, mine[each.number == number]) for number in range(len(each.first)))


def _declared(study: Study, specimen: int, family: int) -> int:
    frames = study.catalogue.frames
    return int((frames.mains, frames.crosses)[family][study.catalogue.specimens.frame[specimen]])


@once
def swapped(study: Study) -> list[int]:
    """Specimens each of whose families is whole for the count of the other, with mains that reach further than crosses."""
    found = []
    for specimen in _faulty(study):
        runs = [_runs(study, specimen, family) for family in (MAIN, CROSS)]
        declared = [_declared(study, specimen, family) for family in (MAIN, CROSS)]
        counts = [{run.strings for run in family} for family in runs]
        if declared[MAIN] != declared[CROSS] and counts == [{declared[CROSS]}, {declared[MAIN]}]:
            mains, crosses = (float(np.median([run.span for run in family])) for family in runs)
            if mains > crosses > 0.0:
                found.append(specimen)
    return found


def _faulty(study: Study) -> list[int]:
    return sorted({fault.specimen for fault in study.run_faults if fault.code in COUNTED})


@once
def others(study: Study) -> list[Other]:
    """Every family that is whole for one same other count, beyond doubt of this copy or of another of its frame."""
    frame_of = study.catalogue.specimens.frame
    doubted: dict[tuple[int, int, int], list[Other]] = defaultdict(list)
    for specimen in sorted(set(_faulty(study)) - set(swapped(study))):
        for family in (MAIN, CROSS):
            runs, declared = _runs(study, specimen, family), _declared(study, specimen, family)
            counts = {run.strings for run in runs} - {0, declared}
            if len(counts) == 1 and all(run.strings for run in runs):
                other = Other(specimen, family, counts.pop(), declared, runs)
                doubted[int(frame_of[specimen]), family, other.strings].append(other)
    return [other for (frame, family, _), alike in doubted.items() if _proved(study, frame, family, alike) for other in alike]


def _proved(study: Study, frame: int, family: int, alike: list[Other]) -> bool:
    """Whether a frame's other count, which the copies `alike` are whole for, is beyond doubt.

    It is if one run has both edges, as far apart as the head asks, or at least two strings too many, which no row left out
    brings about; or if two sessions agree, not counting runs that may lack an edge only. It is not where another copy of the
    frame is whole for the declared count.
    """
    declared, strings = alike[0].declared, alike[0].strings
    runs = [run for other in alike for run in other.runs if {one.strings for one in other.runs} == {strings}]
    sessions = {(run.specimen, run.session) for run in runs if not run.short}
    if not (len(sessions) > 1 or (runs and strings > declared + 1) or any(_fits(study, run, family) for run in runs)):
        return False
    copies = np.flatnonzero(study.catalogue.specimens.frame == frame).tolist()
    rest = (_runs(study, copy, family) for copy in copies if copy not in {other.specimen for other in alike})
    return not any(runs and {run.strings for run in runs} == {declared} for runs in rest)


def _fits(study: Study, run: Run, family: int) -> bool:
    """Whether a run reaches from edge to edge of its head."""
    return run.edges and abs(run.span / head_size(study, run.specimen, family) - 1.0) < FITS


def _findings(study: Study) -> Iterator[Finding]:
    for specimen in swapped(study):
        yield _swapped_finding(study, specimen)
    alike: dict[tuple[int, int, int], list[Other]] = defaultdict(list)
    for other in others(study):
        alike[int(study.catalogue.specimens.frame[other.specimen]), other.family, other.strings].append(other)
    for of_frame in alike.values():
        yield _other_finding(study, of_frame)


def _other_finding(study: Study, of_frame: list[Other]) -> Finding:
    laid, ids = layings(study), study.catalogue.specimens.ids
    one = of_frame[0]
    rows = sorted(int(laid.first[laid.of_specimen(other.specimen, other.family)[0]]) for other in of_frame)
    name = ("mains", "crosses")[one.family]
    copies = ", ".join(ids[other.specimen] for other in of_frame[:3]) + (", ..." if len(of_frame) > 3 else "")
    return Finding(
        "spacings",
        "no",
        f"{one.strings} {name}, in every run of {copies}",
        f"{one.declared} {name}, as {_frame(study, one.specimen)} is declared to have",
        about=ids[one.specimen],
        rows=tuple(rows),
        keyed=1,
    )


def _swapped_finding(study: Study, specimen: int) -> Finding:
    laid, copy = layings(study), study.catalogue.specimens.ids[specimen]
    rows = laid.first[laid.of_specimen(specimen)].tolist()
    mains, crosses = (_declared(study, specimen, family) for family in (MAIN, CROSS))
    found = f"mains and crosses are swapped: {crosses} mains and {mains} crosses in every run of {copy}"
    return Finding(
        "spacings",
        "family",
        found,
        f"{mains} mains and {crosses} crosses, as {_frame(study, specimen)} is declared to have",
        "Exchange the words main and cross in family",
        about=copy,
        rows=tuple(rows),
        keyed=1,
    )


def _frame(study: Study, specimen: int) -> str:
    return study.catalogue.frames.ids[int(study.catalogue.specimens.frame[specimen])]


RULE = Rule(
    "declared-counts",
    Severity.error,
    "another string count than the frame declares",
    "All runs of a family are whole for one same other count: not the reader but the frame's row is wrong, or the copy is "
    "another edition. Said where two sessions or copies agree, or where a run reaches from inner edge to inner edge of a head "
    "of that size (within 5 %), or has two strings too many, and no other copy has the declared count; else numbers are "
    "missing or surplus. Where each family has the other's count, they are swapped.",
    "common practice, no source",
    "Correct the frame's counts, or name the frame that the copy is",
    _findings,
)
