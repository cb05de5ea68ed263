"""From rows of the context to lines and keys of files: each file is looked through once for its lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding


def placed(context: CheckContext, findings: Sequence[Finding]) -> list[Finding]:
    """The findings that concern the layer checked, with the place in its files."""
    own = [(finding, _own_row(context, finding)) for finding in findings]
    lines = _lines(context, ((finding.table, row) for finding, row in own if row is not None))
    return [
        _at_row(context, finding, row, lines[finding.table, row]) if row is not None else _of_file(context, finding)
        for finding, row in own
        if row is not None or not finding.rows
    ]


def _own_row(context: CheckContext, finding: Finding) -> int | None:
    """The first of the finding's rows that stands in the layer checked; None if none does."""
    if not finding.rows:
        return None
    layer = context.read.layer[finding.table]
    return next((row for row in finding.rows if layer[row] == context.own), None)


def _lines(context: CheckContext, rows: Iterable[tuple[str, int]]) -> dict[tuple[str, int], int]:
    """The physical line of each (table, row)."""
    by_table: dict[str, set[int]] = defaultdict(set)
    for table, row in rows:
        by_table[table].add(row)
    lines: dict[tuple[str, int], int] = {}
    for table, wanted in by_table.items():
        listed = np.array(sorted(wanted))
        records = context.read.record[table][listed]
        of_record = context.read.lines_of(table, context.own, records)
        lines |= {(table, int(row)): of_record[int(record)] for row, record in zip(listed, records, strict=True)}
    return lines


def _at_row(context: CheckContext, finding: Finding, row: int, line: int) -> Finding:
    named = "contributor_id" in context.tables[finding.table].column_names
    return replace(
        _of_file(context, finding),
        line=line,
        row_key=context.key(finding.table, row, finding.keyed),
        contributor=str(context.cell(finding.table, row, "contributor_id")) if named else None,
    )


def _of_file(context: CheckContext, finding: Finding) -> Finding:
    shown = context.read.layers[context.own].shown
    return replace(finding, file=finding.file or shown.get(finding.table, finding.table))
