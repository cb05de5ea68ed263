"""The fast gate: a file in which the strict reader and a few looks at distinct texts and keys find nothing wrong is clean."""

from __future__ import annotations

import csv
import datetime
import mmap

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.intake.structure.compiled import CONTROL, FORMULA
from gapbook.intake.structure.fault import Source
from gapbook.science.grouping import IntArray, combine
from gapbook.tables.faults import records
from gapbook.tables.reading import read_sound
from gapbook.tables.schemas import Field
from gapbook.tables.units import codes


def clean(source: Source) -> pa.Table | None:
    """The typed table of a file with nothing wrong in it; None where the exact look is needed. OSError where unreadable."""
    with source.path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as text:
        quotes = text.find(b'"') >= 0
    try:
        data = read_sound(source.path, source.schema, quotes)
    except (pa.ArrowException, ValueError):
        return None
    if data is None or not data.num_rows:
        return None
    if quotes and not _has_records(source, data.num_rows + 1):
        return None
    if not all(_exact(data[item.name], item) for item in source.schema.fields):
        return None
    return None if _repeats(data, list(source.schema.primary_key)) else data


def _has_records(source: Source, number: int) -> bool:
    """Whether the file, read strictly, has so many records."""
    try:
        return sum(1 for _ in records(source.path)) == number
    except (csv.Error, UnicodeDecodeError):
        return False


def _exact(column: pa.ChunkedArray, item: Field) -> bool:
    """Whether what the strict reader does not look at holds too."""
    if item.type == "date":
        earliest = pc.min(column)
        return not earliest.is_valid or earliest.cast(pa.int32()).as_py() >= _FIRST_DAY
    if item.type != "string" or not column.num_chunks:
        return True
    distinct = column.chunk(0).dictionary
    if not len(distinct):
        return True
    for sign in (FORMULA, CONTROL):
        if pc.any(pc.match_substring_regex(distinct, sign)).as_py():
            return False
    return item.pattern is None or pc.all(pc.match_substring_regex(distinct, rf"\A(?:{item.pattern})\z")).as_py()


_FIRST_DAY = (datetime.date(1, 1, 1) - datetime.date(1970, 1, 1)).days


def _repeats(data: pa.Table, key: list[str]) -> bool:
    """Whether two rows have the same key."""
    if not key:
        return False
    code = combine(*(_codes(data[name]) for name in key))
    if np.all(code[1:] > code[:-1]):
        return False
    ordered = np.sort(code)
    return bool(np.any(ordered[1:] == ordered[:-1]))


def _codes(column: pa.ChunkedArray) -> IntArray:
    """A number for each value of a column; 0 and -0 are one value."""
    if pa.types.is_dictionary(column.type):
        return codes(column) + 1
    values = pc.add(column, 0.0) if pa.types.is_floating(column.type) else column
    return codes(values.dictionary_encode().unify_dictionaries()) + 1
