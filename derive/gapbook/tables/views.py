"""Read-only SQL over the package: every table as a view of its name, and readings in computing units beside them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable

import duckdb
import pyarrow as pa

from gapbook.errors import GapbookError, fail
from gapbook.science.units import ALIASES, UNITS
from gapbook.tables.joined import Column, View, columns_of, playtests_with_beds
from gapbook.tables.labels import labelled
from gapbook.tables.package import Package
from gapbook.tables.reader import read_table
from gapbook.tables.store import Store, all_tables, literal, quoted
from gapbook.tables.watching import Limits, Watch, too_large, too_long

_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_NO_TABLE = re.compile(r"Table with name \"?(.+?)\"? does not exist")
_LISTING = ("show", "describe", "desc")


def views(package: Package) -> list[View]:
    """The documented views: the package's tables, `spacings_si` and `readings_si` with values in computing units, and
    `playtests_with_beds`.
    """
    found = [View(table, package.schema(table).description, columns_of(package, table)) for table in all_tables(package)]
    made = (_spacings_si(found), _readings_si(found), playtests_with_beds(package))
    return found + [view for view in made if view is not None]


def table(package: Package, name: str) -> pa.Table:
    """A table or view by name as Arrow, its fields with their words and units. GapbookError, with the nearest names,
    where there is neither.
    """
    found = {view.name: view for view in views(package)}
    if name not in found:
        near = difflib.get_close_matches(name.lower(), found, 3, 0.5)
        fix = "Nearest: " + ", ".join(near) if near else "See gapbook sql --views"
        raise fail("no-table", "no table or view of this name", found=name, fix=fix)
    if found[name].sql is None:
        return labelled(read_table(package, name), package, name, package.schema(name).fields)
    return labelled(query(package, f"SELECT * FROM {quoted(name)}"), package, name, found[name].columns)


def _spacings_si(found: list[View]) -> View | None:
    for view in found:
        if view.name == "spacings":
            extra = Column("value_mm", "number", "mm", "The value in mm.")
            sql = f"SELECT *, value * {_factor('unit')} AS value_mm FROM spacings"
            return View("spacings_si", "Spacings with the value in mm beside it.", (*view.columns, extra), ("spacings",), sql)
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
            return View("readings_si", description, (*view.columns, *extra), ("readings",), sql)
    return None


def _factor(column: str) -> str:
    return _by_unit(column, {code: repr(unit.factor) for code, unit in UNITS.items()})


def _base(column: str) -> str:
    return _by_unit(column, {code: literal(unit.base) for code, unit in UNITS.items()})


def _by_unit(column: str, result: dict[str, str]) -> str:
    names = [*((code, code) for code in UNITS), *ALIASES.items()]
    whens = " ".join(f"WHEN {literal(name)} THEN {result[code]}" for name, code in names)
    return f"CASE {column} {whens} END"


def query(
    package: Package,
    text: str,
    limits: Limits = Limits(),  # noqa: B008 (it is immutable)
    end: Callable[[GapbookError], None] | None = None,
) -> pa.Table:
    """The result of one SELECT over `views`, as Arrow. No file, network, setting or second statement is within reach.
    Of columns with one name the later ones are numbered: a, a_2.

    GapbookError for SQL that is not one SELECT, that DuckDB refuses, or that takes more than `limits`. It is interrupted
    again and again once it does; one long step of DuckDB's may yet run to its end, unless `end` ends the program.
    """
    limits.checked()
    store, known = Store(package), views(package)
    names = [view.name for view in known]
    try:
        statements = store.connection.extract_statements(text)
    except duckdb.Error as error:
        raise _refused(error, limits, names) from None
    words = [word.lower() for word in _WORD.findall(text)]
    if len(statements) != 1 or statements[0].type != duckdb.StatementType.SELECT:
        raise fail("sql-not-select", "sql takes one SELECT statement", fix="Ask for rows; nothing here can be changed")
    if words and words[0] in _LISTING and not {*names, "select", "from"} & set(words):
        raise fail("sql-not-select", "sql lists no tables this way", found=text.strip(), fix="See gapbook sql --views")
    for view in known:
        if view.name in words:
            for table in view.tables or (view.name,):
                store.load(table)
            if view.sql is not None:
                store.connection.execute(f"CREATE VIEW {quoted(view.name)} AS {view.sql}")
    return _within(limits, store, text, names, end)


def _within(limits: Limits, store: Store, text: str, names: list[str], end: Callable[[GapbookError], None] | None) -> pa.Table:
    """The result of a SELECT in a locked store, fetched piece by piece so that no limit is passed far."""
    try:
        store.connection.execute(f"SET memory_limit = '{limits.megabytes:.0f}MB'")
        store.connection.execute("SET temp_directory = ''")
        store.connection.execute("SET python_enable_replacements = false")
        store.lock()
        with Watch(store.connection, limits, end) as watch:
            result = _fetched(limits, store, text)
    except duckdb.InterruptException:
        raise watch.passed or too_long(limits) from None
    except duckdb.Error as error:
        raise _refused(error, limits, names) from None
    if watch.passed is not None:
        raise watch.passed
    return _plain_numbers(result.rename_columns(_once(result.column_names)))


def _fetched(limits: Limits, store: Store, text: str) -> pa.Table:
    reader = pa.RecordBatchReader.from_stream(store.connection.sql(text))
    batches, size = [], 0
    for batch in reader:
        batches.append(batch)
        size += batch.nbytes
        if size > limits.megabytes * 1e6:
            raise too_large(limits)
    return pa.Table.from_batches(batches, reader.schema)


def _once(names: list[str]) -> list[str]:
    """The same names, each once: later ones of a name are numbered from 2, past every name that is there."""
    taken, seen, made = set(names), set[str](), []
    for name in names:
        number, one = 2, name
        while one in seen or (one != name and one in taken):
            one, number = f"{name}_{number}", number + 1
        seen.add(one)
        made.append(one)
    return made


def _plain_numbers(result: pa.Table) -> pa.Table:
    """DuckDB's wide integers and decimals, which JSON and most readers do not know, as 64-bit numbers."""
    for number, field in enumerate(result.schema):
        if pa.types.is_decimal(field.type):
            column = result.column(number)
            kinds = (pa.int64(), pa.float64()) if field.type.scale == 0 else (pa.float64(),)
            for kind in kinds:
                try:
                    result = result.set_column(number, field.name, column.cast(kind))
                    break
                except pa.ArrowInvalid:
                    continue
    return result


def _refused(error: duckdb.Error, limits: Limits, names: list[str]) -> GapbookError:
    if isinstance(error, duckdb.OutOfMemoryException):
        return too_large(limits)
    fix = "See gapbook sql --views for what can be asked"
    if isinstance(error, duckdb.CatalogException) and (found := _NO_TABLE.search(str(error))) is not None:
        near = difflib.get_close_matches(found[1].lower(), names, 3, 0.5)
        fix = "Nearest: " + ", ".join(near) if near else fix
        return fail("sql", "no table or view of this name", found=found[1], fix=fix)
    return fail("sql", str(error).strip(), fix=fix)
