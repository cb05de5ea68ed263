"""A file is read the same whichever way: by Arrow, by Python's csv, and by DuckDB, which questions are asked of."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from gapbook.errors import GapbookError
from gapbook.tables import csv_text, store
from gapbook.tables.csv_text import CsvText, read_body
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.reader import read_table
from gapbook.tables.records import BadRecord, read_header, without_bom
from gapbook.tables.store import Store
from structured import Broken

PIECES = (
    b'"', b'""', b'"x"', b'"x""y"', b',"', b'",', b"\r", b"\n", b"\r\n", b'"\n"', b" ", b"  ", b"\t", b",", b"NA", b"0", b"1",
    b"x", "é".encode(), b"'", b"\\", b".", b"e1", b"+", b"-", b"=", b"\x00", b"\xff", b"\n\n", b"\n,\n",
)  # fmt: skip
TABLES = ("testers", "specimens", "readings", "frames")
TRIES = 60
NOT_LOOKED_AT = {"required", "enum", "pattern", "limit", "too-long", "repeated-key"}
"""What a question does not ask of a file. DuckDB also passes over one blank cell too many at the end of a row."""


def inserted(text: bytes, dice: random.Random) -> bytes:
    """A text with a piece put in or put over a few bytes, below its header."""
    at = dice.randrange(text.find(b"\n"), len(text) + 1)
    return text[:at] + dice.choice(PIECES) + text[at + dice.choice([0, 0, 1, 3]) :]


def broken_texts(package: Package, table: str) -> Iterator[bytes]:
    """A table of a good package, broken in many ways, the number of pieces growing."""
    dice, good = random.Random(table), package.path(table).read_bytes()
    for number in range(TRIES):
        text = good
        for _ in range(1 + number // 40):
            text = inserted(text, dice)
        yield text


def told(text: CsvText) -> tuple[object, ...]:
    """All that is known of a file below its header."""
    rows = [text.cells(row) for row in range(len(text.record))]
    return rows, text.record.tolist(), text.lines.tolist(), text.bad, text.is_whole


@pytest.mark.parametrize("table", TABLES)
def test_arrow_and_csv_agree(tmp_path: Path, table: str):
    package = open_package(Broken(tmp_path).root)
    by_arrow = with_gaps = 0
    for text in broken_texts(package, table):
        data = without_bom(text)
        header = read_header(data)
        if isinstance(header, BadRecord) or header.cells != package.schema(table).names:
            continue
        exact = csv_text._read_by_csv(data, header)
        assert told(read_body(data, header)) == told(exact), text
        gaps = csv_text._without_bad_widths(data, header)
        assert gaps is None or told(gaps) == told(exact), text
        by_arrow += not exact.bad
        with_gaps += gaps is not None and bool(gaps.bad)
    assert by_arrow >= 10
    assert with_gaps >= 3


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.slow_after(1)
def test_the_database_and_the_reader_agree(tmp_path: Path, table: str):
    root = Broken(tmp_path).root
    package = open_package(root)
    outcomes = []
    for text in broken_texts(package, table):
        package.path(table).write_bytes(text)
        by_database, by_reader = (outcome(open_package(root), table, read) for read in (by_store, by_read_table))
        outcomes.append((isinstance(by_database, set), isinstance(by_reader, set)))
        if isinstance(by_database, set) or not isinstance(by_reader, set):
            assert by_database == by_reader, text
        else:
            assert by_reader <= NOT_LOOKED_AT or b",\n" in text + b"\n", text
    assert outcomes.count((False, False)) >= 1
    assert outcomes.count((True, True)) >= 10


def outcome(package: Package, table: str, read: Callable[[Package, str], list[list[object]]]) -> list[list[object]] | set[str]:
    """The rows of a table, or the codes of what is wrong with it."""
    try:
        return read(package, table)
    except GapbookError as error:
        return {problem.code for problem in error.problems}


def by_store(package: Package, table: str) -> list[list[object]]:
    tables = Store(package)
    return [list(row) for row in tables.rows(f"SELECT * FROM {tables.load(table)}")]


def by_read_table(package: Package, table: str) -> list[list[object]]:
    return [list(row.values()) for row in read_table(package, table).to_pylist()]


def test_the_database_reads_a_copy_where_open_files_have_no_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    package = open_package(Broken(tmp_path).root)
    plain = {table: by_store(package, table) for table in TABLES}
    monkeypatch.setattr(store, "_OPEN_FILES", tmp_path / "nowhere")
    assert {table: by_store(package, table) for table in TABLES} == plain
    assert all(plain.values())
