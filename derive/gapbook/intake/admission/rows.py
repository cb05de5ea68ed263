"""Which rows a contribution adds, as the very bytes it wrote them in, and where it contradicts the catalogue."""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, NamedTuple

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.errors import Place, fail
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import Layer, lines_of_records
from gapbook.tables.files import open_file, read_bytes
from gapbook.tables.package import Package
from gapbook.tables.reading import read_file
from gapbook.tables.transactions import consistent

BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Additions:
    """What a contribution brings: the records to add by table, as written and without their line ends; how many of its rows
    the catalogue has already; and its rows whose key the catalogue has with other values.
    """

    records: Mapping[str, Sequence[bytes]]
    there: Mapping[str, int]
    conflicts: tuple[Finding, ...] = ()

    @property
    def rows(self) -> dict[str, int]:
        """Rows to add, by table that has any."""
        return {table: len(records) for table, records in self.records.items() if records}


def additions(package: Package, contribution: Layer) -> Additions:
    """Compare a contribution, whose files are sound, with the catalogue.

    Rows are the same if their values are: `12.0` beside `12` is no other value. GapbookError where the package has no
    such table, or a file was changed meanwhile.
    """
    records: dict[str, list[bytes]] = {}
    there: dict[str, int] = {}
    conflicts: list[Finding] = []
    for table, path in contribution.files.items():
        package.resource(table)
        written = record_bytes(path)
        own = read_file(path, contribution.shown[table], package.schema(table))
        if own.num_rows != len(written):
            raise fail("contribution-changed", "the file was changed while it was read", place=Place(contribution.shown[table]))
        if not package.path(table).exists():
            records[table] = written
            continue
        with consistent(package, table):
            held = read_file(package.path(table), package.shown(table), package.schema(table))
        pairs = _pairs(package.schema(table).primary_key, own, held)
        conflicts += _conflicts(package, contribution, table, [pair for pair in pairs if pair.own != pair.held])
        known = {pair.row for pair in pairs}
        records[table] = [text for row, text in enumerate(written) if row not in known]
        there[table] = sum(pair.own == pair.held for pair in pairs)
    return Additions(records, there, tuple(conflicts))


class _Pair(NamedTuple):
    """A contribution's row, its values, and those of the catalogue's row with the same key."""

    row: int
    own: tuple[object, ...]
    held: tuple[object, ...]


def _pairs(key: Sequence[str], own: pa.Table, held: pa.Table) -> list[_Pair]:
    """The contribution's rows whose key the catalogue has."""
    first = own[key[0]].cast(pa.string()).unique()
    near = held.filter(pc.is_in(held[key[0]].cast(pa.string()), value_set=first))
    place = [own.column_names.index(name) for name in key]
    known = {tuple(row[number] for number in place): row for row in _rows(near)}
    found = ((row, values, known.get(tuple(values[number] for number in place))) for row, values in enumerate(_rows(own)))
    return [_Pair(row, values, other) for row, values, other in found if other is not None]


def _rows(data: pa.Table) -> list[tuple[object, ...]]:
    return list(zip(*(column.to_pylist() for column in data.columns), strict=True))


def _conflicts(package: Package, contribution: Layer, table: str, pairs: Sequence[_Pair]) -> list[Finding]:
    """A finding, with both, for each row whose key the catalogue has with other values."""
    lines = lines_of_records(contribution.files[table], np.array([pair.row for pair in pairs], dtype=np.int64))
    schema = package.schema(table)
    result = []
    for pair in pairs:
        new, old = (dict(zip(schema.names, values, strict=True)) for values in (pair.own, pair.held))
        names = [name for name in new if new[name] != old[name]]
        result.append(
            Finding(
                code="conflicting-key",
                severity=Severity.error,
                table=table,
                file=contribution.shown[table],
                line=lines[pair.row],
                column=schema.primary_key[-1],
                row_key="/".join(_plain(new[name]) for name in schema.primary_key),
                found=_said(new, names),
                expected=f"{_said(old, names)}, as in {package.shown(table)}",
                fix="Correct the row, or give it a key of its own, such as the next repeat",
            )
        )
    return result


def _said(row: Mapping[str, object], names: Sequence[str]) -> str:
    return ", ".join(f"{name} {_plain(row[name]) or 'blank'}" for name in names)


def _plain(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float) else str(value)


def record_bytes(path: Path) -> list[bytes]:
    """The records below the header of a sound CSV file, each as it is written, without the line end after it."""
    text = read_bytes(path, str(path)).removeprefix(BOM)
    if b'"' not in text:
        return [line for line in text.splitlines() if line][1:]
    lines = list(io.StringIO(text.decode(), newline=""))
    reader = csv.reader(lines, strict=True)
    found: list[bytes] = []
    start = 0
    for record in reader:
        if record:
            found.append("".join(lines[start : reader.line_num]).rstrip("\r\n").encode())
        start = reader.line_num
    return found[1:]


def appended(stream: BinaryIO, path: Path, header: Sequence[str], records: Sequence[bytes]) -> None:
    """Write the file at `path` as it is, and the records after it with the line ends it has; a new one gets its header."""
    end = b"\n"
    if path.exists():
        with open_file(path, str(path)) as old:
            first = old.readline()
            end = b"\r\n" if first.endswith(b"\r\n") else b"\n"
            stream.write(first)
            shutil.copyfileobj(old, stream, 1 << 20)
            old.seek(0, io.SEEK_END)
            if old.tell():
                old.seek(-1, io.SEEK_END)
                if old.read(1) not in (b"\n", b"\r"):
                    stream.write(end)
    else:
        stream.write(",".join(header).encode() + end)
    stream.writelines(record + end for record in records)
