"""Tables of whoever asks, which SQL joins to the package's: read whole before anything is locked."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv
import pyarrow.parquet

from gapbook.errors import Place, fail
from gapbook.tables.files import open_file

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,62}")
_FORMS = (".csv", ".parquet")


def named_file(text: str) -> tuple[str, Path]:
    """Name and path of NAME=FILE. GapbookError if it is not written so."""
    name, found, path = text.partition("=")
    if not (found and path and _NAME.fullmatch(name)):
        expected = "NAME=FILE, a name of letters, digits and _"
        raise fail("usage", "--with takes a name and a file", found=text, expected=expected, fix="Write --with mine=log.csv")
    return name, Path(path)


def read_own(tables: Mapping[str, Any], taken: list[str]) -> dict[str, pa.Table]:
    """The tables as Arrow, by name. GapbookError for a name that is none or is taken, or a file that cannot be read.

    tables: by name, a path of a CSV (with a header) or Parquet file, an Arrow table, or what hands one over (pandas, polars).
    taken: names of tables and views of the package.
    """
    made: dict[str, pa.Table] = {}
    for name, table in tables.items():
        if not _NAME.fullmatch(name):
            raise fail("usage", "a table needs a name of letters, digits and _", found=name)
        if name.lower() in {*taken, *(other.lower() for other in made)}:
            raise fail("usage", "a table or view of this name is there already", found=name, fix="Give yours another name")
        made[name] = _read(Path(table)) if isinstance(table, str | os.PathLike) else _handed(name, table)
    return made


def _handed(name: str, table: Any) -> pa.Table:
    if isinstance(table, pa.Table):
        return table
    if hasattr(table, "__arrow_c_stream__"):
        return pa.table(table)
    told = f"{name} is no table"
    raise fail("usage", told, found=type(table).__name__, expected="a path, an Arrow table, or a frame of pandas or polars")


def _read(path: Path) -> pa.Table:
    form = path.suffix.lower()
    if form not in _FORMS:
        raise fail("usage", "own tables are CSV or Parquet", found=path.name, expected="a file in .csv or .parquet")
    with open_file(path, str(path)) as stream:
        try:
            return pyarrow.csv.read_csv(stream) if form == ".csv" else pyarrow.parquet.read_table(stream)
        except (pa.ArrowException, OSError, UnicodeDecodeError) as error:
            raise fail("unreadable", str(error), place=Place(str(path)), expected="a table with a header") from None


def typed_value(text: str) -> int | float | str:
    """What a value of the command line stands for: a number if it is written as one, else the text."""
    for kind in (int, float):
        try:
            if "_" not in text:
                return kind(text)
        except ValueError:
            continue
    return text
