"""Runs that are not whole: numbers missing or surplus, stations, gaps and marks that cannot be; counts declared otherwise."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules import counts, kinds
from gapbook.intake.rules.counts import COUNTED, as_read, others, swapped
from gapbook.intake.rules.kinds import mistaken
from gapbook.tables.runs import RunFault

CODES = ("wrong-kind", "declared-counts", *COUNTED, "missing-station", "station", "gap-not-positive", "marks-not-rising")
"""What leaves a bed unmeasured."""


def _faults(code: str) -> Callable[[CheckContext], Iterator[Finding]]:
    def look(context: CheckContext) -> Iterator[Finding]:
        for fault in context.run_faults:
            if fault.code == code and not (code in COUNTED and _explained(context, fault)):
                yield _finding(context, fault)

    return look


def _explained(context: CheckContext, fault: RunFault) -> bool:
    """Whether another rule says what is wrong with the run: the count declared, the families, or the kind."""
    passes, number = context.passes, _pass_number(context, fault)
    if number < 0:
        return False
    family = int(passes.family[number])
    is_other = any((other.specimen, other.family) == (fault.specimen, family) for other in others(context))
    return is_other or fault.specimen in swapped(context) or bool(mistaken(context)[number])


def _pass_number(context: CheckContext, fault: RunFault) -> int:
    """The number of the pass that a fault's row belongs to; -1 if none is known."""
    passes = context.passes
    mine = passes.of_specimen(fault.specimen)
    holds = np.flatnonzero((passes.row[mine] == fault.row).any(axis=1))
    return int(mine[holds[0]]) if len(holds) else -1


def _fix(context: CheckContext, fault: RunFault) -> str:
    """How a fault is mended, where the run's numbers tell more than the fault does."""
    passes, number = context.passes, _pass_number(context, fault)
    if fault.code not in COUNTED or number < 0:
        return fault.fix or ""
    mine = passes.of_specimen(fault.specimen)
    from_one = as_read(context, mine[passes.run[mine] == passes.run[number]]).from_one
    return "Numbers start at 0, for the inner edge: make every number of this run one less" if from_one else fault.fix or ""


def _finding(context: CheckContext, fault: RunFault) -> Finding:
    found = fault.found or fault.message
    return Finding(
        "spacings",
        fault.column,
        found,
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
    kinds.RULE,
    counts.RULE,
    _rule(
        "missing-numbers", "numbers missing in a run", _COUNTED, "Read what is missing, or correct the frame's counts",
        ("future-date",),
    ),  # a wrong day takes a reading out of its session
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
