"""What a rule is, and the report of a check."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Any

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import ORDER, Finding, Severity
from gapbook.questions.shown import Shown


@dataclass(frozen=True)
class Rule:
    """One rule of a check.

    code: its stable code
    severity: what its findings ask for
    title: what is wrong, in a few words
    rationale: why it matters
    source: where that comes from
    fix: how a finding is mended, if it does not say so itself
    look: the function that looks and gives findings
    follows: codes of the rules whose findings may be the cause of this one's; a finding about the same thing is then listed
        under its cause
    of_contributions: whether it finds things in contributions only, so that an accepted finding is not found again later
    """

    code: str
    severity: Severity
    title: str
    rationale: str
    source: str
    fix: str
    look: Callable[[CheckContext], Iterable[Finding]]
    follows: tuple[str, ...] = ()
    of_contributions: bool = False

    def findings(self, context: CheckContext) -> list[Finding]:
        """What the rule finds, with its code and severity, not yet placed in files."""
        return [replace(one, code=self.code, severity=self.severity, fix=one.fix or self.fix) for one in self.look(context)]

    def to_json(self, broken: Iterable[str] = ()) -> dict[str, Any]:
        """The rule with the keys that programs rely on; `failed` says how it failed in gapbook itself, else null."""
        return {
            "code": self.code,
            "severity": str(self.severity),
            "title": self.title,
            "rationale": self.rationale,
            "source": self.source,
            "fix": self.fix,
            "failed": next((line for line in broken if line.startswith(f"{self.code}: ")), None),
        }


@dataclass(frozen=True)
class Report(Shown):
    """What a check found.

    findings: all findings, worst first, consequences under their causes
    rows: how many rows were checked
    rules: the rules that looked
    broken: for each rule that raised an error, which is a fault of gapbook, its code and the error
    """

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
            "rules": [rule.to_json(self.broken) for rule in self.rules],
        }
