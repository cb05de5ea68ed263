"""The raw tables a derivation needs, read and checked once, and whole-frame readings averaged by session."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science import repeats
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, count_by, distinct, sum_by
from gapbook.science.outline import USUAL_EXPONENT, area_factor
from gapbook.science.units import lookup
from gapbook.tables.package import Package
from gapbook.tables.reader import check_keys, check_references, line_of_row, read_table
from gapbook.tables.units import codes, factors, renumber

DEFAULT_DEVIATION = {
    "head_length": repeats.DEFAULT_LENGTH_MM,
    "head_width": repeats.DEFAULT_LENGTH_MM,
    "length": repeats.DEFAULT_LENGTH_MM,
    "balance": repeats.DEFAULT_LENGTH_MM,
    "head_area": 2.0,
    "mass": 0.3,
    "swingweight": 1.0,
}
"""Default repeatability of a reading, in the computing unit of the quantity. Common practice, no source."""


class Instruments(NamedTuple):
    """Instruments by number [I].

    ids: instrument_id
    kind: number of the kind in the schema's enum
    base: computing unit of what each measures
    resolution: smallest step, in that unit
    max_error: largest error of the instrument itself, in that unit
    kinds: the schema's kinds, by number
    """

    ids: list[str]
    kind: IntArray
    base: list[str]
    resolution: FloatArray
    max_error: FloatArray
    kinds: tuple[str, ...]

    def by_kind(self, known: Mapping[str, float], other: float) -> FloatArray:
        """A figure for each kind [kinds]: the one `known` by its name, else `other`."""
        return np.array([known.get(kind, other) for kind in self.kinds])

    @property
    def u_error(self) -> FloatArray:
        """Standard uncertainty of each instrument's common error, max_error/√3 (JCGM 100:2008, 4.3.7)."""
        return self.max_error / np.sqrt(3.0)


class Frames(NamedTuple):
    """Frames by number [F].

    ids: frame_id
    mains: how many mains each has
    crosses: how many crosses each has
    area: head area [cm2]: the one declared, else as read on its copies, else that of the usual outline of their width and
        length; NaN if there is none of these
    """

    ids: list[str]
    mains: IntArray
    crosses: IntArray
    area: FloatArray


class Specimens(NamedTuple):
    """Specimens by number [S].

    ids: specimen_id
    frame: number of the frame that each is a copy of
    gauge: diameter of its strings [mm]; NaN if not stated
    number: the number of each id
    """

    ids: list[str]
    frame: IntArray
    gauge: FloatArray
    number: dict[str, int]


class SessionMeans(NamedTuple):
    """Whole-frame readings averaged over the repeats of a session [N], in ascending order of specimen.

    specimen: number of the specimen
    quantity: number of the quantity in the schema's enum
    strung: whether the frame was strung
    instrument: number of what it was read with
    value: in the quantity's computing unit
    variance: of the reading alone
    """

    specimen: IntArray
    quantity: IntArray
    strung: BoolArray
    instrument: IntArray
    value: FloatArray
    variance: FloatArray

    def take(self, rows: BoolArray | slice) -> SessionMeans:
        """The same for some of the rows."""
        return SessionMeans(*(column[rows] for column in self))  # type: ignore[arg-type]


class RawTables(NamedTuple):
    """The small tables: what a derivation reads besides the spacings.

    package: whose tables they are
    tables: as Arrow tables by name
    frames: by number
    specimens: by number
    instruments: by number
    people: contributor ids by number
    readings: of whole frames, averaged by session
    quantities: names of the readings' quantities by number
    """

    package: Package
    tables: dict[str, pa.Table]
    frames: Frames
    specimens: Specimens
    instruments: Instruments
    people: list[str]
    readings: SessionMeans
    quantities: tuple[str, ...]


TABLES = ("instruments", "contributors", "frames", "specimens", "readings")
"""What a derivation reads besides the spacings, parents before children."""


def read_catalogue(package: Package) -> RawTables:
    """Read the small tables. GapbookError if one of them holds what its schema does not allow."""
    tables: dict[str, pa.Table] = {}
    for name in TABLES:
        tables[name] = read_table(package, name)
        check_keys(package, name, tables[name])
        check_references(package, name, tables[name], tables)
    return catalogue_of(package, tables)


def must_have_heads(catalogue: RawTables) -> None:
    """GapbookError if the head area of a frame is neither declared nor follows from what was read on its copies."""
    missing = np.flatnonzero(np.isnan(catalogue.frames.area))
    if len(missing):
        row = int(missing[0])
        package = catalogue.package
        place = Place(package.shown("frames"), line_of_row(package, "frames", row), "head_area_cm2")
        message = f"the head area of {catalogue.frames.ids[row]} is not known"
        raise GapbookError(Problem("no-head-area", message, place, fix=HEAD_AREA_FIX))


HEAD_AREA_FIX = "Fill in head_area_cm2 if one is declared, or read the head's inner width and length"


def catalogue_of(package: Package, tables: dict[str, pa.Table]) -> RawTables:
    """The same from tables already read, by name. GapbookError if a unit or an instrument does not fit what was read."""
    instruments = _instruments(package, tables["instruments"])
    frame_table, specimen_table = tables["frames"], tables["specimens"]
    frames = Frames(
        _ids(frame_table["frame_id"]),
        np.asarray(frame_table["mains"]),
        np.asarray(frame_table["crosses"]),
        np.asarray(frame_table["head_area_cm2"], dtype=float),
    )
    ids = _ids(specimen_table["specimen_id"])
    specimens = Specimens(
        ids,
        renumber(specimen_table["frame_id"], frames.ids),
        np.asarray(specimen_table["string_gauge_mm"], dtype=float),
        {name: number for number, name in enumerate(ids)},
    )
    readings = _session_means(package, tables["readings"], specimens, instruments)
    quantities = package.schema("readings").field("quantity").enum
    frames = frames._replace(area=_head_areas(frames.area, specimens, readings, quantities))
    people = _ids(tables["contributors"]["contributor_id"])
    return RawTables(package, tables, frames, specimens, instruments, people, readings, quantities)


def _head_areas(declared: FloatArray, specimens: Specimens, readings: SessionMeans, quantities: Sequence[str]) -> FloatArray:
    """Head area of each frame [F] in cm2, as `Frames` has it; `declared` is NaN if none is declared."""
    if not np.isnan(declared).any():
        return declared

    def mean(quantity: str) -> FloatArray:
        mine = readings.take(readings.strung & (readings.quantity == quantities.index(quantity)))
        frame = specimens.frame[mine.specimen]
        count = count_by(frame, len(declared)).astype(float)
        count[count == 0.0] = np.nan
        return sum_by(frame, mine.value, len(declared)) / count

    read = mean("head_area")
    drawn = mean("head_width") * mean("head_length") * area_factor(np.array([USUAL_EXPONENT])) / 100.0
    area = np.where(np.isnan(declared), read, declared)
    return np.where(np.isnan(area), drawn, area)


def _ids(column: pa.ChunkedArray) -> list[str]:
    return list(column.cast(pa.string()).to_pylist())  # many times as fast as to_pylist of codes


def _instruments(package: Package, data: pa.Table) -> Instruments:
    units = [lookup(text) for text in data["unit"].to_pylist()]
    kinds = tuple(package.schema("instruments").field("kind").enum)
    base = [unit.base if unit else "mm" for unit in units]
    bases = sorted(set(base))
    number = np.array([bases.index(one) for one in base], dtype=np.int64)
    factor = factors(package, "instruments", data["unit"], bases, number)
    return Instruments(
        data["instrument_id"].to_pylist(),
        renumber(data["kind"], kinds),
        base,
        np.asarray(data["resolution"], dtype=float) * factor,
        np.asarray(data["max_error"], dtype=float) * factor,
        kinds,
    )


def must_measure(
    package: Package, table: str, instrument: IntArray, instruments: Instruments, bases: Sequence[str], wanted: IntArray
) -> None:
    """GapbookError if an instrument states its error in another dimension than that of what was read with it.

    package: where the table is
    table: its name, for the error
    instrument: number of each row's instrument [R]
    instruments: of the package
    bases: computing units
    wanted: place in `bases` of each row's unit [R], or one place for all rows [1]
    """
    every = sorted({*instruments.base, *bases})
    stated = np.array([every.index(base) for base in instruments.base], dtype=np.int64)[instrument]
    bad = np.flatnonzero(stated != np.array([every.index(base) for base in bases])[wanted])
    if len(bad):
        row = int(bad[0])
        raise GapbookError(
            Problem(
                "instrument-dimension",
                f"{instruments.ids[instrument[row]]} does not measure this",
                Place(package.shown(table), line_of_row(package, table, row), "instrument_id"),
                found=f"an instrument in {every[stated[row]]}",
                expected=f"one in {bases[wanted[row if len(wanted) > 1 else 0]]}",
            )
        )


def _session_means(package: Package, data: pa.Table, specimens: Specimens, instruments: Instruments) -> SessionMeans:
    quantity_field = package.schema("readings").field("quantity")
    quantity = renumber(data["quantity"], list(quantity_field.enum))
    bases = sorted(set(quantity_field.units.values()))
    base = np.array([bases.index(quantity_field.units[name]) for name in quantity_field.enum], dtype=np.int64)[quantity]
    value = np.asarray(data["value"], dtype=float) * factors(package, "readings", data["unit"], bases, base)
    instrument = renumber(data["instrument_id"], instruments.ids)
    specimen = renumber(data["specimen_id"], specimens.number)
    if data.num_rows:
        must_measure(package, "readings", instrument, instruments, bases, base)
    day = np.asarray(data["taken_on"].cast(pa.int32())).astype(np.int64)
    strung = np.asarray(data["strung"].combine_chunks().to_numpy(zero_copy_only=False), dtype=bool)
    session = combine(
        specimen,
        quantity,
        strung.astype(np.int64),
        codes(data["contributor_id"]),
        instrument,
        day - day.min(initial=0),
    )
    first, run = distinct(session)
    averages = repeats.average(
        run, np.zeros_like(run), np.asarray(data["repeat"]), value, np.zeros(len(first), dtype=bool)
    ).averages
    pool = (quantity * len(instruments.kinds) + instruments.kind[instrument])[first]
    repeatability = reading_repeatability(averages, pool, quantity_field.enum, len(instruments.kinds))
    return SessionMeans(
        specimen=specimen[first],
        quantity=quantity[first],
        strung=strung[first],
        instrument=instrument[first],
        value=averages.value,
        variance=repeatability.variance(pool, averages.repeats, instruments.resolution[instrument[first]]),
    )


def reading_repeatability(
    averages: repeats.Averages, pool: IntArray, quantities: Sequence[str], kinds: int
) -> repeats.Repeatability:
    """Repeatability of whole-frame readings by pool, in the computing unit of each quantity.

    averages: readings averaged over the repeats of a session [A]
    pool: number of the quantity times `kinds`, plus number of the kind of instrument [A]
    quantities: by number
    kinds: how many kinds of instruments there are
    """
    default = np.repeat([DEFAULT_DEVIATION[name] for name in quantities], kinds)
    return repeats.pooled_repeatability(averages.squares, averages.repeats - 1, pool, default)
