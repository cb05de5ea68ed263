"""What frames declare: a release year that cannot be, and figures of which nobody knows whether they are with strings."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import days
from gapbook.intake.rule import Rule
from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.tables.handling import DECLARED
from gapbook.tables.units import renumber

AHEAD_DAYS = 183
"""How long before the first day of its release year a frame may be in somebody's hand: testers and shops have it some months
earlier. Common practice, no source."""
_READ = (("spacings", "taken_on"), ("readings", "taken_on"), ("playtests", "played_on"))


def look_release(context: CheckContext) -> Iterator[Finding]:
    """A finding for each frame that is released in a year to come, or was read long before its release year."""
    frames = context.tables["frames"]
    year = np.asarray(frames["release_year"].cast(pa.float64()).fill_null(np.nan))
    earliest = _earliest(context, np.array([_first_day(one) for one in year.tolist()]) - AHEAD_DAYS)
    for row in np.flatnonzero((year > context.today.year) | np.isfinite(earliest[0])).tolist():
        frame = str(context.cell("frames", row, "frame_id"))
        if year[row] > context.today.year:
            expected = f"{context.today.year} or before"
            yield Finding("frames", "release_year", f"{year[row]:.0f}, a year to come", expected, about=frame, rows=(row,))
        else:
            yield _read_before(context, row, frame, f"{year[row]:.0f}", earliest[:, row].tolist())


def _first_day(year: float) -> float:
    """The first day of a year, as days since 1970-01-01; NaN for NaN."""
    return (datetime.date(int(year), 1, 1) - datetime.date(1970, 1, 1)).days if year == year else float("nan")


def _earliest(context: CheckContext, before: FloatArray) -> FloatArray:
    """For each frame [F] the first day on which a copy of it was read or played, if that is before a day [F] (infinite if none
    was), and the place of the table in _READ [2, F].
    """
    ids = [str(one) for one in context.column("frames", "frame_id")]
    frame_of = np.append(renumber(context.tables["specimens"]["frame_id"], ids), -1)
    copies = [str(one) for one in context.column("specimens", "specimen_id")]
    found = np.stack([np.full(len(ids), np.inf), np.zeros(len(ids))])
    for place, (table, column) in enumerate(_READ):
        if table not in context.tables or not context.tables[table].num_rows:
            continue
        data = context.tables[table]
        frame, day = frame_of[renumber(data["specimen_id"], copies)], days(data[column])
        rows = np.flatnonzero(day < np.append(before, np.nan)[frame])
        rows = rows[_joined(context, table, rows)]
        first = np.full(len(ids), np.inf)
        np.minimum.at(first, frame[rows], day[rows])
        sooner = first < found[0]
        found[0, sooner], found[1, sooner] = first[sooner], place
    return found


def _joined(context: CheckContext, table: str, rows: IntArray) -> BoolArray:
    """Whether each of some rows of a table is of a day on which the person had joined; other rows have their own rule."""
    data = context.tables[table]
    if "contributor_id" not in data.column_names:
        return np.ones(len(rows), dtype=bool)
    some, people = data.select(["contributor_id", "taken_on"]).take(rows), context.tables["contributors"]
    since = np.append(days(people["since"]), np.iinfo(np.int64).min)
    person = renumber(some["contributor_id"], [str(one) for one in people["contributor_id"].to_pylist()])
    return np.asarray(days(some["taken_on"]) >= since[person])


def _read_before(context: CheckContext, row: int, frame: str, year: str, first: list[float]) -> Finding:
    """The finding about a frame that was read long before its year; at the frame, or if that is not the checked layer's, at
    the reading.
    """
    (table, column), day = _READ[int(first[1])], int(first[0])
    when = datetime.date(1970, 1, 1) + datetime.timedelta(days=day)
    if context.is_own("frames")[row]:
        found = f"{year}, and a copy was {'played' if table == 'playtests' else 'read'} on {when} already"
        return Finding("frames", "release_year", found, f"{when.year}, or a year before", about=frame, rows=(row,))
    rows = _rows_of(context, table, column, frame, day)
    found = f"{when}, of {frame}, which is declared to be released in {year}"
    also = context.first_own(table, rows)
    return Finding(table, column, found, f"{int(year) - 1} or later", about=frame, rows=(*also, int(rows[0])))


def _rows_of(context: CheckContext, table: str, column: str, frame: str, day: int) -> IntArray:
    """The rows of a table about the copies of a frame on a day."""
    specimens = context.tables["specimens"]
    mine = specimens.filter(pc.equal(specimens["frame_id"].cast(pa.string()), frame))["specimen_id"].to_pylist()
    data = context.tables[table]
    return np.flatnonzero((renumber(data["specimen_id"], mine) >= 0) & (days(data[column]) == day))


def look_strung(context: CheckContext) -> Iterator[Finding]:
    """A finding for each frame that declares a mass, balance or swingweight, and not whether it is with strings."""
    frames = context.tables["frames"]
    blank = np.asarray(pc.is_null(frames["strung"]))
    given = np.stack([~np.asarray(pc.is_null(frames[name])) for name in DECLARED])
    for row in np.flatnonzero(blank & given.any(axis=0)).tolist():
        known = [name for name, there in zip(DECLARED, given[:, row].tolist(), strict=True) if there]
        figures = ", ".join(f"{name} {context.cell('frames', row, name):g}" for name in known)
        yield Finding(
            "frames",
            "strung",
            f"nothing beside {figures}",
            "true if these are with strings, false if without",
            about=str(context.cell("frames", row, "frame_id")),
            rows=(row,),
        )


RULES = (
    Rule(
        "release-year",
        Severity.warning,
        "a release year that cannot be right",
        "A frame cannot be read before there is one. Testers and shops have it some months early, so readings from half a year "
        "before its release year on are let pass.",
        "common practice, no source",
        "Correct the year; if the reading is of an older edition, name the frame that it is of",
        look_release,
        follows=("future-date",),
    ),
    Rule(
        "strung-not-stated",
        Severity.warning,
        "a declared mass, balance or swingweight of which nobody knows whether it is with strings",
        "A string bed weighs about 16 g and adds about 30 kg·cm² of swingweight. Where `strung` is blank the figures are taken "
        "to be with strings, and a frame declared bare then seems light and quick.",
        "common practice, no source: the bed's mass and what it adds, as in handling.csv",
        "Look up in what state the maker gives the figures; most give them unstrung. Leave the figures out if nobody knows",
        look_strung,
    ),
)
