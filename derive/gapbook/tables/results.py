"""Results of SQL as values to print and as files: made in Python from Arrow, so that SQL itself never writes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import pyarrow as pa

from gapbook.errors import fail
from gapbook.tables.files import replacing


def values(column: pa.ChunkedArray) -> list[Any]:
    """The values of a column as Python's; dates, times and intervals as text, since Python knows the years 1 to 9999 only.

    GapbookError for a list or struct with an interval, or with a date that Python does not know.
    """
    kind = column.type
    if pa.types.is_temporal(kind):
        return _texts(column)
    if not pa.types.is_nested(kind):
        return list(column.to_pylist())
    try:
        if "interval" not in str(kind):
            return list(column.to_pylist())
    except (OverflowError, ValueError):
        pass
    message = "a list or struct holds a date or an interval that cannot be shown"
    raise fail("sql-type", message, found=str(kind), fix="CAST it to VARCHAR in the SELECT")


def _texts(column: pa.ChunkedArray) -> list[str | None]:
    """Dates, times and intervals as DuckDB writes them, which has them all."""
    import duckdb

    with duckdb.connect(":memory:") as connection:
        connection.register("held", pa.table({"value": column}))
        return [text for (text,) in connection.execute("SELECT CAST(value AS VARCHAR) FROM held").fetchall()]


def csv_text(result: pa.Table) -> str:
    """CSV (RFC 4180, header first, blank for NULL); lists and structs as JSON, bytes in hexadecimal."""
    from pyarrow import csv as arrow_csv

    header, rows = io.StringIO(), io.BytesIO()
    csv.writer(header, lineterminator="\n").writerow(result.column_names)
    plain = pa.table([_plain(column) for column in result.columns], names=result.column_names)
    arrow_csv.write_csv(plain, rows, arrow_csv.WriteOptions(include_header=False))
    return header.getvalue() + rows.getvalue().decode("utf-8")


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
    """Replace `path` by `data`, whole or not at all. GapbookError if it cannot be written, or a type has no place."""
    from pyarrow import parquet

    try:
        with replacing(path) as stream:
            parquet.write_table(data, stream, compression="zstd")
    except pa.ArrowException as error:
        raise fail("parquet-type", f"Parquet has no place for a column: {error}", fix="CAST it in the SELECT") from None
