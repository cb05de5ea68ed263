"""Which rows of the derived tables are not what follows from the catalogue."""

from __future__ import annotations

import csv
import io
import os
import tempfile
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, Literal, NamedTuple

from gapbook.tables.derived import compute, write_derived
from gapbook.tables.package import Package
from gapbook.tables.transactions import Change, consistent
from gapbook.tables.writing import DIGITS

Kind = Literal["differs", "missing", "left-over"]
"""A row has other cells, is not there, or follows from nothing any more."""
_KINDS: tuple[Kind, ...] = ("differs", "missing", "left-over")


class Drift(NamedTuple):
    """A row of a derived table that is not what follows from the catalogue.

    table: the derived table
    row_key: its key, joined by slashes; empty if the whole file cannot be read or has another header
    kind: what is wrong with it
    columns: the columns that differ
    """

    table: str
    row_key: str
    kind: Kind
    columns: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The row with the keys that programs rely on."""
        return {**self._asdict(), "columns": list(self.columns)}


def drift(package: Package, parts: Sequence[str] | None = None) -> list[Drift]:
    """Derive anew, write nothing, and say which rows of the derived tables differ, table by table.

    Figures may differ by one in their sixth digit, because processors round differently; digests not at all. GapbookError on
    a catalogue that cannot be used.
    """
    with consistent(package, *package.resources), tempfile.TemporaryDirectory(prefix="gapbook-") as scratch:
        change = Change(package, Path(scratch))
        tables = write_derived(change, compute(package, parts))
        found = [one for table in tables if table != "digests" for one in _of_table(package, change.staged(), table)]
        return found or _of_digests(package, change.staged(), list(tables))


def _of_digests(package: Package, anew: Package, tables: Sequence[str]) -> list[Drift]:
    """The digests that differ, if all tables are right: those of sources that changed in a way that changes no figure.

    The digests of derived tables are of the files as they are, so that other rounding does not count.
    """
    if "digests" not in tables:
        return []
    found = _of_table(package, anew, "digests")
    return [one for one in found if one.kind == "missing" or len(set(one.row_key.split("/"))) != 1 or not one.row_key]


def _of_table(package: Package, anew: Package, table: str) -> list[Drift]:
    key = package.schema(table).primary_key
    names, wanted = _rows(anew, table, key)
    if not os.path.lexists(package.path(table)):
        return [Drift(table, row, "missing") for row in wanted]
    found_names, found = _rows(package, table, key)
    if found_names != names:
        return [Drift(table, "", "differs", tuple(name for name in names if name not in found_names))]
    told = [Drift(table, row, "missing") for row in wanted if row not in found]
    told += [Drift(table, row, "left-over") for row in found if row not in wanted]
    for row, cells in wanted.items():
        if row in found and found[row] != cells:
            pairs = zip(names, cells, found[row], strict=True)
            differing = tuple(name for name, one, other in pairs if not _same(one, other))
            told += [Drift(table, row, "differs", differing)] if differing else []
    return sorted(told, key=lambda one: (-_KINDS.index(one.kind), one.row_key))


def _rows(package: Package, table: str, key: Sequence[str]) -> tuple[list[str], dict[str, list[str]]]:
    """The header, and the cells of each row by its key joined by slashes. A row with too few or too many cells has none."""
    with package.open(table) as stream:
        records = csv.reader(io.TextIOWrapper(stream, encoding="utf-8", errors="replace", newline=""))
        names = next(records, [])
        places = [names.index(name) for name in key if name in names]
        rows = {}
        for cells in records:
            whole = cells if len(cells) == len(names) else [*cells, *[""] * len(names)][: len(names)]
            rows["/".join(whole[place] for place in places)] = whole
        return names, rows


def _same(one: str, other: str) -> bool:
    """Whether two cells say the same: figures may differ by one in their last significant digit."""
    if one == other:
        return True
    try:
        a, b = Decimal(one), Decimal(other)
        return abs(a - b) <= Decimal(1).scaleb(max(a.adjusted(), b.adjusted()) - DIGITS + 1)
    except InvalidOperation:
        return False
