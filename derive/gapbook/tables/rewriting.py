"""A table with some of its rows changed or taken out; all other bytes stay as they are."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

from gapbook.errors import Place, fail
from gapbook.tables.package import Package
from gapbook.tables.records import records, without_bom

Row = dict[str, str]
"""The cells of a row as they are written, by column."""


class Touched(NamedTuple):
    """A row that was changed, as it was and as it is; None if it was taken out."""

    before: Row
    after: Row | None


class Edit(NamedTuple):
    """What is changed in a table.

    needles: a row is looked at if its line holds one of these texts
    change: gives the row as it is to be: the very same object if nothing changes, None to take it out
    """

    needles: tuple[str, ...]
    change: Callable[[Row], Row | None]


def rows_with(package: Package, table: str, needles: Sequence[str]) -> Iterator[Row]:
    """The rows of a table whose lines hold one of these texts. GapbookError if the file cannot be read."""
    names = package.schema(table).names
    for record in _records(package.read(table), package.shown(table)):
        if record.cells is None and _holds(record.text, [one.encode() for one in needles]):
            yield _row(names, _cells(record.text), package.shown(table))


def rewritten(package: Package, table: str, edit: Edit) -> tuple[bytes, list[Touched]]:
    """The bytes of a table with an edit made, and the rows that it touched. GapbookError if the file cannot be read."""
    names, shown = package.schema(table).names, package.shown(table)
    needles = [one.encode() for one in edit.needles]
    parts: list[bytes] = []
    touched: list[Touched] = []
    for record in _records(package.read(table), shown):
        if record.cells is not None or not _holds(record.text, needles):
            parts.append(record.text)
            continue
        row = _row(names, _cells(record.text), shown)
        after = edit.change(row)
        if after is row:
            parts.append(record.text)
            continue
        touched.append(Touched(row, after))
        if after is not None:
            end = record.text[len(record.text.rstrip(b"\r\n")) :]
            parts.append(written([after[name] for name in names]) + end)
    return b"".join(parts), touched


def widened(package: Package, table: str, names: Sequence[str]) -> bytes:
    """The bytes of a table with these columns added at the end, blank in every row. GapbookError if the file cannot be read."""
    parts: list[bytes] = []
    has_header = False
    for record in _records(package.read(table), package.shown(table)):
        bare = record.text.rstrip(b"\r\n")
        end = record.text[len(bare) :]
        is_header = record.cells is not None and not has_header and bool(without_bom(bare))
        has_header = has_header or is_header
        more = names if is_header else [""] * len(names) if record.cells is None else []
        parts.append(b",".join([bare, *(name.encode() for name in more)]) + end)
    return b"".join(parts)


def written(cells: Sequence[str]) -> bytes:
    """A CSV record, without its line end."""
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(cells)
    return out.getvalue().encode()


class _Record(NamedTuple):
    """The bytes of a record with its line end. cells: those of the header, or of a blank line; None for a row."""

    text: bytes
    cells: tuple[str, ...] | None = None


def _records(data: bytes, shown: str) -> Iterator[_Record]:
    """Every record of a file, in order; together they are the whole file."""
    body = without_bom(data)
    if len(body) < len(data):
        yield _Record(data[: len(data) - len(body)], ())
    is_below = False
    for line in _lines(body, shown):
        is_row = is_below and bool(line.strip(b"\r\n"))
        yield _Record(line, None if is_row else ())
        is_below = is_below or bool(line.strip(b"\r\n"))


def _lines(body: bytes, shown: str) -> Iterator[bytes]:
    """The bytes of each record, blank lines among them."""
    if b'"' not in body:
        yield from body.splitlines(keepends=True)
        return
    try:
        for record in records(body):
            yield record.text.encode()
    except (UnicodeDecodeError, csv.Error) as error:
        raise fail("unreadable", f"the table cannot be read: {error}", place=Place(shown), fix="Run gapbook check") from None


def _holds(line: bytes, needles: Sequence[bytes]) -> bool:
    return any(needle in line for needle in needles)


def _cells(record: bytes) -> list[str]:
    return next(csv.reader(io.StringIO(record.decode(errors="replace"), newline="")), [])


def _row(names: Sequence[str], cells: Sequence[str], shown: str) -> Row:
    if len(cells) != len(names):
        raise fail("width", "a row has another number of cells than the header", place=Place(shown), fix="Run gapbook check")
    return dict(zip(names, cells, strict=True))
