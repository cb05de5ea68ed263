"""Tables in DuckDB, in memory: loaded from CSV by the schema on demand, and locked before a user's SQL is run.

Every cell is read as text and cast by its field's declared type; nothing is sniffed, and headers are compared first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import duckdb

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.tables.faults import file_problems, header_problem, records
from gapbook.tables.package import DERIVED_TABLES, RAW_TABLES, Package
from gapbook.tables.schemas import FALSE_VALUES, TRUE_VALUES, Field, Schema
from gapbook.tables.transactions import consistent

_SQL_TYPES = {"string": "VARCHAR", "number": "DOUBLE", "integer": "BIGINT", "boolean": "BOOLEAN", "date": "DATE"}
FORMS = {
    "number": r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]+)?",
    "integer": r"-?[0-9]+",
    "date": r"[0-9]{4}-[0-9]{2}-[0-9]{2}",
    "boolean": "|".join((*TRUE_VALUES, *FALSE_VALUES)),
}
"""How a cell of each type is written, whole, as a regular expression of DuckDB's."""


def quoted(name: str) -> str:
    """An SQL identifier."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """An SQL string."""
    return "'" + text.replace("'", "''") + "'"


class Store:
    """An in-memory DuckDB over one package. Tables are loaded when first asked for."""

    def __init__(self, package: Package) -> None:
        self.package = package
        self.connection = duckdb.connect(":memory:", config={"autoload_known_extensions": False})
        self.connection.execute("SET enable_progress_bar = false")  # it would be drawn into the answer
        self._loaded: dict[str, set[str]] = {}

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        """The rows of a query, values bound."""
        return self.connection.execute(sql, list(values)).fetchall()

    def load(self, table: str, columns: Iterable[str] | None = None) -> str:
        """Make `table` queryable, with at least `columns` (all of them without), and give its SQL name.

        GapbookError where the file is missing, has another header, or a cell is not of its field's type.
        """
        schema = self.package.schema(table)
        wanted = set(schema.names if columns is None else columns)
        if not wanted <= self._loaded.get(table, set()):
            wanted |= self._loaded.get(table, set())
            with consistent(self.package, table):
                self._read(table, schema, [field for field in schema.fields if field.name in wanted])
            self._loaded[table] = wanted
        return quoted(table)

    def _read(self, table: str, schema: Schema, fields: list[Field]) -> None:
        path, shown = self.package.path(table), self.package.shown(table)
        if (problem := header_problem(path, shown, schema)) is not None:
            if problem.code == "missing-file" and table in DERIVED_TABLES:
                raise fail("not-derived", "the table has not been derived yet", place=Place(shown), fix="Run gapbook derive")
            raise GapbookError(problem)
        header, _ = next(records(path))
        names = ", ".join(f"{literal(name)}: 'VARCHAR'" for name in schema.names)
        cells = ", ".join(f"{_cast(field, schema)} AS {quoted(field.name)}" for field in fields)
        try:
            self.connection.execute(
                f"CREATE OR REPLACE TABLE {quoted(table)} AS SELECT {cells} FROM read_csv({literal(str(path))}, "
                f"columns = {{{names}}}, auto_detect = false, header = true, delim = ',', quote = '\"', escape = '\"', "
                f"skip = {header - 1}, strict_mode = true, null_padding = false, compression = 'none', "
                "max_line_size = 10000000)"
            )
        except duckdb.Error as error:
            problems = file_problems(path, shown, schema)
            raise GapbookError(*(problems or [Problem("unreadable", _first_line(error), Place(shown))])) from None

    def lock(self) -> None:
        """Let no later SQL read or write files, load extensions, or change settings."""
        self.connection.execute("SET enable_external_access = false")
        self.connection.execute("SET lock_configuration = true")


def _first_line(error: duckdb.Error) -> str:
    return str(error).splitlines()[0]


def _cast(field: Field, schema: Schema) -> str:
    """SQL that casts one text column, or stops with an error on a cell that is not of its type."""
    name = quoted(field.name)
    missing = ", ".join(literal(text) for text in schema.missing if text)
    text = f"CASE WHEN {name} IS NULL OR {name} IN ('', {missing}) THEN NULL ELSE {name} END" if missing else name
    if field.type == "string":
        return text
    stop = f"error('not {field.type}: ' || {name})"
    to = _SQL_TYPES[field.type]
    value = f"TRY_CAST({name} AS {to})"
    if field.type == "boolean":
        value = f"({name} IN ({', '.join(literal(item) for item in TRUE_VALUES)}))"
    if schema.name in DERIVED_TABLES:  # what the program wrote itself needs no second look at its form
        return f"CAST({text} AS {to})"
    holds = f"regexp_full_match({name}, {literal(FORMS[field.type])}) AND {value} IS NOT NULL"
    if field.type == "number":
        holds += f" AND isfinite({value})"
    return f"CASE WHEN ({text}) IS NULL THEN NULL WHEN {holds} THEN {value} ELSE CAST({stop} AS {to}) END"


def all_tables(package: Package) -> list[str]:
    """The tables of the package this version knows, raw ones first."""
    return [name for name in (*RAW_TABLES, *DERIVED_TABLES) if name in package.resources]
