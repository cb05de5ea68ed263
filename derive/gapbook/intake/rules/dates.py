"""Days that cannot be right: days still to come, and readings from before the person joined."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import days, groups
from gapbook.intake.rule import Rule
from gapbook.science.grouping import IntArray, distinct
from gapbook.tables.units import codes, renumber

GRACE = 1
"""By how many days a day may be ahead, because somewhere it is tomorrow already."""
_DATES = (
    ("spacings", "taken_on", "specimen_id"),
    ("readings", "taken_on", "specimen_id"),
    ("playtests", "played_on", "playtest_id"),
    ("contributors", "since", "contributor_id"),
    ("exceptions", "decided_on", "rule"),
)
"""Tables, their column of days, and the column of what a row is about."""


def look_ahead(context: CheckContext) -> Iterator[Finding]:
    """A finding for each day after today, for readings one a session."""
    latest = (context.today - datetime.date(1970, 1, 1)).days + GRACE
    for table, column, subject in _DATES:
        if table not in context.tables:
            continue
        ahead = np.flatnonzero(days(context.tables[table][column]) > latest)
        for rows in _sessions(context, table, ahead) if table in ("spacings", "readings") else ahead[:, None]:
            row = int(rows[0])
            found = f"{context.cell(table, row, column)}{_more(len(rows))}"
            also = context.first_own(table, rows)
            yield Finding(
                table,
                column,
                found,
                f"{context.today} or before",
                about=_subject(context, table, row, subject),
                rows=(row, *also),
            )


def _subject(context: CheckContext, table: str, row: int, column: str) -> str:
    return str(context.cell(table, row, column)) if table != "exceptions" else ""


def _more(rows: int) -> str:
    return "" if rows == 1 else f", in {rows:,} rows"


def _sessions(context: CheckContext, table: str, rows: IntArray) -> Iterator[IntArray]:
    """Of some rows those of each specimen, person, instrument and day, in the order of the table."""
    if not len(rows):
        return
    data = context.tables[table].take(rows)
    day = days(data["taken_on"])
    each = distinct(*(codes(data[name]) + 1 for name in ("specimen_id", "contributor_id", "instrument_id")), day - day.min())
    for places in sorted(groups(each.number), key=lambda places: int(places[0])):
        yield rows[places]


def look_before(context: CheckContext) -> Iterator[Finding]:
    """A finding for each person with readings from before they joined."""
    people = context.tables["contributors"]
    ids = people["contributor_id"].to_pylist()
    since = np.append(days(people["since"]), np.iinfo(np.int64).min)
    early: dict[int, dict[str, IntArray]] = {}
    for table in ("spacings", "readings"):
        data = context.tables[table]
        person = renumber(data["contributor_id"], ids)
        rows = np.flatnonzero(days(data["taken_on"]) < since[person])
        for places in groups(person[rows]):
            early.setdefault(int(person[rows[places[0]]]), {})[table] = rows[places]
    for number, tables in sorted(early.items()):
        own = [table for table, rows in tables.items() if context.first_own(table, rows)]
        table = (own or list(tables))[0]
        rows = tables[table]
        row = int(rows[0])
        total = sum(len(some) for some in tables.values())
        found = f"{context.cell(table, row, 'taken_on')}{_more(total)}"
        expected = f"{people['since'][number].as_py()} or after, when {ids[number]} joined"
        also = context.first_own(table, rows)
        yield Finding(table, "taken_on", found, expected, about=ids[number], rows=(row, *also))


RULES = (
    Rule(
        "future-date",
        Severity.error,
        "a day that is still to come",
        f"What was read, played or decided lies behind us; {GRACE} day is allowed for, because it is tomorrow already "
        "elsewhere.",
        "common practice, no source",
        "Correct the day; the year and the order of day and month are the usual slips",
        look_ahead,
    ),
    Rule(
        "before-joining",
        Severity.warning,
        "readings from before the person joined",
        "Either the day of the reading is wrong, or that of joining, or somebody else read.",
        "common practice, no source",
        "Correct the day, the person, or `since` in contributors.csv",
        look_before,
        follows=("future-date",),
    ),
)
