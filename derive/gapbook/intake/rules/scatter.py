"""Repeats that scatter too much: one reading out of line with its repeats, or a whole session less steady than others."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake import repeated
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import groups
from gapbook.intake.repeated import Repeated
from gapbook.intake.rule import Rule
from gapbook.science import scatter
from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.levels import holm
from gapbook.science.repeats import FREEDOM_NEEDED
from gapbook.science.statistics import range_critical

LEVEL = 0.01
"""Probability, at most, that anything in a package without faults is reported, over all its repeats together. Taking the
laxer of two yardsticks brings it well below that. Common practice, no source."""
ROOM = 3.0
"""A bound so many times too large cannot become significant by being made exact."""
LOOSER = 3.0
"""How many times as much as others of its kind a whole session must scatter to be reported. Common practice, no source."""


def look(context: CheckContext) -> Iterator[Finding]:
    """Cells of repeats too far apart, over both tables with one family-wise level; then sessions as a whole."""
    both = [found for found in (repeated.spacings(context), repeated.readings(context)) if (found.cells.times > 1).any()]
    tests = sum(int((found.cells.times > 1).sum()) for found in both)
    if not tests:
        return
    judged = [_probabilities(found, ROOM * LEVEL / tests) for found in both]
    significant = holm(np.concatenate(judged), LEVEL, tests)
    place = 0
    for found, probability in zip(both, judged, strict=True):
        bad = significant[place : place + len(probability)]
        place += len(probability)
        yield from _cell_findings(context, found, np.flatnonzero(bad), tests)
        if found.table == "spacings":
            yield from _session_findings(context, found, bad)


def _probabilities(found: Repeated, exact_below: float) -> FloatArray:
    """Probability of each cell's scatter [C]; 1 for a single reading."""
    several = np.flatnonzero(found.cells.times > 1)
    pool, session = scatter.pool_yardstick(found.cells), scatter.session_yardstick(found.cells)
    pool, session = (scatter.Yardstick(yard.deviation[several], yard.freedom[several]) for yard in (pool, session))
    probability = np.ones(len(found.cells.times))
    probability[several] = scatter.probabilities(found.cells.take(several), pool, session, exact_below)
    return probability


def _cell_findings(context: CheckContext, found: Repeated, cells: IntArray, tests: int) -> Iterator[Finding]:
    pool, session = scatter.pool_yardstick(found.cells), scatter.session_yardstick(found.cells)
    for cell in cells.tolist():
        rows = np.arange(found.start[cell], found.start[cell + 1])
        suspect = _suspect(context, found, cell, rows)
        row = int(found.row[suspect])
        deviation = float(max(pool.deviation[cell], session.deviation[cell]))
        freedom = float(pool.freedom[cell])
        limit = range_critical(LEVEL / tests, len(rows), freedom) * deviation
        unit, places = _unit(context, found.table, row)
        spread = f"{found.cells.range[cell]:.{places}f}"
        values = " and ".join(f"{value:.{places}f}" for value in found.read[rows[:6]])
        more = "" if len(rows) <= 6 else f", {len(rows)} repeats"
        others = found.row[rows[rows != suspect]]
        yield Finding(
            found.table,
            "value",
            f"{_what(context, found.table, row)} read {values} {unit}{more}, {spread} {unit} apart",
            f"repeats within {limit:.{places}f} {unit} (repeatability {deviation:.2g} {unit})",
            about=str(context.cell(found.table, row, "specimen_id")),
            rows=(row, *context.first_own(found.table, others)),
        )


def _what(context: CheckContext, table: str, row: int) -> str:
    if table == "readings":
        return str(context.cell(table, row, "quantity")).replace("_", " ")
    kind, no, family = (context.cell(table, row, name) for name in ("kind", "no", "family"))
    return f"{kind} {no} of the {'mains' if family == 'main' else 'crosses'}"


def _unit(context: CheckContext, table: str, row: int) -> tuple[str, int]:
    """The unit values are told in, and decimals."""
    if table == "spacings":
        return "mm", 2
    return context.package.schema("readings").field("quantity").units[str(context.cell(table, row, "quantity"))], 1


def _suspect(context: CheckContext, found: Repeated, cell: int, rows: IntArray) -> int:
    """Which row of a cell is out of line: the one farthest from the middle of them; of two, from what the numbers beside it
    would have it be, or the later one.
    """
    values = found.value[rows]
    middle = float("nan") if found.table == "readings" else _expected(context, found, cell)
    middle = float(np.median(values)) if len(rows) > 2 else middle
    away = np.abs(values - middle)
    return int(rows[-1] if np.isnan(middle) else rows[int(np.argmax(np.round(away, 9) + 1e-12 * np.arange(len(rows))))])


def _expected(context: CheckContext, found: Repeated, cell: int) -> float:
    """About what a cell of a run should read: a gap of the mains as its twin across the frame, else between the numbers
    beside it or along a row of marks; NaN where nothing tells.
    """
    run, no = found.run[found.start[cell]], int(found.no[cell])
    low, high = (int(np.searchsorted(found.run, run, side=side)) for side in ("left", "right"))
    first, last = (int(np.searchsorted(found.start, row)) for row in (low, high))
    mean = {int(found.no[other]): float(found.value[found.start[other] : found.start[other + 1]].mean())
            for other in range(first, last) if other != cell}  # fmt: skip
    row = int(found.row[low])
    twin = int(found.no[first] + found.no[last - 1]) - no
    if context.cell(found.table, row, "kind") == "gap":
        edges = {0, int(found.no[last - 1])} if found.no[first] == 0 else set()
        if twin in mean and (no in edges or context.cell(found.table, row, "family") == "main"):
            return mean[twin]
        mean = {number: value for number, value in mean.items() if number not in edges}
    if {no - 1, no + 1} <= set(mean):
        return (mean[no - 1] + mean[no + 1]) / 2.0
    beyond = [side for side in (1, -1) if {no + side, no + 2 * side} <= set(mean)]
    return 2.0 * mean[no + beyond[0]] - mean[no + 2 * beyond[0]] if beyond else float("nan")


def _session_findings(context: CheckContext, found: Repeated, bad: BoolArray) -> Iterator[Finding]:
    loose = scatter.loose_sessions(found.cells, bad)
    sessions = len(loose.own)
    worse = np.flatnonzero((loose.own >= LOOSER * loose.rest) & (loose.probability <= LEVEL / sessions))
    if not len(worse):
        return
    of_row = np.repeat(found.cells.session, np.diff(found.start))
    places = groups(of_row)
    for session in worse.tolist():
        rows = np.sort(found.row[places[session]])
        row = int(rows[0])
        kind = str(context.cell("spacings", row, "kind"))
        yield Finding(
            "spacings",
            "value",
            f"the repeats of this session's {kind}s scatter by {loose.own[session]:.2f} mm",
            f"about {loose.rest[session]:.2f} mm, as others repeat with such an instrument",
            "Read the session again, or accept it with a reason",
            about=str(context.cell("spacings", row, "specimen_id")),
            rows=(row, *context.first_own("spacings", rows)),
        )


RULE = Rule(
    "repeats-scatter",
    Severity.warning,
    "repeats too far apart",
    "Repeats of one reading differ by no more than hand and instrument do; one far off is a slip, and an average would hide "
    f"it. Held against the pooled repeatability, with {FREEDOM_NEEDED} degrees of freedom or more behind it, by the range; "
    f"from six repeats by Grubbs' test too; {100 * LEVEL:g} % over the whole package (Holm). A session that scatters "
    f"{LOOSER:g} times as much as others is one finding.",
    "Grubbs: NIST/SEMATECH e-Handbook 1.3.5.17.1; ranges: studentized range; JCGM 100:2008, 4.2.4",
    "Read it once more; keep the slip out, or accept it with a reason",
    look,
    follows=("likely-unit", "gap-not-positive", "marks-not-rising", "gap-out-of-line"),
)
