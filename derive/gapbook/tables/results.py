"""The result of a query as values and as files: CSV and Parquet."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb
import pyarrow as pa
import pyarrow.csv

from gapbook.errors import fail
from gapbook.tables.files import replacing

AT_ONCE = 10_000
"""Rows of a result that are turned into text at a time."""


def values(column: pa.ChunkedArray) -> list[Any]:
    """The values of a column as Python's; dates, times and intervals as text, since Python knows the years 1 to 9999 only.

    GapbookError if a list or struct holds an interval, or a date that Python does not know.
    """
    kind = column.type
    if pa.types.is_temporal(kind):
        return _texts(column)
    if not pa.types.is_nested(kind):
        return list(column.to_pylist())
    try:
        if not any(word in str(kind) for word in ("interval", "bignum")):
            return list(column.to_pylist())
    except (OverflowError, ValueError):
        pass
    message = "a list or struct holds a date, an interval or a large number that cannot be shown"
    raise fail("sql-type", message, found=str(kind), fix="CAST it to VARCHAR in the SELECT")


def _texts(column: pa.ChunkedArray) -> list[str | None]:
    """Dates, times and intervals as text, written by DuckDB, which knows all of them."""
    with duckdb.connect(":memory:") as connection:
        connection.register("held", pa.table({"value": column}))
        return [text for (text,) in connection.execute("SELECT CAST(value AS VARCHAR) FROM held").fetchall()]


def csv_pieces(result: pa.Table) -> Iterator[str]:
    """CSV (RFC 4180, header first, blank for NULL) in pieces; lists and structs as JSON, bytes in hexadecimal."""
    header = io.StringIO()
    csv.writer(header, lineterminator="\n").writerow(result.column_names)
    yield header.getvalue()
    for some in slices(result):
        rows = io.BytesIO()
        plain = pa.table([_plain(column) for column in some.columns], names=result.column_names)
        pyarrow.csv.write_csv(plain, rows, pyarrow.csv.WriteOptions(include_header=False))
        yield rows.getvalue().decode("utf-8")


def csv_text(result: pa.Table) -> str:
    """The same as one text."""
    return "".join(csv_pieces(result))


def slices(result: pa.Table) -> Iterator[pa.Table]:
    """The rows, AT_ONCE at a time."""
    for start in range(0, result.num_rows, AT_ONCE):
        yield result.slice(start, AT_ONCE)


def _plain(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """A column of a type that CSV can hold."""
    kind = column.type
    if pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        texts = [None if value is None else value.hex() for value in column.to_pylist()]
    elif pa.types.is_nested(kind):
        texts = [None if value is None else json.dumps(value, ensure_ascii=False, default=str) for value in values(column)]
    elif pa.types.is_temporal(kind):
        texts = _texts(column)
    else:
        return column
    return pa.chunked_array([texts], pa.string())


def write_parquet(data: pa.Table, path: Path) -> None:
    """Replace `path` by `data`, whole or not at all.

    GapbookError if it cannot be written, or if Parquet has no place for a type.
    """
    from pyarrow import parquet  # here: most results are not written to a file

    try:
        with replacing(path) as stream:
            parquet.write_table(data, stream, compression="zstd")
    except pa.ArrowException as error:
        raise fail("parquet-type", f"Parquet has no place for a column: {error}", fix="CAST it in the SELECT") from None


FORMS = (".csv", ".parquet")
"""Suffixes of files that a table can be written to."""


def checked_form(path: Path) -> None:
    """GapbookError unless a table can be written to a file of this name."""
    if path.suffix.lower() not in FORMS:
        raise fail("usage", "a table is written as CSV or Parquet", found=path.name, expected="a name in .csv or .parquet")


def write_table(data: pa.Table, path: Path) -> None:
    """Replace `path`, .csv or .parquet, by `data`, whole or not at all. GapbookError if it cannot be written."""
    checked_form(path)
    if path.suffix.lower() == ".parquet":
        write_parquet(data, path)
        return
    with replacing(path) as stream:
        stream.write(csv_text(data).encode("utf-8"))
