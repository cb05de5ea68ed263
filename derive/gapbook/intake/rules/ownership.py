"""Whose things are read: ids that anybody would choose, and specimens and instruments that somebody else brought in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION
from gapbook.intake.rule import Rule
from gapbook.science.grouping import distinct
from gapbook.tables.reader import texts
from gapbook.tables.units import codes, renumber

_READ = ("spacings", "readings")
"""Tables of readings: each row names a contributor, a specimen and an instrument."""
_PERSON = (
    r"me|myself|mine|my|i|you|your-?name|name|user|someone|somebody|anyone|nobody|anonymous|unknown|contributor|contributor-id"
)
_PLACEHOLDERS = {
    "contributor_id": (_PERSON, "contributors", *_READ),
    "tester_id": (rf"{_PERSON}|tester|tester-id", "testers", "playtests"),
    "specimen_id": (r"my-.*|(?:.*-)?(?:me|mine|my)|specimen|specimen-id|copy", "specimens", *_READ, "playtests"),
    "instrument_id": (r"my-.*|(?:.*-)?(?:me|mine|my)|instrument|instrument-id", "instruments", *_READ),
    "frame_id": (r"my-\d+x\d+|\d+x\d+(?:-me)?|frame|frame-id", "frames", "specimens"),
}
"""For each id what no id may be, and the tables that have it, the one it is the key of first. Common practice, no source."""


def look_placeholders(context: CheckContext) -> Iterator[Finding]:
    """One finding for each id that anybody would choose, at the first row that has it."""
    for name, (words, *tables) in _PLACEHOLDERS.items():
        refused, told = re.compile(words), set[str]()
        for table in tables:
            if table not in context.tables:
                continue
            column, own = context.tables[table][name], context.is_own(table)
            code = codes(column)
            for number, value in enumerate(texts(column)):
                if value not in told and refused.fullmatch(value) and len(rows := np.flatnonzero(own & (code == number))):
                    told.add(value)
                    yield _placeholder(table, name, value, int(rows[0]))


def _placeholder(table: str, name: str, value: str, row: int) -> Finding:
    whose = "the person's own, such as ada-moss" if name in ("contributor_id", "tester_id") else "one that says whose it is"
    return Finding(table, name, value, f"an id that nobody else would choose: {whose}", about=value, rows=(row,))


def look_others(context: CheckContext, name: str) -> Iterator[Finding]:
    """One finding for each person in a contribution and each thing (`name`: specimen_id or instrument_id) that they read, or
    read with, and that in the catalogue only others did.
    """
    if context.own != CONTRIBUTION:
        return
    told: set[tuple[str, str]] = set()
    owners: dict[str, list[str]] = {}
    pairs: list[tuple[str, str, str, int]] = []
    for table in _READ:
        pairs += [(person, thing, table, row) for person, thing, row in _pairs(context, table, name, CONTRIBUTION)]
    things = {thing for _, thing, _, _ in pairs}
    for table in _READ:
        for person, thing, _ in _pairs(context, table, name, CATALOGUE, things):
            owners.setdefault(thing, []).append(person)
    for person, thing, table, row in pairs:
        theirs = list(dict.fromkeys(owners.get(thing, ())))
        if theirs and person not in theirs and (person, thing) not in told:
            told.add((person, thing))
            specimen = str(context.cell(table, row, "specimen_id"))
            yield replace(_others(table, name, person, thing, theirs, row), about=specimen)


def _pairs(
    context: CheckContext, table: str, name: str, layer: int, things: set[str] | None = None
) -> Iterator[tuple[str, str, int]]:
    """Each person and thing that rows of a layer name together, with the first such row, in the order of the rows.

    context: the context of the check
    table: a table of readings
    name: the column of the thing
    layer: whose rows
    things: which things; None: all
    """
    data = context.tables[table]
    chosen = context.read.layer[table] == layer
    if things is not None:
        chosen &= renumber(data[name], sorted(things)) >= 0
    rows = np.flatnonzero(chosen)
    each = distinct(codes(data["contributor_id"])[rows], codes(data[name])[rows])
    for row in sorted(rows[each.first].tolist()):
        yield str(context.cell(table, row, "contributor_id")), str(context.cell(table, row, name)), row


def _others(table: str, name: str, person: str, thing: str, owners: list[str], row: int) -> Finding:
    verb = "reads" if name == "specimen_id" else "reads with"
    theirs = " and ".join(owners[:2]) + (f" and {len(owners) - 2} more" if len(owners) > 2 else "")
    found = f"{person} {verb} {thing}, which {theirs} brought in"
    return Finding(table, name, found, f"a {name} of {person}'s own, or the very same thing", rows=(row,))


PLACEHOLDER = Rule(
    "placeholder",
    Severity.error,
    "an id that anybody would choose",
    "Two people who both call themselves `me`, or their copy FRAME-mine, become one person or one copy in the catalogue.",
    "common practice, no source",
    "Write an id that carries your contributor_id (gapbook sheet --contributor does), in every table that names it",
    look_placeholders,
)
OTHERS_SPECIMEN = Rule(
    "others-specimen",
    Severity.warning,
    "a specimen that somebody else brought in",
    "Readings of two copies under one specimen_id are averaged as if they were of one. Two people may read one copy, and then "
    "they should say so. Looked at in contributions only.",
    "common practice, no source",
    "Name your own copy otherwise; if it is the very same copy, accept this with a reason that says so",
    partial(look_others, name="specimen_id"),
    of_contributions=True,
)
OTHERS_INSTRUMENT = Rule(
    "others-instrument",
    Severity.warning,
    "an instrument that somebody else brought in",
    "What is read with one instrument shares its error, so two instruments under one id make verdicts too sure or not sure "
    "enough. Looked at in contributions only.",
    "common practice, no source",
    "Describe your own instrument under its own id; if it is the very same one, accept this with a reason that says so",
    partial(look_others, name="instrument_id"),
    follows=("instrument-dimension",),
    of_contributions=True,
)
RULES = (PLACEHOLDER, OTHERS_SPECIMEN, OTHERS_INSTRUMENT)
