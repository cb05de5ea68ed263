"""What happened to a specimen, a frame or another id: admitted, corrected, accepted, read."""

from __future__ import annotations

from collections import Counter
from typing import Any, NamedTuple

from gapbook.errors import fail
from gapbook.intake.amendments import KINDS, tables_of
from gapbook.intake.log import ADMISSIONS, CORRECTIONS, all_rows
from gapbook.tables.package import Package
from gapbook.tables.rewriting import Row, rows_with

WHAT = ("read", "admitted", "accepted", "corrected", "withdrawn", "renamed", "merged", "forgotten")
"""What may happen, in the order in which it does on one day."""


class Event(NamedTuple):
    """Something that happened.

    on: the day
    what: one of WHAT
    table: the table concerned
    row_key: the row, or what all rows concerned share
    detail: what it was, in words
    who: who did it; empty if nobody is named
    reason: why
    """

    on: str
    what: str
    table: str
    row_key: str
    detail: str
    who: str = ""
    reason: str = ""

    def to_json(self) -> dict[str, Any]:
        """The event with the keys that programs rely on."""
        return self._asdict()


def history(package: Package, name: str) -> list[Event]:
    """What happened to an id, in the order of days; of a frame, what happened to its copies too.

    GapbookError `no-row` if nothing is, or was, called so.
    """
    names = _names(package, name)
    events = [*_read(package, names), *_admitted(package, names), *_accepted(package, names), *_corrected(package, names)]
    if not events and not any(_is_there(package, table, name) for table in KINDS if table in tables_of(package)):
        raise fail("no-row", "nothing is, or was, called so", found=name, expected="an id of the catalogue")
    return sorted(events, key=lambda one: (one.on, WHAT.index(one.what)))


def _is_there(package: Package, table: str, name: str) -> bool:
    column = package.schema(table).primary_key[0]
    return any(row[column] == name for row in rows_with(package, table, [name]))


def _names(package: Package, name: str) -> set[str]:
    """The id, its earlier ones, and the copies of a frame."""
    names = {name}
    for row in reversed(all_rows(package, CORRECTIONS)):
        if row["what"] in ("renamed", "merged") and row["new"] in names:
            names.add(row["old"])
    for one in sorted(names):
        names |= {row["specimen_id"] for row in rows_with(package, "specimens", [one]) if row["frame_id"] == one}
    return names


def _read(package: Package, names: set[str]) -> list[Event]:
    """The sessions in which copies were read."""
    sessions: Counter[tuple[str, ...]] = Counter()
    for table in ("spacings", "readings"):
        for row in rows_with(package, table, sorted(names)):
            if row["specimen_id"] in names:
                sessions[row["taken_on"], table, row["specimen_id"], row["contributor_id"], row["instrument_id"]] += 1
    return [
        Event(day, "read", table, specimen, f"{table}: {count} with {instrument}", person)
        for (day, table, specimen, person, instrument), count in sessions.items()
    ]


def _admitted(package: Package, names: set[str]) -> list[Event]:
    rows = [row for row in all_rows(package, ADMISSIONS) if row["subject"].split("/")[0] in names]
    return [Event(row["admitted_on"], "admitted", row["table"], row["subject"], _contribution(row), row["who"]) for row in rows]


def _contribution(row: Row) -> str:
    rows = f"{row['rows']} row{'' if row['rows'] == '1' else 's'} of {row['table']}"
    return f"{rows}, of the contribution {row['folder'] or '(unnamed)'} ({row['digest'][:12]})"


def _accepted(package: Package, names: set[str]) -> list[Event]:
    rows = [row for row in all_rows(package, "exceptions") if row["row_key"].split("/")[0] in names]
    return [
        Event(row["decided_on"], "accepted", "exceptions", row["row_key"], row["rule"], row["who"], row["reason"])
        for row in rows
    ]


def _corrected(package: Package, names: set[str]) -> list[Event]:
    rows = [row for row in all_rows(package, CORRECTIONS) if row["row_key"].split("/")[0] in names]
    return [
        Event(row["decided_on"], row["what"], row["table"], row["row_key"], _changed(row), row["who"], row["reason"])
        for row in rows
    ]


def _changed(row: Row) -> str:
    if row["what"] == "withdrawn":
        return f"{row['table']}: {row['old']}"
    said = f"{row['old'] or 'nothing'} → {row['new'] or 'nothing'}" if row["old"] or row["new"] else ""
    return f"{row['column']}: {said}" if row["column"] else said
