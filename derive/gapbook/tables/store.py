"""Tables in DuckDB, in memory: loaded from CSV on demand, and locked before a user's SQL is run.

Besides the reader, only this module takes a CSV file apart. A question must not wait for pyarrow, which takes longer to
import than the whole answer may take, and Python's csv is too slow for 100,000 scores. So DuckDB reads every cell as text,
without guessing types; `cells.cell_problem` says whether a text is a figure or a date, as everywhere. If something is wrong,
the reader reads the file again and says what. A test holds both to the same cases.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

import duckdb

from gapbook.errors import GapbookError, Place, fail
from gapbook.science.comparison import SHARED_ZONES
from gapbook.tables.cells import cell_problem
from gapbook.tables.freshness import warn_if_stale
from gapbook.tables.package import DERIVED_TABLES, LOG_TABLES, RAW_TABLES, Package
from gapbook.tables.records import LONGEST_HEADER, schema_header
from gapbook.tables.schemas import ID, Field, Schema
from gapbook.tables.transactions import consistent

_SQL_TYPES = {"string": "VARCHAR", "number": "DOUBLE", "integer": "BIGINT", "boolean": "BOOLEAN", "date": "DATE"}
_TEXTS = "texts_as_read"
_LARGEST = 1e9
"""Figures that gapbook derives are smaller than this, whatever they are of."""
_LEAST, _POSITIVE = 1e-9, ("openness_", "density_", "stiffness_", "head_")
"""Figures whose logarithm is taken are not smaller than this; how their columns' names begin."""
_NEVER_BLANK = ("head_width_mm", "head_length_mm", "head_exponent")
"""Every bed has an outline."""
_CAUSE = rf"[^ ;]+( -?[0-9]{{1,12}}){{{len(SHARED_ZONES)}}}"
_SHARED = rf"{_CAUSE}(; {_CAUSE})*"
"""What `shared` looks like, as `comparison.shared_effects` reads it."""
_OPEN_FILES = Path("/dev/fd")


def quoted(name: str) -> str:
    """An SQL identifier."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """An SQL string."""
    return "'" + text.replace("'", "''") + "'"


class Store:
    """An in-memory DuckDB over one package. A table is loaded when it is first asked for."""

    def __init__(self, package: Package) -> None:
        self.package = package
        self.connection = duckdb.connect(":memory:", config={"autoload_known_extensions": False})
        self.connection.execute("SET enable_progress_bar = false")  # it would be printed into the answer
        self._loaded: dict[str, set[str]] = {}

    def rows(self, sql: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        """The rows of a query, values bound."""
        return self.connection.execute(sql, list(values)).fetchall()

    def load(self, table: str, columns: Iterable[str] | None = None) -> str:
        """Load at least `columns` of a table (all if None), unless they are there already; gives the table's SQL name.

        GapbookError if the file is missing, has another header, or holds a cell that is not of its field's type.
        """
        schema = self.package.schema(table)
        wanted = set(schema.names if columns is None else columns)
        if not wanted <= self._loaded.get(table, set()):
            wanted |= self._loaded.get(table, set())
            if table in DERIVED_TABLES:
                warn_if_stale(self.package, table)
            with consistent(self.package, table):
                self._read(table, schema, [field for field in schema.fields if field.name in wanted])
            self._loaded[table] = wanted
        return quoted(table)

    def _read(self, table: str, schema: Schema, fields: list[Field]) -> None:
        shown = self.package.shown(table)
        if self.package.is_parquet(table):
            self._create_by_reader(table)
            return
        try:
            with self.package.open(table) as stream:
                header = schema_header(stream.read(LONGEST_HEADER), shown, schema)
                with _named(stream) as name:
                    is_sound = self._create(table, fields, _rows_sql(name, schema, header.line - 1))
            if not is_sound:
                self._create_by_reader(table)
        except GapbookError as error:
            if table in DERIVED_TABLES and error.problems[0].code == "missing-file":
                told = "the table has not been derived yet"
                raise fail("not-derived", told, place=Place(shown), fix="Run gapbook derive") from None
            raise

    def _create(self, table: str, fields: list[Field], rows: str) -> bool:
        """Make the table of typed columns from rows of text. False if DuckDB finds no rows, or a cell is not of its type.

        Of tables that gapbook derives, figures are held against their limits as well, because nothing else holds them.
        """
        names = ", ".join(quoted(field.name) for field in fields)
        cells = ", ".join(f"{_cast(field)} AS {quoted(field.name)}" for field in fields)
        try:
            if table not in DERIVED_TABLES:
                self.connection.execute(f"CREATE OR REPLACE TEMP TABLE {_TEXTS} AS SELECT {names} FROM {rows}")
                rows = _TEXTS
                if not all(self._is_of_type(field) for field in fields):
                    return False
            self.connection.execute(f"CREATE OR REPLACE TABLE {quoted(table)} AS SELECT {cells} FROM {rows}")
            if table in DERIVED_TABLES:
                sound = " AND ".join(f"coalesce(bool_and({one}), true)" for one in _sound(fields))
                return bool(self.rows(f"SELECT {sound} FROM {quoted(table)}")[0][0])
        except duckdb.Error:
            return False
        finally:
            self.connection.execute(f"DROP TABLE IF EXISTS {_TEXTS}")
        return True

    def _is_of_type(self, field: Field) -> bool:
        if field.type == "string":
            return True
        distinct = self.rows(f"SELECT DISTINCT {quoted(field.name)} FROM {_TEXTS}")
        return all(cell_problem(field, text) != "type" for (text,) in distinct)

    def _create_by_reader(self, table: str) -> None:
        """Make the table by the reader, which raises GapbookError with all that is wrong.

        It also reads what DuckDB does not, such as a file in which some lines end in CRLF and others in LF.
        """
        from gapbook.tables.reader import read_table  # here: only a faulty file is worth waiting for pyarrow

        self.connection.register("data_as_read", read_table(self.package, table))
        self.connection.execute(f"CREATE OR REPLACE TABLE {quoted(table)} AS SELECT * FROM data_as_read")
        self.connection.unregister("data_as_read")
        if table in DERIVED_TABLES:
            for one in _sound(self.package.schema(table).fields):
                if self.rows(f"SELECT count(*) FROM {quoted(table)} WHERE NOT ({one})")[0][0]:
                    message = "a derived table holds what gapbook does not derive"
                    place = Place(self.package.shown(table))
                    raise fail("not-derived", message, place=place, expected=one, fix="Run gapbook derive")

    def lock(self) -> None:
        """Let no later SQL read or write files, load extensions, or change settings."""
        self.connection.execute("SET enable_external_access = false")
        self.connection.execute("SET lock_configuration = true")


@contextmanager
def _named(stream: BinaryIO) -> Iterator[str]:
    """A path under which DuckDB reads an open file.

    In the file's own path it would see wildcards, and columns in folders that are called a=b. So it gets the path of the
    open file under /dev/fd, or that of a copy if the system has no such paths.
    """
    if _OPEN_FILES.is_dir():
        yield str(_OPEN_FILES / str(stream.fileno()))
        return
    stream.seek(0)
    with tempfile.TemporaryDirectory(prefix="gapbook-") as folder:
        name = os.path.join(folder, "table.csv")
        with open(name, "wb") as copy:
            shutil.copyfileobj(stream, copy)
        yield name


def _rows_sql(name: str, schema: Schema, skipped: int) -> str:
    """SQL for the rows of a file as text. skipped: blank lines above its header."""
    names = [literal(name) for name in schema.names]
    columns = ", ".join(f"{name}: 'VARCHAR'" for name in names)
    return (
        f"read_csv({literal(name)}, columns = {{{columns}}}, force_not_null = [{', '.join(names)}], auto_detect = false, "
        f"header = true, delim = ',', quote = '\"', escape = '\"', skip = {skipped}, strict_mode = true, null_padding = false, "
        "compression = 'none', hive_partitioning = false, max_line_size = 10000000)"
    )


def _sound(fields: Sequence[Field]) -> list[str]:
    """SQL conditions that rows of a table that gapbook derived fulfil, each true where nothing is known."""
    names, made = {field.name for field in fields}, ["true"]
    for field in fields:
        name = quoted(field.name)
        if field.required or field.name in _NEVER_BLANK:
            made.append(f"{name} IS NOT NULL")
        if field.enum:
            made.append(f"({name} IS NULL OR {name} IN ({', '.join(map(literal, field.enum))}))")
        if field.pattern == ID:
            made.append(f"({name} IS NULL OR regexp_full_match({name}, {literal(ID)}))")
        if field.type in ("number", "integer"):
            low = max(-_LARGEST if field.minimum is None else field.minimum, 0.0 if field.name.startswith("u_") else -_LARGEST)
            if field.name.startswith(_POSITIVE):
                low = max(low, _LEAST)
            high = _LARGEST if field.maximum is None else field.maximum
            made.append(f"({name} IS NULL OR {name} BETWEEN {low!r} AND {high!r})")
            if f"u_{field.name}" in names:
                made.append(f"({name} IS NULL OR {quoted(f'u_{field.name}')} IS NOT NULL)")
        if field.name == "shared":
            made.append(f"({name} IS NULL OR regexp_full_match({name}, {literal(_SHARED)}))")
    return made


def _cast(field: Field) -> str:
    """SQL that casts a column of texts to its type; texts that count as missing become NULL."""
    name = quoted(field.name)
    if not field.missing:
        return f"CAST({name} AS {_SQL_TYPES[field.type]})"
    missing = ", ".join(literal(text) for text in field.missing)
    return f"CASE WHEN {name} NOT IN ({missing}) THEN CAST({name} AS {_SQL_TYPES[field.type]}) END"


def all_tables(package: Package) -> list[str]:
    """The tables of the package this version knows, raw ones first."""
    logs = [name for name in LOG_TABLES if name in package.resources and os.path.lexists(package.path(name))]
    return [name for name in (*RAW_TABLES, *logs, *DERIVED_TABLES) if name in package.resources]
