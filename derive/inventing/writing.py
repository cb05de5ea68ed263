"""CSV text: whole steps to decimals without floating-point noise, and tables of any length written in pieces."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.csv


def decimal_text(steps: int, resolution: str) -> str:
    """`steps` times `resolution` as exact decimal text with the resolution's decimals: 137, "0.03125" → 4.28125."""
    whole, _, fraction = resolution.partition(".")
    total, size = abs(steps) * int(whole + fraction), 10 ** len(fraction)
    sign = "-" if steps < 0 else ""
    if not fraction:
        return f"{sign}{total}"
    return f"{sign}{total // size}.{total % size:0{len(fraction)}d}"


def step_texts(steps: np.ndarray, resolution: str) -> pa.Array:
    """decimal_text of each of many steps."""
    distinct, place = np.unique(steps, return_inverse=True)
    return pa.array([decimal_text(int(step), resolution) for step in distinct], pa.string()).take(pa.array(place))


def value_texts(steps: np.ndarray, tool: np.ndarray, resolutions: Sequence[str]) -> pa.Array:
    """Text of readings (N,) of instrument `tool`, each with its own resolution."""
    order = np.argsort(tool, kind="stable")
    pieces = [step_texts(steps[order][tool[order] == number], resolutions[number]) for number in np.unique(tool)]
    back = np.empty(len(order), dtype=np.int64)
    back[order] = np.arange(len(order))
    return pa.chunked_array(pieces, pa.string()).combine_chunks().take(pa.array(back))


def measured_texts(values: np.ndarray, resolution: str) -> pa.Array:
    """Text of values already rounded to `resolution`; NaN is blank."""
    blank = np.isnan(values)
    steps = np.rint(np.nan_to_num(values) / float(resolution)).astype(np.int64)
    texts = step_texts(steps, resolution)
    return pa.compute.if_else(pa.array(blank), pa.scalar(None, pa.string()), texts)


def pick(words: Sequence[str], place: np.ndarray) -> pa.Array:
    """words[place], for arrays of any length."""
    return pa.array(words, pa.string()).take(pa.array(place))


def day_texts(days: np.ndarray) -> pa.Array:
    """ISO dates of days."""
    distinct, place = np.unique(days.astype("datetime64[D]"), return_inverse=True)
    return pick([str(day) for day in distinct], place)


def write_rows(path: Path, header: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    """A small table, with quotes where text needs them."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def write_pieces(path: Path, header: Sequence[str], pieces: Iterable[dict[str, pa.Array]]) -> None:
    """A long table of plain words and numbers, piece by piece, its columns in the order of `header`."""
    schema = pa.schema([(name, pa.string()) for name in header])
    options = pyarrow.csv.WriteOptions(include_header=False, quoting_style="none")
    with path.open("wb") as file:
        file.write((",".join(header) + "\n").encode())
        with pyarrow.csv.CSVWriter(file, schema, write_options=options) as writer:
            for piece in pieces:
                if set(piece) != set(header):
                    raise ValueError(f"{path.name}: columns differ from the schema's: {set(piece) ^ set(header)}")
                writer.write_table(pa.table([piece[name] for name in header], schema=schema))
