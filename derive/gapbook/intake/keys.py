"""Keys from one file to another: rows of a contribution that the catalogue has already, and ids that no row has."""

from __future__ import annotations

import difflib
import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.findings import Finding
from gapbook.intake.mending import own_key
from gapbook.intake.table_files import Named, TableFile, and_more, row_key
from gapbook.science.grouping import BoolArray, IntArray, combine
from gapbook.tables.cells import quoted
from gapbook.tables.csv_text import MANY
from gapbook.tables.reader import value_numbers
from gapbook.tables.schemas import Schema
from gapbook.tables.units import renumber

TableFiles = Mapping[str, Sequence[TableFile]]
"""For each table its file in each layer that has one, the catalogue's first."""
_COMPARED = 200
"""How many unknown ids are compared with how many findings that may be their cause; each pair takes time."""
_LIKE = 0.75
"""How alike two ids must be to be taken for one, as difflib measures it. Common practice, no source."""
_MOST = 200
"""For how many unknown ids the nearest known ones are looked up; more would help nobody."""
_NO_SLUG = re.compile(r"[^a-z0-9]+")
_ENDS = 3
"""Ids are compared in full only if they share their first or last so many characters; comparing all would take too long."""


# Primary keys: the same row again is passed over, the same key otherwise is an error


class _Pairs(NamedTuple):
    """Rows of a contribution and of the catalogue with the same key [P], and whether their cells say the same [P, columns]."""

    own: IntArray
    other: IntArray
    is_same: BoolArray


def check_conflicts(own: TableFile, catalogue: TableFile) -> None:
    """Take the rows whose key the catalogue has out of a contribution's file, with a finding for each that differs there.

    If the catalogue itself has several rows with one key, the last of them counts.
    """
    schema = own.source.schema
    known, rows = catalogue.with_repeated()
    if not schema.primary_key or not own.data.num_rows or not known.num_rows:
        return
    pairs = _pairs(own.data, known, schema)
    differing = np.flatnonzero(~pairs.is_same.all(axis=1))
    findings = [
        _conflict(own, catalogue, int(own.rows[pairs.own[at]]), int(rows[pairs.other[at]]), pairs.is_same[at])
        for at in differing[:MANY].tolist()
    ]
    own.findings += and_more(findings, len(differing) - MANY, "rows more that conflict with the catalogue")
    own.pass_over(_marked(pairs.own, own), _marked(pairs.own[differing], own))


def _marked(rows: IntArray, file: TableFile) -> BoolArray:
    marks = np.zeros(file.data.num_rows, dtype=bool)
    marks[rows] = True
    return marks


def _pairs(own: pa.Table, catalogue: pa.Table, schema: Schema) -> _Pairs:
    """The rows with the same key. Keys and cells are compared by value, as numbers: 12.50 is 12.5."""
    rows = _candidates(own, catalogue, schema.primary_key[0])
    both = pa.concat_tables([own, catalogue.take(pa.array(rows))])
    number = np.stack([value_numbers(column) for column in both.columns])
    key = number[[schema.names.index(name) for name in schema.primary_key]]
    none = -1 - np.arange(key.shape[1])  # a row without a whole key has no other's number, so it matches none
    whole = np.where(np.all(key > 0, axis=0), combine(*key), none)
    mine, theirs = whole[: own.num_rows], whole[own.num_rows :]
    order = np.argsort(theirs, kind="stable")
    place = (np.searchsorted(theirs, mine, side="right", sorter=order) - 1).clip(0)  # the last of several rows
    is_there = theirs[order][place] == mine if len(rows) else np.zeros(len(mine), dtype=bool)
    known, other = np.flatnonzero(is_there), order[place[is_there]]
    is_same = number[:, known] == number[:, own.num_rows + other]
    return _Pairs(known, rows[other], is_same.T)


def _candidates(own: pa.Table, catalogue: pa.Table, first: str) -> IntArray:
    """The catalogue's rows that may have a key of the contribution's: the first column of the key is the same. All rows, if
    that column is not text.
    """
    if not pa.types.is_dictionary(own[first].type):
        return np.arange(catalogue.num_rows)
    named = own[first].unique().cast(pa.string()).drop_null().to_pylist()
    return np.flatnonzero(renumber(catalogue[first], named) >= 0)


def _conflict(own: TableFile, catalogue: TableFile, row: int, other: int, is_same: BoolArray) -> Finding:
    """The finding for a row that differs from the catalogue's, at the first cell that does."""
    schema, cells, theirs = own.source.schema, own.text.cells(row), catalogue.text.cells(other)
    places = np.flatnonzero(~is_same).tolist()
    found, expected = (
        ", ".join(f"{schema.names[place]} {quoted(one[place]) if one[place] else 'nothing'}" for place in places)
        for one in (cells, theirs)
    )
    expected = f"as the catalogue has it for {row_key(schema, theirs)}: {expected}"
    return own.finding("conflicting-key", row, schema.names[places[0]], found, expected, own_key(schema))


# Foreign keys: one finding an id that no row has, under that of the row that should have had it if there is one


def slug(text: str) -> str:
    """A text as it would be written as an id."""
    return _NO_SLUG.sub("-", text.lower()).strip("-")


def alike(one: str, other: str) -> float:
    """How alike two texts are as ids, from 0 to 1; 0 if they are too different to be the same id written twice."""
    a, b = slug(one), slug(other)
    if not a or not b or len(a) > 4 * len(b) or len(b) > 4 * len(a):
        return float(a == b and bool(a))
    ratio = difflib.SequenceMatcher(None, a[:80], b[:80]).ratio()
    return ratio if ratio >= _LIKE else 0.0


class Nearest:
    """Known ids, and which of them an unknown id may have meant."""

    def __init__(self, known: Iterable[str]) -> None:
        self.known = set(known)
        self._by_end: dict[str, list[str]] = defaultdict(list)
        self._near: dict[str, list[str]] = {}

    def to(self, text: str) -> list[str]:
        """Up to three known ids near `text`, the nearest first."""
        if text not in self._near:
            self._near[text] = self._look(slug(text)) if len(self._near) < _MOST else []
        return self._near[text]

    def _look(self, wanted: str) -> list[str]:
        if wanted in self.known:
            return [wanted]
        if not self._by_end:
            for one in sorted(self.known):
                for end in {one[:_ENDS], one[-_ENDS:]}:
                    self._by_end[end].append(one)
        near = {one for end in (wanted[:_ENDS], wanted[-_ENDS:]) for one in self._by_end.get(end, ())}
        likely = [one for one in sorted(near) if abs(len(one) - len(wanted)) <= _ENDS]
        return difflib.get_close_matches(wanted[:80], likely, 3, _LIKE)


class _Orphan(NamedTuple):
    """An id that a column of a file refers to and that no row has, with the rows that name it."""

    file: TableFile
    column: str
    named: Named


def check_references(tables: TableFiles) -> None:
    """A finding for every unknown id, in the file that first names it; the rows that name it are left out.

    If a table could not be read to its end, nothing is said about ids that refer to it: they may stand in the rest.
    """
    children: dict[tuple[str, str], list[tuple[TableFile, str]]] = defaultdict(list)
    for listed in tables.values():
        for file in listed:
            for key in file.source.schema.foreign_keys:
                children[key.table, key.parent].append((file, key.field))
    orphans: list[_Orphan] = []
    for (table, column), named_by in children.items():
        parents = tables.get(table, ())
        if parents and all(file.text.is_whole for file in parents):
            known = Nearest(set().union(*(file.ids(column) for file in parents)))
            unknown = [_Orphan(file, name, one) for file, name in named_by for one in file.unknown(name, known.known)]
            _report(table, column, parents, unknown, known)
            orphans += unknown
    _leave_out(orphans)


def _leave_out(orphans: list[_Orphan]) -> None:
    """Take the rows that name unknown ids out of the sound ones."""
    columns: dict[tuple[int, str], tuple[TableFile, list[str]]] = {}
    for orphan in orphans:
        columns.setdefault((id(orphan.file), orphan.column), (orphan.file, []))[1].append(orphan.named.value)
    for (_, column), (file, values) in columns.items():
        file.leave_out(np.asarray(renumber(file.data[column], values) >= 0))


def _report(table: str, column: str, parents: Sequence[TableFile], orphans: list[_Orphan], known: Nearest) -> None:
    """Add a finding for each id that is no `column` of `table`. If the cause is a finding in the parent table, both are made to
    be about the same thing, so that the check lists this one under that.
    """
    by_id: dict[tuple[int, str], list[_Orphan]] = defaultdict(list)
    for orphan in orphans:
        by_id[orphan.file.source.layer, orphan.named.value].append(orphan)
    causes = _causes(parents, column, [value for _, value in by_id])
    shared: dict[tuple[int, int], str] = {}
    listed = list(by_id.items())
    for (_, value), named in listed[:MANY]:
        first = named[0]
        found, expected = f"{quoted(value)}, named by {_counted(named)}", f"the {column} of a row of {table}.csv"
        about = value
        if (cause := causes.get(value)) is not None:
            file, place = cause
            about = shared.setdefault((id(file), place), f"{table}.csv {value}")
            file.findings[place] = replace(file.findings[place], about=about)
        fix = _mend(value, known, f"{table}.csv")
        finding = first.file.finding("reference", first.named.first, first.column, found, expected, fix)
        first.file.findings.append(replace(finding, about=about))
    if len(listed) > MANY:
        last = listed[0][1][0].file.findings
        last[-1] = replace(last[-1], found=f"{last[-1].found}; and {len(listed) - MANY} ids more that no row has")


def _counted(named: Sequence[_Orphan]) -> str:
    rows: dict[str, int] = defaultdict(int)
    for orphan in named:
        rows[orphan.file.source.table] += orphan.named.rows
    (table, number), *others = rows.items()
    first = f"{number} row{'s' if number != 1 else ''} of {table}"
    return " and ".join([first, *(f"{count} of {other}" for other, count in others)])


def _mend(value: str, known: Nearest, file: str) -> str:
    near = known.to(value)
    return f"Write {' or '.join(near)}, or add a row for it to {file}" if near else f"Add a row for it to {file}"


def _causes(parents: Sequence[TableFile], column: str, unknown: list[str]) -> dict[str, tuple[TableFile, int]]:
    """For unknown ids the finding at the parent row that was probably meant to have it, as a file and a place in its list.

    It is the finding whose row has the most similar id; or, if one id and one row without a usable id are left, that one.
    """
    faulty = [
        (file, place, one)
        for file in parents
        for place, one in enumerate(file.findings)
        if one.line is not None and (one.column in (None, column) or one.code == "repeated-key")
    ][:_COMPARED]
    causes: dict[str, tuple[TableFile, int]] = {}
    for value in unknown[:_COMPARED]:
        likeness = [(alike(value, one.about), -number) for number, (_, _, one) in enumerate(faulty)]
        if likeness and max(likeness)[0] > 0:
            causes[value] = faulty[-max(likeness)[1]][:2]
    blank = [(file, place) for file, place, one in faulty if not one.about or one.code == "repeated-key"]
    left = [value for value in unknown if value not in causes]
    if len(blank) == 1 and len(left) == 1:
        causes[left[0]] = blank[0]
    return causes
