"""From what rules found to findings with file, line and key: each file is looked through once for its lines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from gapbook.intake.findings import Finding
from gapbook.intake.rule import Hit, Rule
from gapbook.intake.study import Study


class Placed(NamedTuple):
    """A finding, the rule it comes from, and what it speaks of."""

    rule: Rule
    finding: Finding
    about: str


def placed(study: Study, hits: Sequence[tuple[Rule, Hit]]) -> list[Placed]:
    """The hits that concern the layer checked, as findings at rows of that layer."""
    at = [(rule, hit, _own_row(study, hit)) for rule, hit in hits]
    wanted = [(rule, hit, row) for rule, hit, row in at if row is not None]
    lines = _lines(study, [(hit.table, row) for _, hit, row in wanted if hit.spot is None])
    return [Placed(rule, _finding(study, rule, hit, row, lines), hit.about) for rule, hit, row in wanted]


def _own_row(study: Study, hit: Hit) -> int | None:
    """The hit's row, or another of its rows, that stands in the layer checked; None where none does."""
    if hit.spot is not None:
        return -1 if hit.spot.source == study.own else None
    layer = study.read.layer[hit.table]
    return next((row for row in (hit.row, *hit.also) if layer[row] == study.own), None)


def _lines(study: Study, rows: Sequence[tuple[str, int]]) -> dict[tuple[str, int], int]:
    """The physical line of each (table, row)."""
    by_table: dict[str, set[int]] = defaultdict(set)
    for table, row in rows:
        by_table[table].add(row)
    found: dict[tuple[str, int], int] = {}
    for table, wanted in by_table.items():
        listed = np.array(sorted(wanted))
        records = study.read.record[table][listed]
        of_record = study.read.lines_of(table, study.own, records)
        found |= {(table, int(row)): of_record[int(record)] for row, record in zip(listed, records, strict=True)}
    return found


def _finding(study: Study, rule: Rule, hit: Hit, row: int, lines: dict[tuple[str, int], int]) -> Finding:
    shown = study.read.layers[study.own].shown
    if hit.spot is not None:
        line, column, key = hit.spot.line, hit.spot.column, hit.spot.row_key
        contributor = hit.spot.contributor
    else:
        line, column, key = lines[hit.table, row], hit.column, study.key(hit.table, row, hit.keyed)
        named = "contributor_id" in study.tables[hit.table].column_names
        contributor = str(study.cell(hit.table, row, "contributor_id")) if named else None
    return Finding(
        code=rule.code,
        severity=rule.severity,
        table=hit.table,
        file=(hit.spot and hit.spot.file) or shown.get(hit.table, hit.table),
        line=line,
        column=column,
        row_key=key,
        found=hit.found,
        expected=hit.expected,
        fix=hit.fix or rule.fix,
        contributor=contributor,
    )
