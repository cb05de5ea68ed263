"""Which readings are in units that fit them: looked up once, for the rules that report and for the study that measures."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.units import lookup
from gapbook.tables.package import Package
from gapbook.tables.reading import texts
from gapbook.tables.units import codes, renumber

UNIT_COLUMNS = {"spacings": "unit", "readings": "unit", "instruments": "unit", "playtests": "tension_unit"}
"""The tables that carry a unit beside the value, and its column."""


class UnitFit(NamedTuple):
    """Rows of one table [R]: the unit is not known; it measures something else than the value is; the instrument states its
    error in another dimension; the factor to the computing unit (NaN where one of the first two holds).
    """

    unknown: BoolArray
    other: BoolArray
    instrument: BoolArray
    factor: FloatArray

    @property
    def bad(self) -> BoolArray:
        """Rows that cannot be computed with."""
        return self.unknown | self.other | self.instrument


BASES = ("mm", "cm2", "g", "kg.cm2", "N")
"""The computing units, numbered by their place here; UNKNOWN and ANY stand beside them."""
UNKNOWN, ANY = -1, -2


def base_number(text: str) -> int:
    """The number of the computing unit of a unit as written; UNKNOWN where nobody knows it."""
    unit = lookup(text)
    return UNKNOWN if unit is None else BASES.index(unit.base)


def wanted_bases(package: Package, table: str, data: pa.Table) -> IntArray:
    """The number of the computing unit of each row's value [R]; ANY where any dimension will do (instruments)."""
    fixed = {"spacings": BASES.index("mm"), "playtests": BASES.index("N"), "instruments": ANY}
    if table in fixed:
        return np.full(data.num_rows, fixed[table])
    units = package.schema("readings").field("quantity").units
    of_code = [BASES.index(units[name]) for name in texts(data["quantity"])]
    return np.array([*of_code, ANY])[codes(data["quantity"])]


def unit_fit(package: Package, table: str, data: pa.Table, instruments: pa.Table) -> UnitFit:
    """How the units of a table fit; `instruments` is the table of that name."""
    column = data[UNIT_COLUMNS[table]]
    known = [lookup(text) for text in texts(column)]
    code = codes(column)
    base = np.array([*(base_number(text) for text in texts(column)), ANY])[code]
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
