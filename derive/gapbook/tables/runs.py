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


def bench(where: Source, part: Block, deviation: FloatArray, resolution: FloatArray, ids: list[str]) -> Bench:
    """Lay a block out. deviation, resolution: repeatability and resolution of each run [runs] in mm; ids: of specimens.

    GapbookError, with lines, for missing or surplus numbers, gaps that are not positive, marks that do not rise, beds
    without mains or crosses at station 0.
    """
    edges = _whole(where, part)
    each = distinct(part.of_run.specimen)
    specimen = part.of_run.specimen[each.first]
    _stations_there(where, part, each.number, [ids[number] for number in specimen])
    families = []
    for family in (MAIN, CROSS):
        rows = np.flatnonzero(part.of_run.family == family)
        laid = _lay_out(part, rows, deviation, resolution)
        is_mark = part.of_run.kind[rows] == MARK
        _rising(where, laid, is_mark, edges[rows])
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


def _whole(where: Source, part: Block) -> BoolArray:
    """Whether each run has its inner edges [runs]; GapbookError where numbers are missing or surplus."""
    averages = part.averages
    starts = starts_of(averages.run)
    stops = np.append(starts[1:], len(averages.run))
    low, high = averages.number[starts], averages.number[stops - 1]
    last = np.where(part.of_run.kind == MARK, part.strings, part.strings - 1)
    edges = (low == 0) & (high == last + 1)
    whole = (stops - starts == high - low + 1) & (edges | ((low == 1) & (high == last)))
    bad = np.flatnonzero(~whole)
    if len(bad):
        problems = [
            _not_whole(where, part, run, averages.number[starts[run] : stops[run]], int(last[run]), int(starts[run]))
            for run in bad[:NAMED].tolist()
        ]
        raise GapbookError(*problems, *and_more(len(bad)))
    return edges


def _not_whole(where: Source, part: Block, run: int, numbers: IntArray, last: int, start: int) -> Problem:
    have, wanted = set(numbers.tolist()), set(range(1, last + 1))
    if have & {0, last + 1}:
        wanted |= {0, last + 1}
    missing, surplus = sorted(wanted - have), sorted(have - wanted)
    kind = "marks" if part.of_run.kind[run] == MARK else "gaps"
    family = "crosses" if part.of_run.family[run] == CROSS else "mains"
    return Problem(
        "missing-numbers" if missing else "surplus-numbers",
        f"the {kind} of the {family} at station {part.of_run.station[run]:g} that start here are not complete",
        Place(where.package.shown("spacings"), where.line(int(part.averages.row[start])), "no"),
        found=("missing " if missing else "surplus ") + ", ".join(map(str, missing or surplus)),
        expected=f"numbers 1 to {last}, with both or neither of 0 and {last + 1}",
        fix="Read what is missing, or correct the frame's counts",
    )


def _stations_there(where: Source, part: Block, bed: IntArray, ids: list[str]) -> None:
    """GapbookError for beds without a family at station 0, or with crosses read elsewhere."""
    runs = part.of_run
    elsewhere = np.flatnonzero((runs.family == CROSS) & (runs.station != 0.0))
    if len(elsewhere):
        raise where.error(
            runs.row[elsewhere], "station", "crosses are read along the long axis", "station 0", "station_mm"
        )
    for family, name in ((MAIN, "mains"), (CROSS, "crosses")):
        there = np.zeros(len(ids), dtype=bool)
        there[bed[(runs.family == family) & (runs.station == 0.0)]] = True
        lacking = np.flatnonzero(~there)
        if len(lacking):
            named = [
                Problem(
                    "missing-station",
                    f"the bed of {ids[number]} has no {name} at station 0",
                    Place(where.package.shown("spacings"), where.line(int(runs.row[bed == number].min()))),
                    expected=f"a complete run of {name} at station 0",
                )
                for number in lacking[:NAMED]
            ]
            raise GapbookError(*named, *and_more(len(lacking)))


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
    run, number = part.averages.run[mine], part.averages.number[mine]
    laid = _Laid(np.zeros(shape), np.zeros(shape), np.full(shape, -1, dtype=np.int64))
    laid.value[place[run], number] = part.averages.value[mine]
    laid.row[place[run], number] = part.averages.row[mine]
    laid.variance[place[run], number] = reading_variance(
        deviation[run], part.averages.repeats[mine].astype(float), resolution[run]
    )
    return laid


def _rising(where: Source, laid: _Laid, is_mark: BoolArray, edges: BoolArray) -> None:
    """GapbookError for gaps that are not positive and marks that do not rise."""
    number = np.arange(laid.value.shape[1])[None, :]
    read = laid.row >= 0
    flat = ~is_mark[:, None] & read & (laid.value <= 0.0)
    if flat.any():
        raise where.error(laid.row[flat], "gap-not-positive", "a gap is not positive", "above 0", "value")
    falls = is_mark[:, None] & read & (number > np.where(edges, 0, 1)[:, None])
    falls[:, 1:] &= laid.value[:, 1:] <= laid.value[:, :-1]
    if falls.any():
        raise where.error(laid.row[falls], "marks-not-rising", "marks do not rise", "above the mark before", "value")
