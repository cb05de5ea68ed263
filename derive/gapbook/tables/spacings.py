"""The spacings table as numbers, block by block of whole specimens: coded columns, runs, averages over repeats."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science import repeats
from gapbook.science.grouping import FloatArray, IntArray, combine, distinct, starts_of
from gapbook.tables.catalogue import RawTables, must_measure
from gapbook.tables.faults import line_of_row
from gapbook.tables.package import Package
from gapbook.tables.units import NAMED, factor_by_code, positions, raw_codes, renumber

MAIN, CROSS = 0, 1
GAP, MARK = 0, 1
ROWS = 150_000
"""Rows in a block, about: enough to be fast, few enough to stay in cache."""


class Source(NamedTuple):
    """The table ordered by specimen, the row each stood on [R] (None if the order is the file's), where the rows of each
    specimen start and its number [S], for each coded column the number behind each code, and the factor to mm by unit code.
    """

    package: Package
    data: pa.Table
    row: IntArray | None
    starts: IntArray
    specimen: IntArray
    numbers: dict[str, IntArray]
    factor: FloatArray

    def line(self, row: int) -> int:
        """The physical line of a row of `data`."""
        return line_of_row(self.package.path("spacings"), row if self.row is None else int(self.row[row]))

    def error(self, rows: IntArray, code: str, message: str, expected: str, column: str) -> GapbookError:
        """One problem a row of `data`, the first few named."""
        rows = np.unique(rows)
        shown = self.package.shown("spacings")
        problems = [
            Problem(code, message, Place(shown, self.line(int(row)), column), expected=expected) for row in rows[:NAMED]
        ]
        return GapbookError(*problems, *and_more(len(rows)))


def and_more(count: int) -> list[Problem]:
    """What is said of the problems that are not named."""
    return [Problem("more", f"and {count - NAMED} more of the same kind")] if count > NAMED else []


class RunKeys(NamedTuple):
    """What tells runs apart, of each run or piece of one; `row` is its first row in the source, `station` is in mm."""

    row: IntArray
    specimen: IntArray
    session: IntArray
    family: IntArray
    station: FloatArray
    level: IntArray
    kind: IntArray
    instrument: IntArray


class Block(NamedTuple):
    """Whole specimens: their runs and the averages over repeats, ordered by run and number.

    `strings` is the count each run should have, `shifts` the degrees of freedom its marks lost.
    """

    of_run: RunKeys
    averages: repeats.Averages
    shifts: IntArray
    strings: IntArray


def source(package: Package, catalogue: RawTables, data: pa.Table) -> Source:
    """Order the table by specimen and prepare its codes. GapbookError for units and instruments that are not lengths."""
    instruments = catalogue.instruments
    numbers = {
        "family": positions(data["family"], ["main", "cross"]),
        "kind": positions(data["kind"], ["gap", "mark"]),
        "instrument_id": positions(data["instrument_id"], instruments.ids),
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


def counts(catalogue: RawTables) -> tuple[IntArray, IntArray]:
    """Mains and crosses of each specimen."""
    frame = catalogue.specimens.frame
    return catalogue.frames.mains[frame], catalogue.frames.crosses[frame]


def bounds(where: Source) -> list[tuple[int, int]]:
    """Row ranges of about ROWS rows that split no specimen."""
    starts = np.append(where.starts, where.data.num_rows)
    wanted = np.searchsorted(starts, np.arange(0, where.data.num_rows + ROWS, ROWS)).clip(0, len(starts) - 1)
    return list(pairwise(np.unique(starts[wanted]).tolist()))


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
    )
    return keys, np.diff(np.append(starts, high - low))


def block(where: Source, counts: tuple[IntArray, IntArray], low: int, high: int) -> Block:
    """Rows low to high as runs and averages. counts: mains and crosses of each specimen.

    GapbookError for a reading given twice.
    """
    keys, lengths = _keys(where, low, high)
    each = distinct(keys.specimen, keys.session, keys.family, keys.level)
    of_run = RunKeys(*(column[each.first] for column in keys))  # type: ignore[arg-type]
    data = where.data.slice(low, high - low)
    value = np.asarray(data["value"]) * where.factor[raw_codes(data["unit"])]
    run = np.repeat(each.number, lengths)
    found = repeats.average(run, np.asarray(data["no"]), np.asarray(data["repeat"]), value, of_run.kind == MARK)
    if len(found.twice):
        raise where.error(found.twice + low, "repeated-key", "a reading is given twice", "each key once", "repeat")
    averages = found.averages._replace(row=found.averages.row + low)
    return Block(of_run, averages, found.shifts, _strings(of_run, counts))


def with_specimens(part: Block, number: IntArray, counts: tuple[IntArray, IntArray]) -> Block:
    """A block whose specimens were numbered otherwise: `number` [S] is what each is now, `counts` as for `block`."""
    of_run = part.of_run._replace(specimen=number[part.of_run.specimen])
    return part._replace(of_run=of_run, strings=_strings(of_run, counts))


def _strings(of_run: RunKeys, counts: tuple[IntArray, IntArray]) -> IntArray:
    return np.where(of_run.family == MAIN, counts[MAIN][of_run.specimen], counts[CROSS][of_run.specimen])


def repeatability(blocks: list[Block], catalogue: RawTables) -> FloatArray:
    """Standard deviation of one reading [mm] by pool, `pool_of` a run: instrument kind, and gap or mark."""
    return repeatability_from(*repeat_sums(blocks, catalogue))


def repeat_sums(blocks: list[Block], catalogue: RawTables) -> tuple[FloatArray, IntArray]:
    """Sums of squared residuals of repeats [mm2] and their degrees of freedom by pool; those of several parts add up."""
    pools = 2 * (int(catalogue.instruments.kind.max(initial=0)) + 1)
    squares, free = np.zeros(pools), np.zeros(pools, dtype=np.int64)
    for part in blocks:
        pool, starts = pool_of(part, catalogue), starts_of(part.averages.run)
        scatter = np.add.reduceat(part.averages.squares, starts) if len(starts) else np.zeros(0)
        spare = np.add.reduceat(part.averages.repeats - 1, starts) if len(starts) else np.zeros(0)
        squares += np.bincount(pool, weights=scatter, minlength=pools)
        free += np.bincount(pool, weights=spare - part.shifts, minlength=pools).astype(np.int64)
    return squares, free


def repeatability_from(squares: FloatArray, free: IntArray) -> FloatArray:
    """Standard deviation of one reading [mm] by pool from `repeat_sums`."""
    pooled = repeats.pooled_repeatability(squares, free, np.arange(len(squares)), len(squares))
    return np.where(np.isnan(pooled), repeats.DEFAULT_SPACING_MM, pooled)


def pool_of(part: Block, catalogue: RawTables) -> IntArray:
    """The pool of each run of a block: instrument kind, and gap or mark."""
    return np.asarray(catalogue.instruments.kind[part.of_run.instrument] * 2 + part.of_run.kind)


def precision(part: Block, catalogue: RawTables, deviation: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Repeatability and resolution of each run of a block [mm], from the repeatability of each pool."""
    return deviation[pool_of(part, catalogue)], catalogue.instruments.resolution[part.of_run.instrument]
