"""One reading of a bed out of line with its neighbours: digits changed about, a skipped string, a slipped point."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layings import Layings, complete_layings, layings
from gapbook.intake.rule import Rule
from gapbook.intake.study import Study
from gapbook.science import misread
from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.levels import bonferroni
from gapbook.science.slips import LEAST_MM, NEAR, explained
from gapbook.science.units import lookup
from gapbook.tables.spacings import CROSS, MAIN

RULE_FOLLOWS = ("likely-unit",)
LEVEL = 0.05
"""Chance that a package in which nothing is amiss has a finding of this rule, were errors normal. Common practice, no source:
more than other rules, because one bad figure is what a check is first of all for."""


class _Case(NamedTuple):
    """A reading that stands out: its laying, its number, by how much it is too high, and u of that [mm]."""

    laying: int
    no: int
    shift: float
    u: float


def _cases(study: Study) -> Iterator[_Case]:
    laid, complete = layings(study), complete_layings(study)
    rows = complete.laying[laid.strings[complete.laying] >= misread.FEWEST]
    apart, others = _apart(laid, complete.strings, rows)
    levels, level = np.unique(complete.variance[rows], return_inverse=True)
    alike = distinct(*(column[rows] for column in (laid.strings, laid.family, laid.is_mark.astype(np.int64))), level)
    figures = laid.strings[rows] - ~laid.is_mark[rows]
    bound = bonferroni(int(figures.sum() + figures[others > 0].sum()), LEVEL)
    order = np.argsort(alike.number, kind="stable")
    for mine in np.split(order, np.flatnonzero(np.diff(alike.number[order])) + 1) if len(order) else []:
        here = rows[mine]
        strings, is_mark = int(laid.strings[here[0]]), bool(laid.is_mark[here[0]])
        is_main, variance = bool(laid.family[here[0]] == MAIN), float(levels[level[mine[0]]])
        one = misread.line(strings, is_main, is_mark, variance)
        own = laid.row[here, 1 : one.shift.shape[1] + 1] >= 0
        group = misread.Group(complete.strings[here, :strings], own, apart[mine, :strings], others[mine])
        found, cleaned = misread.suspects(group, one, misread.line(strings, is_main, is_mark, variance, 0.0), bound)
        for at, column, shift, u, belied in zip(*(part.tolist() for part in found), strict=True):
            if belied or misread.lone(group.positions[at], cleaned[at], one, column, shift, is_main, is_mark):
                yield _Case(int(here[at]), column + 1, shift, u)


def _apart(laid: Layings, strings: FloatArray, rows: IntArray) -> tuple[FloatArray, IntArray]:
    """How far the strings of each laying [R, n] lie from where the others of the same kind and family of the same specimen
    have them on average, and how many others there are [R].
    """
    kin = distinct(laid.specimen[rows], laid.family[rows], laid.is_mark[rows].astype(np.int64))
    known = np.nan_to_num(strings[rows])
    count = count_by(kin.number, len(kin.first))
    total = sum_by(kin.number, known, len(kin.first))[kin.number]
    others = count[kin.number] - 1
    return np.where(others[:, None] > 0, known - (total - known) / np.maximum(others, 1)[:, None], 0.0), others


def _at(laid: Layings, laying: int, no: int, as_mark: bool) -> float:
    """What a laying says of a gap [mm]; or of how far a string stands from the middle of its neighbours."""
    value = laid.value[laying]
    string = value if laid.is_mark[laying] else np.concatenate([[np.nan, 0.0], np.cumsum(value[1:-1])])
    if not as_mark:
        return float(string[no + 1] - string[no])
    last = int(laid.strings[laying])
    low, high = (no - 1, no + 1) if 1 < no < last else ((no + 1, no + 2) if no == 1 else (no - 1, no - 2))
    beside = (string[low] + string[high]) / 2.0 if 1 < no < last else 2.0 * string[low] - string[high]
    return float(string[no] - beside)


def _borne_out(laid: Layings, case: _Case) -> bool:
    """Whether other layings of the family read the same there: then the string stands so, and nobody misread it."""
    as_mark = bool(laid.is_mark[case.laying])
    others = np.array([_at(laid, int(other), case.no, as_mark) for other in laid.same(case.laying)])
    others = others[~np.isnan(others)]
    if not len(others):
        return False
    away = (_at(laid, case.laying, case.no, as_mark) - float(np.median(others))) * np.sign(case.shift)
    return bool(away < misread.LONE * abs(case.shift))


def _out_of_line(study: Study) -> Iterator[Finding]:
    laid = layings(study)
    shown = [_figure(study, laid, case) for case in _cases(study) if not _borne_out(laid, case)]
    by_laying: dict[int, list[_Figure]] = defaultdict(list)
    for one in shown:
        by_laying[one.case.laying].append(one)
    for one in shown:
        yield _finding(study, laid, one, _exchanged(one, by_laying[one.case.laying]))


class _Figure(NamedTuple):
    """A reading that stands out, in the unit written in: what is written; what is expected and u of that, rounded to the
    decimals shown; that unit.
    """

    case: _Case
    row: int
    written: float
    expected: float
    u: float
    unit: str
    digits: int

    def fits(self, value: float) -> bool:
        """Whether a value lies where this one was expected."""
        return abs(value - self.expected) <= NEAR * self.u


def _figure(study: Study, laid: Layings, case: _Case) -> _Figure:
    row = int(laid.row[case.laying, case.no])
    written, unit = float(str(study.cell("spacings", row, "value"))), str(study.cell("spacings", row, "unit"))
    known = lookup(unit)
    factor = known.factor if known else 1.0
    digits = 1 if factor == 1.0 else 3
    expected, wide = round(written - case.shift / factor, digits), round(NEAR * max(case.u, LEAST_MM) / factor, digits)
    return _Figure(case, row, written, expected, wide / NEAR, unit, digits)


def _exchanged(one: _Figure, of_laying: list[_Figure]) -> int | None:
    """The number of the only other figure of a laying that fits where this one stands, while this one fits there."""
    alike = [other for other in of_laying if other.case.no != one.case.no and other.unit == one.unit]
    fitting = [other.case.no for other in alike if one.fits(other.written) and other.fits(one.written)]
    return fitting[0] if len(fitting) == 1 else None


def _finding(study: Study, laid: Layings, one: _Figure, exchanged: int | None) -> Finding:
    case = one.case
    is_mark = bool(laid.is_mark[case.laying])
    family = "crosses" if laid.family[case.laying] == CROSS else "mains"
    kind = "mark" if is_mark else "gap"
    return Finding(
        "spacings",
        "value",
        f"{one.written:g} {one.unit} for {kind} {case.no} of the {family}",
        f"{one.expected:.{one.digits}f} ± {NEAR * one.u:.{one.digits}f} {one.unit}, in line with its neighbours",
        _fix(laid, one, kind, exchanged),
        about=str(study.cell("spacings", one.row, "specimen_id")),
        rows=(one.row,),
    )


def _fix(laid: Layings, one: _Figure, kind: str, exchanged: int | None) -> str:
    """What is likely to have gone wrong, and what to read again."""
    thing, is_mark = f"{kind} {one.case.no}", kind == "mark"
    if exchanged is not None:
        low, high = sorted((one.case.no, exchanged))
        return f"{kind.title()}s {low} and {high} look exchanged: look them up in the notes, or read both again"
    slip = explained(one.written, one.expected, one.u, is_mark)
    if slip is not None:
        return f"{slip.value:g} {one.unit} would be in line: {slip.words}? Look it up in the notes, or read {thing} again"
    if not is_mark and _is_two(laid, one.case):
        return f"It is about two gaps: was a string skipped? Read {thing} and those beside it again"
    return f"Read {thing} again"


def _is_two(laid: Layings, case: _Case) -> bool:
    """Whether a gap is about two."""
    value = laid.value[case.laying]
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
        _out_of_line,
        RULE_FOLLOWS,
    ),
)
