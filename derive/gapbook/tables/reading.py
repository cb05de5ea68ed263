"""A table from its CSV file into Arrow, typed and checked by its schema, a million rows a second.

Headers are compared exactly before anything is read by position, and types come from the schema, never by sniffing.
"""

from __future__ import annotations

import math
import mmap
from itertools import islice
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science.grouping import IntArray, combine
from gapbook.tables.faults import cell_problem, file_problems, header_problem, records
from gapbook.tables.loose import holds_loose
from gapbook.tables.package import Package
from gapbook.tables.schemas import FALSE_VALUES, TRUE_VALUES, Field, Schema
from gapbook.tables.transactions import consistent

BLOCK = 1 << 23
LARGE = 1 << 26
"""Size from which a file is read by all threads. Smaller ones are read at once while they are busy with a larger."""
_ARROW = {"number": pa.float64(), "integer": pa.int64(), "boolean": pa.bool_(), "date": pa.date32()}
_CODED = pa.dictionary(pa.int32(), pa.string())


def arrow_type(field: Field) -> pa.DataType:
    """The Arrow type a field is read as; text is dictionary-coded."""
    return _ARROW.get(field.type, _CODED)


def read_table(package: Package, table: str) -> pa.Table:
    """The table, text columns dictionary-coded, every cell within its field's type and limits.

    GapbookError with file, line and column of what is not. Keys and references are `check_keys` and
    `check_references`.
    """
    with consistent(package, table):
        return read_file(package.path(table), package.shown(table), package.schema(table))


def read_file(path: Path, shown: str, schema: Schema) -> pa.Table:
    """The same for a file that may stand outside a package; `shown` is how errors name it."""
    if (problem := header_problem(path, shown, schema)) is not None:
        raise GapbookError(problem)
    try:
        data = _parsed(path, schema, _holds_prose(schema), _options(path))
    except pa.ArrowInvalid as error:
        if (problems := file_problems(path, shown, schema)) or next(islice(records(path), 1, None), None) is not None:
            raise GapbookError(*(problems or [Problem("unreadable", str(error), Place(shown))])) from None
        return pa.table({field.name: pa.array([], arrow_type(field)) for field in schema.fields})  # a header without an end
    for field in schema.fields:
        if not _column_holds(data[field.name], field):
            raise _explained(path, shown, schema, f"column {field.name}: a cell the schema does not allow")
    if _looks_loose(path, schema) and (problems := file_problems(path, shown, schema)):
        raise GapbookError(*problems)
    return data


def read_sound(path: Path, schema: Schema, quotes: bool) -> pa.Table | None:
    """The table as `read_file` gives it where nothing is wrong with the cells of a file whose header was compared; None where
    only a closer look can tell. `quotes`: the file holds quotation marks.
    """
    try:
        data = _parsed(path, schema, quotes, _options(path))
    except pa.ArrowInvalid:
        return None
    return data if _columns_hold(data, schema) and not _looks_loose(path, schema) else None


def read_rows(text: bytes, schema: Schema) -> pa.Table | None:
    """Whole lines of a file below its header, as `read_sound` gives them; None too where there are quotation marks,
    letters beyond ASCII, or blanks for text.

    Text is coded run by run, since it seldom changes from one row to the next.
    """
    if b'"' in text or not text.isascii():
        return None
    options = pa.csv.ReadOptions(block_size=BLOCK, use_threads=False, column_names=schema.names)
    kinds = {field.name: narrow(field) for field in schema.fields}
    try:
        data = _arrow_csv(pa.BufferReader(text), schema, options, kinds, check_utf8=False, strings_can_be_null=False)
    except pa.ArrowInvalid:
        return None
    columns = [coded_by_run(column) if pa.types.is_string(column.type) else column for column in data.columns]
    coded = [column for column in columns if pa.types.is_dictionary(column.type)]
    if not all(set(schema.missing).isdisjoint(texts(column)) for column in coded):
        return None
    data = pa.table(columns, names=schema.names)
    if not _columns_hold(data, schema) or holds_loose(text):
        return None
    return data.cast(pa.schema([(field.name, arrow_type(field)) for field in schema.fields]))


def narrow(field: Field) -> pa.DataType:
    """What a field is read as most quickly: text as it is, whole numbers no wider than their limits."""
    if field.type == "integer" and field.minimum is not None and field.maximum is not None:
        limits = (np.min_scalar_type(int(limit)) for limit in (field.minimum, field.maximum))
        return pa.from_numpy_dtype(np.result_type(*limits))
    return _ARROW.get(field.type, pa.string())


def coded_by_run(column: pa.ChunkedArray) -> pa.ChunkedArray:
    """A column of plain text without blanks, dictionary-coded. Quick where equal texts follow one another."""
    firsts, lengths = [], []
    for chunk in column.chunks:
        if len(chunk):
            changes = pc.indices_nonzero(pc.not_equal(chunk.slice(1), chunk.slice(0, len(chunk) - 1)))
            starts = np.concatenate([np.zeros(1, dtype=np.int64), np.asarray(changes).astype(np.int64) + 1])
            firsts.append(chunk.take(pa.array(starts)))
            lengths.append(np.diff(starts, append=len(chunk)))
    if not firsts:
        return column.dictionary_encode()
    short = pa.concat_arrays(firsts).dictionary_encode()
    codes = np.repeat(np.asarray(short.indices), np.concatenate(lengths))
    return pa.chunked_array([pa.DictionaryArray.from_arrays(pa.array(codes), short.dictionary)])


def _options(path: Path) -> pa.csv.ReadOptions:
    return pa.csv.ReadOptions(block_size=BLOCK, use_threads=path.stat().st_size > LARGE)


def _parsed(source: Path, schema: Schema, newlines: bool, options: pa.csv.ReadOptions) -> pa.Table:
    """The rows by their schema's types, cells that may hold `newlines` or not. ArrowInvalid for what is not of its type."""
    kinds = {field.name: arrow_type(field) for field in schema.fields}
    data = _arrow_csv(source, schema, options, kinds, newlines=newlines, strings_can_be_null=True).unify_dictionaries()
    if data.column_names != schema.names:  # a header that other readers make something else of
        raise pa.ArrowInvalid("another header")
    return data


def _arrow_csv(
    source: Path | pa.BufferReader,
    schema: Schema,
    options: pa.csv.ReadOptions,
    kinds: dict[str, pa.DataType],
    newlines: bool = False,
    **texts: bool,
) -> pa.Table:
    return pa.csv.read_csv(
        source,
        read_options=options,
        parse_options=pa.csv.ParseOptions(newlines_in_values=newlines),
        convert_options=pa.csv.ConvertOptions(
            column_types=kinds,
            null_values=list(schema.missing),
            true_values=list(TRUE_VALUES),
            false_values=list(FALSE_VALUES),
            **texts,
        ),
    )


def _looks_loose(path: Path, schema: Schema) -> bool:
    """Whether the exact look is worth its while: what is written loosely, or a quote that is never closed.

    Prose may well hold such a sequence; there the other columns are read again, as text.
    """
    with path.open("rb") as stream, mmap.mmap(stream.fileno(), 0, access=mmap.ACCESS_READ) as text:
        if text.find(b'"') >= 0 and text[:].count(b'"') % 2:
            return True
        holds = holds_loose(text)
    return holds and not (_holds_prose(schema) and _texts_exact(path, schema))


def _texts_exact(path: Path, schema: Schema) -> bool:
    """Whether every number, date and truth value is written as the schema has it, by their distinct texts."""
    exact = [field for field in schema.fields if field.type != "string"]
    read = pa.csv.read_csv(
        path,
        read_options=_options(path),
        parse_options=pa.csv.ParseOptions(newlines_in_values=True),
        convert_options=pa.csv.ConvertOptions(
            include_columns=[field.name for field in exact],
            column_types={field.name: _CODED for field in exact},
            strings_can_be_null=False,
        ),
    ).unify_dictionaries()
    return not any(cell_problem(text, field, schema.missing) for field in exact for text in texts(read[field.name]))


def _holds_prose(schema: Schema) -> bool:
    return any(field.type == "string" and not field.enum and not field.pattern for field in schema.fields)


def _columns_hold(data: pa.Table, schema: Schema) -> bool:
    return all(_column_holds(data[field.name], field) for field in schema.fields)


def _column_holds(column: pa.ChunkedArray, field: Field) -> bool:
    if field.required and column.null_count:
        return False
    if column.length() == column.null_count:
        return True
    if field.type in ("number", "integer"):
        if field.type == "number" and not all_finite(column):
            return False
        least, most = extremes(column)
        return (field.minimum is None or least >= field.minimum) and (field.maximum is None or most <= field.maximum)
    return field.type != "string" or _texts_hold(column.chunk(0).dictionary, field)


def extremes(column: pa.ChunkedArray) -> tuple[float, float]:
    """The least and the largest of finite numbers, of which there is one at least."""
    if column.null_count:
        found = pc.min_max(column).as_py()
        return found["min"], found["max"]
    parts = [np.asarray(chunk) for chunk in column.chunks if len(chunk)]  # many times as fast, without nulls
    return min(part.min() for part in parts), max(part.max() for part in parts)


def all_finite(column: pa.ChunkedArray) -> bool:
    """Whether no number is infinite or NaN; the sum of such numbers would be too."""
    return math.isfinite(pc.sum(column).as_py()) or bool(pc.all(pc.is_finite(column)).as_py())


def _texts_hold(distinct: pa.StringArray, field: Field) -> bool:
    """Whether every one of the distinct texts is allowed. Patterns are the schema's own, run by a linear-time engine."""
    if not len(distinct):
        return True
    if field.enum:
        return set(distinct.to_pylist()) <= set(field.enum)
    if field.max_length is not None and pc.max(pc.utf8_length(distinct)).as_py() > field.max_length:
        return False
    return field.pattern is None or bool(pc.all(pc.match_substring_regex(distinct, field.pattern)).as_py())


def _explained(path: Path, shown: str, schema: Schema, otherwise: str) -> GapbookError:
    problems = file_problems(path, shown, schema)
    return GapbookError(*(problems or [Problem("unreadable", otherwise, Place(shown))]))


def texts(column: pa.ChunkedArray) -> list[str]:
    """The distinct texts a dictionary-coded column may hold, in code order."""
    return list(column.chunk(0).dictionary.to_pylist()) if column.num_chunks else []


def check_references(package: Package, table: str, data: pa.Table, parents: dict[str, pa.Table]) -> None:
    """GapbookError if a cell of `data` names a row that its parent table (by table name) does not have."""
    for key in package.schema(table).foreign_keys:
        if not data.num_rows:
            continue
        parent = parents[key.table][key.parent].cast(pa.string()).combine_chunks()
        if pc.all(pc.is_in(data[key.field].chunk(0).dictionary, value_set=parent)).as_py() is not False:
            continue
        allowed = {key.field: frozenset(parent.to_pylist())}
        raise GapbookError(*file_problems(package.path(table), package.shown(table), package.schema(table), allowed))


def check_keys(package: Package, table: str, data: pa.Table) -> None:
    """GapbookError if two rows of `data` have the same primary key."""
    key = package.schema(table).primary_key
    if not key or data.num_rows < 2:
        return
    whole = combine(*(_numbered(data[name]) for name in key))
    if np.any(whole[1:] <= whole[:-1]) and np.any((ordered := np.sort(whole))[1:] == ordered[:-1]):
        raise _explained(package.path(table), package.shown(table), package.schema(table), "a key is repeated")


def _numbered(column: pa.ChunkedArray) -> IntArray:
    """A column without blanks as non-negative numbers [R], equal where its cells are."""
    if pa.types.is_dictionary(column.type):
        return np.concatenate([np.asarray(chunk.indices) for chunk in column.chunks]).astype(np.int64)
    if pa.types.is_floating(column.type):
        return np.unique(column.to_numpy(), return_inverse=True)[1].astype(np.int64)
    whole = column.cast(pa.int32()) if pa.types.is_date(column.type) else column
    number = whole.cast(pa.int64()).to_numpy()
    return np.asarray(number - number.min())
