"""Rows that name what no table has: one fault an id, under the fault of the row that should have had it where there is one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from gapbook.intake.structure.fault import MANY, Fault, cell, quoted
from gapbook.intake.structure.nearest import Nearest, alike
from gapbook.intake.structure.part import Named, Part
from gapbook.tables.units import renumber

Parts = Mapping[str, Sequence[Part]]
_FOLDED = 200
"""Unknown ids, and faulty rows that may have had them, that are held against each other."""


class _Orphan(NamedTuple):
    """An id that no row has, as one column of one file names it, and the row that first does."""

    part: Part
    column: str
    named: Named
    cells: tuple[str, ...]


def check_references(parts: Parts) -> None:
    """Give every unknown id its fault, in the file that first names it, and leave the rows that name it out.

    Where a table could not be read whole, nothing is said about what its rows are named by.
    """
    children: dict[tuple[str, str], list[tuple[Part, str]]] = defaultdict(list)
    for listed in parts.values():
        for part in listed:
            for key in part.source.schema.foreign_keys:
                children[key.table, key.parent].append((part, key.field))
    found: dict[tuple[str, str], tuple[list[_Orphan], Nearest]] = {}
    for (table, column), named_by in children.items():
        parents = parts.get(table, ())
        if parents and all(part.whole for part in parents):
            known = Nearest(set().union(*(part.ids(column) for part in parents)))
            found[table, column] = ([orphan for one in named_by for orphan in _orphans(*one, known)], known)
    for (table, column), (orphans, known) in found.items():
        _tell(table, column, parts[table], orphans, known)
    for orphans, _ in found.values():
        _leave_out(orphans)


def _orphans(part: Part, column: str, known: Nearest) -> list[_Orphan]:
    """The unknown ids of one column of one file."""
    return [_Orphan(part, column, named, part.cells(named.first)) for named in part.unknown(column, known.known)]


def _leave_out(orphans: list[_Orphan]) -> None:
    """Take the rows that name unknown ids out of the sound ones."""
    columns: dict[tuple[int, str], tuple[Part, list[str]]] = {}
    for orphan in orphans:
        columns.setdefault((id(orphan.part), orphan.column), (orphan.part, []))[1].append(orphan.named.value)
    for (_, column), (part, values) in columns.items():
        part.drop(np.asarray(renumber(part.data[column], values) >= 0))


def _tell(table: str, column: str, parents: Sequence[Part], orphans: list[_Orphan], known: Nearest) -> None:
    by_id: dict[tuple[int, str], list[_Orphan]] = defaultdict(list)
    for orphan in orphans:
        by_id[orphan.part.source.layer, orphan.named.value].append(orphan)
    causes = _causes(parents, column, [value for _, value in by_id])
    listed = list(by_id.items())
    lines = _lines([first for _, (first, *_) in listed[:MANY]])
    for (_, value), named in listed[:MANY]:
        first = named[0]
        record = first.named.first
        fault = Fault(
            "reference",
            lines[id(first.part), record],
            first.column,
            f"{quoted(value)}, named by {_counted(named)}",
            f"the {column} of a row of {table}.csv",
            _mend(value, known, f"{table}.csv"),
            record,
            first.cells,
            value,
        )
        if (cause := causes.get(value)) is not None:
            cause.about = cause.about if cause.about is not None else f"{table}.csv {value}"
            fault.about = cause.about
        first.part.faults.append(fault)
    if len(listed) > MANY:
        listed[0][1][0].part.faults[-1].found += f"; and {len(listed) - MANY} ids more that no row has"


def _lines(orphans: Sequence[_Orphan]) -> dict[tuple[int, int], int]:
    """The physical line on which each orphan is first named, by file and record."""
    wanted: dict[int, tuple[Part, list[int]]] = {}
    for orphan in orphans:
        wanted.setdefault(id(orphan.part), (orphan.part, []))[1].append(orphan.named.first)
    return {
        (number, record): line for number, (part, records) in wanted.items() for record, line in part.line_of(records).items()
    }


def _counted(named: Sequence[_Orphan]) -> str:
    rows: dict[str, int] = defaultdict(int)
    for orphan in named:
        rows[orphan.part.source.table] += orphan.named.rows
    (table, number), *others = rows.items()
    first = f"{number} row{'s' if number != 1 else ''} of {table}"
    return " and ".join([first, *(f"{count} of {other}" for other, count in others)])


def _mend(value: str, known: Nearest, file: str) -> str:
    near = known.to(value)
    return f"Write {' or '.join(near)}, or add a row for it to {file}" if near else f"Add a row for it to {file}"


def _causes(parents: Sequence[Part], column: str, unknown: list[str]) -> dict[str, Fault]:
    """For unknown ids the faulty row meant to have it: the one whose cell is nearest, or the only one that tells no id."""
    faulty = [
        (fault, cell(part.source.schema, fault.cells, column))
        for part in parents
        for fault in part.faults
        if fault.told and fault.cells and (fault.column in (None, column) or fault.code == "repeated-key")
    ][:_FOLDED]
    found: dict[str, Fault] = {}
    for value in unknown[:_FOLDED]:
        likeness = [(alike(value, text), -number) for number, (_, text) in enumerate(faulty)]
        if likeness and max(likeness)[0] > 0:
            found[value] = faulty[-max(likeness)[1]][0]
    blank = [fault for fault, text in faulty if not text or fault.code == "repeated-key"]
    left = [value for value in unknown if value not in found]
    if len(blank) == 1 and len(left) == 1:
        found[left[0]] = blank[0]
    return found
