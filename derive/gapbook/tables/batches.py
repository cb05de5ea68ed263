"""The derivation of spacings that come in batches of whole specimens, for data that outgrow memory, or one machine.

`first_pass` takes the rows of some specimens: it judges them as a table is judged that is read whole, sets aside the
specimens that cannot be used, with the reason, and averages the rest. What all first passes say of errors is `pooled_of`.
`second_pass` then measures each batch on its own. Both are pure functions of a batch and the `Job`, which holds the small
tables and no file, so that it can be sent to other processes and machines; `dealing.py` and `spark.py` do so.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.science.grouping import BoolArray, IntArray
from gapbook.science.units import lookup, names
from gapbook.tables import derivation
from gapbook.tables.catalogue import Instruments, RawTables
from gapbook.tables.cells import HARMFUL, quoted
from gapbook.tables.derivation import Measured, Pooled, Sums, added, gather, sums_of
from gapbook.tables.package import Package
from gapbook.tables.reader import Column, as_texts, judge, repeated_keys, typed
from gapbook.tables.run_faults import run_faults
from gapbook.tables.schemas import Schema
from gapbook.tables.spacings import Block, RunFault

SPACINGS = "spacings"
REJECTS = pa.schema(
    [
        ("specimen_id", pa.string()),
        ("code", pa.string()),
        ("column", pa.string()),
        ("reason", pa.string()),
        ("found", pa.string()),
        ("expected", pa.string()),
        ("fix", pa.string()),
        ("rows", pa.int64()),
    ]
)
"""Columns of the table of rejects.

specimen_id: the specimen, none of whose rows is used
code: of what is wrong, as errors and findings have it
column: where; null if it is no one column
reason: what is wrong
found: the first such cell
expected: what may be there
fix: how to mend it
rows: how many rows of the specimen are wrong in this way
"""
WIDTH = "a row that has another number of cells than the header"
_CORRECT = "Correct the cell, or leave the row out"


class Job(NamedTuple):
    """What every process needs of a package: the schema of spacings and the small tables, but no file."""

    package: Package
    catalogue: RawTables


class First(NamedTuple):
    """What the first pass gives of a batch.

    sums: what it says of errors
    blocks: its usable specimens, averaged over repeats
    rejects: the specimens that cannot be used, a row a specimen and fault, with the columns of REJECTS
    """

    sums: Sums
    blocks: list[Block]
    rejects: pa.Table


def job_of(package: Package, catalogue: RawTables) -> Job:
    """The job of a package whose small tables were read."""
    schema = {**package.schema_descriptor(SPACINGS)}
    resource = {"name": SPACINGS, "path": f"{SPACINGS}.csv", "schema": schema}
    bare = replace(package, root=Path("no-folder"), descriptor={"name": package.name, "resources": [resource]})
    return Job(bare, catalogue._replace(package=bare, tables={}))


def first_pass(job: Job, batch: pa.Table, broken: BoolArray | None = None) -> First:
    """The first pass over a batch.

    job: the package's
    batch: all rows of some specimens, in any order, with the columns of spacings, as texts or of the fields' types
    broken: the rows that do not have as many cells as the header [R]; if None, all have
    """
    columns = judge([as_texts(batch[name]) for name in _schema(job).names], _schema(job), HARMFUL)
    data, rejects = typed(columns), _Rejects(columns[0])
    if broken is not None:
        rejects.add(np.flatnonzero(broken), "width", None, WIDTH, None, "as many cells as the header", "Mend the row")
    for column in columns:
        _reject_cells(rejects, column)
    _reject_unknown(rejects, columns, job.catalogue)
    _reject_units(rejects, columns, job.catalogue.instruments)
    again, _ = repeated_keys(data, _schema(job).primary_key)
    rejects.add(again, "repeated-key", "repeat", "a reading is given twice", None, "each key once", "Leave one of them out")
    kept = data.filter(pa.array(~rejects.doubtful)).unify_dictionaries()
    blocks = _blocks(job, kept)
    faults = [fault for block in blocks for fault in run_faults(block, job.catalogue.specimens.ids)]
    if faults:
        for fault in faults:
            rejects.add_of(job.catalogue.specimens.ids[fault.specimen], fault)
        blocks = _blocks(job, data.filter(pa.array(~rejects.doubtful)).unify_dictionaries())
    return First(sums_of(job.catalogue, blocks), blocks, rejects.table())


def pooled_of(job: Job, sums: Iterable[Sums]) -> Pooled:
    """What all batches say of errors; `sums` are those of every first pass."""
    return derivation.pooled(job.catalogue, added([sums_of(job.catalogue, []), *sums]))


def second_pass(job: Job, known: Pooled, blocks: Iterable[Block], wanted: Collection[str]) -> Iterator[Measured]:
    """The second pass: the beds of blocks.

    job: the package's
    known: what all batches say of errors
    blocks: of the first pass
    wanted: as of `derivation.measure`
    """
    measure = derivation.measuring(job.catalogue, known)
    return (measure(task, wanted=wanted) for task in derivation.tasks(job.catalogue, blocks))


def _schema(job: Job) -> Schema:
    return job.package.schema(SPACINGS)


def _blocks(job: Job, data: pa.Table) -> list[Block]:
    return gather(job.package, job.catalogue, data.combine_chunks()).blocks if data.num_rows else []


class _Rejects:
    """The faults found so far in a batch."""

    def __init__(self, specimens: Column) -> None:
        self._ids, self._code = specimens.texts, specimens.codes
        self._number = {name: number for number, name in enumerate(self._ids)}
        self._bad = np.zeros(len(self._ids), dtype=bool)
        self._rows: list[tuple[object, ...]] = []

    @property
    def doubtful(self) -> BoolArray:
        """Whether each row [R] is of a specimen that has a fault."""
        return self._bad[self._code] if len(self._ids) else np.zeros(0, dtype=bool)

    def add(
        self,
        rows: IntArray,
        code: str,
        column: str | None,
        reason: str,
        found: Column | None,
        expected: str | None,
        fix: str,
    ) -> None:
        """A fault of some rows, once for each specimen that they are of.

        rows: the rows that have it
        code: its name
        column: where it is; None if it is no one column
        reason: what is wrong
        found: the column whose cell is shown; None if none is
        expected: what may be there
        fix: how to mend it
        """
        specimen, first, count = np.unique(self._code[rows], return_index=True, return_counts=True)
        self._bad[specimen] = True
        for number, row, times in zip(specimen.tolist(), rows[first].tolist(), count.tolist(), strict=True):
            cell = None if found is None else quoted(found.texts[found.codes[row]])
            self._rows.append((self._ids[number] or None, code, column, reason, cell, expected, fix, times))

    def add_of(self, specimen: str, fault: RunFault) -> None:
        """What keeps a specimen from being laid out."""
        self._bad[self._number[specimen]] = True
        fix = fault.fix or _CORRECT
        self._rows.append((specimen, fault.code, fault.column, fault.message, fault.found, fault.expected, fix, 1))

    def table(self) -> pa.Table:
        """All of them, in ascending order of specimen and code."""
        rows = sorted(self._rows, key=lambda row: tuple("" if cell is None else str(cell) for cell in row))
        return pa.table([pa.array([row[n] for row in rows], kind) for n, kind in enumerate(REJECTS.types)], schema=REJECTS)


def _reject_cells(rejects: _Rejects, column: Column) -> None:
    """Cells that the schema does not allow."""
    for code in sorted({problem for problem in column.problems if problem is not None}):
        is_it = np.array([problem == code for problem in column.problems], dtype=bool)
        reason = f"{column.field.title.lower()} is blank" if code == "required" else "a cell the schema does not allow"
        fix = "Fill it in" if code == "required" else _CORRECT
        rows = np.flatnonzero(is_it[column.codes])
        rejects.add(rows, code, column.field.name, reason, column, column.field.says(), fix)


def _reject_unknown(rejects: _Rejects, columns: list[Column], catalogue: RawTables) -> None:
    """Ids that no row of the small tables has."""
    known = {
        "specimen_id": catalogue.specimens.number,
        "contributor_id": set(catalogue.people),
        "instrument_id": set(catalogue.instruments.ids),
    }
    for column in columns:
        if column.field.name in known:
            ids = known[column.field.name]
            stated = zip(column.texts, column.values, strict=True)
            unknown = np.array([value is not None and text not in ids for text, value in stated], dtype=bool)
            rows = np.flatnonzero(unknown[column.codes]) if len(unknown) else np.zeros(0, dtype=np.int64)
            what, fix = column.field.title.lower(), "Correct the id, or add its row"
            rejects.add(rows, "reference", column.field.name, f"no such {what}", column, f"a known {what}", fix)


def _reject_units(rejects: _Rejects, columns: list[Column], instruments: Instruments) -> None:
    """Units that are unknown or no length, and instruments that measure no length."""
    named = {column.field.name: column for column in columns}
    unit, tool = named["unit"], named["instrument_id"]
    found = [lookup(text) for text in unit.texts]
    expected = "one of " + ", ".join(names("mm"))
    for code, reason, is_bad in (
        ("unit-unknown", "an unknown unit", [one is None and bool(text) for one, text in zip(found, unit.texts, strict=True)]),
        ("unit-dimension", "the unit measures something else", [one is not None and one.base != "mm" for one in found]),
    ):
        if any(is_bad):
            rows = np.flatnonzero(np.array(is_bad)[unit.codes])
            rejects.add(rows, code, "unit", reason, unit, expected, "Write the unit the value was read in")
    base = dict(zip(instruments.ids, instruments.base, strict=True))
    others = np.array([base.get(text, "mm") != "mm" for text in tool.texts], dtype=bool)
    if others.any():
        rows, reason = np.flatnonzero(others[tool.codes]), "the instrument does not measure this"
        rejects.add(rows, "instrument-dimension", "instrument_id", reason, tool, "one in mm", "Name what it was read with")
