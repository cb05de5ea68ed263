"""What is remembered of changes to a catalogue: rows of corrections.csv and of admissions.csv."""

from __future__ import annotations

import csv
import datetime
import hashlib
import os
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from gapbook.intake.layers import Layer
from gapbook.tables.cells import cell_problem
from gapbook.tables.files import open_file
from gapbook.tables.package import Package
from gapbook.tables.rewriting import Row, rows_with, written

CORRECTIONS, ADMISSIONS = "corrections", "admissions"
SUBJECT = {"playtests": "specimen_id", "exceptions": "row_key"}
"""The column that says what a row is about, where it is not the first of the table's key."""
_LONGEST = 400
"""Characters of an old or new value that are kept."""


class Correction(NamedTuple):
    """One row of corrections.csv, without day, number, reason and person.

    table: the table that was changed
    row_key: the row, or what all rows concerned share
    what: corrected, withdrawn, renamed, merged or forgotten
    column: the column that was corrected
    old: what stood there
    new: what stands there now
    """

    table: str
    row_key: str
    what: str
    column: str = ""
    old: str = ""
    new: str = ""


def is_kept(package: Package, table: str) -> bool:
    """Whether the package has this log."""
    return table in package.resources


def correction_records(
    package: Package, corrections: Sequence[Correction], reason: str, who: str, today: datetime.date
) -> list[bytes]:
    """The records of corrections.csv, each with the next free number of its row and day.

    package: the package, whose corrections of the day are counted
    corrections: what was done
    reason: why
    who: who decided it
    today: the day
    """
    day = today.isoformat()
    used: Counter[tuple[str, str]] = Counter()
    if os.path.lexists(package.path(CORRECTIONS)):
        for row in rows_with(package, CORRECTIONS, [day]):
            key = row["table"], row["row_key"]
            used[key] = max(used[key], int(row["no"]) if row["decided_on"] == day and row["no"].isdigit() else 0)
    records = []
    names = package.schema(CORRECTIONS).names
    for one in corrections:
        key = one.table, one.row_key[:200]
        used[key] += 1
        said = {**one._asdict(), "row_key": key[1], "decided_on": day, "no": str(used[key]), "reason": reason, "who": who}
        said |= {name: _short(said[name]) for name in ("old", "new")}
        records.append(written([said.get(name, "") for name in names]))
    return records


def _short(text: str) -> str:
    """A value as it may stand in a log: no longer than allowed, and no spreadsheet's formula."""
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def digest_of(contribution: Layer) -> str:
    """The SHA-256 over a contribution's files: their names, lengths and bytes, in the order of their names."""
    whole = hashlib.sha256()
    for name, path in sorted(contribution.files.items()):
        with open_file(path, contribution.shown[name]) as stream:
            text = stream.read()
        whole.update(f"{name} {len(text)}\n".encode() + text)
    return whole.hexdigest()


def admission_records(
    package: Package, digest: str, folder: Path, rows: Mapping[str, Sequence[bytes]], who: str, today: datetime.date
) -> list[bytes]:
    """The records of admissions.csv for an admission: one for each table and subject.

    package: what the rows are admitted to
    digest: of the contribution (`digest_of`)
    folder: its folder, as it was named
    rows: the records that are added, by table
    who: who admits it; empty if nobody is named
    today: the day
    """
    schema = package.schema(ADMISSIONS)
    day = today.isoformat()
    numbers = [0]
    if os.path.lexists(package.path(ADMISSIONS)):
        numbers += [int(row["no"]) for row in rows_with(package, ADMISSIONS, [digest]) if row["admitted_on"] == day]
    called = folder.resolve().name
    if not called.isprintable() or cell_problem(schema.field("folder"), called):
        called = ""
    records = []
    for table, subjects in _subjects(package, rows).items():
        for subject, count in subjects.items():
            said = {
                "digest": digest, "admitted_on": day, "no": str(max(numbers) + 1), "table": table, "subject": subject,
                "rows": str(count), "folder": called, "who": who,
            }  # fmt: skip
            records.append(written([said.get(name, "") for name in schema.names]))
    return records


def _subjects(package: Package, rows: Mapping[str, Sequence[bytes]]) -> dict[str, Counter[str]]:
    """How many rows of each table are about what."""
    counted: dict[str, Counter[str]] = {}
    for table, records in rows.items():
        schema = package.schema(table)
        place = schema.names.index(subject_column(package, table))
        for cells in csv.reader(record.decode() for record in records) if records else ():
            counted.setdefault(table, Counter())[cells[place][:200]] += 1
    return counted


def subject_column(package: Package, table: str) -> str:
    """The column that says what a row of a table is about."""
    schema = package.schema(table)
    return SUBJECT.get(table, schema.primary_key[0] if schema.primary_key else schema.names[0])


def all_rows(package: Package, table: str) -> list[Row]:
    """Every row of a log; none if the package lacks it."""
    if not is_kept(package, table) or not os.path.lexists(package.path(table)):
        return []
    return list(rows_with(package, table, [""]))
