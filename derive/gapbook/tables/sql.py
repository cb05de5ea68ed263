"""SQL of a user: one SELECT over the views (`views.py`), within limits of time and memory.

Nothing but rows can be asked for: a store is locked before the SELECT is run, and files are made in Python, from Arrow.
"""

from __future__ import annotations

import difflib
import math
import os
import re
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple

import duckdb
import pyarrow as pa
import pyarrow.csv

from gapbook.errors import GapbookError, fail
from gapbook.tables.limits import warn_if_forbidden
from gapbook.tables.own_files import read_own
from gapbook.tables.package import Package
from gapbook.tables.reader import read_table
from gapbook.tables.store import Store, quoted
from gapbook.tables.views import labelled, views, views_named

LONGEST_S = 86_400.0
"""Most time a query may be given [s]: a day."""
SHORTEST_S = 0.001
"""Least time a query may be given [s]."""
LEAST_MB, MOST_MB = 1.0, 1_000_000.0
"""Least and most memory a query may be given [MB]."""
GRACE_S = 2.0
"""Time that a query past its limits has to obey an interrupt [s] before the program is ended."""
_TICK_S = 0.05
_OWN_MB = 64.0
"""Memory that the libraries themselves take [MB], not counted as the query's."""
_RESIDENT = Path("/proc/self/statm")
_WORD = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
_NO_TABLE = re.compile(r"Table with name \"?(.+?)\"? does not exist")
_WIDE = ("HUGEINT", "UHUGEINT", "BIGNUM")
"""Types of whole numbers that may be too large for 64 bits; Arrow rounds some of them, and does not know others."""
_LISTING = ("show", "describe", "desc")


class Limits(NamedTuple):
    """What one query may take: time [s]; memory [MB], once for the tables and once for the result."""

    seconds: float = 60.0
    megabytes: float = 2000.0

    def checked(self) -> Limits:
        """The same limits. GapbookError if one of them is not finite or out of range."""
        for what, value, low, high, unit in (
            ("time", self.seconds, SHORTEST_S, LONGEST_S, "s"),
            ("memory", self.megabytes, LEAST_MB, MOST_MB, "MB"),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                expected = f"from {low:g} to {high:,.0f} {unit}"
                raise fail("bad-limit", f"no query can be given this {what}", found=f"{value:g} {unit}", expected=expected)
        return self


def query(
    package: Package,
    text: str,
    limits: Limits = Limits(),  # noqa: B008 (it is immutable)
    end: Callable[[GapbookError], None] | None = None,
    values: Sequence[object] = (),
    own: Mapping[str, Any] | None = None,
) -> pa.Table:
    """The result of one SELECT over `views`, as Arrow. It can reach no file, network or setting, and no second statement.

    package: whose tables are asked
    text: the SELECT
    limits: what it may take
    values: those of its question marks, in order
    own: further tables by name, as `read_own` takes them; they are read before anything is locked
    end: is called if DuckDB does not stop for an interrupt, as within one long step; it must end the program

    If several columns have one name, the later ones are numbered: a, a_2. GapbookError if the text is not one SELECT, if
    DuckDB refuses it, or if it takes more than its limits.
    """
    limits.checked()
    store, known = Store(package), views(package)
    names = [view.name for view in known]
    try:
        statements = store.connection.extract_statements(text)
    except duckdb.Error as error:
        raise _refused(error, limits, names) from None
    tables = read_own(own or {}, names)
    words = [word.lower() for word in _WORD.findall(text)]
    if len(statements) != 1 or not _is_select(statements[0]):
        fix = "Ask for rows; nothing here can be changed"
        if words and words[0] == "pivot":
            fix = "A PIVOT names its values: pivot scores on basis in ('measured', 'counted') using count(*)"
        raise fail("sql-not-select", "sql takes one SELECT statement", fix=fix)
    if words and words[0] in _LISTING and not {*names, "select", "from"} & set(words):
        raise fail("sql-not-select", "sql lists no tables this way", found=text.strip(), fix="See gapbook sql --views")
    for view in known:
        if view.name in words:
            for table in view.tables or (view.name,):
                store.load(table)
                warn_if_forbidden(store, package, table)
            if view.sql is not None:
                store.connection.execute(f"CREATE VIEW {quoted(view.name)} AS {view.sql}")
    for name, table_of_theirs in tables.items():
        _keep(store, name, table_of_theirs)
    return _within(limits, store, text, values, [*names, *tables], end)


def _is_select(statement: duckdb.Statement) -> bool:
    try:
        return bool(statement.type == duckdb.StatementType.SELECT)
    except ValueError:  # a kind of statement that the Python library has no name for, as UPDATE EXTENSIONS
        return False


def _keep(store: Store, name: str, data: pa.Table) -> None:
    """Make a table of the user's own one of the store's."""
    try:
        store.connection.register("own_as_read", data)
        store.connection.execute(f"CREATE TABLE {quoted(name)} AS SELECT * FROM own_as_read")
        store.connection.unregister("own_as_read")
    except duckdb.Error as error:
        raise fail("unreadable", f"{name} cannot be used as a table: {error}") from None


def _within(
    limits: Limits,
    store: Store,
    text: str,
    values: Sequence[object],
    names: list[str],
    end: Callable[[GapbookError], None] | None,
) -> pa.Table:
    """The result of a SELECT in a locked store, fetched in batches so that no limit is passed by much."""
    try:
        store.connection.execute(f"SET memory_limit = '{limits.megabytes:.0f}MB'")
        store.connection.execute("SET temp_directory = ''")
        store.connection.execute("SET python_enable_replacements = false")
        store.lock()
        store.connection.execute("BEGIN TRANSACTION READ ONLY")  # a SELECT can have parts that delete or insert
        with Watch(store.connection, limits, end) as watch:
            result = _fetched(limits, store, text, values)
    except duckdb.InterruptException:
        raise watch.passed or too_long(limits) from None
    except duckdb.Error as error:
        raise _refused(error, limits, names) from None
    except (OSError, pa.ArrowException) as error:  # Arrow's stream tells an interrupt in its own way
        if watch.passed is None and "INTERRUPT" not in str(error):
            raise fail("sql", str(error).strip(), fix="See gapbook sql --views for what can be asked") from None
        raise watch.passed or too_long(limits) from None
    if watch.passed is not None:
        raise watch.passed
    return _plain_numbers(result)


def _fetched(limits: Limits, store: Store, text: str, values: Sequence[object]) -> pa.Table:
    relation = store.connection.sql(text, params=list(values)) if values else store.connection.sql(text)
    names, wide = _once(relation.columns), [str(kind) in _WIDE for kind in relation.types]
    if any(wide):
        picked = (f"CAST(#{place} AS VARCHAR)" if is_wide else f"#{place}" for place, is_wide in enumerate(wide, 1))
        relation = relation.project(", ".join(picked))
    reader = pa.RecordBatchReader.from_stream(relation)
    batches, size = [], 0
    for batch in reader:
        batches.append(batch)
        size += batch.nbytes
        if size > limits.megabytes * 1e6:
            raise too_large(limits)
    result = pa.Table.from_batches(batches, reader.schema).rename_columns(names)
    for place, is_wide in enumerate(wide):
        if is_wide:
            result = result.set_column(place, names[place], _whole_numbers(result.column(place)))
    return result


def _whole_numbers(texts: pa.ChunkedArray) -> pa.ChunkedArray:
    """Whole numbers written as text, as 64-bit numbers if all are so small; else the texts, which are exact."""
    try:
        return texts.cast(pa.int64())
    except pa.ArrowInvalid:
        return texts


def _once(names: list[str]) -> list[str]:
    """The same names, each once: repeated ones are numbered from 2, skipping names that are taken."""
    taken, seen, made = set(names), set[str](), []
    for name in names:
        number, one = 2, name
        while one in seen or (one != name and one in taken):
            one, number = f"{name}_{number}", number + 1
        seen.add(one)
        made.append(one)
    return made


def _plain_numbers(result: pa.Table) -> pa.Table:
    """The result with DuckDB's decimals, which JSON and most readers do not know, as 64-bit numbers."""
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
    if isinstance(error, duckdb.CatalogException) and (match := _NO_TABLE.search(str(error))) is not None:
        near = difflib.get_close_matches(match[1].lower(), names, 3, 0.5)
        fix = "Nearest: " + ", ".join(near) if near else fix
        return fail("sql", "no table or view of this name", found=match[1], fix=fix)
    return fail("sql", str(error).strip(), fix=fix)


def table(package: Package, name: str) -> pa.Table:
    """A table or view as Arrow, `labelled`. GapbookError, with the nearest names, if there is none of this name."""
    (view,) = views_named(package, name)
    if view.sql is None:
        return labelled(read_table(package, name), package, name, package.schema(name).fields)
    return labelled(query(package, f"SELECT * FROM {quoted(name)}"), package, name, view.columns)


# Limits


def too_long(limits: Limits) -> GapbookError:
    """The error of a query that takes too much time."""
    found = f"more than {limits.seconds:g} s"
    return fail("sql-time", "the query takes too long", found=found, fix="Ask for less, or raise --seconds")


def too_large(limits: Limits) -> GapbookError:
    """The error of a query that takes too much memory."""
    found = f"more than {limits.megabytes:.0f} MB"
    return fail("sql-memory", "the query takes too much memory", found=found, fix="Ask for less, or raise --memory")


class Watch:
    """Watches the query that runs inside `with Watch(...)`. `passed` is the limit that it passed, as an error, or None.

    DuckDB forgets an interrupt that comes before a query has begun, and obeys one only between its steps; a single step may
    take any time and any memory. So a thread beside the query interrupts it again and again, from when it has taken too much
    until it ends. If the query has not obeyed for GRACE_S, the thread calls `end` with the error.
    """

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, limits: Limits, end: Callable[[GapbookError], None] | None = None
    ) -> None:
        self.passed: GapbookError | None = None
        self._connection, self._limits, self._end = connection, limits, end
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> Watch:
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._done.set()
        self._thread.join()

    def _watch(self) -> None:
        begun, before, since = time.monotonic(), resident_mb(), 0.0
        tick = min(_TICK_S, self._limits.seconds)
        while not self._done.wait(tick):
            now = time.monotonic()
            if self.passed is None:
                self.passed, since = self._judged(now - begun, resident_mb() - before), now
                if self.passed is None:
                    continue
            self._connection.interrupt()
            if self._end is not None and now - since > GRACE_S:
                self._end(self.passed)
                return

    def _judged(self, seconds: float, megabytes: float) -> GapbookError | None:
        if seconds > self._limits.seconds:
            return too_long(self._limits)
        return too_large(self._limits) if megabytes > 2.0 * self._limits.megabytes + _OWN_MB else None


def resident_mb() -> float:
    """Memory this process holds [MB]; 0 if the system does not tell."""
    try:
        return int(_RESIDENT.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    except OSError:
        return 0.0
