"""A check from end to end: files are read, every rule looks, findings get their lines, consequences are listed under their
causes, and accepted warnings become notes.
"""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from gapbook.errors import fail
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import ORDER, Finding
from gapbook.intake.layers import CATALOGUE, CONTRIBUTION, Layer, catalogue_layer, contribution_layer, is_package, read_layers
from gapbook.intake.rule import Report, Rule
from gapbook.intake.rules import RULES
from gapbook.intake.rules.exceptions import excused, on_own_readings, unneeded
from gapbook.progress import report
from gapbook.tables.opening import open_package
from gapbook.tables.package import Package
from gapbook.tables.transactions import consistent

Say = Callable[[str], None]


@dataclass(frozen=True)
class Checked:
    """The report of a check, and the context that its rules looked at."""

    report: Report
    context: CheckContext


def check(
    path: Path | None = None, package: Package | None = None, *, today: datetime.date | None = None, say: Say | None = None
) -> Checked:
    """Check a data package, or a contribution together with the package it is meant for.

    path: the folder of a package or of a contribution; None: `package` is checked
    package: the package that a contribution is meant for; None: the one at hand
    today: the day of the check; None: today
    say: is told what is being done

    GapbookError if there is no such folder, or the package's descriptor or schemas cannot be used.
    """
    if path is not None and not is_package(path):
        return check_layers(package or open_package(), contribution_layer(path), today=today, say=say)
    meant = open_package(path) if path is not None or package is None else package
    if any(meant.is_parquet(table) for table in meant.resources):
        fix = "Check the package it was made from, or a CSV export; frictionless validate reads Parquet too"
        raise fail("not-csv", "tables in Parquet are not checked", found=str(meant.root), expected="tables in CSV", fix=fix)
    return check_layers(meant, None, today=today, say=say)


def check_layers(
    package: Package,
    contribution: Layer | None,
    *,
    today: datetime.date | None = None,
    say: Say | None = None,
    rules: Sequence[Rule] = RULES,
) -> Checked:
    """Check a package, or the layer of a contribution together with it.

    package: the package that is checked, or that the contribution is meant for
    contribution: the contribution's files; None: the package itself is checked
    today: the day of the check; None: today
    say: is told what is being done
    rules: the rules that look

    GapbookError if the package's schemas cannot be used.
    """
    tell = say or (lambda text: None)
    tell("reading")
    layers = [catalogue_layer(package), *([] if contribution is None else [contribution])]
    own = CATALOGUE if contribution is None else CONTRIBUTION
    with consistent(package, *layers[0].files):
        read = read_layers(package, layers)
    context = CheckContext(package, read, own, today or datetime.date.today())
    findings: list[Finding] = []
    broken: list[str] = []
    for number, rule in enumerate(rules):
        report("checking", number, len(rules))
        try:
            findings += rule.findings(context)
        except Exception as error:  # a rule that fails is gapbook's fault; it must not hide what the others find
            broken.append(f"{rule.code}: {type(error).__name__}: {error}")
    causes = under_causes(placed(context, findings), {rule.code: rule.follows for rule in rules})
    of_exceptions = [*unneeded(context, causes, rules), *on_own_readings(context, causes, rules)]
    told = [*excused(context, causes), *placed(context, of_exceptions)]
    told.sort(key=lambda one: (ORDER[one.severity], one.code, one.file, one.line or 0, one.column or "", one.found))
    return Checked(Report(tuple(told), read.rows[own], tuple(rules), tuple(broken)), context)


# Places: at which line of which file each finding stands


def placed(context: CheckContext, findings: Sequence[Finding]) -> list[Finding]:
    """The findings that rest on rows of the layer checked, or on its files, with the place in these files."""
    own = [(finding, _own_row(context, finding)) for finding in findings]
    lines = _lines(context, ((finding.table, row) for finding, row in own if row is not None))
    return [
        _at_row(context, finding, row, lines[finding.table, row]) if row is not None else _of_file(context, finding)
        for finding, row in own
        if row is not None or not finding.rows
    ]


def _own_row(context: CheckContext, finding: Finding) -> int | None:
    """The first of the finding's rows that belongs to the layer checked; None if none does."""
    if not finding.rows:
        return None
    layer = context.read.layer[finding.table]
    return next((row for row in finding.rows if layer[row] == context.own), None)


def _lines(context: CheckContext, rows: Iterable[tuple[str, int]]) -> dict[tuple[str, int], int]:
    """The physical line of each (table, row), looked up once a table."""
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


# Consequences: one bad value is one finding, and what follows from it is listed under it


def under_causes(findings: Sequence[Finding], follows: Mapping[str, Sequence[str]]) -> list[Finding]:
    """The findings with consequences under their causes.

    findings: all findings, placed
    follows: by the code of a rule, the codes of its possible causes

    A finding follows from another about the same thing, or about who took the reading, if its rule says so and the other is at
    least as severe. If several
    may be the cause, the nearest is taken (`_distance`); of several that are equally near the most severe; of these the first.
    """
    by_subject: dict[str, list[int]] = defaultdict(list)
    for number, finding in enumerate(findings):
        if finding.about:
            by_subject[finding.about].append(number)
    parent: dict[int, int] = {}
    for number, finding in enumerate(findings):
        possible = [  # a finding that itself follows from this one is no cause of it
            other
            for other in (*by_subject.get(finding.about, ()), *by_subject.get(finding.contributor or "", ()))
            if findings[other].code in follows.get(finding.code, ())
            and ORDER[findings[other].severity] <= ORDER[finding.severity]
            and _top(other, parent) != number
        ]
        if possible:
            ranked = [(_distance(finding, findings[one]), ORDER[findings[one].severity], one) for one in possible]
            parent[number] = min(ranked)[-1]
    under: dict[int, list[Finding]] = defaultdict(list)
    for number in sorted(parent):
        under[_top(number, parent)].append(findings[number])
    return [
        replace(finding, causes=tuple(under[number])) if under[number] else finding
        for number, finding in enumerate(findings)
        if number not in parent
    ]


def _distance(finding: Finding, cause: Finding) -> int:
    """How near a possible cause is to a finding: 0 in the same row, 1 a reading of a quantity that the finding names, 2 in the
    same table, 3 in another.
    """
    if cause.line is not None and (cause.file, cause.line) == (finding.file, finding.line):
        return 0
    if cause.table == "readings" and _speaks_of(finding, cause):
        return 1
    return 2 if cause.table == finding.table else 3


def _speaks_of(finding: Finding, reading: Finding) -> bool:
    """Whether a finding names the quantity of a reading. One about a bed can only mean the head's: `length` there is not the
    frame's.
    """
    quantity = (*reading.row_key.split("/"), "")[1]
    said = f" {finding.code} {finding.found} {finding.expected} ".replace("-", " ").replace("_", " ").replace(",", " ")
    if quantity.startswith("head_") and finding.table == "spacings":
        return finding.code.startswith("head") or f" {quantity.removeprefix('head_')} " in said
    return finding.table != "spacings" and f" {quantity.replace('_', ' ')} " in said


def _top(number: int, parent: Mapping[int, int]) -> int:
    """The first cause of a finding: the cause of its cause, and so on, up to one that has none."""
    while number in parent:
        number = parent[number]
    return number
