"""The slow, exact look at one CSV file: every cell that its schema does not allow, with its physical line.

The fast readers only learn that something is wrong; this says what, where, and how to mend it.
"""

from __future__ import annotations

import csv
import datetime
import difflib
import math
import re
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from gapbook.errors import Place, Problem
from gapbook.tables.schemas import FALSE_VALUES, TRUE_VALUES, Field, Schema

_DECIMAL = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_INTEGER = re.compile(r"-?\d+", re.ASCII)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
SHOWN = 20
"""Problems gathered from one file before reading stops."""


def records(path: Path) -> Iterator[tuple[int, list[str]]]:
    """The records of a UTF-8 CSV file (BOM and CRLF accepted, blank lines passed over) with the line each starts on.

    Raises UnicodeDecodeError, csv.Error or OSError.
    """
    with path.open(encoding="utf-8-sig", newline="") as stream:
        reader = csv.reader(stream, strict=True)
        line = 1
        for record in reader:
            if record:
                yield line, record
            line = reader.line_num + 1


def line_of_row(path: Path, row: int) -> int:
    """The physical line on which data row `row` (0 is the first below the header) starts."""
    for number, (line, _) in enumerate(records(path)):
        if number == row + 1:
            return line
    raise IndexError(row)


def header_problem(path: Path, shown: str, schema: Schema) -> Problem | None:
    """What is wrong with the file as a whole: missing, empty, not UTF-8, or another header than the schema's."""
    try:
        line, header = next(records(path), (1, []))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        return _unreadable(shown, error)
    if header == schema.names:
        return None
    return Problem(
        "header",
        "the header is not the schema's",
        Place(shown, line),
        found=",".join(header) or "nothing",
        expected=",".join(schema.names),
        fix=_header_fix(header, schema.names),
    )


def _header_fix(header: list[str], names: list[str]) -> str:
    if not any(header):
        return "Write the header, and the rows below it: the file is empty"
    if header[0].startswith("sep="):
        return f"Take out the first line, {','.join(header)}: only spreadsheets read it"
    missing = [name for name in names if name not in header]
    unknown = [name for name in header if name not in names]
    for mark, called in ((";", "semicolons"), ("\t", "tabs")):
        if len(header) == 1 and header[0].split(mark)[: len(names)] == names:
            return f"Save the file with commas between the cells, not {called}"
    if header[: len(names)] == names and not any(header[len(names) :]):
        return "Take out the commas at the end of the rows"
    if spelt := _spelling_fix(header, names):
        return spelt
    if missing and len(missing) == len(names):
        return "Write the header as the first line; none of these columns is named there"
    if missing:
        return f"Add the {_counted(missing)}" + (f", and remove the {_counted(unknown)}" if unknown else "")
    if unknown:
        return f"Remove the {_counted(unknown)}"
    return "Put the columns in this order" if sorted(header) == sorted(names) else "Name each column once"


def _spelling_fix(header: list[str], names: list[str]) -> str | None:
    """How to mend a header whose names are right but for blanks or capitals."""
    if [name.strip() for name in header] == names:
        return "Take out the blanks around the names, and around the cells below"
    if [name.strip().lower() for name in header] == names:
        bare = [name.strip() for name in header]
        return "Write the names in small letters" + ("" if bare == header else ", without blanks around them")
    return None


def _counted(columns: list[str]) -> str:
    return ("column " if len(columns) == 1 else "columns ") + ", ".join(map(repr, columns) if "" in columns else columns)


def _unreadable(shown: str, error: Exception) -> Problem:
    if isinstance(error, FileNotFoundError):
        return Problem("missing-file", "the file is missing", Place(shown))
    if isinstance(error, UnicodeDecodeError):
        return Problem("encoding", "the file is not UTF-8 text", Place(shown), fix="Save it as UTF-8")
    reason = error.strerror if isinstance(error, OSError) else str(error)
    return Problem("unreadable", f"the file cannot be read: {reason}", Place(shown))


def cell_problem(text: str, field: Field, missing: tuple[str, ...]) -> str | None:
    """The code of what is wrong with one cell, or None: required, type, enum, pattern, limit, too-long."""
    if text in missing:
        return "required" if field.required else None
    if field.type in ("number", "integer"):
        pattern = _DECIMAL if field.type == "number" else _INTEGER
        if not pattern.fullmatch(text) or not math.isfinite(number := float(text)):
            return "type"
        low, high = field.minimum, field.maximum
        return "limit" if (low is not None and number < low) or (high is not None and number > high) else None
    if field.type == "date":
        return None if _is_date(text) else "type"
    if field.type == "boolean":
        return None if text in TRUE_VALUES + FALSE_VALUES else "type"
    if field.enum and text not in field.enum:
        return "enum"
    if field.pattern and not re.fullmatch(field.pattern, text):
        return "pattern"
    return "too-long" if field.max_length is not None and len(text) > field.max_length else None


def _is_date(text: str) -> bool:
    if not _DATE.fullmatch(text):
        return False
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True


def file_problems(path: Path, shown: str, schema: Schema, parents: dict[str, frozenset[str]] | None = None) -> list[Problem]:
    """Everything wrong with one file, at most SHOWN problems: header, row width, cells, repeated keys, references.

    `parents` holds, by column, the values that column may take from the table it refers to.
    """
    if (problem := header_problem(path, shown, schema)) is not None:
        return [problem]
    problems: list[Problem] = []
    seen: dict[tuple[str, ...], int] = {}
    key = [schema.names.index(name) for name in schema.primary_key]
    try:
        for line, record in islice(records(path), 1, None):
            problems += _record_problems(record, line, shown, schema, parents or {})
            if len(record) == len(schema.fields):
                problems += _repeated_key(tuple(record[index] for index in key), line, shown, schema, seen)
            if len(problems) >= SHOWN:
                break
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        problems.append(_unreadable(shown, error))
    return problems[:SHOWN]


def _record_problems(
    record: list[str], line: int, shown: str, schema: Schema, parents: dict[str, frozenset[str]]
) -> Iterator[Problem]:
    if len(record) != len(schema.fields):
        expected = f"{len(schema.fields)} cells"
        yield Problem("width", "the row has another number of cells", Place(shown, line), f"{len(record)}", expected)
        return
    for text, field in zip(record, schema.fields, strict=True):
        place = Place(shown, line, field.name)
        if (code := cell_problem(text, field, schema.missing)) is not None:
            yield Problem(code, "a cell the schema does not allow", place, repr(text), field.says())
        elif field.name in parents and text not in schema.missing and text not in parents[field.name]:
            near = difflib.get_close_matches(text, parents[field.name], 1)
            fix = f"Nearest: {near[0]}" if near else None
            yield Problem("reference", f"no such {field.title.lower()}", place, repr(text), fix=fix)


def _repeated_key(
    key: tuple[str, ...], line: int, shown: str, schema: Schema, seen: dict[tuple[str, ...], int]
) -> list[Problem]:
    first = seen.setdefault(key, line)
    if first == line:
        return []
    found = " ".join(key)
    place = Place(shown, line, schema.primary_key[-1])
    return [Problem("repeated-key", f"the key already stands on line {first}", place, found, "each key once")]
