"""Runs that no bed can be laid out from: another string count than declared, numbers missing or surplus, impossible values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import Passes, groups
from gapbook.intake.rule import Rule
from gapbook.intake.rules.kinds import head_size, mistaken, read_size
from gapbook.intake.rules.order import backwards, left_out_words, renumbered
from gapbook.science.grouping import IntArray
from gapbook.tables.spacings import CROSS, MAIN, RunFault

COUNTED = ("missing-numbers", "surplus-numbers")
FITS, FITS_READ = 0.05, 0.025
"""By what part the way from edge to edge may differ from the head's width or length, for a single run to prove another count:
as it follows from the declared area, and as it was read. A run that lacks an outermost gap is shorter by about a tenth, one
that lacks another gap by a twenty-fifth. Common practice, no source."""
REACHES = 0.9
"""A run reaches more than this part of the width or length only if it has the inner edges."""
CODES = ("wrong-kind", "declared-counts", *COUNTED, "missing-station", "station", "gap-not-positive", "marks-not-rising")
"""The codes of this file's rules: a bed with such a finding is not laid out."""


# Another count than declared


class _Run(NamedTuple):
    """The count that the passes of one run stand for. A run is whole for a count if it has every number that so many strings
    need, and no other.

    specimen: number of the specimen
    session: code of the session
    strings: the count it is whole for; 0 if for none
    edges: whether the inner edges were read
    span: from the first number to the last [mm]
    short: whether it may have the declared count and only lack one edge
    from_one: whether its numbers start at 1 and should start at 0
    """

    specimen: int
    session: int
    strings: int
    edges: bool
    span: float
    short: bool
    from_one: bool


class _Other(NamedTuple):
    """A family of a specimen with another count than its frame declares.

    specimen: number of the specimen
    family: MAIN or CROSS
    strings: the count that all its runs are whole for
    declared: the count that the frame declares
    runs: its runs
    """

    specimen: int
    family: int
    strings: int
    declared: int
    runs: tuple[_Run, ...]


def _as_read(context: CheckContext, mine: IntArray) -> _Run:
    """The count that the passes `mine` of one run stand for."""
    passes = context.passes
    specimen, session, family = (int(one[mine[0]]) for one in (passes.specimen, passes.session, passes.family))
    have = np.flatnonzero((passes.row[mine] >= 0).any(axis=0))
    low, high = int(have[0]), int(have[-1])
    is_mark = bool(passes.is_mark[mine[0]])
    last = int(passes.strings[mine[0]]) - (not is_mark)
    edges = low == 0
    if low > 1 or len(have) != high - low + 1:
        return _Run(specimen, session, 0, edges, 0.0, False, False)
    span = _span(passes, mine, low, high)
    across = head_size(context, specimen, family, float(passes.station[mine[0]]))
    from_one = low == 1 and high == last + 2 and span > REACHES * across
    left = renumbered(context, mine)
    strings = 0 if from_one or (left is not None and left.surely) else high - edges if is_mark else high + (not edges)
    return _Run(specimen, session, strings, edges, span, high == last + low, from_one)


def _span(passes: Passes, mine: IntArray, low: int, high: int) -> float:
    """From the first number to the last [mm], the median over the passes that have all of them; 0 if none has."""
    filled = passes.value[mine][:, low : high + 1]
    filled = filled[~np.isnan(filled).any(axis=1)]
    if not len(filled):
        return 0.0
    return float(np.median(filled[:, -1] - filled[:, 0] if passes.is_mark[mine[0]] else filled.sum(axis=1)))


def _runs(context: CheckContext, specimen: int, family: int) -> tuple[_Run, ...]:
    """The runs of a family of a specimen, except those whose kind is mistaken."""
    passes = context.passes
    mine = passes.of_specimen(specimen, family)
    mine = mine[~mistaken(context)[mine]]
    return tuple(_as_read(context, mine[one]) for one in groups(passes.run[mine]))


def _declared(context: CheckContext, specimen: int, family: int) -> int:
    frames = context.catalogue.frames
    return int((frames.mains, frames.crosses)[family][context.catalogue.specimens.frame[specimen]])


@cached
def _swapped(context: CheckContext) -> list[int]:
    """Specimens with mains and crosses swapped: each is whole for the other's count, and mains reach further than crosses."""
    specimens = []
    for specimen in _faulty(context):
        runs = [_runs(context, specimen, family) for family in (MAIN, CROSS)]
        declared = [_declared(context, specimen, family) for family in (MAIN, CROSS)]
        counts = [{run.strings for run in family} for family in runs]
        if declared[MAIN] != declared[CROSS] and counts == [{declared[CROSS]}, {declared[MAIN]}]:
            mains, crosses = (float(np.median([run.span for run in family])) for family in runs)
            if mains > crosses > 0.0:
                specimens.append(specimen)
    return specimens


def _faulty(context: CheckContext) -> list[int]:
    return sorted({fault.specimen for fault in context.run_faults if fault.code in COUNTED})


@cached
def _others(context: CheckContext) -> list[_Other]:
    """Every family all of whose runs are whole for one same other count, if this copy or others of its frame prove it."""
    frame_of = context.catalogue.specimens.frame
    doubted: dict[tuple[int, int, int], list[_Other]] = defaultdict(list)
    for specimen in sorted(set(_faulty(context)) - set(_swapped(context))):
        for family in (MAIN, CROSS):
            runs, declared = _runs(context, specimen, family), _declared(context, specimen, family)
            counts = {run.strings for run in runs} - {0, declared}
            if len(counts) == 1 and all(run.strings for run in runs):
                other = _Other(specimen, family, counts.pop(), declared, runs)
                doubted[int(frame_of[specimen]), family, other.strings].append(other)
    return [other for (frame, family, _), alike in doubted.items() if _proved(context, frame, family, alike) for other in alike]


def _proved(context: CheckContext, frame: int, family: int, alike: list[_Other]) -> bool:
    """Whether a frame is proved to have the other count that its copies `alike` are whole for.

    It is proved if one run has both edges, as far apart as the head is wide (long), or has at least two strings too many: a
    row left out cannot bring that about. It is also proved if two sessions agree; runs that may only lack an edge do not
    count. It is not proved if another copy of the frame is whole for the declared count.
    """
    declared, strings = alike[0].declared, alike[0].strings
    runs = [run for other in alike for run in other.runs if {one.strings for one in other.runs} == {strings}]
    sessions = {(run.specimen, run.session) for run in runs if not run.short}
    if not (len(sessions) > 1 or (runs and strings > declared + 1) or any(_fits(context, run, family) for run in runs)):
        return False
    copies = np.flatnonzero(context.catalogue.specimens.frame == frame).tolist()
    rest = (_runs(context, copy, family) for copy in copies if copy not in {other.specimen for other in alike})
    return not any(runs and {run.strings for run in runs} == {declared} for runs in rest)


def _fits(context: CheckContext, run: _Run, family: int) -> bool:
    """Whether a run has both edges, as far apart as its head is wide (long)."""
    room = FITS_READ if len(read_size(context, run.specimen, family)) else FITS
    return run.edges and abs(run.span / head_size(context, run.specimen, family) - 1.0) < room


def _declared_otherwise(context: CheckContext) -> Iterator[Finding]:
    for specimen in _swapped(context):
        yield _swapped_families(context, specimen)
    alike: dict[tuple[int, int, int], list[_Other]] = defaultdict(list)
    for other in _others(context):
        alike[int(context.catalogue.specimens.frame[other.specimen]), other.family, other.strings].append(other)
    for of_frame in alike.values():
        yield _other_count(context, of_frame)


def _other_count(context: CheckContext, of_frame: list[_Other]) -> Finding:
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


def _swapped_families(context: CheckContext, specimen: int) -> Finding:
    passes, copy = context.passes, context.catalogue.specimens.ids[specimen]
    rows = passes.first[passes.of_specimen(specimen)].tolist()
    mains, crosses = (_declared(context, specimen, family) for family in (MAIN, CROSS))
    return Finding(
        "spacings",
        "family",
        f"mains and crosses are swapped: {crosses} mains and {mains} crosses in every run of {copy}",
        f"{mains} mains and {crosses} crosses, as {_frame(context, specimen)} is declared to have",
        "Exchange the words main and cross in family",
        about=copy,
        rows=tuple(rows),
        keyed=1,
    )


def _frame(context: CheckContext, specimen: int) -> str:
    return context.catalogue.frames.ids[int(context.catalogue.specimens.frame[specimen])]


_DECLARED_COUNTS = Rule(
    "declared-counts",
    Severity.error,
    "another string count than the frame declares",
    "All runs of a family are whole for one same other count: not the reader but the frame's row is wrong, or the copy is "
    "another edition. Said where two sessions or copies agree, a run reaches from inner edge to inner edge of a head of that "
    "size (within 5 %, or 2.5 % of one that was read), or it has two strings too many, and no other copy has the declared "
    "count; else numbers are missing or surplus. Where each family has the other's count, they are swapped.",
    "common practice, no source",
    "Correct the frame's counts, or name the frame that the copy is",
    _declared_otherwise,
)


# Runs that cannot be laid out


def _faults(code: str) -> Callable[[CheckContext], Iterator[Finding]]:
    def look(context: CheckContext) -> Iterator[Finding]:
        for fault in context.run_faults:
            if fault.code == code and not (code in (*COUNTED, "marks-not-rising") and _explained(context, fault)):
                yield _finding(context, fault)

    return look


def _explained(context: CheckContext, fault: RunFault) -> bool:
    """Whether another finding explains the fault: a wrong declared count, swapped families, a mistaken kind, or an order."""
    passes, number = context.passes, _pass_number(context, fault)
    if number < 0:
        return False
    family = int(passes.family[number])
    is_other = any((other.specimen, other.family) == (fault.specimen, family) for other in _others(context))
    return is_other or fault.specimen in _swapped(context) or bool((mistaken(context) | backwards(context))[number])


def _pass_number(context: CheckContext, fault: RunFault) -> int:
    """The number of the pass that a fault's row belongs to; -1 if there is none."""
    passes = context.passes
    mine = passes.of_specimen(fault.specimen)
    holds = np.flatnonzero((passes.row[mine] == fault.row).any(axis=1))
    return int(mine[holds[0]]) if len(holds) else -1


def _fix(context: CheckContext, fault: RunFault) -> str:
    """How to mend a fault; the numbers of the whole run may say more than the fault itself."""
    passes, number = context.passes, _pass_number(context, fault)
    if fault.code not in COUNTED or number < 0:
        return fault.fix or ""
    mine = passes.of_specimen(fault.specimen)
    mine = mine[passes.run[mine] == passes.run[number]]
    if (left := renumbered(context, mine)) is not None:
        return left_out_words(left, bool(passes.is_mark[number]))
    from_one = _as_read(context, mine).from_one
    return "Numbers start at 0, for the inner edge: make every number of this run one less" if from_one else fault.fix or ""


def _finding(context: CheckContext, fault: RunFault) -> Finding:
    return Finding(
        "spacings",
        fault.column,
        fault.found or fault.message,
        fault.expected or "",
        _fix(context, fault),
        about=context.catalogue.specimens.ids[fault.specimen],
        rows=(fault.row,),
        keyed=1 if fault.column is None else None,
    )


_COUNTED = "Strings are counted, not holes; every gap or mark of a run is needed to lay the bed out."
_SHEET = "the measuring sheet: how a bed is read"


def _rule(code: str, title: str, rationale: str, fix: str, follows: tuple[str, ...] = ()) -> Rule:
    return Rule(code, Severity.error, title, rationale, _SHEET, fix, _faults(code), follows)


RULES = (
    _DECLARED_COUNTS,
    _rule(
        "missing-numbers", "numbers missing in a run", _COUNTED, "Read what is missing, or correct the frame's counts",
        ("future-date",),
    ),  # a reading with a wrong day is missing in its session
    _rule("surplus-numbers", "more numbers in a run than strings allow", _COUNTED, "Take them out, or correct the counts"),
    _rule(
        "missing-station", "a family not read at station 0",
        "Width, length and the centre's pitch are those along the two lines through the head's centre.", "Read it there",
    ),
    _rule(
        "station", "crosses read elsewhere than at station 0", "Crosses are read along the long axis only.", "Read them there",
        ("declared-counts",),
    ),
    _rule("gap-not-positive", "a gap that is not positive", "Two strings cannot lie in one place.", "Read the gap again"),
    _rule(
        "marks-not-rising", "marks that do not rise",
        "Along a rule each string lies further than the one before.", "Read this mark and the one before again",
    ),
)  # fmt: skip
