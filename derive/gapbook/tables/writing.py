"""Derived tables as CSV, with figures rounded to six significant digits."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import BinaryIO

import numpy as np
import pyarrow as pa
import pyarrow.csv

from gapbook.science.grouping import FloatArray
from gapbook.tables.package import Package

DIGITS = 6
_ROWS = 1 << 14
THREADS = 2
"""Threads that write one table; more gain nothing, because numpy and Arrow release the interpreter only part of the time."""
_FINEST = 22
"""The largest power of ten that a double holds exactly."""
_LEAST = DIGITS - 1 - _FINEST
_POWERS = np.array([float(f"1e{power}") for power in range(_LEAST, 30)])
_SCALES = np.array([float(f"1e{power}") for power in range(_FINEST + 1)])
_ALIKE = 4
"""If figures span at most so many powers of ten, it is quicker to compare with each power."""


def rounded(values: FloatArray) -> pa.Array:
    """Figures [R] at six significant digits; null for NaN. Each is the double nearest to its decimal, so it prints short."""
    values = np.asarray(values, dtype=float)
    known = np.isfinite(values)
    whole = bool(known.all())
    filled = values if whole else np.where(known, values, 0.0)
    up, down = _scales(np.abs(filled))
    short = np.rint(filled * up) / up if down is None else np.rint(filled * up / down) / up * down
    return pa.array(short + 0.0, mask=None if whole else ~known)


def _scales(size: FloatArray) -> tuple[FloatArray, FloatArray | None]:
    """The factors and divisors that make the last digit of figures of a size [R] a whole one; None if no divisor is needed.

    The figures of a column are mostly of similar size, so few powers of ten need to be compared with.
    """
    least, most = np.searchsorted(_POWERS, (size.min(initial=np.inf), size.max(initial=0.0)), side="right").tolist()
    places = DIGITS - least - _LEAST
    if least and 0 <= most - least <= min(_ALIKE, places):
        up = np.full(len(size), _SCALES[places])
        for step, power in enumerate(_POWERS[least:most].tolist(), 1):
            up[size >= power] = _SCALES[places - step]
        return up, None
    number = np.maximum(np.searchsorted(_POWERS, size, side="right") - 1, 0) + _LEAST
    return _SCALES[np.clip(DIGITS - 1 - number, 0, _FINEST)], _SCALES[np.clip(number - DIGITS + 1, 0, _FINEST)]


def arranged(package: Package, table: str, columns: dict[str, FloatArray], exact: Mapping[str, object]) -> pa.Table:
    """A table with its columns in the schema's order.

    package: whose schema it is
    table: its name
    columns: figures, which are rounded to six significant digits
    exact: columns that are taken as they are
    """
    names = package.schema(table).names
    return pa.table({name: pa.array(exact[name]) if name in exact else rounded(columns[name]) for name in names})


def write_csv(stream: BinaryIO, data: pa.Table) -> None:
    """Write a table with its header."""
    stream.write((",".join(data.column_names) + "\n").encode())
    parts = [data.slice(start, _ROWS) for start in range(0, data.num_rows, _ROWS)]
    with ThreadPoolExecutor(THREADS) as pool:
        for text in pool.map(_text, parts):
            stream.write(text)


def _text(data: pa.Table) -> pa.Buffer:
    plain = pa.csv.WriteOptions(include_header=False, quoting_style="none", batch_size=_ROWS)
    text = pa.BufferOutputStream()
    pa.csv.write_csv(data, text, plain)
    return text.getvalue()
