"""The views that SQL can ask: the package's tables, and views made of them.

Names, units and descriptions of columns are those of the schemas; columns of tables that the package lacks are left out.
"""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from typing import NamedTuple

import pyarrow as pa

from gapbook.errors import fail
from gapbook.science.units import ALIASES, TENSION_ALIASES, UNITS
from gapbook.tables.package import Package
from gapbook.tables.schemas import Field
from gapbook.tables.store import all_tables, literal, quoted

PLAYTESTS_WITH_BEDS = "playtests_with_beds"
STIFFNESS_AT_N = 245.0
"""The pull tension for which mechanics.csv states stiffness [N]."""
STIFFNESS = "stiffness_centre_n_per_mm"

_OF_FRAME = ("maker", "model", "edition", "release_year", "mains", "crosses", "length_mm", "beam_mm")
_OF_TESTER = ("style", "own_frame")
_RENAMED = {
    ("specimens", "string_gauge_mm"): "bed_string_gauge_mm",
    ("frames", "head_area_cm2"): "declared_head_area_cm2",
    ("handling", "basis"): "handling_basis",
    ("handling", "strung"): "handling_strung",
}
_IDS = ("specimen_id", "frame_id", "tester_id")


class Column(NamedTuple):
    """A column of a view.

    name: as SQL calls it
    type: Table Schema type
    unit: UCUM code; empty if it has none
    description: what it holds
    title: what people call it
    field: the field of a table that it is taken from; None if it is made
    """

    name: str
    type: str
    unit: str
    description: str
    title: str = ""
    field: Field | None = None


class View(NamedTuple):
    """A view.

    name: as SQL calls it
    description: what it holds
    columns: in order
    tables: those it is made from; empty if it is a table itself
    sql: the SELECT that makes it; None if it is a table itself
    """

    name: str
    description: str
    columns: tuple[Column, ...]
    tables: tuple[str, ...] = ()
    sql: str | None = None


class _Made(NamedTuple):
    """A column and the SQL that gives it."""

    column: Column
    sql: str


def views(package: Package) -> list[View]:
    """The documented views: the package's tables, `spacings_si` and `readings_si` with values in computing units, and
    `playtests_with_beds`.
    """
    tables = [View(table, package.schema(table).description, columns_of(package, table)) for table in all_tables(package)]
    made = (_spacings_si(tables), _readings_si(tables), playtests_with_beds(package))
    return tables + [view for view in made if view is not None]


def views_named(package: Package, name: str | None) -> list[View]:
    """The view of this name, or all if it is None. GapbookError, with the nearest names, if there is none."""
    known = {view.name: view for view in views(package)}
    if name is None:
        return list(known.values())
    if name not in known:
        near = difflib.get_close_matches(name.lower(), known, 3, 0.5)
        fix = "Nearest: " + ", ".join(near) if near else "See gapbook sql --views"
        raise fail("no-table", "no table or view of this name", found=name, fix=fix)
    return [known[name]]


def columns_of(package: Package, table: str) -> tuple[Column, ...]:
    """The columns of a table, from its schema."""
    return tuple(_column(field, field.name) for field in package.schema(table).fields)


def _column(field: Field, name: str) -> Column:
    return Column(name, field.type, field.unit or "", field.description, field.title, field)


def labelled(data: pa.Table, package: Package, name: str, fields: Sequence[Field | Column]) -> pa.Table:
    """The table with Arrow metadata: `title`, `description` and, if it is a quantity, `unit` at each field; `table`, `package`
    and `version` at the table.

    data: the rows
    package: where they come from
    name: of the table
    fields: which columns to keep, in order, and what to say of them
    """
    made = [data.schema.field(field.name).with_metadata(_metadata(field)) for field in fields]
    words = {"table": name, "package": package.name, "version": package.version}
    return data.select([field.name for field in fields]).cast(pa.schema(made, metadata=words))


def _metadata(field: Field | Column) -> dict[str, str]:
    words = {"title": field.title or field.name, "description": field.description, "unit": field.unit or ""}
    return {name: text for name, text in words.items() if text}


# Values in computing units


def _spacings_si(tables: list[View]) -> View | None:
    for view in tables:
        if view.name == "spacings":
            extra = Column("value_mm", "number", "mm", "The value in mm.")
            sql = f"SELECT *, value * {_factor('unit')} AS value_mm FROM spacings"
            return View("spacings_si", "Spacings with the value in mm beside it.", (*view.columns, extra), ("spacings",), sql)
    return None


def _readings_si(tables: list[View]) -> View | None:
    for view in tables:
        if view.name == "readings":
            extra = (
                Column("value_si", "number", "", "The value in the unit of unit_si."),
                Column("unit_si", "string", "", "The unit its quantity is computed in: mm, cm2, g or kg.cm2."),
            )
            sql = f"SELECT *, value * {_factor('unit')} AS value_si, {_base('unit')} AS unit_si FROM readings"
            description = "Readings with the value in the unit its quantity is computed in beside it."
            return View("readings_si", description, (*view.columns, *extra), ("readings",), sql)
    return None


def _factor(column: str) -> str:
    return _by_unit(column, {code: repr(unit.factor) for code, unit in UNITS.items()})


def _base(column: str) -> str:
    return _by_unit(column, {code: literal(unit.base) for code, unit in UNITS.items()})


def _by_unit(column: str, result: dict[str, str]) -> str:
    names = [] if "g" in result else [*TENSION_ALIASES.items()]  # only forces: kg is one there
    names += [*((code, code) for code in UNITS), *ALIASES.items()]
    whens = " ".join(f"WHEN {literal(name)} THEN {result[code]}" for name, code in names if code in result)
    return f"CASE {column} {whens} END"


# Playtests, each with its bed


def playtests_with_beds(package: Package) -> View | None:
    """Each playtest with what is known of its bed, stringing and tester; None if the package lacks playtests or specimens.

    Modelled stiffness is proportional to tension. So the view has the stiffness that mechanics.csv states for 245 N, times the
    mean of main and cross tension over 245 N; NULL if the package has no table mechanics.
    """
    here = set(all_tables(package))
    if not {"playtests", "specimens"} <= here:
        return None
    joins = {"playtests": "", "specimens": "specimen_id", "frames": "frame_id", "testers": "tester_id"}
    joins |= {"beds": "specimen_id", "handling": "frame_id"}
    if "mechanics" in here and package.path("mechanics").is_file():
        joins["mechanics"] = "frame_id"
    tables = tuple(table for table in joins if table in here)
    made = [*_taken(package, "playtests", None), *_taken(package, "specimens", ("string_gauge_mm",)), *_tensions(package)]
    made[2:2] = [_Made(_column(package.schema("specimens").field("frame_id"), "frame_id"), '"specimens"."frame_id"')]
    for table, names in (
        ("testers", _OF_TESTER),
        ("frames", (*_OF_FRAME, "head_area_cm2")),
        ("beds", None),
        ("handling", None),
    ):
        made += _taken(package, table, names) if table in tables else []
    made += _stiffness(package, "mechanics" in tables)
    once = {one.column.name: one for one in reversed(made)}
    kept = [one for one in made if once[one.column.name] is one]
    picked = ", ".join(f"{one.sql} AS {quoted(one.column.name)}" for one in kept)
    joined = " ".join(_join(table, key) for table, key in joins.items() if table in tables[1:])
    return View(
        PLAYTESTS_WITH_BEDS,
        "Playtests, each with its tester, its tensions in N, its frame, and the bed measured of its specimen.",
        tuple(one.column for one in kept),
        tables,
        f"SELECT {picked} FROM playtests {joined}",
    )


def _join(table: str, key: str) -> str:
    parent = "playtests" if key in ("specimen_id", "tester_id") else "specimens"
    return f"LEFT JOIN {quoted(table)} ON {quoted(table)}.{quoted(key)} = {quoted(parent)}.{quoted(key)}"


def _taken(package: Package, table: str, names: tuple[str, ...] | None) -> list[_Made]:
    """Those columns of a table that are named, or all; ids only from playtests and specimens."""
    made = []
    for field in package.schema(table).fields:
        if names is None and table != "playtests" and field.name in _IDS:
            continue
        if names is None or field.name in names:
            name = _RENAMED.get((table, field.name), field.name)
            made.append(_Made(_column(field, name), f"{quoted(table)}.{quoted(field.name)}"))
    return made


def _tensions(package: Package) -> list[_Made]:
    factors = {code: repr(unit.factor) for code, unit in UNITS.items() if unit.base == "N"}
    factor = _by_unit('"playtests"."tension_unit"', factors)
    main, cross = (f'"playtests"."{family}_tension" * {factor}' for family in ("main", "cross"))
    return [
        _Made(Column("main_tension_n", "number", "N", "Pull tension of the mains."), main),
        _Made(Column("cross_tension_n", "number", "N", "Pull tension of the crosses."), cross),
        _Made(Column("mean_tension_n", "number", "N", "Mean of main and cross pull tension."), f"({main} + {cross}) / 2"),
    ]


def _stiffness(package: Package, known: bool) -> list[_Made]:
    description = "Modelled stiffness of the frame's bed in the centre at the mean tension: geometry and tension only."
    column = Column("stiffness_n_per_mm", "number", "N/mm", description)
    u_column = Column("u_stiffness_n_per_mm", "number", "N/mm", "Standard uncertainty of stiffness_n_per_mm.")
    fields = package.schema("mechanics").names if known else []
    mean = _tensions(package)[-1].sql
    made = []
    for one, field in ((column, STIFFNESS), (u_column, "u_" + STIFFNESS)):
        value = f'"mechanics".{quoted(field)} * ({mean}) / {STIFFNESS_AT_N!r}' if field in fields else "CAST(NULL AS DOUBLE)"
        made.append(_Made(one, value))
    return made
