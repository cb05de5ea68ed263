"""A report of findings, and the list of rules, for people: on a screen, and as Markdown for a pull request or a document.

The worst come first; of each code the first few are shown, with how many there are.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Report, Rule
from gapbook.screens import page, tables
from gapbook.screens.text import plural
from gapbook.signs import markdown, safe

SHOWN = 5
"""Findings of one code that are shown."""
LEGEND = (
    ("error", "must be mended before the rows can be admitted"),
    ("warning", "a reviewer should look; may be legitimate, and is then accepted with a reason in exceptions.csv"),
    ("note", "for information"),
)
STYLE = {Severity.error: "bold red", Severity.warning: "bold yellow", Severity.note: "bold"}


def screen(report: Report, what: str) -> list[RenderableType]:
    """The report; `what` names what was checked."""
    parts: list[RenderableType] = [Text(summary(report, what), page.HEADING)]
    titles = {rule.code: rule.title for rule in report.rules}
    for code, severity, findings in by_code(report.findings):
        heading = Text.assemble(
            (str(severity), STYLE[severity]), f" {code}: {titles.get(code, '')} ", (f"({len(findings)})", page.QUIET)
        )
        parts += [Text(), heading]
        for finding in findings[:SHOWN]:
            parts += [Padding(line, (0, 0, 0, indent)) for indent, line in _lines(finding)]
        if len(findings) > SHOWN:
            more = f"and {plural(len(findings) - SHOWN, 'more', 'more')} of this kind; --json lists all"
            parts.append(Padding(Text(more, page.QUIET), (0, 0, 0, 2)))
    parts += _contributors(report.findings)
    if report.findings:
        parts += [Text(), *(Text(f"{name}: {meaning}", page.QUIET) for name, meaning in LEGEND)]
    return [*parts, *_broken(report)]


def one_finding(finding: Finding, number: str) -> list[RenderableType]:
    """A single finding; `number` says which of how many."""
    heading = Text.assemble((str(finding.severity), STYLE[finding.severity]), f" {finding.code} ", (f"({number})", page.QUIET))
    return [Text(), heading, *(Padding(line, (0, 0, 0, indent)) for indent, line in _lines(finding))]


def summary(report: Report, what: str) -> str:
    """How many findings of each severity, in one line."""
    counts = report.counts
    if not report.findings:
        return f"{what}: nothing found in {plural(report.rows, 'row')} by {plural(len(report.rules), 'rule')}"
    number = ", ".join(plural(counts[name], name) for name, _ in LEGEND)
    return f"{what}: {number} in {plural(report.rows, 'row')}"


def by_code(findings: Sequence[Finding]) -> Iterator[tuple[str, Severity, list[Finding]]]:
    """The findings code by code, in the report's order."""
    for (severity, code), same in groupby(findings, key=lambda item: (item.severity, item.code)):
        yield code, severity, list(same)


def place(finding: Finding) -> str:
    """File, line and column."""
    line = "" if finding.line is None else f":{finding.line}"
    column = "" if finding.column is None else f", {finding.column}"
    return safe(f"{finding.file}{line}{column}")


def _lines(finding: Finding) -> Iterator[tuple[int, Text]]:
    key = f"  {safe(finding.row_key)}" if finding.row_key else ""
    yield 2, Text.assemble(place(finding), (key, page.QUIET))
    yield 4, Text(f"found {safe(finding.found)}; expected {safe(finding.expected)}")
    yield 4, Text(safe(finding.fix))
    for cause in finding.causes[:SHOWN]:
        yield 4, Text.assemble("with it ", (cause.code, "italic"), f": found {safe(cause.found)}")
    if len(finding.causes) > SHOWN:
        yield 4, Text(f"and {len(finding.causes) - SHOWN} more that follow from it")


def contributors(findings: Sequence[Finding]) -> list[tuple[str, Counter[str]]]:
    """How many findings of each severity a contributor has; those with most errors first."""
    counts: dict[str, Counter[str]] = {}
    for finding in findings:
        if finding.contributor is not None:
            counts.setdefault(finding.contributor, Counter())[str(finding.severity)] += 1
    return sorted(counts.items(), key=lambda item: (-item[1]["error"], -item[1]["warning"], item[0]))


def _contributors(findings: Sequence[Finding]) -> list[RenderableType]:
    people = contributors(findings)
    if not people:
        return []
    made = tables.plain(("contributor", "left"), *((f"{name}s", "right") for name, _ in LEGEND))
    for who, number in people:
        made.add_row(Text(safe(who)), *(Text(str(number[name])) for name, _ in LEGEND))
    return [Text(), made]


def _broken(report: Report) -> list[RenderableType]:
    if not report.broken:
        return []
    said = "gapbook itself failed here; the data are not to blame, and this was not checked. Please report it:"
    return [Text(), Text(said, page.HEADING), *(Padding(Text(safe(line)), (0, 0, 0, 2)) for line in report.broken)]


def rules_screen(rules: Sequence[Rule]) -> list[RenderableType]:
    """Every rule with its reason."""
    parts: list[RenderableType] = []
    for rule in rules:
        parts.append(Text.assemble((str(rule.severity), STYLE[rule.severity]), f" {rule.code}: {rule.title}"))
        for line in (rule.rationale, f"Source: {rule.source}", f"To mend: {rule.fix}"):
            parts.append(Padding(Text(line, page.QUIET), (0, 0, 0, 2)))
    return parts


def markdown_table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """A table of cells that are Markdown already."""
    rule = ["---"] * len(headings)
    return [f"| {' | '.join(row)} |" for row in (headings, rule, *rows)]


def report_markdown(report: Report, what: str) -> str:
    """The report as Markdown; `what` names what was checked."""
    lines = [f"## {markdown(summary(report, what))}", ""]
    titles = {rule.code: rule.title for rule in report.rules}
    for code, severity, findings in by_code(report.findings):
        lines += [f"### {severity} `{code}`: {markdown(titles.get(code, ''))} ({len(findings)})", ""]
        rows = [
            (
                *map(markdown, (place(item), item.row_key, item.found, item.expected)),
                markdown(item.fix) + _markdown_causes(item.causes),
            )
            for item in findings[:SHOWN]
        ]
        lines += [*markdown_table(("where", "row", "found", "expected", "to mend"), rows), ""]
        if len(findings) > SHOWN:
            lines += [f"and {len(findings) - SHOWN} more of this kind", ""]
    if people := contributors(report.findings):
        people_rows = [(markdown(who), *(str(number[name]) for name, _ in LEGEND)) for who, number in people]
        lines += [*markdown_table(("contributor", *(f"{name}s" for name, _ in LEGEND)), people_rows), ""]
    lines += [f"- {name}: {meaning}" for name, meaning in LEGEND] if report.findings else []
    if report.broken:
        lines += ["", "**gapbook itself failed in:** " + "; ".join(markdown(line) for line in report.broken)]
    return "\n".join(lines).rstrip() + "\n"


def _markdown_causes(causes: Sequence[Finding]) -> str:
    codes = [f"`{cause.code}`" for cause in causes]
    return f" (with it {', '.join(codes[:SHOWN])}{' and more' if len(codes) > SHOWN else ''})" if codes else ""


def rules_markdown(rules: Sequence[Rule]) -> str:
    """The list of rules as a Markdown table."""
    rows = [(f"`{rule.code}`", str(rule.severity), *map(markdown, (rule.title, rule.rationale, rule.source))) for rule in rules]
    return "\n".join(markdown_table(("code", "severity", "what is wrong", "why it matters", "source"), rows)) + "\n"
