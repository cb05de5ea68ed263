"""Repeats that differ too much: one reading out of line with its repeats, or a whole session that scatters more than others."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import groups
from gapbook.intake.rule import Rule
from gapbook.science import consistency, repeats
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, starts_of
from gapbook.science.repeats import FREEDOM_NEEDED
from gapbook.science.statistics import holm, range_critical
from gapbook.tables.catalogue import DEFAULT_DEVIATION
from gapbook.tables.units import codes

LEVEL = 0.01
"""Greatest probability that a package without faults has a finding, over all its repeats together. It is well below that in
fact, because the laxer of two yardsticks is used. Common practice, no source."""
ROOM = 3.0
"""An upper bound of a probability is made exact, which is slow, only if it is below so many times the level; if it is not, the
exact probability is not significant either."""
LOOSER = 3.0
"""A whole session is reported if it scatters so many times as much as others of its kind. Common practice, no source."""


class _Single(NamedTuple):
    """Single readings of one table [R].

    row: its row in the table
    run: code of the run it was read in
    no: its number in the run
    repeat: the repeat number
    value: its value; all values of a pool have one unit
    is_mark: whether it is a mark
    pool: code of instrument kind and quantity: the readings of a pool repeat equally well
    session: code of the session
    step: resolution of the instrument, in the same unit
    assumed: repeatability to take if there are too few repeats to tell it, in the same unit
    """

    row: IntArray
    run: IntArray
    no: IntArray
    repeat: IntArray
    value: FloatArray
    is_mark: BoolArray
    pool: IntArray
    session: IntArray
    step: FloatArray
    assumed: FloatArray

    def take(self, rows: IntArray) -> _Single:
        """Some of the readings."""
        return _Single(*(column[rows] for column in self))  # type: ignore[arg-type]


class _Repeated(NamedTuple):
    """The readings of one table in cells [C]: a cell holds the repeats of one reading, even if there is only one. Readings [R]
    are ordered by run and cell.

    table: the table
    row: the row of each reading in the table [R]
    run: the run of each reading [R]
    value: its value [R]; a repeat of marks is shifted onto the run's other repeats, because the rule was laid anew
    read: its value as it was read [R]
    start: the place of each cell's first reading, and behind the last cell the number of readings [C + 1]
    no: the number of each cell in its run [C]
    cells: the cells as science takes them
    """

    table: str
    row: IntArray
    run: IntArray
    value: FloatArray
    read: FloatArray
    start: IntArray
    no: IntArray
    cells: consistency.RepeatCells


def _spacings(context: CheckContext) -> _Single:
    """Every reading of the runs of spacings with more than one repeat, in mm."""
    passes, tools = context.passes, context.catalogue.instruments
    if len(passes.first):
        passes = passes.take(np.flatnonzero(np.bincount(passes.run)[passes.run] > 1))
    number, no = np.nonzero(passes.row >= 0)
    of_reading = passes.take(number)
    return _Single(
        row=passes.row[number, no],
        run=of_reading.run,
        no=no,
        repeat=of_reading.repeat,
        value=passes.value[number, no],
        is_mark=of_reading.is_mark,
        pool=tools.kind[of_reading.instrument] * 2 + of_reading.is_mark,
        session=combine(of_reading.specimen, distinct(of_reading.session).number),
        step=tools.resolution[of_reading.instrument],
        assumed=tools.by_kind(repeats.DEFAULT_SPACING_MM, repeats.DEFAULT_OTHER_MM)[tools.kind[of_reading.instrument]],
    )


def _readings(context: CheckContext) -> _Single:
    """Every whole-frame reading in the quantity's computing unit; what one session read of a quantity is a run."""
    data, tools = context.readings, context.catalogue.instruments
    day = data.day - data.day.min(initial=0)
    session = combine(data.specimen, data.quantity, data.strung, data.person, data.instrument, day)
    none = np.zeros(len(session), dtype=np.int64)
    return _Single(
        row=data.row,
        run=session,
        no=none,
        repeat=data.repeat,
        value=data.value,
        is_mark=none > 0,
        pool=data.quantity * (int(tools.kind.max(initial=0)) + 1) + tools.kind[data.instrument],
        session=session,
        step=tools.resolution[data.instrument],
        assumed=np.array([DEFAULT_DEVIATION[name] for name in context.catalogue.quantities])[data.quantity],
    )


def _in_cells(table: str, readings: _Single) -> _Repeated | None:
    """The readings of a table, sorted into cells; None if nothing was read twice."""
    run = distinct(readings.run).number
    order = np.argsort(combine(run, readings.no, readings.repeat), kind="stable")
    run, readings = run[order], readings.take(order)
    start = starts_of(combine(run, readings.no))
    end = np.append(start, len(run))
    if len(start) == len(run):
        return None
    cell = np.repeat(np.arange(len(start)), np.diff(end))
    of_run = np.zeros(int(run[-1]) + 1, dtype=bool)
    of_run[run] = readings.is_mark
    averages = repeats.average(run, readings.no, readings.repeat, readings.value, of_run).averages
    residual = readings.value - averages.value[cell]
    each = distinct(run, readings.repeat)
    offset = np.bincount(each.number, weights=residual) / np.bincount(each.number)
    shifted = np.where(readings.is_mark, readings.value - offset[each.number], readings.value)
    sessions = distinct(readings.session)
    lost = np.zeros(len(sessions.first), dtype=np.int64)
    later = np.ones(len(each.first), dtype=bool)
    later[distinct(run[each.first]).first] = False
    np.add.at(lost, sessions.number[each.first], later & readings.is_mark[each.first])
    first = readings.take(start)
    cells = consistency.RepeatCells(
        *consistency.cell_statistics(cell, shifted - averages.value[cell]),
        first.pool,
        sessions.number[start],
        first.step,
        first.assumed,
        lost,
    )
    return _Repeated(table, readings.row, run, shifted, readings.value, end, first.no, cells)


@cached
def scattered(context: CheckContext) -> list[Finding]:
    """Findings about cells whose repeats are too far apart, and about sessions as a whole."""
    return list(_scattered(context))


@cached
def _both(context: CheckContext) -> list[_Repeated]:
    """The cells of both tables, if anything in them was read twice."""
    single = (("spacings", _spacings(context)), ("readings", _readings(context)))
    return [one for table, readings in single if (one := _in_cells(table, readings)) is not None]


def _scattered(context: CheckContext) -> Iterator[Finding]:
    """Findings about cells whose repeats are too far apart, and about sessions as a whole. One level holds for all cells of
    both tables together.
    """
    both = _both(context)
    if not both:
        return
    tests = sum(int((one.cells.times > 1).sum()) for one in both)
    judged = [_probabilities(one, ROOM * LEVEL / tests) for one in both]
    significant = holm(np.concatenate(judged), LEVEL, tests)
    place = 0
    for one, probability in zip(both, judged, strict=True):
        bad = significant[place : place + len(probability)]
        place += len(probability)
        yield from _cell_findings(context, one, np.flatnonzero(bad), tests)
        if one.table == "spacings":
            yield from _session_findings(context, one, bad)


def _probabilities(one: _Repeated, exact_below: float) -> FloatArray:
    """How probable the scatter of each cell is by chance [C]; 1 for a single reading. Below `exact_below` it is exact."""
    several = np.flatnonzero(one.cells.times > 1)
    pool, session = consistency.pool_yardstick(one.cells), consistency.session_yardstick(one.cells)
    pool, session = (consistency.Yardstick(yard.deviation[several], yard.freedom[several]) for yard in (pool, session))
    probability = np.ones(len(one.cells.times))
    probability[several] = consistency.probabilities(one.cells.take(several), pool, session, exact_below)
    return probability


def _cell_findings(context: CheckContext, one: _Repeated, cells: IntArray, tests: int) -> Iterator[Finding]:
    pool, session = consistency.pool_yardstick(one.cells), consistency.session_yardstick(one.cells)
    for cell in cells.tolist():
        rows = np.arange(one.start[cell], one.start[cell + 1])
        suspect = _suspect(context, one, cell, rows)
        row = int(one.row[suspect])
        deviation = float(max(pool.deviation[cell], session.deviation[cell]))
        freedom = float(pool.freedom[cell])
        limit = range_critical(LEVEL / tests, len(rows), freedom) * deviation
        unit, places = _unit(context, one.table, row)
        spread = f"{one.cells.range[cell]:.{places}f}"
        values = " and ".join(f"{value:.{places}f}" for value in one.read[rows[:6]])
        more = "" if len(rows) <= 6 else f", {len(rows)} repeats"
        others = one.row[rows[rows != suspect]]
        yield Finding(
            one.table,
            "value",
            f"{_what(context, one.table, row)} read {values} {unit}{more}, {spread} {unit} apart",
            f"repeats within {limit:.{places}f} {unit} (repeatability {deviation:.2g} {unit})",
            about=str(context.cell(one.table, row, "specimen_id")),
            rows=(row, *context.first_own(one.table, others)),
        )


def _what(context: CheckContext, table: str, row: int) -> str:
    if table == "readings":
        return str(context.cell(table, row, "quantity")).replace("_", " ")
    kind, no, family = (context.cell(table, row, name) for name in ("kind", "no", "family"))
    return f"{kind} {no} of the {'mains' if family == 'main' else 'crosses'}"


def _unit(context: CheckContext, table: str, row: int) -> tuple[str, int]:
    """The unit that values are shown in, and with how many decimals."""
    if table == "spacings":
        return "mm", 2
    return context.package.schema("readings").field("quantity").units[str(context.cell(table, row, "quantity"))], 1


def _suspect(context: CheckContext, one: _Repeated, cell: int, rows: IntArray) -> int:
    """Which reading of a cell is out of line: of three or more the one farthest from their median; of two the one farther from
    what the numbers beside it suggest, or the later one if they suggest nothing.
    """
    values = one.value[rows]
    middle = float("nan") if one.table == "readings" else _expected(context, one, cell)
    middle = float(np.median(values)) if len(rows) > 2 else middle
    away = np.abs(values - middle)
    return int(rows[-1] if np.isnan(middle) else rows[int(np.argmax(np.round(away, 9) + 1e-12 * np.arange(len(rows))))])


def _expected(context: CheckContext, one: _Repeated, cell: int) -> float:
    """About what a cell of a run should read; NaN if nothing suggests it. A gap of the mains, or an outermost gap, is about as
    wide as its mirror twin. Else the value lies between those of the numbers beside it, or continues the next two.
    """
    run, no = one.run[one.start[cell]], int(one.no[cell])
    low, high = (int(np.searchsorted(one.run, run, side=side)) for side in ("left", "right"))
    first, last = (int(np.searchsorted(one.start, row)) for row in (low, high))
    mean = {int(one.no[other]): float(one.value[one.start[other] : one.start[other + 1]].mean())
            for other in range(first, last) if other != cell}  # fmt: skip
    row = int(one.row[low])
    twin = int(one.no[first] + one.no[last - 1]) - no
    if context.cell(one.table, row, "kind") == "gap":
        edges = {0, int(one.no[last - 1])} if one.no[first] == 0 else set()
        if twin in mean and (no in edges or context.cell(one.table, row, "family") == "main"):
            return mean[twin]
        mean = {number: value for number, value in mean.items() if number not in edges}
    if {no - 1, no + 1} <= set(mean):
        return (mean[no - 1] + mean[no + 1]) / 2.0
    beyond = [side for side in (1, -1) if {no + side, no + 2 * side} <= set(mean)]
    return 2.0 * mean[no + beyond[0]] - mean[no + 2 * beyond[0]] if beyond else float("nan")


def _session_findings(context: CheckContext, one: _Repeated, bad: BoolArray) -> Iterator[Finding]:
    """Findings for sessions that scatter as a whole, without the cells that are `bad` on their own [C]."""
    scatter = consistency.session_scatter(one.cells, bad)
    sessions = len(scatter.deviation)
    worse = np.flatnonzero((scatter.deviation >= LOOSER * scatter.rest) & (scatter.probability <= LEVEL / sessions))
    if not len(worse):
        return
    of_row = np.repeat(one.cells.session, np.diff(one.start))
    places = groups(of_row)
    for session in worse.tolist():
        rows = np.sort(one.row[places[session]])
        row = int(rows[0])
        kind = str(context.cell("spacings", row, "kind"))
        yield Finding(
            "spacings",
            "value",
            f"the repeats of this session's {kind}s scatter by {scatter.deviation[session]:.2f} mm",
            f"about {scatter.rest[session]:.2f} mm, as others repeat with such an instrument",
            "Read the session again, or accept it with a reason",
            about=str(context.cell("spacings", row, "specimen_id")),
            rows=(row, *context.first_own("spacings", rows)),
        )


class Person(NamedTuple):
    """How one person's repeats with a kind of instrument scatter.

    person: code of the person in the column of the spacings
    kind: gap or mark
    deviation: standard deviation of their repeats [mm]
    rest: that of other people's with such an instrument [mm]
    beds: on how many beds they scatter `looser` times as much or more
    rows: their rows of the spacings
    """

    person: int
    kind: str
    deviation: float
    rest: float
    beds: int
    rows: IntArray


def by_person(context: CheckContext, looser: float, level: float) -> Iterator[Person]:
    """The people whose repeats of spacings scatter more than others' by the F ratio. Cells that are out of line by themselves
    are left out.

    context: the context of the check
    looser: by how much more a bed counts as one on which they scatter
    level: of all people and kinds together
    """
    one = next((some for some in _both(context) if some.table == "spacings"), None)
    if one is None:
        return
    data = context.tables["spacings"]
    first = one.row[one.start[:-1]]
    person, copy = codes(data["contributor_id"])[first], codes(data["specimen_id"])[first]
    each = distinct(person + 1, one.cells.pool)
    lost = np.zeros(len(each.first), dtype=np.int64)
    session = distinct(one.cells.session)
    np.add.at(lost, each.number[session.first], one.cells.lost[one.cells.session[session.first]])
    flagged = {finding.rows[0] for finding in scattered(context) if finding.table == "spacings"}
    bad = np.add.reduceat(np.isin(one.row, list(flagged)), one.start[:-1]) > 0
    of_person = consistency.session_scatter(one.cells._replace(session=each.number, lost=lost), bad)
    for group in np.flatnonzero(holm(of_person.probability, level)).tolist():
        cells = np.flatnonzero(each.number == group)
        kind = str(context.cell("spacings", int(first[cells[0]]), "kind"))
        deviation, rest = float(of_person.deviation[group]), float(of_person.rest[group])
        kept = cells[~bad[cells]]
        of_bed = distinct(copy[kept]).number
        freedom = np.bincount(of_bed, weights=one.cells.times[kept] - 1.0)
        squares = np.bincount(of_bed, weights=one.cells.squares[kept])
        loose = int((squares >= looser**2 * rest**2 * freedom).sum())
        yield Person(int(person[cells[0]]), kind, deviation, rest, loose, np.sort(first[cells]))


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
    scattered,
    follows=("likely-unit", "unsteady-person", "gap-not-positive", "marks-not-rising", "gap-out-of-line"),
)
