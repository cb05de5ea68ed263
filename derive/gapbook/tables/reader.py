"""The one reader of tables: from a CSV file to columns, whose distinct texts are judged and turned into values by the schema.

Texts repeat: a million rows of spacings hold some thousand distinct values, so judging each text once costs next to
nothing. `derive` and the library get typed Arrow tables or an error (`read_table`). A check gets the columns themselves
(`judge`) and goes on with the rows that have nothing wrong.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from itertools import compress
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from gapbook.errors import GapbookError, Place, Problem
from gapbook.science.grouping import BoolArray, IntArray, combine, numbered, starts_of
from gapbook.tables import files
from gapbook.tables.cells import HARMFUL, Value, cell_problem, cell_value, quoted
from gapbook.tables.csv_text import CsvText, TextColumn, read_body, record_lines
from gapbook.tables.freshness import warn_if_stale
from gapbook.tables.package import DERIVED_TABLES, Package
from gapbook.tables.records import schema_header, without_bom
from gapbook.tables.schemas import Field, Schema
from gapbook.tables.transactions import consistent

SHOWN = 20
"""At most so many problems of one file are named in an error."""
_ARROW = {"number": pa.float64(), "integer": pa.int64(), "boolean": pa.bool_(), "date": pa.date32()}
_NUMPY = {"number": "float64", "integer": "int64", "boolean": "bool", "date": "datetime64[D]"}
_CODED = pa.dictionary(pa.int32(), pa.string())


def arrow_type(field: Field) -> pa.DataType:
    """The Arrow type a field is read as; text is dictionary-coded."""
    return _ARROW.get(field.type, _CODED)


class Column(NamedTuple):
    """A column of text, judged.

    field: what it may hold
    texts: its distinct texts [D]
    codes: the number of each row's text [R]
    problems: the code of what is wrong with each text [D], None if nothing is
    values: what each text stands for [D]; None if something is wrong with it, or if it counts as missing
    """

    field: Field
    texts: list[str]
    codes: NDArray[np.int32]
    problems: list[str | None]
    values: list[Value | None]

    @property
    def bad_rows(self) -> BoolArray:
        """Whether something is wrong with the cell of each row [R]."""
        return np.array([problem is not None for problem in self.problems], dtype=bool)[self.codes]

    @property
    def stated(self) -> BoolArray:
        """Whether each text [D] has a value."""
        return np.array([value is not None for value in self.values], dtype=bool)


def judge(columns: Sequence[TextColumn], schema: Schema, ignored: Collection[str] = ()) -> list[Column]:
    """The columns of a table, judged. Codes that are `ignored` are not looked for."""
    return [_judged(field, column, ignored) for field, column in zip(schema.fields, columns, strict=True)]


def _judged(field: Field, column: TextColumn, ignored: Collection[str]) -> Column:
    problems = [cell_problem(field, text, ignored) for text in column.texts]
    pairs = zip(column.texts, problems, strict=True)
    values = [None if problem is not None else cell_value(field, text) for text, problem in pairs]
    return Column(field, column.texts, column.codes, problems, values)


def typed(columns: Sequence[Column]) -> pa.Table:
    """The same as a typed table; null for a cell that is missing or has something wrong."""
    return pa.table([_typed(column) for column in columns], names=[column.field.name for column in columns])


def _typed(column: Column) -> pa.Array:
    stated = column.stated
    blank = None if stated.all() else ~stated[column.codes]
    if column.field.type == "string":
        number = (np.cumsum(stated, dtype=np.int32) - 1).clip(0)
        codes = column.codes if blank is None else number[column.codes]
        texts = pa.array(compress(column.texts, stated), pa.string())
        return pa.DictionaryArray.from_arrays(pa.array(codes, pa.int32(), mask=blank), texts)
    values = np.zeros(len(stated), dtype=_NUMPY[column.field.type])
    values[stated] = [value for value in column.values if value is not None]
    return pa.array(values[column.codes], arrow_type(column.field), mask=blank)


def read_table(package: Package, table: str) -> pa.Table:
    """A table of the package, typed; text columns are dictionary-coded.

    GapbookError, with file, line and column, if a cell is not what its field allows. Keys and references are not looked at:
    see `check_keys` and `check_references`.
    """
    if table in DERIVED_TABLES:
        warn_if_stale(package, table)
    with consistent(package, table):
        if package.is_parquet(table):
            return _from_parquet(package, table)
        return _sound(package.read(table), package.shown(table), package.schema(table))


def _from_parquet(package: Package, table: str) -> pa.Table:
    """A table that an export holds, in one file or several, typed by its schema.

    GapbookError if a file is no Parquet file, or holds other columns, or a raw table holds a cell its schema does not allow.
    """
    import pyarrow.parquet as pq  # late: packages hold CSV

    fields, place = package.schema(table).fields, Place(package.shown(table))
    wanted = pa.schema([pa.field(field.name, arrow_type(field)) for field in fields])
    try:
        parts = []
        for path in package.paths(table):
            with files.open_file(path, package.shown(table), package.root) as stream:
                data = pq.read_table(stream)
            if data.column_names != wanted.names:
                expected = ", ".join(wanted.names)
                raise GapbookError(Problem("header", "other columns than the schema's", place, expected=expected))
            parts.append(data.cast(wanted).replace_schema_metadata(None))
        whole = pa.concat_tables(parts).unify_dictionaries().combine_chunks()
    except (pa.ArrowException, OSError) as error:
        raise GapbookError(Problem("unreadable", f"no Parquet file of this table: {error}", place)) from None
    if table not in DERIVED_TABLES:
        columns = judge([as_texts(column) for column in whole.columns], package.schema(table), HARMFUL)
        found = [
            problem
            for column in columns
            for number in np.unique(column.codes).tolist()
            if (problem := _cell_problem(column, number, package.shown(table), None)) is not None
        ]
        if found:
            raise GapbookError(*found[:SHOWN])
    return whole


def as_texts(column: pa.ChunkedArray) -> TextColumn:
    """A column of any type as texts: null is an empty one, and a number is written so that it reads as the same number."""
    coded = column if pa.types.is_dictionary(column.type) else column.dictionary_encode()
    coded = coded.unify_dictionaries()
    parts = [np.asarray(chunk.indices.fill_null(-1)).astype(np.int32) for chunk in coded.chunks]
    codes = np.concatenate([np.zeros(0, dtype=np.int32), *parts])
    words = coded.chunk(0).dictionary.cast(pa.string()).to_pylist() if coded.num_chunks else []
    if codes.min(initial=0) < 0:
        codes = np.where(codes < 0, np.int32(len(words)), codes)
        words.append("")
    return TextColumn(["" if word is None else word for word in words], codes)


def read_file(path: Path, schema: Schema) -> pa.Table:
    """The same for a file outside a package."""
    return _sound(files.read_bytes(path, str(path)), str(path), schema)


def _sound(data: bytes, shown: str, schema: Schema) -> pa.Table:
    text, columns = _read(data, shown, schema)
    if text.bad or any(any(column.problems) for column in columns):
        raise GapbookError(*_problems(text, columns, shown, schema, {}))
    return typed(columns)


def file_problems(path: Path, schema: Schema) -> list[Problem]:
    """Everything that makes a file outside a package unusable, in the order of its lines, at most SHOWN problems."""
    return _all_problems(lambda: files.read_bytes(path, str(path)), str(path), schema, {})


def _all_problems(
    read: Callable[[], bytes], shown: str, schema: Schema, parents: Mapping[str, Collection[str]]
) -> list[Problem]:
    try:
        text, columns = _read(read(), shown, schema)
    except GapbookError as error:
        return list(error.problems)
    return _problems(text, columns, shown, schema, parents)


def line_of_row(package: Package, table: str, row: int) -> int | None:
    """The physical line on which a row starts (0 is the first below the header); None in Parquet. It must be readable."""
    return None if package.is_parquet(table) else int(record_lines(package.read(table))[row])


def _read(data: bytes, shown: str, schema: Schema) -> tuple[CsvText, list[Column]]:
    data = without_bom(data)
    text = read_body(data, schema_header(data, shown, schema))
    return text, judge(text.columns, schema, HARMFUL)


def _problems(
    text: CsvText, columns: Sequence[Column], shown: str, schema: Schema, parents: Mapping[str, Collection[str]]
) -> list[Problem]:
    """What is wrong with records, cells, keys and references, in the order of lines and columns.

    text: the file
    columns: its columns, judged
    shown: how errors name the file
    schema: of the table
    parents: what a column that refers to another table may hold, by column; other references are not looked at
    """
    listed = [(bad.line, -1, bad.problem(shown)) for bad in text.bad if bad.is_told]
    for place, column in enumerate(columns):
        allowed = parents.get(column.field.name)
        at_text = [_cell_problem(column, number, shown, allowed) for number in range(len(column.texts))]
        is_bad = np.array([problem is not None for problem in at_text], dtype=bool)
        for row in np.flatnonzero(is_bad[column.codes])[:SHOWN].tolist():
            problem = at_text[column.codes[row]]
            assert problem is not None
            listed.append((text.line(row), place, _at_line(problem, text.line(row))))
    rows, first = repeated_keys(typed(columns), schema.primary_key)
    for row, before in zip(rows[:SHOWN].tolist(), first[:SHOWN].tolist(), strict=True):
        listed.append((text.line(row), len(columns), _repeated(text, schema, shown, row, before)))
    return [problem for _, _, problem in sorted(listed, key=lambda item: item[:2])][:SHOWN]


def _cell_problem(column: Column, number: int, shown: str, allowed: Collection[str] | None) -> Problem | None:
    """What is wrong with one of a column's texts, without its line."""
    field, text, code = column.field, column.texts[number], column.problems[number]
    place = Place(shown, None, field.name)
    if code == "required":
        return Problem(code, f"{field.title.lower()} is blank", place, repr(text), field.says(), "Fill it in")
    if code is not None:
        return Problem(code, "a cell the schema does not allow", place, repr(text), field.says())
    if allowed is None or column.values[number] is None or text in allowed:
        return None
    near = difflib.get_close_matches(text, allowed, 1)
    return Problem(
        "reference", f"no such {field.title.lower()}", place, quoted(text), fix=f"Nearest: {near[0]}" if near else None
    )


def _at_line(problem: Problem, line: int) -> Problem:
    assert problem.place is not None
    return replace(problem, place=replace(problem.place, line=line))


def _repeated(text: CsvText, schema: Schema, shown: str, row: int, before: int) -> Problem:
    cells = dict(zip(schema.names, text.cells(row), strict=True))
    message = f"the key already stands on line {text.line(before)}"
    place = Place(shown, text.line(row), schema.primary_key[-1])
    return Problem("repeated-key", message, place, " ".join(cells[name] for name in schema.primary_key), "each key once")


def texts(column: pa.ChunkedArray) -> list[str]:
    """The distinct texts a dictionary-coded column may hold, in code order."""
    return list(column.chunk(0).dictionary.to_pylist()) if column.num_chunks else []


def check_references(package: Package, table: str, data: pa.Table, parents: dict[str, pa.Table]) -> None:
    """GapbookError if a cell names a row that does not exist.

    package: where the table is
    table: its name
    data: its rows
    parents: the tables that it refers to, by name; references to others, which a package may have added, are not looked at
    """
    for key in package.schema(table).foreign_keys:
        if not data.num_rows or key.table not in parents:
            continue
        parent = parents[key.table][key.parent].cast(pa.string()).combine_chunks()
        if pc.all(pc.is_in(data[key.field].chunk(0).dictionary, value_set=parent)).as_py() is not False:
            continue
        raise _refusal(package, table, {key.field: frozenset(parent.to_pylist())})


def check_keys(package: Package, table: str, data: pa.Table) -> None:
    """GapbookError if two rows of `data` have the same primary key."""
    if len(repeated_keys(data, package.schema(table).primary_key)[0]):
        raise _refusal(package, table, {})


def _refusal(package: Package, table: str, parents: Mapping[str, Collection[str]]) -> GapbookError:
    shown = package.shown(table)
    if package.is_parquet(table):
        code, told = (
            ("reference", f"a {next(iter(parents))} that no row has") if parents else ("repeated-key", "a key stands twice")
        )
        return GapbookError(Problem(code, told, Place(shown, None, next(iter(parents), None))))
    problems = _all_problems(lambda: package.read(table), shown, package.schema(table), parents)
    return GapbookError(*(problems or [Problem("package-changed", "the file was changed while it was read", Place(shown))]))


def repeated_keys(data: pa.Table, key: Sequence[str]) -> tuple[IntArray, IntArray]:
    """The rows of a typed table whose key an earlier row has, in order [D], and the first row that has it [D].

    Keys are compared by value: 0.0 is 0. A row in which part of the key is missing has no key.
    """
    none = np.zeros(0, dtype=np.int64)
    if not key or data.num_rows < 2:
        return none, none
    numbers = [value_numbers(data[name]) for name in key]
    rows = np.flatnonzero(np.logical_and.reduce([number > 0 for number in numbers]))
    whole = combine(*(number[rows] for number in numbers))
    if np.all(whole[1:] > whole[:-1]) or not np.any((ordered := np.sort(whole))[1:] == ordered[:-1]):
        return none, none
    order = np.argsort(whole, kind="stable")
    starts = starts_of(whole[order])
    first = order[starts][numbered(starts, len(order))]
    again = np.flatnonzero(order != first)
    again = again[np.argsort(order[again], kind="stable")]
    return rows[order[again]], rows[first[again]]


def value_numbers(column: pa.ChunkedArray) -> IntArray:
    """A number for each cell of a typed column [R], the same for equal values; 0 for a blank."""
    if pa.types.is_floating(column.type):
        column = pc.add(column, 0.0)  # -0 is 0
    coded = column if pa.types.is_dictionary(column.type) else column.dictionary_encode()
    parts = [np.asarray(part.indices.fill_null(-1)) for part in coded.unify_dictionaries().chunks]
    return np.concatenate([np.zeros(0, dtype=np.int64), *parts]) + 1
