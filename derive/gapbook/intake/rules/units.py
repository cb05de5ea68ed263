"""Units: known, and of the right dimension. A wrong unit in a whole session is one finding, at its first row."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import BASES, UNIT_COLUMNS, UnitFit, wanted_bases
from gapbook.intake.rule import Rule
from gapbook.intake.rules import likely
from gapbook.science.grouping import BoolArray, IntArray, distinct
from gapbook.science.units import lookup, names
from gapbook.tables.units import codes

SUBJECT = {"spacings": "specimen_id", "readings": "specimen_id", "instruments": "instrument_id", "playtests": "playtest_id"}
SESSION = {
    "spacings": ("specimen_id", "contributor_id", "instrument_id", "taken_on", "kind"),
    "readings": ("specimen_id", "quantity", "strung", "contributor_id", "instrument_id", "taken_on"),
}
"""The columns whose cells the rows of one session share."""
MEASURES = {"mm": "a length", "cm2": "an area", "g": "a mass", "kg.cm2": "a moment of inertia", "N": "a force"}
OF_KIND = {
    "calliper": ("mm",), "rule": ("mm",), "balance_board": ("mm",), "photo": ("mm", "cm2"), "scale": ("g",),
    "swing_rig": ("kg.cm2",), "planimeter": ("cm2",),
}  # fmt: skip
"""What an instrument of a kind can measure, as computing units."""


class _Group(NamedTuple):
    """Rows of one session with one fault: the first, and how many."""

    table: str
    row: int
    rows: int


def _groups(context: CheckContext, table: str, bad: BoolArray) -> Iterator[_Group]:
    """Bad rows of a table, session by session and unit by unit; tables without sessions row by row."""
    rows = np.flatnonzero(bad)
    if table not in SESSION or not len(rows):
        yield from (_Group(table, row, 1) for row in rows.tolist())
        return
    data = context.tables[table].select([*SESSION[table], "unit"]).take(rows)
    each = distinct(*(_coded(data[name]) for name in data.column_names))
    counts = np.bincount(each.number)
    yield from (_Group(table, int(rows[first]), int(count)) for first, count in zip(each.first, counts, strict=True))


def _coded(column: object) -> IntArray:
    """Any column as codes from 0."""
    chunked = column.dictionary_encode().unify_dictionaries()  # type: ignore[attr-defined]
    return codes(chunked) + 1


def _all(context: CheckContext, pick: Callable[[UnitFit], BoolArray]) -> Iterator[_Group]:
    for table, fit in context.units.items():
        yield from _groups(context, table, pick(fit))


def _wanted(context: CheckContext, group: _Group) -> list[str]:
    """The computing units that a row's value may be in."""
    if group.table == "instruments":
        return list(OF_KIND[str(context.cell("instruments", group.row, "kind"))])
    base = int(wanted_bases(context.package, group.table, context.tables[group.table].slice(group.row, 1))[0])
    return [BASES[base]]


def _finding(context: CheckContext, group: _Group, column: str, found: str, expected: str, fix: str = "") -> Finding:
    about = str(context.cell(group.table, group.row, SUBJECT[group.table]))
    several = f" in {group.rows} rows of this session" if group.rows > 1 else ""
    return Finding(group.table, column, found + several, expected, fix, about=about, rows=(group.row,))


def _list(bases: list[str]) -> str:
    return "one of " + ", ".join(name for base in bases for name in names(base))


def _unknown(context: CheckContext) -> Iterator[Finding]:
    for group in _all(context, lambda fit: fit.unknown):
        column = UNIT_COLUMNS[group.table]
        yield _finding(
            context, group, column, repr(context.cell(group.table, group.row, column)), _list(_wanted(context, group))
        )


def _dimension(context: CheckContext) -> Iterator[Finding]:
    for group in _all(context, lambda fit: fit.other):
        yield _of_other_dimension(context, group)
    tools = context.tables["instruments"]
    for row, (kind, text) in enumerate(zip(tools["kind"].to_pylist(), tools["unit"].to_pylist(), strict=True)):
        unit = lookup(text)
        if unit is not None and unit.base not in OF_KIND[kind]:
            yield _of_other_dimension(context, _Group("instruments", row, 1))


def _of_other_dimension(context: CheckContext, group: _Group) -> Finding:
    column = UNIT_COLUMNS[group.table]
    text = str(context.cell(group.table, group.row, column))
    unit, wanted = lookup(text), _wanted(context, group)
    measured = MEASURES[unit.base] if unit else "unknown"
    meant = " or ".join(MEASURES[base] for base in wanted)
    return _finding(context, group, column, f"{text!r}, {measured}", f"{meant}: {_list(wanted)}")


def _instrument(context: CheckContext) -> Iterator[Finding]:
    tools = context.tables["instruments"]
    of_tool = dict(zip(tools["instrument_id"].to_pylist(), tools["unit"].to_pylist(), strict=True))
    for group in _all(context, lambda fit: fit.instrument & ~fit.other):
        name = str(context.cell(group.table, group.row, "instrument_id"))
        stated = lookup(str(of_tool[name]))
        measured = MEASURES[stated.base] if stated else "unknown"
        (wanted,) = _wanted(context, group)
        finding = _finding(
            context, group, "instrument_id", f"{name}, which states its error as {measured}",
            f"an instrument that measures {MEASURES[wanted]}",
        )  # fmt: skip
        yield replace(finding, about=name)


RULES = (
    Rule(
        "unit-unknown",
        Severity.error,
        "an unknown unit",
        "A value can only be converted from a unit that is on the list.",
        "UCUM codes; factors of NIST SP 811 (2008), Appendix B.8",
        "Write the unit as the list has it",
        _unknown,
    ),
    Rule(
        "unit-dimension",
        Severity.error,
        "a unit that measures something else",
        "A length is not read in grams: either the unit or the quantity beside it is a slip. An instrument states its error in "
        "a unit of what its kind measures.",
        "UCUM codes; dimensions as in NIST SP 811 (2008), Appendix B.8",
        "Correct the unit, or the quantity it stands beside",
        _dimension,
    ),
    Rule(
        "instrument-dimension",
        Severity.error,
        "an instrument that does not measure this",
        "The uncertainty of a reading needs the instrument's own error, in the dimension of what was read.",
        "JCGM 100:2008 (GUM), 4.3.7",
        "Name the instrument that the reading was taken with, or correct its unit in instruments.csv",
        _instrument,
        ("unit-dimension",),
    ),
    *likely.RULES,
)
