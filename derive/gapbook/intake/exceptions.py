"""Warnings that were looked at and accepted: shown as notes with who, when and why; and exceptions nothing needs any more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from gapbook.intake.findings import Finding
from gapbook.intake.placing import placed
from gapbook.intake.rule import Hit, Rule, Severity
from gapbook.intake.study import Study


def _nothing(study: Study) -> list[Hit]:
    return []


STALE = Rule(
    "exception-stale",
    Severity.note,
    "an exception that nothing needs any more",
    "A list of accepted findings stays readable only while each entry still stands for one.",
    "common practice, no source",
    "Take the row out of exceptions.csv",
    _nothing,
)
"""Its hits are made here, after all other rules have looked."""


def with_exceptions(study: Study, findings: Sequence[Finding], rules: Sequence[Rule]) -> list[Finding]:
    """The findings, accepted warnings turned into notes that say so, and a note for each exception that matched none."""
    if "exceptions" not in study.tables:
        return list(findings)
    accepted = {(str(row["rule"]), str(row["row_key"])): row for row in study.tables["exceptions"].to_pylist()}
    used: set[tuple[str, str]] = set()
    result = []
    for finding in findings:
        row = accepted.get((finding.code, finding.row_key))
        if row is None:
            result.append(finding)
            continue
        used.add((finding.code, finding.row_key))
        result.append(_accepted(finding, row) if finding.severity is Severity.warning else finding)
    severity = {rule.code: rule.severity for rule in rules}
    if STALE.code in severity:
        hits = [
            (STALE, Hit("exceptions", number, "rule", f"{rule} of {key}", _wanted(severity.get(rule))))
            for number, (rule, key) in enumerate(accepted)
            if (rule, key) not in used or severity.get(rule) is Severity.error
        ]
        result += [item.finding for item in placed(study, hits)]
    return result


def _accepted(finding: Finding, row: dict[str, Any]) -> Finding:
    said = f"Accepted by {row['who']} on {row['decided_on']}: {row['reason']}"
    return replace(finding, severity=Severity.note, fix=said)


def _wanted(severity: Severity | None) -> str:
    if severity is None:
        return "the code of a rule"
    return "a warning" if severity is Severity.error else "a finding that it accepts"
