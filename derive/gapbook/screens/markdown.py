"""A report of findings, and the list of rules, as Markdown for a pull request or a document."""

from __future__ import annotations

from collections.abc import Sequence

from gapbook.intake.findings import Finding, Report
from gapbook.intake.rule import Rule
from gapbook.screens.findings import LEGEND, SHOWN, by_code, contributors, place, summary
from gapbook.screens.text import safe

_ESCAPED = str.maketrans({sign: "\\" + sign for sign in "\\`*_{}[]<>#|~"})


def cell(text: str) -> str:
    """Text that stands for itself in a Markdown table."""
    return safe(text).translate(_ESCAPED)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A table of cells that are Markdown already."""
    rule = ["---"] * len(headings)
    return [f"| {' | '.join(row)} |" for row in (headings, rule, *rows)]


def report_text(report: Report, what: str) -> str:
    """The report: worst first, the first few of each code, and how many there are."""
    lines = [f"## {cell(summary(report, what))}", ""]
    titles = {rule.code: rule.title for rule in report.rules}
    for code, severity, found in by_code(report.findings):
        lines += [f"### {severity} `{code}`: {cell(titles.get(code, ''))} ({len(found)})", ""]
        rows = [
            (
                cell(place(item)),
                cell(item.row_key),
                cell(item.found),
                cell(item.expected),
                cell(item.fix) + _causes(item.causes),
            )
            for item in found[:SHOWN]
        ]
        lines += [*table(("where", "row", "found", "expected", "to mend"), rows), ""]
        if len(found) > SHOWN:
            lines += [f"and {len(found) - SHOWN} more of this kind", ""]
    if people := contributors(report.findings):
        people_rows = [(cell(who), *(str(number[name]) for name, _ in LEGEND)) for who, number in people]
        lines += [*table(("contributor", *(f"{name}s" for name, _ in LEGEND)), people_rows), ""]
    lines += [f"- {name}: {meaning}" for name, meaning in LEGEND] if report.findings else []
    if report.broken:
        lines += ["", "**gapbook itself failed in:** " + "; ".join(cell(line) for line in report.broken)]
    return "\n".join(lines).rstrip() + "\n"


def _causes(causes: Sequence[Finding]) -> str:
    codes = [f"`{cause.code}`" for cause in causes]
    return f" (with it {', '.join(codes[:SHOWN])}{' and more' if len(codes) > SHOWN else ''})" if codes else ""


def rules_text(rules: Sequence[Rule]) -> str:
    """The list of rules as a table."""
    rows = [(f"`{rule.code}`", str(rule.severity), cell(rule.title), cell(rule.rationale), cell(rule.source)) for rule in rules]
    return "\n".join(table(("code", "severity", "what is wrong", "why it matters", "source"), rows)) + "\n"
