"""A fault of one file, with its physical place, and the finding it becomes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from gapbook.intake.findings import Finding
from gapbook.tables.schemas import FALSE_VALUES, TRUE_VALUES, Field, Schema

SHOWN = 120
"""Characters of a cell or a row that a finding quotes."""
MANY = 100_000
"""Findings made of one file; the last of them then says how many more cells are like it."""


@dataclass
class Fault:
    """One thing wrong: its code; the record (0 is the first below the header; None for the file as a whole) and its physical
    line; the column; what stands there and what may; how it is mended (None: as the rule says); the row's cells as written;
    what the finding speaks of (None: the row's subject); whether it is told, or another one speaks for it.
    """

    code: str
    line: int | None
    column: str | None
    found: str
    expected: str
    fix: str | None = None
    record: int | None = None
    cells: Sequence[str] = ()
    about: str | None = None
    told: bool = True


@dataclass(frozen=True)
class Source:
    """One file to read: its table, the number of its layer, where it stands, how people are shown it, and its schema."""

    table: str
    layer: int
    path: Path
    shown: str
    schema: Schema


def finding_of(source: Source, fault: Fault) -> Finding:
    """The finding that a rule gives of a fault."""
    return Finding(
        source.table,
        fault.column,
        fault.found,
        fault.expected,
        fault.fix or "",
        about=subject(source.schema, fault.cells) if fault.about is None else fault.about,
        line=fault.line,
        row_key=row_key(source.schema, fault.cells),
        contributor=cell(source.schema, fault.cells, "contributor_id") or None,
    )


def cell(schema: Schema, cells: Sequence[str], name: str) -> str:
    """A row's cell as written; empty where the row does not reach so far or the table has no such column."""
    if name not in schema.names:
        return ""
    place = schema.names.index(name)
    return cells[place] if place < len(cells) else ""


def subject(schema: Schema, cells: Sequence[str]) -> str:
    """What a row speaks of: its specimen where it names one, else what its key names first."""
    name = "specimen_id" if schema.primary_key[:1] != ("playtest_id",) and "specimen_id" in schema.names else ""
    return cell(schema, cells, name or next(iter(schema.primary_key), ""))


def row_key(schema: Schema, cells: Sequence[str]) -> str:
    """The row's primary key as findings write it, joined by slashes; empty for a file as a whole."""
    if not cells:
        return ""
    return "/".join(_written(cell(schema, cells, name), schema.field(name)) for name in schema.primary_key)[:SHOWN]


def _written(text: str, field: Field) -> str:
    """A key cell in its usual spelling where it is one of its type: stations without a needless point, true in small."""
    if field.type == "boolean":
        return str(text in TRUE_VALUES).lower() if text in TRUE_VALUES + FALSE_VALUES else text
    if field.type in ("number", "integer") and len(text) < SHOWN:
        try:
            return f"{float(text):g}"
        except ValueError:
            return text
    return text


def quoted(text: str) -> str:
    """A cell as findings quote it: what does not print is escaped, and long cells are cut."""
    return repr(text) if len(text) <= SHOWN else f"{text[:SHOWN]!r}… ({len(text)} characters)"
