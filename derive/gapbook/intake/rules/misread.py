"""Single readings of a bed out of line with their neighbours: exchanged digits, a skipped string, a misplaced point."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import Passes
from gapbook.intake.rule import Rule
from gapbook.science import misread
from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.misread import LEAST_MM, NEAR, explained
from gapbook.science.statistics import bonferroni
from gapbook.science.units import lookup
from gapbook.tables.spacings import CROSS, MAIN

RULE_FOLLOWS = ("likely-unit", "unsteady-person")
LEVEL = 0.05
"""Probability that a package without faults has a finding of this rule, if errors are normal. It is more than in other rules,
because finding single bad figures is the first purpose of a check. Common practice, no source."""


class _Case(NamedTuple):
    """A reading that stands out.

    number: the pass it belongs to
    no: its number in the pass
    shift: by how much it is too high [mm]
    u: the standard uncertainty of that [mm]
    """

    number: int
    no: int
    shift: float
    u: float


def _cases(context: CheckContext) -> Iterator[_Case]:
    """Readings that stand out. Passes that are alike in count, family, kind and variance are judged together, as one array."""
    passes, complete = context.passes, context.complete
    rows = complete.number[passes.strings[complete.number] >= misread.FEWEST]
    apart, others = _apart(passes, complete.strings, rows)
    levels, level = np.unique(complete.variance[rows], return_inverse=True)
    alike = distinct(*(column[rows] for column in (passes.strings, passes.family, passes.is_mark.astype(np.int64))), level)
    figures = passes.strings[rows] - ~passes.is_mark[rows]
    bound = bonferroni(int(figures.sum() + figures[others > 0].sum()), LEVEL)
    order = np.argsort(alike.number, kind="stable")
    for mine in np.split(order, np.flatnonzero(np.diff(alike.number[order])) + 1) if len(order) else []:
        here = rows[mine]
        strings, is_mark = int(passes.strings[here[0]]), bool(passes.is_mark[here[0]])
        is_main, variance = bool(passes.family[here[0]] == MAIN), float(levels[level[mine[0]]])
        one = misread.pass_model(strings, is_main, is_mark, variance)
        own = passes.row[here, 1 : one.shift.shape[1] + 1] >= 0
        group = misread.Group(complete.strings[here, :strings], own, apart[mine, :strings], others[mine])
        suspects, cleaned = misread.suspects(group, one, misread.pass_model(strings, is_main, is_mark, variance, 0.0), bound)
        for at, column, shift, u, contradicted in zip(*(part.tolist() for part in suspects), strict=True):
            if contradicted or misread.isolated(group.positions[at], cleaned[at], one, column, shift, is_main, is_mark):
                yield _Case(int(here[at]), column + 1, shift, u)


def _apart(passes: Passes, strings: FloatArray, rows: IntArray) -> tuple[FloatArray, IntArray]:
    """How far the strings of each of the passes `rows` lie from their mean position in the other passes of the same specimen,
    family and kind [R, n] in mm, and how many others there are [R].
    """
    kin = distinct(passes.specimen[rows], passes.family[rows], passes.is_mark[rows].astype(np.int64))
    known = np.nan_to_num(strings[rows])
    count = count_by(kin.number, len(kin.first))
    total = sum_by(kin.number, known, len(kin.first))[kin.number]
    others = count[kin.number] - 1
    return np.where(others[:, None] > 0, known - (total - known) / np.maximum(others, 1)[:, None], 0.0), others


def _at(passes: Passes, number: int, no: int, as_mark: bool) -> float:
    """The width of gap `no` by a pass; or, of a mark, how far its string stands from the middle of its neighbours [mm]."""
    value = passes.value[number]
    string = value if passes.is_mark[number] else np.concatenate([[np.nan, 0.0], np.cumsum(value[1:-1])])
    if not as_mark:
        return float(string[no + 1] - string[no])
    last = int(passes.strings[number])
    low, high = (no - 1, no + 1) if 1 < no < last else ((no + 1, no + 2) if no == 1 else (no - 1, no - 2))
    beside = (string[low] + string[high]) / 2.0 if 1 < no < last else 2.0 * string[low] - string[high]
    return float(string[no] - beside)


def _borne_out(passes: Passes, case: _Case) -> bool:
    """Whether the other passes of the family read the same. Then the string really stands there, and nobody misread it."""
    as_mark = bool(passes.is_mark[case.number])
    others = np.array([_at(passes, int(other), case.no, as_mark) for other in passes.same(case.number)])
    others = others[~np.isnan(others)]
    if not len(others):
        return False
    away = (_at(passes, case.number, case.no, as_mark) - float(np.median(others))) * np.sign(case.shift)
    return bool(away < misread.LARGEST_SHARE * abs(case.shift))


@cached
def out_of_line(context: CheckContext) -> list[Finding]:
    """A finding for each reading that stands out of line with its neighbours."""
    return list(_out_of_line(context))


def _out_of_line(context: CheckContext) -> Iterator[Finding]:
    passes = context.passes
    shown = [_figure(context, passes, case) for case in _cases(context) if not _borne_out(passes, case)]
    by_pass: dict[int, list[_Figure]] = defaultdict(list)
    for one in shown:
        by_pass[one.case.number].append(one)
    for one in shown:
        yield _finding(context, passes, one, _exchanged(one, by_pass[one.case.number]))


class _Figure(NamedTuple):
    """A reading that stands out, in the unit it is written in.

    case: the reading
    row: its row of the spacings
    written: its value
    expected: the value that would be in line, rounded to the decimals shown
    u: the standard uncertainty of that, rounded likewise
    unit: the unit
    digits: how many decimals are shown
    """

    case: _Case
    row: int
    written: float
    expected: float
    u: float
    unit: str
    digits: int

    def fits(self, value: float) -> bool:
        """Whether a value would be in line in place of this one."""
        return abs(value - self.expected) <= NEAR * self.u


def _figure(context: CheckContext, passes: Passes, case: _Case) -> _Figure:
    row = int(passes.row[case.number, case.no])
    written, unit = float(str(context.cell("spacings", row, "value"))), str(context.cell("spacings", row, "unit"))
    known = lookup(unit)
    factor = known.factor if known else 1.0
    digits = 1 if factor == 1.0 else 3
    expected, wide = round(written - case.shift / factor, digits), round(NEAR * max(case.u, LEAST_MM) / factor, digits)
    return _Figure(case, row, written, expected, wide / NEAR, unit, digits)


def _exchanged(one: _Figure, of_pass: list[_Figure]) -> int | None:
    """The number of the figure that this one was probably exchanged with: the only one of its pass such that each of the two
    would be in line in the other's place. None if there is no such figure, or more than one.
    """
    alike = [other for other in of_pass if other.case.no != one.case.no and other.unit == one.unit]
    fitting = [other.case.no for other in alike if one.fits(other.written) and other.fits(one.written)]
    return fitting[0] if len(fitting) == 1 else None


def _finding(context: CheckContext, passes: Passes, one: _Figure, exchanged: int | None) -> Finding:
    case = one.case
    is_mark = bool(passes.is_mark[case.number])
    family = "crosses" if passes.family[case.number] == CROSS else "mains"
    kind = "mark" if is_mark else "gap"
    return Finding(
        "spacings",
        "value",
        f"{one.written:g} {one.unit} for {kind} {case.no} of the {family}",
        f"{one.expected:.{one.digits}f} ± {NEAR * one.u:.{one.digits}f} {one.unit}, in line with its neighbours",
        _fix(passes, one, kind, exchanged),
        about=str(context.cell("spacings", one.row, "specimen_id")),
        rows=(one.row,),
    )


def _fix(passes: Passes, one: _Figure, kind: str, exchanged: int | None) -> str:
    """What has probably gone wrong, and what to read again."""
    thing, is_mark = f"{kind} {one.case.no}", kind == "mark"
    if exchanged is not None:
        low, high = sorted((one.case.no, exchanged))
        return f"{kind.title()}s {low} and {high} look exchanged: look them up in the notes, or read both again"
    slip = explained(one.written, one.expected, one.u, is_mark)
    if slip is not None:
        return f"{slip.value:g} {one.unit} would be in line: {slip.words}? Look it up in the notes, or read {thing} again"
    if not is_mark and _is_two(passes, one.case):
        return f"It is about two gaps: was a string skipped? Read {thing} and those beside it again"
    return f"Read {thing} again"


def _is_two(passes: Passes, case: _Case) -> bool:
    """Whether a gap is about as wide as two."""
    value = passes.value[case.number]
    one = value[case.no] - case.shift
    return bool(abs(value[case.no] - 2.0 * one) <= 0.15 * one)


RULES = (
    Rule(
        "gap-out-of-line",
        Severity.warning,
        "one gap or mark out of line with its neighbours",
        "A string bed is drilled smoothly or in steps, the mains alike left and right, so one figure that stands out alone is "
        "more often misread or miswritten than drilled. Judged against a smooth line through the other strings; not "
        "where neighbours, mirror twin or another reading share it. The level is 5 % over all figures of the package were "
        "errors normal; invented packages with nothing amiss show one in about 10.",
        "Mean-shift outliers: Cook & Weisberg 1982, Residuals and Influence in Regression, 2.2.2; strings out of place by "
        "0.3 mm: common practice, no source",
        "Read it again",
        out_of_line,
        RULE_FOLLOWS,
    ),
)
