"""Which rows a contribution adds to the catalogue, as the very bytes it wrote them in.

Bytes are kept because values stay as they were read: `12.0` must not become `12`, nor a quotation mark go.
"""

from __future__ import annotations

import csv
import io
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np

from gapbook.errors import Place, fail
from gapbook.intake.context import CheckContext
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION
from gapbook.tables.files import open_file, read_bytes
from gapbook.tables.reader import read_table

BOM = b"\xef\xbb\xbf"


@dataclass(frozen=True)
class Additions:
    """What a contribution brings, by table.

    records: the records to add, as written and without their line ends
    there: how many of its rows the catalogue has already
    """

    records: Mapping[str, Sequence[bytes]]
    there: Mapping[str, int]

    @property
    def rows(self) -> dict[str, int]:
        """Rows to add, by table that has any."""
        return {table: len(records) for table, records in self.records.items() if records}


def additions(context: CheckContext) -> Additions:
    """The rows of a checked contribution that the catalogue does not have.

    The check must have found no error in the contribution's files, because rows with an error are not among those that were
    read. GapbookError if the catalogue's own table is unsound, or if a file was changed meanwhile.
    """
    read = context.read
    contribution = read.layers[CONTRIBUTION]
    unsound = {one.table for (layer, _), some in read.findings.items() if layer == CATALOGUE for one in some}
    records: dict[str, list[bytes]] = {}
    there: dict[str, int] = {}
    for table, path in contribution.files.items():
        if table in unsound and context.package.path(table).exists():
            read_table(context.package, table)  # raises: it says what is wrong with the table
        rows = np.flatnonzero(read.layer[table] == CONTRIBUTION)
        written, new = record_bytes(path), read.record[table][rows].tolist()
        if new and new[-1] >= len(written):
            raise fail("contribution-changed", "the file was changed while it was read", place=Place(contribution.shown[table]))
        records[table] = [written[record] for record in new]
        there[table] = len(written) - len(new)
    return Additions(records, there)


def record_bytes(path: Path) -> list[bytes]:
    """The records below the header of a sound CSV file, each as it is written, without the line end after it."""
    text = read_bytes(path, str(path)).removeprefix(BOM)
    if b'"' not in text:
        return [line for line in text.splitlines() if line][1:]
    lines = list(io.StringIO(text.decode(), newline=""))
    reader = csv.reader(lines, strict=True)
    records: list[bytes] = []
    start = 0
    for record in reader:
        if record:
            records.append("".join(lines[start : reader.line_num]).rstrip("\r\n").encode())
        start = reader.line_num
    return records[1:]


def appended(stream: BinaryIO, path: Path, header: Sequence[str], records: Sequence[bytes]) -> None:
    """Write a table with records added to its end. The line ends are those of the table.

    stream: what is written to
    path: the table as it is now; if there is no such file, a header is written first
    header: the names of the columns
    records: the records to add, without their line ends
    """
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
