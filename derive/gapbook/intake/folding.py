"""One bad value, one finding: what follows from it is listed under it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from gapbook.intake.findings import ORDER, Finding


def folded(findings: Sequence[Finding], follows: Mapping[str, Sequence[str]]) -> list[Finding]:
    """The findings with consequences under their causes; `follows`: by a rule's code, the codes of possible causes.

    A finding follows from another about the same thing if its rule says so and the other is at least as severe. If several
    might be the cause, one of the same row is taken before one of a quantity that the finding speaks of, that before one of
    the same table, and among these the first of the gravest.
    """
    by_subject: dict[str, list[int]] = defaultdict(list)
    for number, finding in enumerate(findings):
        if finding.about:
            by_subject[finding.about].append(number)
    parent: dict[int, int] = {}
    for number, finding in enumerate(findings):
        possible = [
            other
            for other in by_subject.get(finding.about, ())
            if findings[other].code in follows.get(finding.code, ())
            and ORDER[findings[other].severity] <= ORDER[finding.severity]
            and _top(other, parent) != number
        ]
        if possible:
            ranked = [(_apart(finding, findings[one]), ORDER[findings[one].severity], one) for one in possible]
            parent[number] = min(ranked)[-1]
    under: dict[int, list[Finding]] = defaultdict(list)
    for number in sorted(parent):
        under[_top(number, parent)].append(findings[number])
    return [
        replace(finding, causes=tuple(under[number])) if under[number] else finding
        for number, finding in enumerate(findings)
        if number not in parent
    ]


def _apart(finding: Finding, cause: Finding) -> int:
    """How far a possible cause stands from a finding: 0 in the same row, 1 a quantity it speaks of, 2 in the same table."""
    if cause.line is not None and (cause.file, cause.line) == (finding.file, finding.line):
        return 0
    if cause.table == "readings" and _speaks_of(finding, cause):
        return 1
    return 2 if cause.table == finding.table else 3


def _speaks_of(finding: Finding, reading: Finding) -> bool:
    """Whether a finding has a reading's quantity in its words; one of a bed speaks of the head's quantities only."""
    quantity = (*reading.row_key.split("/"), "")[1]
    said = f" {finding.code} {finding.found} {finding.expected} ".replace("-", " ").replace("_", " ").replace(",", " ")
    if quantity.startswith("head_") and finding.table == "spacings":
        return finding.code.startswith("head") or f" {quantity.removeprefix('head_')} " in said
    return finding.table != "spacings" and f" {quantity.replace('_', ' ')} " in said


def _top(number: int, parent: Mapping[int, int]) -> int:
    """The cause of a finding's cause, and so on, up to one that has none."""
    while number in parent:
        number = parent[number]
    return number
