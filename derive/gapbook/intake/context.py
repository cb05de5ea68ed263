"""What the rules look at: the sound rows of catalogue and contribution, and what is computed from the usable ones.

Everything is computed at most once, and only when a rule asks for it.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from functools import cached_property, wraps
from typing import TypeVar
from weakref import WeakKeyDictionary

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.intake.layers import LayeredTables
from gapbook.intake.readings import (
    UNIT_COLUMNS,
    Complete,
    Passes,
    Readings,
    UnitFit,
    complete_passes,
    frame_readings,
    passes_of,
    unit_fit,
)
from gapbook.science.grouping import BoolArray, IntArray
from gapbook.tables.catalogue import RawTables, catalogue_of
from gapbook.tables.derivation import Gathered, Measured, beds_table, gather, score_spacings
from gapbook.tables.package import Package
from gapbook.tables.run_faults import run_faults
from gapbook.tables.spacings import BedRuns, RunFault
from gapbook.tables.units import renumber

T = TypeVar("T")


class CheckContext:
    """What one check looks at.

    package: the package that is checked, or that a contribution is meant for
    read: all files as they were read
    own: the number of the layer that is checked; only findings about its rows and files are reported
    today: the day of the check
    tables: the sound rows of each table, of all layers; findings name rows of these

    Not all of these rows are usable, which means fit to compute with: units must fit and ids must be known, and if one row of
    a specimen's spacings is in doubt, none of them is used. `usable_rows` gives them.
    """

    def __init__(self, package: Package, read: LayeredTables, own: int, today: datetime.date) -> None:
        self.package, self.read, self.own, self.today = package, read, own, today
        self.tables = read.tables

    def is_own(self, table: str) -> BoolArray:
        """Whether each row [R] of a table belongs to the layer that is checked."""
        return np.asarray(self.read.layer[table] == self.own)

    def first_own(self, table: str, rows: IntArray) -> tuple[int, ...]:
        """The first of `rows` that belongs to the layer that is checked; empty if none does."""
        own = rows[self.read.layer[table][rows] == self.own]
        return tuple(own[:1].tolist())

    def column(self, table: str, name: str) -> list[object]:
        """A column of `tables` as Python values. This is slow: use it for small tables only."""
        return list(self.tables[table][name].to_pylist())

    def cell(self, table: str, row: int, name: str) -> object:
        """One cell of `tables`."""
        return self.tables[table][name][row].as_py()

    def key(self, table: str, row: int, keyed: int | None = None) -> str:
        """The row's primary key, or its first `keyed` columns, as findings and exceptions write it: joined by slashes."""
        names = self.package.schema(table).primary_key[:keyed]
        return "/".join(_written(self.cell(table, row, name)) for name in names)

    @cached_property
    def units(self) -> dict[str, UnitFit]:
        """How units fit, by table."""
        tools = self.tables["instruments"]
        return {name: unit_fit(self.package, name, self.tables[name], tools) for name in UNIT_COLUMNS if name in self.tables}

    @cached_property
    def _kept(self) -> dict[str, BoolArray]:
        """Whether each row of each table is usable, as far as units, ids and doubtful specimens tell."""
        kept = {name: np.ones(table.num_rows, dtype=bool) for name, table in self.tables.items()}
        for name, fit in self.units.items():
            kept[name] &= ~fit.bad
        tool_ids = self.tables["instruments"]["instrument_id"].filter(pa.array(kept["instruments"]))
        for name in ("spacings", "readings"):
            kept[name] &= _is_in(self.tables[name]["instrument_id"], tool_ids)
        kept["specimens"] &= _is_in(self.tables["specimens"]["frame_id"], self.tables["frames"]["frame_id"])
        specimens = self.tables["specimens"]["specimen_id"].filter(pa.array(kept["specimens"]))
        for name in ("spacings", "readings"):
            kept[name] &= _is_in(self.tables[name]["specimen_id"], specimens)
            kept[name] &= _is_in(self.tables[name]["contributor_id"], self.tables["contributors"]["contributor_id"])
        spacings = self.tables["spacings"]["specimen_id"]
        doubtful = set(pc.unique(spacings.filter(pa.array(~kept["spacings"])).cast(pa.string())).to_pylist())
        doubtful |= set(self.read.doubtful_specimens)
        if doubtful:
            kept["spacings"] &= ~_is_in(spacings, pa.array(sorted(doubtful), pa.string()))
        return kept

    def usable_rows(self, table: str) -> IntArray:
        """The usable rows of a table."""
        return np.flatnonzero(self._kept[table])

    @cached_property
    def catalogue(self) -> RawTables:
        """The usable frames, specimens, instruments, contributors and readings, in the form that the derivation takes."""
        names = ("frames", "specimens", "instruments", "contributors", "readings")
        kept = {name: _sound(self.tables[name], self._kept[name]) for name in names}
        return catalogue_of(self.package, kept)

    @cached_property
    def readings(self) -> Readings:
        """The usable whole-frame readings."""
        return frame_readings(self.catalogue, self.usable_rows("readings"), self.units["readings"].factor)

    @cached_property
    def passes(self) -> Passes:
        """The usable spacings, pass by pass."""
        factor = self.units["spacings"].factor
        return passes_of(self.tables["spacings"], self.usable_rows("spacings"), self.catalogue, factor)

    @cached_property
    def complete(self) -> Complete:
        """The strings of the passes of beds that can be laid out."""
        return complete_passes(self.passes, self.gathered, self.catalogue)

    @cached_property
    def _averaged(self) -> tuple[Gathered, IntArray]:
        """The usable spacings with repeats averaged, and the rows of `tables` they were made from."""
        rows = np.flatnonzero(self._kept["spacings"])
        return gather(self.package, self.catalogue, _sound(self.tables["spacings"], self._kept["spacings"])), rows

    @cached_property
    def run_faults(self) -> list[RunFault]:
        """Why specimens cannot be laid out: numbers missing, marks that do not rise, ...; `row` is a row of `tables`."""
        gathered, rows = self._averaged
        faults = [fault for block in gathered.blocks for fault in run_faults(block, self.catalogue.specimens.ids)]
        place = _to_rows(gathered, rows)
        return [fault._replace(row=int(place[fault.row])) for fault in faults]

    @cached_property
    def _laid_out(self) -> tuple[Gathered, IntArray]:
        """The same without the specimens that cannot be laid out."""
        gathered, rows = self._averaged
        broken = sorted({fault.specimen for fault in self.run_faults})
        if not broken:
            return gathered, rows
        data = self.tables["spacings"]
        fine = ~np.isin(renumber(data["specimen_id"], self.catalogue.specimens.ids), broken) & self._kept["spacings"]
        return gather(self.package, self.catalogue, _sound(data, fine)), np.flatnonzero(fine)

    @property
    def gathered(self) -> Gathered:
        """The spacings of all beds that can be laid out, in blocks of whole specimens."""
        return self._laid_out[0]

    @cached_property
    def spacing_rows(self) -> IntArray:
        """For each row of `gathered.where` its row in `tables`."""
        return _to_rows(*self._laid_out)

    @cached_property
    def bed_runs(self) -> list[BedRuns]:
        """The blocks of `gathered` as runs of points."""
        return [self.gathered.lay_out(self.catalogue, block) for block in self.gathered.blocks]

    @cached_property
    def measured(self) -> Measured:
        """Every bed that can be laid out, scored."""
        return score_spacings(self.catalogue, self.gathered)

    @cached_property
    def beds(self) -> pa.Table:
        """beds.csv as it would be derived from the usable rows."""
        return beds_table(self.package, self.catalogue, self.measured)


def cached(function: Callable[[CheckContext], T]) -> Callable[[CheckContext], T]:
    """The function, called at most once for each context; its result is forgotten with the context.

    It is for what several rules look at and the context need not know. (`functools.cache` would keep every context alive.)
    """
    known: WeakKeyDictionary[CheckContext, T] = WeakKeyDictionary()

    @wraps(function)
    def looked_up(context: CheckContext) -> T:
        if context not in known:
            known[context] = function(context)
        return known[context]

    return looked_up


def _written(value: object) -> str:
    """A key cell in its usual spelling: whole numbers without a point, dates as year-month-day, true and false in small
    letters.
    """
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float) else str(value)


def _is_in(column: pa.ChunkedArray, values: pa.ChunkedArray | pa.Array) -> BoolArray:
    """Whether each cell of a column is one of `values`."""
    known = set(values.cast(pa.string()).to_pylist())
    ids = sorted(known)
    return np.asarray(renumber(column, ids) >= 0)


def _sound(table: pa.Table, kept: BoolArray) -> pa.Table:
    return table if kept.all() else table.filter(pa.array(kept)).unify_dictionaries()


def _to_rows(gathered: Gathered, rows: IntArray) -> IntArray:
    """For each row of `gathered.where` its row in `tables`; `rows` are those that `gathered` was made from."""
    order = gathered.where.row
    return rows if order is None else rows[order]
