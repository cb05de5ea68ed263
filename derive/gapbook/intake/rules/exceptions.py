"""Exceptions: warnings that somebody has looked at and accepted become notes with who, when and why; an exception without such
a warning is a finding itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CONTRIBUTION
from gapbook.intake.rule import Rule

STALE = Rule(
    "exception-stale",
    Severity.note,
    "an exception that nothing needs",
    "A list of accepted findings stays readable only while each entry still stands for one. In a contribution it is an error: "
    "it could excuse rows that come later and that nobody looked at.",
    "common practice, no source",
    "Take the row out of exceptions.csv",
    lambda context: (),
)
"""It looks at nothing itself, because only after all other rules have looked is it known which exceptions nothing needs
(`unneeded`)."""

OWN = Rule(
    "own-exception",
    Severity.note,
    "somebody accepted a finding on their own reading",
    "Who took a reading is the last to see what is wrong with it; in a package of one person it cannot be otherwise.",
    "common practice, no source",
    "Let somebody else look at it, and write their id in `who`",
    lambda context: (),
)
"""Like STALE it looks at nothing itself (`on_own_readings`)."""


class _Exception(NamedTuple):
    """A row of exceptions.csv: its number in the context's table, whether a contribution brings it, and its cells by column."""

    number: int
    brought: bool
    cells: dict[str, Any]


@cached
def _listed(context: CheckContext) -> dict[tuple[str, str], _Exception]:
    """The exceptions by rule and row key. The catalogue's rows come first, so its own counts if both layers have one."""
    if "exceptions" not in context.tables:
        return {}
    rows = context.tables["exceptions"].to_pylist()
    brought = (context.read.layer["exceptions"] == CONTRIBUTION).tolist()
    listed: dict[tuple[str, str], _Exception] = {}
    for number, (row, own) in enumerate(zip(rows, brought, strict=True)):
        listed.setdefault((str(row["rule"]), str(row["row_key"])), _Exception(number, own, row))
    return listed


def excused(context: CheckContext, findings: Sequence[Finding]) -> list[Finding]:
    """The findings, with each warning that the catalogue's exceptions accept turned into a note that says so. If only the
    contribution has an exception for its own warning, it stays a warning and says who proposes to accept it.
    """
    listed = _listed(context)
    return [
        _excused(finding, listed[key])
        if (key := (finding.code, finding.row_key)) in listed and finding.severity is Severity.warning
        else finding
        for finding in findings
    ]


def _excused(finding: Finding, row: _Exception) -> Finding:
    who, reason = row.cells["who"], row.cells["reason"]
    if row.brought:
        return replace(finding, fix=f"{finding.fix}; proposed by {who}: {reason}")
    return replace(finding, severity=Severity.note, fix=f"Accepted by {who} on {row.cells['decided_on']}: {reason}")


def on_own_readings(context: CheckContext, findings: Sequence[Finding], rules: Sequence[Rule]) -> list[Finding]:
    """A note, not yet placed, for each exception by which somebody accepts a finding on their own reading.

    context: the context of the check
    findings: what all rules found, placed
    rules: the rules that looked
    """
    if OWN.code not in {rule.code for rule in rules}:
        return []
    listed = _listed(context)
    about = {(finding.code, finding.row_key): finding for finding in findings if finding.severity is Severity.warning}
    note = Finding("exceptions", "who", "", "somebody else who looked at it", OWN.fix, code=OWN.code, severity=OWN.severity)
    return [
        replace(note, found=f"{finding.contributor} on {code} of {key}", rows=(listed[code, key].number,))
        for (code, key), finding in about.items()
        if (code, key) in listed and finding.contributor == listed[code, key].cells["who"]
    ]


def unneeded(context: CheckContext, findings: Sequence[Finding], rules: Sequence[Rule]) -> list[Finding]:
    """A finding, not yet placed, for each exception that accepts none of the `findings`: a note, or an error if a contribution
    is checked.

    context: the context of the check
    findings: what all rules found, placed
    rules: the rules that looked
    """
    severity = {rule.code: rule.severity for rule in rules}
    if STALE.code not in severity:
        return []
    used = {(finding.code, finding.row_key) for finding in findings}
    past = set() if context.own == CONTRIBUTION else {rule.code for rule in rules if rule.of_contributions}
    own = Severity.error if context.own == CONTRIBUTION else STALE.severity
    stale = Finding("exceptions", "rule", "", "", STALE.fix, code=STALE.code, severity=own)
    return [
        replace(stale, found=f"{rule} of {key}", expected=_wanted(severity.get(rule)), rows=(row.number,))
        for (rule, key), row in _listed(context).items()
        if ((rule, key) not in used and rule not in past) or severity.get(rule) is Severity.error
    ]


def _wanted(severity: Severity | None) -> str:
    if severity is None:
        return "the code of a rule"
    return "a warning" if severity is Severity.error else "a finding that it accepts"
