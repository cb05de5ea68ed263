"""The operations on what was admitted: correct a cell, withdraw rows, rename an id, merge two, forget a person.

Each gives a `Plan` for `amending.amend`: which rows of which tables change, and what the log says of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from gapbook.errors import fail
from gapbook.intake.accepting import is_at
from gapbook.intake.amending import Plan
from gapbook.intake.log import ADMISSIONS, Correction, subject_column
from gapbook.intake.merging import Repeats
from gapbook.intake.table_files import row_key
from gapbook.tables.cells import cell_problem
from gapbook.tables.package import LOG_TABLES, RAW_TABLES, Package
from gapbook.tables.rewriting import Edit, Row, Touched, rows_with, written

KINDS = ("frames", "specimens", "instruments", "contributors", "testers", "playtests")
"""Tables whose rows have an id of their own."""
_READ = ("spacings", "readings")
_PEOPLE = {"exceptions": "who", "corrections": "who", "admissions": "who"}
"""Columns that name a contributor without a reference in the schema."""
_Also = Callable[[str, Row], Row | None]
"""What else is done to a row of a table; None takes it out."""
NAMED = 5
"""Rows that are named if a place means several."""


def tables_of(package: Package) -> list[str]:
    """The raw tables and logs that the package has and whose files are there."""
    return [name for name in (*RAW_TABLES, *LOG_TABLES) if name in package.resources and package.path(name).exists()]


def found_at(package: Package, place: str, table: str | None = None) -> list[tuple[str, str, Row]]:
    """Table, key and cells of the rows that a place means: of those whose key it is, else of all whose key has its parts.

    package: where to look
    place: a row's key, or parts of it
    table: the table to look in; None: all but the logs
    """
    found = []
    for name in [table] if table else [one for one in tables_of(package) if one not in LOG_TABLES]:
        schema = package.schema(name)
        for row in rows_with(package, name, [place.split("/")[0]]):
            key = row_key(schema, list(row.values()))
            if is_at(key, place):
                found.append((name, key, row))
    return [one for one in found if one[1] == place] or found


# Correct


def correct(package: Package, place: str, column: str, value: str, table: str | None = None) -> Plan:
    """One cell of one row gets another value.

    package: where
    place: the row's key, or parts of it that no other row has
    column: the cell's column
    value: the new value, as it is to be written
    table: the row's table, if the place does not say it

    GapbookError `no-row`, `ambiguous-place`, `bad-column`, `bad-value` or `nothing-to-change`.
    """
    found = [one for one in found_at(package, place, table) if column in one[2]]
    if not found:
        raise fail(
            "no-row", f"no row with a column {column} is called so", found=place, expected="a row's key, as check shows it"
        )
    if len(found) > 1:
        expected = "one of " + ", ".join(f"{key} ({name})" for name, key, _ in found[:NAMED])
        raise fail("ambiguous-place", f"{place} means {len(found)} rows", found=place, expected=expected)
    (name, key, row) = found[0]
    schema = package.schema(name)
    if column in schema.primary_key:
        fix = "gapbook rename changes an id everywhere; for another day or person withdraw the row and admit it anew"
        raise fail("bad-column", f"{column} is part of the row's key", found=column, fix=fix)
    item = schema.field(column)
    if not all(sign.isprintable() for sign in value) or cell_problem(item, value):
        raise fail("bad-value", f"this cannot stand in {column}", found=repr(value), expected=item.says())
    if row[column] == value:
        raise fail("nothing-to-change", f"{column} of {key} is {value} already")

    def change(one: Row) -> Row | None:
        return {**one, column: value} if row_key(schema, list(one.values())) == key else one

    told = [Correction(name, key, "corrected", column, row[column], value)]
    return Plan({name: Edit((place.split("/")[0],), change)}, lambda touched: told, _specimen(row))


def _specimen(row: Row) -> frozenset[str]:
    return frozenset({row["specimen_id"]} if "specimen_id" in row else ())


# Withdraw


def withdraw(package: Package, place: str, table: str | None = None) -> Plan:
    """Rows are taken out: one; those of a session (specimen, person, instrument, day); or a specimen with all its readings.

    package: where
    place: a specimen or another id, a row's key, or parts of keys that all rows of a session share
    table: the table to look in; None: all

    GapbookError `no-row`.
    """
    found = found_at(package, place, table)
    if not found:
        raise fail(
            "no-row", "nothing is called so", found=place, expected="a specimen, or a row's key or parts of it, with slashes"
        )
    if [name for name, key, _ in found if name == "specimens" and key == place]:
        return _withdrawn_specimen(package, place)
    keys = {name: {key for one, key, _ in found if one == name} for name, _, _ in found}
    edits = {name: Edit((place.split("/")[0],), partial(_without, package, name, some)) for name, some in keys.items()}
    excused = set().union(*keys.values())
    if "exceptions" in tables_of(package) and "exceptions" not in edits:
        edits["exceptions"] = Edit((place.split("/")[0],), lambda row: None if row["row_key"] in excused else row)

    def told(touched: Mapping[str, Sequence[Touched]]) -> list[Correction]:
        return [_told(package, name, place, rows) for name, rows in touched.items() if name in keys]

    return Plan(edits, told, frozenset().union(*(_specimen(row) for _, _, row in found)))


def _without(package: Package, table: str, keys: set[str], row: Row) -> Row | None:
    return None if row_key(package.schema(table), list(row.values())) in keys else row


def _told(package: Package, table: str, place: str, rows: Sequence[Touched]) -> Correction:
    """What the log says of withdrawn rows: of a single one its key and cells, of several how many they are."""
    if len(rows) > 1:
        return Correction(table, place, "withdrawn", old=f"{len(rows)} rows")
    cells = list(rows[0].before.values())
    return Correction(table, row_key(package.schema(table), cells), "withdrawn", old=written(cells).decode())


def _withdrawn_specimen(package: Package, specimen: str) -> Plan:
    edits = {}
    for table in tables_of(package):
        if table in LOG_TABLES:
            continue
        if table == "exceptions":
            edits[table] = Edit((specimen,), lambda row: None if row["row_key"].split("/")[0] == specimen else row)
        elif "specimen_id" in package.schema(table).names:
            edits[table] = Edit((specimen,), lambda row: None if row["specimen_id"] == specimen else row)

    def told(touched: Mapping[str, Sequence[Touched]]) -> list[Correction]:
        return [_told(package, name, specimen, rows) for name, rows in touched.items() if name != "exceptions"]

    return Plan(edits, told, frozenset({specimen}))


# Rename


class Renaming(NamedTuple):
    """An id that becomes another, in the table whose key it is and wherever it is used."""

    table: str
    old: str
    new: str


def kind_of(package: Package, name: str, table: str | None) -> str:
    """The table that has an id. GapbookError `no-row` if none has, `ambiguous-id` if several have and none is named."""
    found = [one for one in ([table] if table else KINDS) if one in tables_of(package) and _has(package, one, name)]
    if not found:
        raise fail("no-row", "no row has this id", found=name, expected="an id of " + (table or ", ".join(KINDS)))
    if len(found) > 1:
        raise fail("ambiguous-id", f"{name} is an id in several tables", found=", ".join(found), fix=f"Say --table {found[0]}")
    return found[0]


def _has(package: Package, table: str, name: str) -> bool:
    column = package.schema(table).primary_key[0]
    return any(row[column] == name for row in rows_with(package, table, [name]))


def rename(package: Package, old: str, new: str, table: str | None = None) -> Plan:
    """An id becomes another, everywhere it is used: in references, in row keys of exceptions and of the logs.

    package: where
    old: the id as it is
    new: the id it is to have
    table: the table whose key it is, if several have it

    GapbookError `no-row`, `ambiguous-id`, `bad-id`, or `id-in-use` if there is a row of the new id already.
    """
    kind = kind_of(package, old, table)
    _must_be_free(package, kind, new)
    told = [Correction(kind, new, "renamed", old=old, new=new)]
    edits = _edits(package, [Renaming(kind, old, new)])
    specimens = frozenset({new} if kind == "specimens" else ())
    people = {old: new} if kind == "contributors" else {}
    renamed = {old: new} if kind in ("frames", "specimens") else {}
    return Plan(edits, lambda touched: told, specimens, people=people, renamed=renamed)


def _must_be_free(package: Package, kind: str, new: str) -> None:
    item = package.schema(kind).field(package.schema(kind).primary_key[0])
    if cell_problem(item, new):
        raise fail("bad-id", "this cannot be an id", found=new, expected=item.says())
    if _has(package, kind, new):
        raise fail("id-in-use", f"{kind}.csv has {new} already", fix="If both are one, gapbook merge makes them so")


def _edits(package: Package, renamings: Sequence[Renaming], also: _Also | None = None) -> dict[str, Edit]:
    """The edits of all tables that use the ids.

    package: where
    renamings: the ids
    also: what else is done to a row of a table, after its ids; None to take it out
    """
    needles = tuple(one.old for one in renamings)
    return {table: Edit(needles, partial(_renamed, package, table, renamings, also)) for table in tables_of(package)}


def _renamed(
    package: Package,
    table: str,
    renamings: Sequence[Renaming],
    also: _Also | None,
    row: Row,
) -> Row | None:
    after = dict(row)
    for one in renamings:
        for column in _columns(package, table, one.table):
            if after[column] == one.old:
                after[column] = one.new
        for column, of in _keyed(table, row).items():
            after[column] = _in_key(package, after[column], of, one)
        if table == ADMISSIONS and subject_column(package, row["table"]) in _columns(package, row["table"], one.table):
            after["subject"] = one.new if after["subject"] == one.old else after["subject"]
    result = after if also is None else also(table, after)
    return row if result == row else result


def _columns(package: Package, table: str, kind: str) -> list[str]:
    """The columns of a table that hold an id of `kind`."""
    schema = package.schema(table)
    columns = [key.field for key in schema.foreign_keys if key.table == kind]
    if table == kind:
        columns.append(schema.primary_key[0])
    if kind == "contributors" and table in _PEOPLE:
        columns.append(_PEOPLE[table])
    return columns


def _keyed(table: str, row: Row) -> dict[str, tuple[str, ...]]:
    """The columns of a row that hold other rows' keys, and the tables that these may be of."""
    if table == "exceptions":
        return {"row_key": tuple(name for name in RAW_TABLES if name != "exceptions")}
    if table == "corrections" and row["table"] in RAW_TABLES:
        return {"row_key": (row["table"],)}
    if table == ADMISSIONS and row["table"] == "exceptions":
        return {"subject": tuple(name for name in RAW_TABLES if name != "exceptions")}
    return {}


def _in_key(package: Package, key: str, tables: Sequence[str], one: Renaming) -> str:
    """A row's key with an id renamed where a key of one of the tables has it."""
    parts = key.split("/")
    for table in tables:
        if table not in package.resources or len(parts) > len(names := package.schema(table).primary_key):
            continue
        for column in _columns(package, table, one.table):
            place = names.index(column) if column in names else len(parts)
            if place < len(parts) and parts[place] == one.old:
                parts[place] = one.new
    return "/".join(parts)


# Merge


def merge(package: Package, kept: str, other: str, table: str | None = None) -> Plan:
    """Two ids that are one thing: `other` goes, and what named it names `kept`.

    package: where
    kept: the id that stays
    other: the id that goes
    table: the table whose keys they are, if several have them

    Readings that would then have one key get the next repeat numbers; if they are the same figures they are dropped.
    GapbookError `no-row`, `ambiguous-id`, or `nothing-to-change`.
    """
    kind = kind_of(package, kept, table)
    kind_of(package, other, kind)
    if kept == other:
        raise fail("nothing-to-change", f"{kept} is one already")
    key = package.schema(kind).primary_key[0]
    repeats = {name: Repeats(package, name, partial(_plain, package, name, kind, kept, other)) for name in _READ}
    seen: set[tuple[str, str]] = set()

    def change(name: str, row: Row) -> Row | None:
        one = Renaming(kind, other, kept)
        if name == kind and row[key] == other:
            return None
        after = _renamed(package, name, [one], None, row)
        assert after is not None
        if name in repeats and after is not row:
            return repeats[name].apart(row, after)
        if name == "exceptions":
            said = after["rule"], after["row_key"]
            if said in seen:
                return None
            seen.add(said)
        return after

    both = {"exceptions": (kept, other)}
    edits = {name: Edit(both.get(name, (other,)), partial(change, name)) for name in tables_of(package)}
    told = [Correction(kind, kept, "merged", old=other, new=kept)]
    specimens = frozenset({kept, other} if kind == "specimens" else ())
    return Plan(edits, lambda touched: told, specimens, people={other: kept} if kind == "contributors" else {})


def _plain(package: Package, table: str, kind: str, kept: str, other: str) -> tuple[list[Row], list[tuple[Row, Row]]]:
    """The rows that name `kept`, and those that name `other` before and after it is renamed."""
    columns = _columns(package, table, kind)
    first, second = [], []
    for row in rows_with(package, table, [kept, other]):
        named = {row[column] for column in columns}
        if other in named:
            second.append((row, {**row, **{column: kept for column in columns if row[column] == other}}))
        elif kept in named:
            first.append(row)
    return first, second


# Forget


def forget(package: Package, person: str) -> Plan:
    """A person's name and id go out, and a pseudonym comes in, in every table and log; readings stay.

    Ids that end in the person's id (of copies and instruments) change with it. GapbookError `no-row`.
    """
    kind_of(package, person, "contributors")
    (row,) = [one for one in rows_with(package, "contributors", [person]) if one["contributor_id"] == person]
    name = row["name"]
    number = 1
    while _has(package, "contributors", f"person-{number}"):
        number += 1
    pseudonym, shown = f"person-{number}", f"Person {number}"
    renamings = [Renaming("contributors", person, pseudonym)]
    for table in ("frames", "specimens", "instruments"):
        column = package.schema(table).primary_key[0]
        ids = [one[column] for one in rows_with(package, table, [person])]
        renamings += [Renaming(table, one, one.removesuffix(person) + pseudonym) for one in ids if one.endswith(f"-{person}")]
    either = "|".join(re.escape(one) for one in sorted({name, person}, key=len, reverse=True))
    words = re.compile(rf"\b(?:{either})\b", re.IGNORECASE)

    def also(table: str, one: Row) -> Row | None:
        if table == "contributors" and one["contributor_id"] == pseudonym:
            own = {"contributor_id": pseudonym, "name": shown, "since": one["since"]}
            return {column: own.get(column, "") for column in one}
        free = {"folder"} if table == ADMISSIONS else _free_text(package, table)
        return {column: words.sub(shown, text) if column in free else text for column, text in one.items()}

    edits = {
        table: Edit((person, name, name.lower(), name.title()), edit.change)
        for table, edit in _edits(package, renamings, also).items()
    }
    first = {part for part in re.split(r"[-\s]+", f"{person} {name.lower()}") if len(part) > 2}
    left = sorted(one.new for one in _ids(package) if one.new.rsplit("-", 1)[-1] in first and not one.new.endswith(pseudonym))
    notes = ["Versions before this one, in version control and in exports, still hold the name."]
    if left:
        notes.append(f"These ids hold part of the name; gapbook rename changes them: {', '.join(left[:NAMED])}")
    if name.lower() in str(package.descriptor).lower():
        notes.append("The descriptor, datapackage.json, names them too; edit it.")
    told = [Correction("contributors", pseudonym, "forgotten")]
    specimens = {one.new for one in renamings if one.table == "specimens"}
    renamed = {one.old: one.new for one in renamings if one.table in ("frames", "specimens")}
    return Plan(edits, lambda touched: told, frozenset(specimens), tuple(notes), {person: pseudonym}, renamed)


def _ids(package: Package) -> list[Renaming]:
    """Every id of copies and instruments."""
    return [
        Renaming(table, row[column], row[column])
        for table in ("specimens", "instruments")
        for column in package.schema(table).primary_key[:1]
        for row in rows_with(package, table, [""])
    ]


def _free_text(package: Package, table: str) -> set[str]:
    """The columns of a table that hold free text: neither ids nor words of a list."""
    schema = package.schema(table)
    texts = [item for item in schema.fields if item.type == "string" and item.name not in schema.primary_key]
    return {item.name for item in texts if not item.enum and (item.pattern is None or item.name == "reason")}
