"""Beds that nobody read: what `gapbook drill` designs is no measurement of a frame."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.questions.drilling import DRAWING, NOTE
from gapbook.science.grouping import IntArray
from gapbook.tables.reader import texts
from gapbook.tables.units import codes

_EXPECTED = "readings that somebody took off a strung frame"
_PLACES = (
    ("specimens", "note", NOTE),
    ("spacings", "contributor_id", DRAWING),
    ("spacings", "instrument_id", DRAWING),
    ("readings", "contributor_id", DRAWING),
    ("readings", "instrument_id", DRAWING),
)
"""Tables and columns in which a drawing is marked, and its mark."""


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each copy that is a drawing, at the first row that says so."""
    told: set[str] = set()
    for table, column, mark in _PLACES:
        for row in _rows(context, table, column, mark).tolist():
            copy = str(context.cell(table, row, "specimen_id"))
            if copy not in told:
                told.add(copy)
                yield Finding(table, column, f"{copy}, a drawing by gapbook drill", _EXPECTED, about=copy, rows=(row,))


def _rows(context: CheckContext, table: str, column: str, mark: str) -> IntArray:
    """Rows of a table whose cell is the mark."""
    cells = context.tables[table][column]
    found = [number for number, text in enumerate(texts(cells)) if text.strip() == mark]
    return np.flatnonzero(np.isin(codes(cells), found) & context.is_own(table))


RULE = Rule(
    "drawing",
    Severity.error,
    "a bed that was drawn, not read",
    "gapbook drill writes where strings would have to lie. Taken for a measurement, it would say of a frame what nobody found.",
    "common practice, no source",
    "Leave it out: a drawing can be compared and drawn, but is no reading. If a frame was drilled so, read that frame",
    look,
)
