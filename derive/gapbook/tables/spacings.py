"""The spacings table as numbers: blocks of whole specimens, their runs, averages over repeats, and beds laid out.

A run is one family at one station in one session of a specimen. Before its bed is laid out it must be whole: no number
missing or surplus, gaps positive, marks rising.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science import repeats
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, starts_of
from gapbook.science.lines import Runs, points_of
from gapbook.tables.catalogue import Instruments, RawTables, must_measure
from gapbook.tables.package import Package
from gapbook.tables.reader import line_of_row
from gapbook.tables.units import NAMED, factor_by_code, positions, raw_codes, renumber

MAIN, CROSS = 0, 1
GAP, MARK = 0, 1
ROWS = 75_000
"""Rows in a block, about: enough to be fast, few enough to be shared out evenly."""


class Source(NamedTuple):
    """The table ordered by specimen.

    package: whose table it is
    data: its rows, text columns dictionary-coded in one piece
    row: the row of the file behind each row [R]; None if the order is the file's
    starts: where the rows of each specimen start [S]
    specimen: the number of each specimen [S], ascending
    numbers: for each coded column the number behind each code
    factor: the factor to mm by code of the unit
    """

    package: Package
    data: pa.Table
    row: IntArray | None
    starts: IntArray
    specimen: IntArray
    numbers: dict[str, IntArray]
    factor: FloatArray

    def line(self, row: int) -> int | None:
        """The physical line of a row of `data`."""
        return line_of_row(self.package, "spacings", row if self.row is None else int(self.row[row]))

    def problem(self, fault: RunFault) -> Problem:
        """What is said of a fault, with its place."""
        place = Place(self.package.shown("spacings"), self.line(fault.row), fault.column)
        return Problem(fault.code, fault.message, place, fault.found, fault.expected, fault.fix)

    def refusal(self, faults: list[RunFault]) -> GapbookError:
        """The error that names the first few of `faults`."""
        more = len(faults) - NAMED
        rest = [Problem("more", f"and {more} more of the same kind")] if more > 0 else []
        return GapbookError(*map(self.problem, faults[:NAMED]), *rest)


class RunFault(NamedTuple):
    """Why a specimen's readings cannot be used.

    specimen: its number
    row: the row of the source to look at
    code, message, column, found, expected, fix: as of a `Problem`
    """

    specimen: int
    row: int
    code: str
    message: str
    column: str | None
    found: str | None = None
    expected: str | None = None
    fix: str | None = None


class RunKeys(NamedTuple):
    """What tells runs apart, of each run, or of each piece of one [runs].

    row: its first row in the source
    specimen: number of the specimen
    session: code of contributor, instrument, day and kind
    family: MAIN or CROSS
    station: [mm]
    level: code of the station
    kind: GAP or MARK
    instrument: number of the instrument
    person: number of who read it, that of the last person plus 1 if it is nobody the table knows
    """

    row: IntArray
    specimen: IntArray
    session: IntArray
    family: IntArray
    station: FloatArray
    level: IntArray
    kind: IntArray
    instrument: IntArray
    person: IntArray


class Block(NamedTuple):
    """Whole specimens, averaged over repeats.

    of_run: their runs, in ascending order of specimen
    averages: ordered by run and number
    shifts: degrees of freedom that each run's marks lost [runs]
    strings: how many strings each run should have [runs]
    """

    of_run: RunKeys
    averages: repeats.Averages
    shifts: IntArray
    strings: IntArray


class BedRuns(NamedTuple):
    """The runs of whole beds.

    mains, crosses: they number the beds from 0 in ascending order of specimen number
    specimen: the specimen numbers [B]
    """

    mains: Runs
    crosses: Runs
    specimen: IntArray


def source(package: Package, catalogue: RawTables, data: pa.Table) -> Source:
    """Order the table by specimen and prepare its codes. GapbookError for units and instruments that are not lengths."""
    instruments = catalogue.instruments
    numbers = {
        "family": positions(data["family"], ["main", "cross"]),
        "kind": positions(data["kind"], ["gap", "mark"]),
        "instrument_id": positions(data["instrument_id"], instruments.ids),
        "contributor_id": positions(data["contributor_id"], catalogue.people) % (len(catalogue.people) + 1),
    }
    if any(instruments.base[tool] != "mm" for tool in numbers["instrument_id"] if tool >= 0):
        tools = renumber(data["instrument_id"], instruments.ids)
        must_measure(package, "spacings", tools, instruments, ["mm"], np.zeros(1, dtype=np.int64))
    factor = factor_by_code(package, "spacings", data["unit"], "mm")
    number = positions(data["specimen_id"], catalogue.specimens.number)
    code, row = raw_codes(data["specimen_id"]), None
    starts = starts_of(code)
    if np.any(np.diff(number[code[starts]]) <= 0):
        row = np.argsort(number[code], kind="stable")
        data, code = data.take(pa.array(row)).combine_chunks(), code[row]
        starts = starts_of(code)
    return Source(package, data, row, starts, number[code[starts]], numbers, factor)


def blocks(where: Source, catalogue: RawTables, rows: int) -> Iterator[Block]:
    """The table in blocks of about so many rows that split no specimen, averaged over repeats.

    GapbookError for a reading given twice.
    """
    frame = catalogue.specimens.frame
    counts = catalogue.frames.mains[frame], catalogue.frames.crosses[frame]
    starts = np.append(where.starts, where.data.num_rows)
    wanted = np.searchsorted(starts, np.arange(0, where.data.num_rows + rows, rows)).clip(0, len(starts) - 1)
    for low, high in pairwise(np.unique(starts[wanted]).tolist()):
        yield _block(where, counts, low, high)


def _block(where: Source, counts: tuple[IntArray, IntArray], low: int, high: int) -> Block:
    """Rows low to high as runs and averages. counts: mains and crosses of each specimen."""
    keys, lengths = _keys(where, low, high)
    each = distinct(keys.specimen, keys.session, keys.family, keys.level)
    of_run = RunKeys(*(column[each.first] for column in keys))  # type: ignore[arg-type]
    data = where.data.slice(low, high - low)
    value = np.asarray(data["value"]) * where.factor[raw_codes(data["unit"])]
    run = np.repeat(each.number, lengths)
    found = repeats.average(run, np.asarray(data["no"]), np.asarray(data["repeat"]), value, of_run.kind == MARK)
    if len(found.twice):
        fault = RunFault(-1, 0, "repeated-key", "a reading is given twice", "repeat", expected="each key once")
        raise where.refusal([fault._replace(row=row) for row in np.unique(found.twice + low).tolist()])
    averages = found.averages._replace(row=found.averages.row + low)
    strings = np.where(of_run.family == MAIN, counts[MAIN][of_run.specimen], counts[CROSS][of_run.specimen])
    return Block(of_run, averages, found.shifts, strings)


def _keys(where: Source, low: int, high: int) -> tuple[RunKeys, IntArray]:
    """Rows low to high in pieces within which nothing changes that tells runs apart: their keys, and their lengths."""
    data = where.data.slice(low, high - low)
    code = {name: raw_codes(data[name]) for name in ("specimen_id", "contributor_id", "instrument_id", "family", "kind")}
    day, height = np.asarray(data["taken_on"].cast(pa.int32())), np.asarray(data["station_mm"])
    changes = np.zeros(max(high - low - 1, 0), dtype=bool)
    for column in (*code.values(), day, height):
        changes |= column[1:] != column[:-1]
    starts = np.concatenate([np.zeros(min(high - low, 1), dtype=np.int64), np.flatnonzero(changes) + 1])
    family, kind, instrument = (where.numbers[name][code[name][starts]] for name in ("family", "kind", "instrument_id"))
    day, contributor = day[starts].astype(np.int64), code["contributor_id"][starts].astype(np.int64)
    person = where.numbers["contributor_id"][contributor]
    station, level = np.unique(height[starts], return_inverse=True)
    keys = RunKeys(
        row=starts + low,
        specimen=where.specimen[np.searchsorted(where.starts, starts + low, side="right") - 1],
        session=combine(contributor, instrument, day - day.min(initial=0), kind),
        family=family,
        station=station[level],
        level=level.astype(np.int64),
        kind=kind,
        instrument=instrument,
        person=person,
    )
    return keys, np.diff(np.append(starts, high - low))


def pool_of(part: Block, instruments: Instruments) -> IntArray:
    """The pool of each run of a block: instrument kind, and gap or mark."""
    return np.asarray(instruments.kind[part.of_run.instrument] * 2 + part.of_run.kind)


def lay_out(part: Block, repeatability: repeats.Repeatability, instruments: Instruments) -> BedRuns:
    """A block that is whole as runs of points. repeatability: by pool."""
    pool, resolution = pool_of(part, instruments), instruments.resolution[part.of_run.instrument]
    reader = part.of_run.person * len(instruments.kinds) + instruments.kind[part.of_run.instrument]
    each = distinct(part.of_run.specimen)
    session, edges = combine(part.of_run.specimen, part.of_run.session), ends_of(part).edges
    families = []
    for family in (MAIN, CROSS):
        runs = np.flatnonzero(part.of_run.family == family)
        cells = cells_of(part, runs)
        run = part.averages.run[cells.average]
        count = part.averages.repeats[cells.average]
        is_mark = part.of_run.kind[runs] == MARK
        families.append(
            Runs(
                bed=each.number[runs],
                session=session[runs],
                station=part.of_run.station[runs],
                is_mark=is_mark,
                instrument=part.of_run.instrument[runs],
                reader=reader[runs],
                strings=part.strings[runs],
                edges=edges[runs],
                points=points_of(cells.spread(part.averages.value[cells.average]), is_mark),
                variance=cells.spread(repeatability.variance(pool[run], count, resolution[run])),
            )
        )
    return BedRuns(families[MAIN], families[CROSS], part.of_run.specimen[each.first])


def whole_runs(part: Block) -> BoolArray:
    """Whether no number of each run is missing or surplus [runs]."""
    return ends_of(part).whole


def laid_points(part: Block, runs: IntArray) -> FloatArray:
    """Some runs of a block, which must be whole, as points [R, K] in mm: strings 1 … n in columns 1 … n."""
    cells = cells_of(part, runs)
    return points_of(cells.spread(part.averages.value[cells.average]), part.of_run.kind[runs] == MARK)


class Cells(NamedTuple):
    """Where the readings of some runs stand in a table of theirs, a row a run and a column a number.

    shape: of the table
    average: which averages are theirs [N]
    place: the place of each in the table, row by row [N]
    """

    shape: tuple[int, int]
    average: IntArray
    place: IntArray

    def spread(self, values: FloatArray) -> FloatArray:
        """Values [N] in their places, 0 elsewhere."""
        table = np.zeros(self.shape)
        table.reshape(-1)[self.place] = values
        return table


def cells_of(part: Block, runs: IntArray) -> Cells:
    """Where the readings of some runs of a block stand."""
    shape = (len(runs), int(part.strings[runs].max(initial=0)) + 2)
    row = np.full(len(part.strings), -1, dtype=np.int64)
    row[runs] = np.arange(len(runs))
    mine = np.flatnonzero(row[part.averages.run] >= 0)
    return Cells(shape, mine, row[part.averages.run[mine]] * shape[1] + part.averages.number[mine])


class Ends(NamedTuple):
    """Where the numbers of runs begin and end [runs].

    starts: the first average of each
    stops: the one after its last
    last: the number of the last string, or of the last gap between two
    edges: whether both inner edges were read
    whole: whether no number is missing or surplus
    """

    starts: IntArray
    stops: IntArray
    last: IntArray
    edges: BoolArray
    whole: BoolArray


def ends_of(part: Block) -> Ends:
    """Where the numbers of each run of a block begin and end."""
    number = part.averages.number
    starts = starts_of(part.averages.run)
    stops = np.append(starts[1:], len(number))
    low, high = number[starts], number[stops - 1]
    last = np.where(part.of_run.kind == MARK, part.strings, part.strings - 1)
    edges = (low == 0) & (high == last + 1)
    whole = (stops - starts == high - low + 1) & (edges | ((low == 1) & (high == last)))
    return Ends(starts, stops, last, edges, whole)
