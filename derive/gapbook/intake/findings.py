"""What a check reports: findings, each with its consequences under it, and how many there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from gapbook.intake.rule import Rule, Severity

ORDER = {Severity.error: 0, Severity.warning: 1, Severity.note: 2}


@dataclass(frozen=True)
class Finding:
    """One finding as people and programs are given it. `contributor` is who took the reading, where one did."""

    code: str
    severity: Severity
    table: str
    file: str
    line: int | None
    column: str | None
    row_key: str
    found: str
    expected: str
    fix: str
    causes: tuple[Finding, ...] = ()
    contributor: str | None = None

    def to_json(self) -> dict[str, Any]:
        """The finding with the keys that programs rely on."""
        return {
            "code": self.code,
            "severity": str(self.severity),
            "table": self.table,
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "row_key": self.row_key,
            "found": self.found,
            "expected": self.expected,
            "fix": self.fix,
            "causes": [cause.to_json() for cause in self.causes],
        }


@dataclass(frozen=True)
class Report:
    """All findings, worst first; the rows that were looked at; the rules that looked; what broke in gapbook itself."""

    findings: tuple[Finding, ...]
    rows: int
    rules: tuple[Rule, ...]
    broken: tuple[str, ...] = field(default=())

    @property
    def counts(self) -> dict[str, int]:
        """Findings by severity; consequences are not counted."""
        number = Counter(str(finding.severity) for finding in self.findings)
        return {str(severity): number[str(severity)] for severity in ORDER}

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that must be mended."""
        return tuple(finding for finding in self.findings if finding.severity is Severity.error)

    def to_json(self) -> dict[str, Any]:
        """The report with the keys that programs rely on."""
        return {
            "findings": [finding.to_json() for finding in self.findings],
            "counts": self.counts,
            "rows": self.rows,
            "rules": [rule_json(rule, self.broken) for rule in self.rules],
        }


def rule_json(rule: Rule, broken: Sequence[str]) -> dict[str, Any]:
    """A rule for programs; `failed` is what gapbook itself stumbled over, null where it did not."""
    return {
        "code": rule.code,
        "severity": str(rule.severity),
        "title": rule.title,
        "rationale": rule.rationale,
        "source": rule.source,
        "fix": rule.fix,
        "failed": next((line for line in broken if line.startswith(f"{rule.code}: ")), None),
    }
