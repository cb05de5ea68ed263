"""A block of averaged spacings as runs of points, once it is known to be whole: nothing missing, everything rising."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, starts_of
from gapbook.science.lines import Runs, points_of
from gapbook.science.repeats import reading_variance
from gapbook.tables.spacings import CROSS, MAIN, MARK, Block, Source, and_more
from gapbook.tables.units import NAMED


class Bench(NamedTuple):
    """The runs of whole beds, which they number from 0 in ascending order of specimen number `specimen` [B]."""

    mains: Runs
    crosses: Runs
    specimen: IntArray


class RunFault(NamedTuple):
    """Why a specimen's bed cannot be laid out: its number, the row of the source to look at, and what is said of it."""

    specimen: int
    row: int
    code: str
    message: str
    column: str | None
    found: str | None = None
    expected: str | None = None
    fix: str | None = None


class NotWholeError(Exception):
    """Beds that cannot be laid out: the `faults` found first."""

    def __init__(self, faults: list[RunFault]) -> None:
        super().__init__(faults[0].message)
        self.faults = faults


def bench(where: Source, part: Block, deviation: FloatArray, resolution: FloatArray, ids: list[str]) -> Bench:
    """Lay a block out. deviation, resolution: repeatability and resolution of each run [runs] in mm; ids: of specimens.

    GapbookError, with lines, for missing or surplus numbers, gaps that are not positive, marks that do not rise, beds
    without mains or crosses at station 0.
    """
    try:
        return lay_out(part, deviation, resolution, ids)
    except NotWholeError as error:
        raise _refusal(where, error.faults) from None


def lay_out(part: Block, deviation: FloatArray, resolution: FloatArray, ids: list[str]) -> Bench:
    """The same without the lines: NotWholeError."""
    edges, incomplete = _whole(part)
    _refuse(incomplete or _stations(part, ids))
    specimen = part.of_run.specimen[(each := distinct(part.of_run.specimen)).first]
    families = []
    for family in (MAIN, CROSS):
        rows = np.flatnonzero(part.of_run.family == family)
        laid = _lay_out(part, rows, deviation, resolution)
        is_mark = part.of_run.kind[rows] == MARK
        _refuse(_not_rising(part, laid, rows, edges[rows]))
        families.append(
            Runs(
                bed=each.number[rows],
                session=combine(part.of_run.specimen, part.of_run.session)[rows],
                station=part.of_run.station[rows],
                is_mark=is_mark,
                instrument=part.of_run.instrument[rows],
                strings=part.strings[rows],
                edges=edges[rows],
                points=points_of(laid.value, is_mark),
                variance=laid.variance,
            )
        )
    return Bench(families[MAIN], families[CROSS], specimen)


def run_faults(part: Block, ids: list[str]) -> list[RunFault]:
    """Everything for which `bench` would refuse the block. Specimens with numbers missing are looked at no further."""
    edges, found = _whole(part)
    found += _stations(part, ids)
    broken = np.array(sorted({fault.specimen for fault in found}), dtype=np.int64)
    none = np.zeros(len(part.strings))
    for family in (MAIN, CROSS):
        rows = np.flatnonzero((part.of_run.family == family) & ~np.isin(part.of_run.specimen, broken))
        found += _not_rising(part, _lay_out(part, rows, none, none), rows, edges[rows])
    return found


def _refuse(faults: list[RunFault]) -> None:
    if faults:
        raise NotWholeError(faults)


def _refusal(where: Source, faults: list[RunFault]) -> GapbookError:
    """The error that names the first few of `faults`."""
    shown = where.package.shown("spacings")
    problems = [
        Problem(item.code, item.message, Place(shown, where.line(item.row), item.column), item.found, item.expected, item.fix)
        for item in faults[:NAMED]
    ]
    return GapbookError(*problems, *and_more(len(faults)))


def _whole(part: Block) -> tuple[BoolArray, list[RunFault]]:
    """Whether each run has its inner edges [runs], and the runs with numbers missing or surplus."""
    averages = part.averages
    starts = starts_of(averages.run)
    stops = np.append(starts[1:], len(averages.run))
    low, high = averages.number[starts], averages.number[stops - 1]
    last = np.where(part.of_run.kind == MARK, part.strings, part.strings - 1)
    edges = (low == 0) & (high == last + 1)
    whole = (stops - starts == high - low + 1) & (edges | ((low == 1) & (high == last)))
    faults = [
        _not_whole(part, run, averages.number[starts[run] : stops[run]], int(last[run]), int(starts[run]))
        for run in np.flatnonzero(~whole).tolist()
    ]
    return edges, faults


def _not_whole(part: Block, run: int, numbers: IntArray, last: int, start: int) -> RunFault:
    have, wanted = set(numbers.tolist()), set(range(1, last + 1))
    if have & {0, last + 1}:
        wanted |= {0, last + 1}
    missing, surplus = sorted(wanted - have), sorted(have - wanted)
    kind = "marks" if part.of_run.kind[run] == MARK else "gaps"
    family = "crosses" if part.of_run.family[run] == CROSS else "mains"
    return RunFault(
        int(part.of_run.specimen[run]),
        int(part.averages.row[start]),
        "missing-numbers" if missing else "surplus-numbers",
        f"the {kind} of the {family} at station {part.of_run.station[run]:g} that start here are not complete",
        "no",
        found=("missing " if missing else "surplus ") + ", ".join(map(str, missing or surplus)),
        expected=f"numbers 1 to {last}, with both or neither of 0 and {last + 1}",
        fix="Read what is missing, or correct the frame's counts",
    )


def _stations(part: Block, ids: list[str]) -> list[RunFault]:
    """Crosses read elsewhere than at station 0, and specimens without a family there."""
    runs = part.of_run
    elsewhere = np.flatnonzero((runs.family == CROSS) & (runs.station != 0.0))
    faults = [
        RunFault(
            int(runs.specimen[run]), int(runs.row[run]), "station", "crosses are read along the long axis",
            "station_mm", f"{runs.station[run]:g}", "station 0", "Read the crosses along the long axis only",
        )
        for run in elsewhere.tolist()
    ]  # fmt: skip
    each = distinct(runs.specimen)
    for family, name in ((MAIN, "mains"), (CROSS, "crosses")):
        there = np.zeros(len(each.first), dtype=bool)
        there[each.number[(runs.family == family) & (runs.station == 0.0)]] = True
        for bed in np.flatnonzero(~there).tolist():
            number = int(runs.specimen[each.first[bed]])
            row = int(runs.row[each.number == bed].min())
            message = f"the bed of {ids[number]} has no {name} at station 0"
            expected = f"a complete run of {name} at station 0"
            faults.append(RunFault(number, row, "missing-station", message, None, None, expected, "Read them there"))
    return faults


class _Laid(NamedTuple):
    """Averaged readings of a family's runs by number [R, K], their variance, and a row behind each (-1 where none)."""

    value: FloatArray
    variance: FloatArray
    row: IntArray


def _lay_out(part: Block, rows: IntArray, deviation: FloatArray, resolution: FloatArray) -> _Laid:
    shape = (len(rows), int(part.strings[rows].max(initial=0)) + 2)
    place = np.full(len(part.strings), -1, dtype=np.int64)
    place[rows] = np.arange(len(rows))
    mine = np.flatnonzero(place[part.averages.run] >= 0)
    run = part.averages.run[mine]
    cell = place[run] * shape[1] + part.averages.number[mine]
    value, variance, row = np.zeros(shape), np.zeros(shape), np.full(shape, -1, dtype=np.int64)
    value.reshape(-1)[cell] = part.averages.value[mine]
    row.reshape(-1)[cell] = part.averages.row[mine]
    variance.reshape(-1)[cell] = reading_variance(deviation[run], part.averages.repeats[mine], resolution[run])
    return _Laid(value, variance, row)


def _not_rising(part: Block, laid: _Laid, rows: IntArray, edges: BoolArray) -> list[RunFault]:
    """Gaps that are not positive and marks that do not rise, among the runs `rows`."""
    number = np.arange(laid.value.shape[1])[None, :]
    read = laid.row >= 0
    is_mark = part.of_run.kind[rows] == MARK
    flat = ~is_mark[:, None] & read & (laid.value <= 0.0)
    falls = is_mark[:, None] & read & (number > np.where(edges, 0, 1)[:, None])
    falls[:, 1:] &= laid.value[:, 1:] <= laid.value[:, :-1]
    faults = []
    for bad, code, message, expected, fix in (
        (flat, "gap-not-positive", "a gap is not positive", "above 0", "Read the gap again"),
        (falls, "marks-not-rising", "marks do not rise", "above the mark before", "Read this mark and the one before again"),
    ):
        for run, no in np.argwhere(bad).tolist():
            specimen, row = int(part.of_run.specimen[rows[run]]), int(laid.row[run, no])
            found = f"{laid.value[run, no]:.6g} mm"
            faults.append(RunFault(specimen, row, code, message, "value", found, expected, fix))
    return sorted(faults, key=lambda item: item.row)
