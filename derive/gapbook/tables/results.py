"""Results of SQL as files: CSV text and Parquet, made in Python from Arrow, so that SQL itself never writes."""

from __future__ import annotations

import csv
import io
import json
import os
import tempfile
from pathlib import Path

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from gapbook.errors import fail


def csv_text(result: pa.Table) -> str:
    """CSV (RFC 4180, header first, blank for NULL); lists and structs as JSON, bytes in hexadecimal."""
    header, rows = io.StringIO(), io.BytesIO()
    csv.writer(header, lineterminator="\n").writerow(result.column_names)
    plain = pa.table([_plain(column) for column in result.columns], names=result.column_names)
    pa.csv.write_csv(plain, rows, pa.csv.WriteOptions(include_header=False))
    return header.getvalue() + rows.getvalue().decode("utf-8")


def _plain(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """A column of a type that CSV can hold."""
    kind = column.type
    if pa.types.is_binary(kind) or pa.types.is_large_binary(kind):
        return pa.chunked_array([[None if value is None else value.hex() for value in column.to_pylist()]], pa.string())
    if pa.types.is_nested(kind):
        texts = [None if value is None else json.dumps(value, ensure_ascii=False, default=str) for value in column.to_pylist()]
        return pa.chunked_array([texts], pa.string())
    if pa.types.is_interval(kind) or pa.types.is_duration(kind):
        return pa.chunked_array([[None if value is None else str(value) for value in column.to_pylist()]], pa.string())
    return column


def write_parquet(data: pa.Table, path: Path) -> None:
    """Replace `path` by `data`, whole or not at all. GapbookError where it cannot be written, or a type has no place."""
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "wb") as stream:
            pa.parquet.write_table(data, stream, compression="zstd")
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
        temporary = None
    except OSError as error:
        raise fail("unwritable", f"{path} cannot be written: {error.strerror}") from None
    except pa.ArrowException as error:
        raise fail("parquet-type", f"Parquet has no place for a column: {error}", fix="CAST it in the SELECT") from None
    finally:
        if temporary is not None and os.path.exists(temporary):
            os.unlink(temporary)
