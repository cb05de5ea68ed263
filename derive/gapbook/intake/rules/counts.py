"""Families that are whole for another count of strings than their frame declares, and mains and crosses that are swapped."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import Passes
from gapbook.intake.rule import Rule
from gapbook.intake.rules.kinds import head_size, mistaken
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


def as_read(context: CheckContext, mine: IntArray) -> Run:
    """What the passes `mine` of one run say together."""
    passes = context.passes
    specimen, session, family = (int(one[mine[0]]) for one in (passes.specimen, passes.session, passes.family))
    have = np.flatnonzero((passes.row[mine] >= 0).any(axis=0))
    low, high = int(have[0]), int(have[-1])
    is_mark = bool(passes.is_mark[mine[0]])
    last = int(passes.strings[mine[0]]) - (not is_mark)
    edges = low == 0
    if low > 1 or len(have) != high - low + 1:
        return Run(specimen, session, 0, edges, 0.0, False, False)
    span = _span(passes, mine, low, high)
    across = head_size(context, specimen, family, float(passes.station[mine[0]]))
    from_one = low == 1 and high == last + 2 and span > REACHES * across
    strings = 0 if from_one else high - edges if is_mark else high + (not edges)
    return Run(specimen, session, strings, edges, span, high == last + low, from_one)


def _span(passes: Passes, mine: IntArray, low: int, high: int) -> float:
    """From the first number to the last [mm], in the middle of the passes that have them all; 0 where none has."""
    filled = passes.value[mine][:, low : high + 1]
    filled = filled[~np.isnan(filled).any(axis=1)]
    if not len(filled):
        return 0.0
    return float(np.median(filled[:, -1] - filled[:, 0] if passes.is_mark[mine[0]] else filled.sum(axis=1)))


def _runs(context: CheckContext, specimen: int, family: int) -> tuple[Run, ...]:
    """The runs of a family of a specimen, but those whose kind is mistaken."""
    passes = context.passes
    mine = passes.of_specimen(specimen, family)
    mine = mine[~mistaken(context)[mine]]
    if not len(mine):
        return ()
    each = distinct(passes.run[mine])
    return tuple(as_read(context, mine[each.number == number]) for number in range(len(each.first)))


def _declared(context: CheckContext, specimen: int, family: int) -> int:
    frames = context.catalogue.frames
    return int((frames.mains, frames.crosses)[family][context.catalogue.specimens.frame[specimen]])


@cached
def swapped(context: CheckContext) -> list[int]:
    """Specimens each of whose families is whole for the count of the other, with mains that reach further than crosses."""
    found = []
    for specimen in _faulty(context):
        runs = [_runs(context, specimen, family) for family in (MAIN, CROSS)]
        declared = [_declared(context, specimen, family) for family in (MAIN, CROSS)]
        counts = [{run.strings for run in family} for family in runs]
        if declared[MAIN] != declared[CROSS] and counts == [{declared[CROSS]}, {declared[MAIN]}]:
            mains, crosses = (float(np.median([run.span for run in family])) for family in runs)
            if mains > crosses > 0.0:
                found.append(specimen)
    return found


def _faulty(context: CheckContext) -> list[int]:
    return sorted({fault.specimen for fault in context.run_faults if fault.code in COUNTED})


@cached
def others(context: CheckContext) -> list[Other]:
    """Every family that is whole for one same other count, beyond doubt of this copy or of another of its frame."""
    frame_of = context.catalogue.specimens.frame
    doubted: dict[tuple[int, int, int], list[Other]] = defaultdict(list)
    for specimen in sorted(set(_faulty(context)) - set(swapped(context))):
        for family in (MAIN, CROSS):
            runs, declared = _runs(context, specimen, family), _declared(context, specimen, family)
            counts = {run.strings for run in runs} - {0, declared}
            if len(counts) == 1 and all(run.strings for run in runs):
                other = Other(specimen, family, counts.pop(), declared, runs)
                doubted[int(frame_of[specimen]), family, other.strings].append(other)
    return [other for (frame, family, _), alike in doubted.items() if _proved(context, frame, family, alike) for other in alike]


def _proved(context: CheckContext, frame: int, family: int, alike: list[Other]) -> bool:
    """Whether a frame's other count, which the copies `alike` are whole for, is beyond doubt.

    It is if one run has both edges, as far apart as the head asks, or at least two strings too many, which no row left out
    brings about; or if two sessions agree, not counting runs that may lack an edge only. It is not where another copy of the
    frame is whole for the declared count.
    """
    declared, strings = alike[0].declared, alike[0].strings
    runs = [run for other in alike for run in other.runs if {one.strings for one in other.runs} == {strings}]
    sessions = {(run.specimen, run.session) for run in runs if not run.short}
    if not (len(sessions) > 1 or (runs and strings > declared + 1) or any(_fits(context, run, family) for run in runs)):
        return False
    copies = np.flatnonzero(context.catalogue.specimens.frame == frame).tolist()
    rest = (_runs(context, copy, family) for copy in copies if copy not in {other.specimen for other in alike})
    return not any(runs and {run.strings for run in runs} == {declared} for runs in rest)


def _fits(context: CheckContext, run: Run, family: int) -> bool:
    """Whether a run reaches from edge to edge of its head."""
    return run.edges and abs(run.span / head_size(context, run.specimen, family) - 1.0) < FITS


def _findings(context: CheckContext) -> Iterator[Finding]:
    for specimen in swapped(context):
        yield _swapped_finding(context, specimen)
    alike: dict[tuple[int, int, int], list[Other]] = defaultdict(list)
    for other in others(context):
        alike[int(context.catalogue.specimens.frame[other.specimen]), other.family, other.strings].append(other)
    for of_frame in alike.values():
        yield _other_finding(context, of_frame)


def _other_finding(context: CheckContext, of_frame: list[Other]) -> Finding:
    passes, ids = context.passes, context.catalogue.specimens.ids
    one = of_frame[0]
    rows = sorted(int(passes.first[passes.of_specimen(other.specimen, other.family)[0]]) for other in of_frame)
    name = ("mains", "crosses")[one.family]
    copies = ", ".join(ids[other.specimen] for other in of_frame[:3]) + (", ..." if len(of_frame) > 3 else "")
    return Finding(
        "spacings",
        "no",
        f"{one.strings} {name}, in every run of {copies}",
        f"{one.declared} {name}, as {_frame(context, one.specimen)} is declared to have",
        about=ids[one.specimen],
        rows=tuple(rows),
        keyed=1,
    )


def _swapped_finding(context: CheckContext, specimen: int) -> Finding:
    passes, copy = context.passes, context.catalogue.specimens.ids[specimen]
    rows = passes.first[passes.of_specimen(specimen)].tolist()
    mains, crosses = (_declared(context, specimen, family) for family in (MAIN, CROSS))
    found = f"mains and crosses are swapped: {crosses} mains and {mains} crosses in every run of {copy}"
    return Finding(
        "spacings",
        "family",
        found,
        f"{mains} mains and {crosses} crosses, as {_frame(context, specimen)} is declared to have",
        "Exchange the words main and cross in family",
        about=copy,
        rows=tuple(rows),
        keyed=1,
    )


def _frame(context: CheckContext, specimen: int) -> str:
    return context.catalogue.frames.ids[int(context.catalogue.specimens.frame[specimen])]


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
