"""Read-only SQL over the package: every table as a view of its name, and readings in computing units beside them."""

from __future__ import annotations

import re
from typing import NamedTuple

import duckdb
import pyarrow as pa

from gapbook.errors import fail
from gapbook.science.units import ALIASES, UNITS
from gapbook.tables.package import Package
from gapbook.tables.store import Store, all_tables, literal, quoted

_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")


class Column(NamedTuple):
    """A column of a view: its name, Table Schema type, unit (empty if none) and what it is."""

    name: str
    type: str
    unit: str
    description: str


class View(NamedTuple):
    """A view: its name, what it is, its columns, and for a made one the table and the SQL it comes from."""

    name: str
    description: str
    columns: tuple[Column, ...]
    table: str | None = None
    sql: str | None = None


def views(package: Package) -> list[View]:
    """The documented views: the package's tables, and `spacings_si` and `readings_si` with values in computing units."""
    found = []
    for table in all_tables(package):
        schema = package.schema(table)
        columns = tuple(Column(one.name, one.type, one.unit or "", one.description) for one in schema.fields)
        found.append(View(table, schema.description, columns))
    return found + [view for view in (_spacings_si(found), _readings_si(found)) if view is not None]


def _spacings_si(found: list[View]) -> View | None:
    for view in found:
        if view.name == "spacings":
            extra = Column("value_mm", "number", "mm", "The value in mm.")
            sql = f"SELECT *, value * {_factor('unit')} AS value_mm FROM spacings"
            return View("spacings_si", "Spacings with the value in mm beside it.", (*view.columns, extra), "spacings", sql)
    return None


def _readings_si(found: list[View]) -> View | None:
    for view in found:
        if view.name == "readings":
            extra = (
                Column("value_si", "number", "", "The value in the unit of unit_si."),
                Column("unit_si", "string", "", "The unit its quantity is computed in: mm, cm2, g or kg.cm2."),
            )
            sql = f"SELECT *, value * {_factor('unit')} AS value_si, {_base('unit')} AS unit_si FROM readings"
            description = "Readings with the value in the unit its quantity is computed in beside it."
            return View("readings_si", description, (*view.columns, *extra), "readings", sql)
    return None


def _factor(column: str) -> str:
    return _by_unit(column, {code: repr(unit.factor) for code, unit in UNITS.items()})


def _base(column: str) -> str:
    return _by_unit(column, {code: literal(unit.base) for code, unit in UNITS.items()})


def _by_unit(column: str, result: dict[str, str]) -> str:
    names = [*((code, code) for code in UNITS), *ALIASES.items()]
    whens = " ".join(f"WHEN {literal(name)} THEN {result[code]}" for name, code in names)
    return f"CASE {column} {whens} END"


def query(package: Package, text: str) -> pa.Table:
    """The result of one SELECT over `views`, as Arrow. No file, network, setting or second statement is within reach.

    GapbookError for SQL that is not one SELECT, or that DuckDB refuses.
    """
    store = Store(package)
    try:
        statements = store.connection.extract_statements(text)
    except duckdb.Error as error:
        raise _refused(error) from None
    if len(statements) != 1 or statements[0].type != duckdb.StatementType.SELECT:
        raise fail("sql-not-select", "sql takes one SELECT statement", fix="Ask for rows; nothing here can be changed")
    words = {word.lower() for word in _WORD.findall(text)}
    for view in views(package):
        if view.name in words:
            store.load(view.table or view.name)
            if view.sql is not None:
                store.connection.execute(f"CREATE VIEW {quoted(view.name)} AS {view.sql}")
    store.lock()
    try:
        return store.connection.sql(text).to_arrow_table()
    except duckdb.Error as error:
        raise _refused(error) from None


def _refused(error: duckdb.Error) -> Exception:
    message = str(error).strip()
    return fail("sql", message, fix="See gapbook sql --views for what can be asked")
