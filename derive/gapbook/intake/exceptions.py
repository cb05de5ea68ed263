"""Warnings that were looked at and accepted: shown as notes with who, when and why; and exceptions nothing needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CONTRIBUTION
from gapbook.intake.placing import placed
from gapbook.intake.rule import Rule


def _nothing(context: CheckContext) -> list[Finding]:
    return []


STALE = Rule(
    "exception-stale",
    Severity.note,
    "an exception that nothing needs",
    "A list of accepted findings stays readable only while each entry still stands for one. In a contribution it is an error: "
    "it could excuse rows that come later and that nobody looked at.",
    "common practice, no source",
    "Take the row out of exceptions.csv",
    _nothing,
)
"""Its findings are made here, after all other rules have looked."""


def with_exceptions(context: CheckContext, findings: Sequence[Finding], rules: Sequence[Rule]) -> list[Finding]:
    """The findings, warnings the catalogue has accepted turned into notes that say so, and one for each exception that
    matched none: a note, or an error where a contribution brings it. What a contribution would accept of itself stays a
    warning that says who proposes it.
    """
    if "exceptions" not in context.tables:
        return list(findings)
    listed = _listed(context)
    used: set[tuple[str, str]] = set()
    result = []
    for finding in findings:
        row = listed.get((finding.code, finding.row_key))
        if row is None:
            result.append(finding)
            continue
        used.add((finding.code, finding.row_key))
        result.append(_excused(finding, row) if finding.severity is Severity.warning else finding)
    return [*result, *_unneeded(context, listed, used, {rule.code: rule.severity for rule in rules})]


class _Exception(NamedTuple):
    """A row of the exceptions, where it stands in the table, and whether a contribution brings it."""

    number: int
    brought: bool
    cells: dict[str, Any]


def _listed(context: CheckContext) -> dict[tuple[str, str], _Exception]:
    """The exceptions by rule and row; the catalogue's own where both have it."""
    rows = context.tables["exceptions"].to_pylist()
    brought = (context.read.layer["exceptions"] == CONTRIBUTION).tolist()
    found: dict[tuple[str, str], _Exception] = {}
    for number, (row, own) in enumerate(zip(rows, brought, strict=True)):
        found.setdefault((str(row["rule"]), str(row["row_key"])), _Exception(number, own, row))  # the catalogue's come first
    return found


def _excused(finding: Finding, row: _Exception) -> Finding:
    who, reason = row.cells["who"], row.cells["reason"]
    if row.brought:
        return replace(finding, fix=f"{finding.fix}; proposed by {who}: {reason}")
    return replace(finding, severity=Severity.note, fix=f"Accepted by {who} on {row.cells['decided_on']}: {reason}")


def _unneeded(
    context: CheckContext,
    listed: Mapping[tuple[str, str], _Exception],
    used: set[tuple[str, str]],
    severity: Mapping[str, Severity],
) -> list[Finding]:
    if STALE.code not in severity:
        return []
    severe = Severity.error if context.own == CONTRIBUTION else STALE.severity
    stale = [
        Finding(
            "exceptions",
            "rule",
            f"{rule} of {key}",
            _wanted(severity.get(rule)),
            STALE.fix,
            rows=(row.number,),
            code=STALE.code,
            severity=severe,
        )
        for (rule, key), row in listed.items()
        if (rule, key) not in used or severity.get(rule) is Severity.error
    ]
    return placed(context, stale)


def _wanted(severity: Severity | None) -> str:
    if severity is None:
        return "the code of a rule"
    return "a warning" if severity is Severity.error else "a finding that it accepts"
