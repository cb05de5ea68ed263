"""From rows of the context to lines and keys of files: each file is looked through once for its lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from gapbook.intake.findings import Finding
from gapbook.intake.study import Study


def placed(study: Study, findings: Sequence[Finding]) -> list[Finding]:
    """The findings that concern the layer checked, with the place in its files."""
    own = [(finding, _own_row(study, finding)) for finding in findings]
    lines = _lines(study, ((finding.table, row) for finding, row in own if row is not None))
    return [
        _at_row(study, finding, row, lines[finding.table, row]) if row is not None else _of_file(study, finding)
        for finding, row in own
        if row is not None or not finding.rows
    ]


def _own_row(study: Study, finding: Finding) -> int | None:
    """The first of the finding's rows that stands in the layer checked; None if none does."""
    if not finding.rows:
        return None
    layer = study.read.layer[finding.table]
    return next((row for row in finding.rows if layer[row] == study.own), None)


def _lines(study: Study, rows: Iterable[tuple[str, int]]) -> dict[tuple[str, int], int]:
    """The physical line of each (table, row)."""
    by_table: dict[str, set[int]] = defaultdict(set)
    for table, row in rows:
        by_table[table].add(row)
    lines: dict[tuple[str, int], int] = {}
    for table, wanted in by_table.items():
        listed = np.array(sorted(wanted))
        records = study.read.record[table][listed]
        of_record = study.read.lines_of(table, study.own, records)
        lines |= {(table, int(row)): of_record[int(record)] for row, record in zip(listed, records, strict=True)}
    return lines


def _at_row(study: Study, finding: Finding, row: int, line: int) -> Finding:
    named = "contributor_id" in study.tables[finding.table].column_names
    return replace(
        _of_file(study, finding),
        line=line,
        row_key=study.key(finding.table, row, finding.keyed),
        contributor=str(study.cell(finding.table, row, "contributor_id")) if named else None,
    )


def _of_file(study: Study, finding: Finding) -> Finding:
    shown = study.read.layers[study.own].shown
    return replace(finding, file=finding.file or shown.get(finding.table, finding.table))
