"""Single readings as numbers, before any repeat is averaged: whether their units fit, whole-frame readings, and passes of
spacings.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, starts_of
from gapbook.science.misread import believable_variance
from gapbook.science.units import lookup
from gapbook.tables.catalogue import RawTables
from gapbook.tables.derivation import Gathered
from gapbook.tables.package import Package
from gapbook.tables.reader import texts
from gapbook.tables.spacings import CROSS, MAIN, MARK, pool_of
from gapbook.tables.units import codes, positions, renumber

UNIT_COLUMNS = {"spacings": "unit", "readings": "unit", "instruments": "unit", "playtests": "tension_unit"}
"""The tables that state a unit beside the value, and the column of the unit."""
BASES = ("mm", "cm2", "g", "kg.cm2", "N")
"""The units that are computed in, numbered by their place here."""
UNKNOWN, ANY = -1, -2
"""In place of such a number: the unit is not known; any unit will do."""


def days(column: pa.ChunkedArray) -> IntArray:
    """Dates [R] as days since 1970-01-01; null is day 0."""
    return np.asarray(column.cast(pa.int32()).fill_null(0)).astype(np.int64)


def groups(number: IntArray) -> list[IntArray]:
    """For each distinct number in `number` [R] the places where it occurs [any]; numbers and places ascend."""
    order = np.argsort(number, kind="stable")
    return np.split(order, starts_of(number[order])[1:]) if len(order) else []


# Units


class UnitFit(NamedTuple):
    """How the units of one table's rows [R] fit.

    unknown: whether the unit is not known
    other: whether it measures something else than the value is
    instrument: whether the instrument states its error in another dimension
    factor: from the unit to the computing unit; NaN if the unit is unknown or measures something else
    """

    unknown: BoolArray
    other: BoolArray
    instrument: BoolArray
    factor: FloatArray

    @property
    def bad(self) -> BoolArray:
        """Whether each row [R] cannot be computed with."""
        return self.unknown | self.other | self.instrument


def base_number(text: str, tension: bool = False) -> int:
    """The number of the computing unit for a unit as it is written; UNKNOWN if the unit is not on the list."""
    unit = lookup(text, tension)
    return UNKNOWN if unit is None else BASES.index(unit.base)


def wanted_bases(package: Package, table: str, data: pa.Table) -> IntArray:
    """The number of the computing unit of each row's value [R]; ANY if any dimension will do (instruments)."""
    fixed = {"spacings": BASES.index("mm"), "playtests": BASES.index("N"), "instruments": ANY}
    if table in fixed:
        return np.full(data.num_rows, fixed[table])
    units = package.schema("readings").field("quantity").units
    of_code = [BASES.index(units[name]) for name in texts(data["quantity"])]
    return np.array([*of_code, ANY])[codes(data["quantity"])]


def unit_fit(package: Package, table: str, data: pa.Table, instruments: pa.Table) -> UnitFit:
    """How the units of a table fit.

    package: its schema says in which unit a quantity is computed
    table: the table's name
    data: its rows [R]
    instruments: the table of that name
    """
    column = data[UNIT_COLUMNS[table]]
    tension = table == "playtests"
    known = [lookup(text, tension) for text in texts(column)]
    code = codes(column)
    base = np.array([*(base_number(text, tension) for text in texts(column)), ANY])[code]
    factor = np.array([*(unit.factor if unit else np.nan for unit in known), np.nan])[code]
    wanted = wanted_bases(package, table, data)
    unknown = base == UNKNOWN
    other = (wanted != ANY) & (base >= 0) & (base != wanted)
    instrument = np.zeros(data.num_rows, dtype=bool)
    if table in ("spacings", "readings"):
        stated = [base_number(text) for text in instruments["unit"].cast(pa.string()).to_pylist()]
        tool = np.array([*stated, UNKNOWN])[renumber(data["instrument_id"], instruments["instrument_id"].to_pylist())]
        instrument = (tool != wanted) & (tool != UNKNOWN)
    return UnitFit(unknown, other, instrument, np.where(unknown | other, np.nan, factor))


# Whole-frame readings


class Readings(NamedTuple):
    """The usable whole-frame readings [R].

    row: the row of the table
    specimen: number of the catalogue's specimen
    quantity: number of the catalogue's quantity
    strung: 1 if the frame was strung, else 0
    person: code of the contributor column
    instrument: number of the catalogue's instrument
    day: days since 1970-01-01
    repeat: the repeat number
    value: in the quantity's computing unit
    """

    row: IntArray
    specimen: IntArray
    quantity: IntArray
    strung: IntArray
    person: IntArray
    instrument: IntArray
    day: IntArray
    repeat: IntArray
    value: FloatArray

    def take(self, rows: BoolArray | IntArray) -> Readings:
        """Some of the readings."""
        return Readings(*(column[rows] for column in self))  # type: ignore[arg-type]


def frame_readings(catalogue: RawTables, rows: IntArray, factor: FloatArray) -> Readings:
    """Every reading of the catalogue.

    catalogue: the usable rows
    rows: of which rows of the whole table the catalogue's are [R]
    factor: for each row of the whole table the factor to the computing unit
    """
    data = catalogue.tables["readings"]
    return Readings(
        rows,
        renumber(data["specimen_id"], catalogue.specimens.ids),
        renumber(data["quantity"], list(catalogue.quantities)),
        np.asarray(data["strung"].combine_chunks().to_numpy(zero_copy_only=False), dtype=bool).astype(np.int64),
        codes(data["contributor_id"]),
        renumber(data["instrument_id"], catalogue.instruments.ids),
        days(data["taken_on"]),
        np.asarray(data["repeat"]).astype(np.int64),
        np.asarray(data["value"], dtype=float) * factor[rows],
    )


# Passes


class Passes(NamedTuple):
    """Passes [P] in ascending order of specimen. A pass is one repeat of a run: the gaps or marks that one person read one
    after the other along one family at one station.

    specimen: number of the catalogue's specimen
    session: code of contributor, instrument, day and kind
    family: MAIN or CROSS
    station: where the rule lay [mm]
    is_mark: whether marks were read, and not gaps
    instrument: number of the catalogue's instrument
    repeat: the repeat number
    run: code of specimen, session, family and station
    strings: how many strings the frame declares for the family
    value: the gap or mark of each number [P, K] in mm; NaN if not read
    row: its row of the spacings [P, K]; -1 if not read
    first: the first of these rows in the file
    """

    specimen: IntArray
    session: IntArray
    family: IntArray
    station: FloatArray
    is_mark: BoolArray
    instrument: IntArray
    repeat: IntArray
    run: IntArray
    strings: IntArray
    value: FloatArray
    row: IntArray
    first: IntArray

    def of_specimen(self, specimen: int, family: int | None = None) -> IntArray:
        """The passes of a specimen (of one family of it), in the order of the file."""
        low, high = np.searchsorted(self.specimen, [specimen, specimen + 1])
        mine = np.arange(low, high)
        if family is not None:
            mine = mine[self.family[mine] == family]
        return mine[np.argsort(self.first[mine], kind="stable")]

    def same(self, number: int) -> IntArray:
        """The other passes of the same specimen and family as pass `number`, at any station."""
        mine = self.of_specimen(int(self.specimen[number]), int(self.family[number]))
        return mine[mine != number]

    def take(self, numbers: IntArray) -> Passes:
        """Some of the passes."""
        return Passes(*(column[numbers] for column in self))  # type: ignore[arg-type]


def passes_of(spacings: pa.Table, rows: IntArray, catalogue: RawTables, factor: FloatArray) -> Passes:
    """Every pass, complete or not, of the usable spacings.

    spacings: the whole table
    rows: its usable rows
    catalogue: the usable rows of the other tables
    factor: for each row of the whole table the factor to mm
    """
    data = spacings if len(rows) == spacings.num_rows else spacings.take(pa.array(rows))
    specimen = renumber(data["specimen_id"], catalogue.specimens.ids)
    family = positions(data["family"], ["main", "cross"])[codes(data["family"])]
    kind = positions(data["kind"], ["gap", "mark"])[codes(data["kind"])]
    instrument = renumber(data["instrument_id"], catalogue.instruments.ids)
    day = np.asarray(data["taken_on"].cast(pa.int32())).astype(np.int64)
    station = np.asarray(data["station_mm"], dtype=float)
    level = np.rint((station + 200.0) * 1e4).astype(np.int64)
    session = combine(codes(data["contributor_id"]), instrument, day - day.min(initial=0), kind)
    repeat = np.asarray(data["repeat"]).astype(np.int64)
    number = np.asarray(data["no"]).astype(np.int64)
    each = distinct(specimen, session, family, level, repeat)
    head = each.first
    runs = distinct(specimen[head], session[head], family[head], level[head])
    counts = catalogue.frames.mains, catalogue.frames.crosses
    frame = catalogue.specimens.frame[specimen[head]]
    width = max(int(number.max(initial=0)), int(max(one.max(initial=0) for one in counts)) + 1) + 1
    value, row = np.full((len(head), width), np.nan), np.full((len(head), width), -1, dtype=np.int64)
    value[each.number, number] = np.asarray(data["value"], dtype=float) * factor[rows]
    row[each.number, number] = rows
    return Passes(
        specimen=specimen[head],
        session=session[head],
        family=family[head],
        station=station[head],
        is_mark=kind[head] == MARK,
        instrument=instrument[head],
        repeat=repeat[head],
        run=runs.number,
        strings=np.where(family[head] == MAIN, counts[MAIN][frame], counts[CROSS][frame]),
        value=value,
        row=row,
        first=rows[head],
    )


class Complete(NamedTuple):
    """Which passes are complete; and of all passes [P], strings and variance.

    number: the complete passes of beds that can be laid out [C]
    strings: positions of the strings, counted from the first reading [P, n] in mm; NaN if not known
    variance: variance of one reading [P] in mm²
    """

    number: IntArray
    strings: FloatArray
    variance: FloatArray


def complete_passes(passes: Passes, gathered: Gathered, catalogue: RawTables) -> Complete:
    """The complete passes of the beds in `gathered`. A number that one repeat leaves out is taken from the other repeats."""
    of_bed = np.zeros(len(catalogue.specimens.ids) + 1, dtype=bool)
    of_bed[gathered.where.specimen] = True
    value = _filled(passes, of_bed[passes.specimen])
    summed = np.zeros((len(value), value.shape[1] - 1))
    np.cumsum(value[:, 1:-1], axis=1, out=summed[:, 1:])
    strings = np.where(passes.is_mark[:, None], value[:, 1:], summed)
    strings[np.arange(strings.shape[1])[None, :] >= passes.strings[:, None]] = np.nan
    known = (~np.isnan(strings)).sum(axis=1) == passes.strings
    return Complete(np.flatnonzero(of_bed[passes.specimen] & known), strings, _variance(passes, gathered, catalogue))


def _variance(passes: Passes, gathered: Gathered, catalogue: RawTables) -> FloatArray:
    """Variance of one reading of each pass [P] in mm². It is rounded to three digits, so that passes that are alike have the
    same and can be judged together.
    """
    tools, blocks = catalogue.instruments, gathered.blocks
    pools = len(gathered.pooled.repeatability.deviation)
    floor, pool = np.zeros(pools), tools.kind[passes.instrument] * 2 + passes.is_mark
    rounding = tools.resolution[passes.instrument] ** 2 / 12.0
    np.maximum.at(floor, pool, rounding)
    pool_of_cell = [pool_of(block, catalogue.instruments)[block.averages.run] for block in blocks]
    squares = np.concatenate([block.averages.squares for block in blocks] or [np.zeros(0)])
    freedom = np.concatenate([block.averages.repeats - 1 for block in blocks] or [np.zeros(0, dtype=np.int64)])
    cells = np.concatenate(pool_of_cell or [np.zeros(0, dtype=np.int64)])
    pooled = believable_variance(squares, freedom, cells, pools, floor)
    usual = gathered.pooled.repeatability.deviation**2
    variance = np.maximum(np.where(np.isnan(pooled), usual, np.minimum(pooled, usual))[pool], rounding)
    digit = 10.0 ** (np.floor(np.log10(np.maximum(variance, 1e-6))) - 2.0)
    return np.asarray(np.maximum(np.rint(variance / digit) * digit, 1e-6))


def _filled(passes: Passes, wanted: BoolArray) -> FloatArray:
    """Values [P, K]. In the passes `wanted` [P], a number that the pass leaves out is the median of the run's other passes."""
    value = passes.value.copy()
    number = np.arange(value.shape[1])[None, :]
    last = np.where(passes.is_mark, passes.strings, passes.strings - 1)[:, None]
    blank = np.isnan(value) & (number >= 1) & (number <= last) & wanted[:, None]
    for one in np.flatnonzero(blank.any(axis=1)).tolist():
        mine = passes.of_specimen(int(passes.specimen[one]))
        others = passes.value[mine[(passes.run[mine] == passes.run[one]) & (mine != one)]]
        if passes.is_mark[one]:
            others = others + _medians(passes.value[one] - others)[:, None]
        value[one, blank[one]] = _medians(others[:, blank[one]].T)
    return value


def _medians(table: FloatArray) -> FloatArray:
    """The median of each row, NaN left out; NaN if the row has nothing else."""
    known = [row[~np.isnan(row)] for row in table]
    return np.array([np.median(row) if len(row) else np.nan for row in known])
