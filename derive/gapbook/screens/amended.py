"""What became of a change to what was admitted, and the history of an id, for people."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.text import Text

from gapbook.intake.amending import Amended
from gapbook.intake.history import Event
from gapbook.intake.log import Correction
from gapbook.screens import admit, findings, page, tables
from gapbook.screens.text import listed, plural
from gapbook.signs import safe

SHOWN = 10
"""Corrections and findings that are shown."""


def screen(amended: Amended) -> list[RenderableType]:
    """The outcome of an operation."""
    rows = listed([f"{plural(count, 'row')} of {safe(table)}" for table, count in amended.rows.items()])
    if amended.status == "refused":
        head = f"Refused: {rows} would change, and a check would find new errors. Nothing was written."
    elif amended.status == "would-change":
        head = f"Would change {rows}. Nothing was written."
    else:
        head = f"Changed {rows}."
    parts: list[RenderableType] = [Text(head, page.HEADING)]
    parts += [Text(f"  {_correction(one)}") for one in amended.corrections[:SHOWN]]
    if len(amended.corrections) > SHOWN:
        parts.append(Text(f"  and {len(amended.corrections) - SHOWN} more", page.QUIET))
    for number, finding in enumerate(amended.findings[:SHOWN], 1):
        parts += findings.one_finding(finding, f"new, {number} of {len(amended.findings)}")
    if amended.change is not None:
        parts += admit.change_parts(amended.change)
    return [*parts, *(Text(safe(note)) for note in amended.notes)]


def _correction(one: Correction) -> str:
    what = f"{one.what} {safe(one.table)} {safe(one.row_key)}"
    is_shown = one.what in ("corrected", "renamed", "merged")
    said = f"{safe(one.old) or 'nothing'} → {safe(one.new) or 'nothing'}" if is_shown else ""
    return " ".join(part for part in (what, safe(one.column), said) if part)


def history(name: str, events: Sequence[Event]) -> list[RenderableType]:
    """The history of an id, the oldest first."""
    if not events:
        return [Text(f"{safe(name)}: nothing is remembered of it, because it was there before the logs began.")]
    made = tables.plain(("day", "left"), ("what", "left"), ("of", "left"), ("detail", "left"), ("who", "left"))
    for one in events:
        detail = safe(one.detail) + (f" ({safe(one.reason)})" if one.reason else "")
        made.add_row(*(Text(cell) for cell in (safe(one.on), safe(one.what), safe(one.row_key), detail, safe(one.who))))
    return [Text(f"History of {safe(name)}", page.HEADING), made]
