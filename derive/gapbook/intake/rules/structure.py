"""Structure: files, headers, rows and cells as the Table Schemas ask. What is wrong is found while tables are read
(`intake/layers.py`), so these rules only hand it on, and say what each code means.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule

_SCHEMA = "Data Package v2, Table Schema; the limits stand in schema/"
_RFC = "RFC 4180"


def _look(code: str) -> Callable[[CheckContext], Iterable[Finding]]:
    def look(context: CheckContext) -> Iterable[Finding]:
        return context.read.findings.get((context.own, code), ())

    return look


def _rule(code: str, title: str, rationale: str, source: str, fix: str, follows: tuple[str, ...] = ()) -> Rule:
    return Rule(code, Severity.error, title, rationale, source, fix, _look(code), follows)


_OF_FILES = (
    _rule(
        "path",
        "a link, or a path that leaves the folder",
        "Only files inside the folder are read; a link could point at any file of whoever checks.",
        "CWE-59: improper link resolution before file access",
        "Put the file itself in place of the link",
    ),
    _rule(
        "missing-file",
        "a table's file is not there",
        "A catalogue has a file for each of its tables, and a contribution at least one.",
        "Data Package v2, resource path",
        "Put the file back, with at least its header",
    ),
    _rule(
        "unknown-file",
        "a file that is no table",
        "What is not read is not admitted either, and would be lost without a word.",
        "common practice, no source",
        "Take it out of the folder",
    ),
    _rule(
        "unreadable",
        "a file or a row that cannot be read",
        "Where a quotation mark is not closed nobody can tell which cell ends where; a file that is no plain file, or far too "
        "large, is not opened.",
        _RFC,
        "Close every quotation mark, and write one inside a cell twice",
    ),
    _rule(
        "encoding",
        "text that is not UTF-8",
        "Letters in another encoding turn into others; all tables are UTF-8, with or without a byte-order mark.",
        "RFC 3629; Data Package v2, resource encoding",
        "Save the file as UTF-8",
    ),
    _rule(
        "header",
        "another header than the table's",
        "Cells are read by position, so every column must be there once, in the schema's order.",
        _SCHEMA,
        "Write the header as the schema has it",
    ),
    _rule(
        "width",
        "a row with too few or too many cells",
        "With a cell more or less, nobody can tell which cell belongs to which column.",
        _RFC,
        "Write one cell for each column; put a text with commas in quotation marks",
    ),
)
_OF_CELLS = (
    _rule("required", "a cell that must not be blank", "Without it the row says nothing.", _SCHEMA, "Fill it in"),
    _rule(
        "type",
        "a cell that is no number, date or truth value",
        "Numbers are finite decimals with a point, dates are year-month-day; anything else is read differently by "
        "different programs.",
        _SCHEMA + "; ISO 8601 for dates",
        "Write it as expected",
    ),
    _rule("enum", "a word that is not on the list", "Only listed words have a meaning here.", _SCHEMA, "Take one of the list"),
    _rule(
        "pattern",
        "an id that is not written as one",
        "Ids are in small letters, digits and hyphens, so that they can be typed, sorted and put in addresses.",
        _SCHEMA,
        "Write it in small letters, digits and hyphens",
    ),
    _rule(
        "limit",
        "a number outside its limits",
        "No racquet is like that; most often it is a slip of the pen or another unit.",
        _SCHEMA,
        "Read it again, and write it in the unit of the column",
    ),
    _rule("too-long", "a text that is too long", "Long texts are mostly files gone wrong.", _SCHEMA, "Say it in fewer words"),
    _rule(
        "formula",
        "a text that a spreadsheet would run",
        "Spreadsheets take a text that starts so for a formula, and whoever opens the table would run it.",
        "CWE-1236: improper neutralization of formula elements in a CSV file",
        "Start the text with a letter or a digit",
    ),
    _rule(
        "control-character",
        "an invisible character",
        "Control characters can change what a terminal or a page shows; nobody types them on purpose. Line breaks are allowed.",
        "Unicode, general categories Cc and Cf; CWE-150",
        "Type the cell anew",
    ),
)
_OF_KEYS = (
    _rule(
        "repeated-key",
        "a key that stands twice",
        "Two rows with one key cannot be told apart. A second reading has the next repeat number.",
        _SCHEMA,
        "Take one of the rows out, or give it its own key",
    ),
    _rule(
        "conflicting-key",
        "a row that conflicts with the catalogue",
        "What was admitted is never rewritten by a contribution; the very same row again does no harm.",
        "common practice, no source",
        "Take the row out; a new reading has its own day or repeat number",
    ),
)
_REFERENCE = _rule(
    "reference",
    "an id that no row has",
    "A reading of a specimen, by a person or with an instrument that nobody described cannot be used.",
    _SCHEMA,
    "Write the id as its own table has it, or add a row for it there",
    tuple(rule.code for rule in (*_OF_FILES, *_OF_CELLS, *_OF_KEYS)),
)
RULES = (*_OF_FILES, *_OF_CELLS, *_OF_KEYS, _REFERENCE)
