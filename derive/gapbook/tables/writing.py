"""Tables to CSV, figures at six significant digits."""

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
"""Threads that gain by working on one table: numpy and Arrow let go of the interpreter only now and then."""
_FINEST = 22
"""The last power of ten that is a double without rounding."""
_LEAST = DIGITS - 1 - _FINEST
_POWERS = np.array([float(f"1e{power}") for power in range(_LEAST, 30)])
_SCALES = np.array([float(f"1e{power}") for power in range(_FINEST + 1)])
_ALIKE = 4
"""Powers of ten between figures up to which it is quicker to look at each."""


def rounded(values: FloatArray) -> pa.Array:
    """Figures [R] at six significant digits, NaN as null. The nearest double to each decimal, so that it prints short."""
    values = np.asarray(values, dtype=float)
    known = np.isfinite(values)
    whole = bool(known.all())
    filled = values if whole else np.where(known, values, 0.0)
    up, down = _scales(np.abs(filled))
    short = np.rint(filled * up) / up if down is None else np.rint(filled * up / down) / up * down
    return pa.array(short + 0.0, mask=None if whole else ~known)


def _scales(size: FloatArray) -> tuple[FloatArray, FloatArray | None]:
    """What figures of a size [R] are multiplied by and divided by to become whole at the last digit; None where by nothing.

    The figures of a column are mostly alike, so that few powers of ten need to be looked at.
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
    """Columns in the schema's order, figures at six significant digits."""
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
