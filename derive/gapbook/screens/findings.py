"""A report of findings as a maintainer reads it: worst first, the first few of each code, and how many there are."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from gapbook.intake.findings import Finding, Report
from gapbook.intake.rule import Rule, Severity
from gapbook.screens import page
from gapbook.screens.text import plural, safe

SHOWN = 5
"""Findings of one code that people are shown."""
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
    for code, severity, found in by_code(report.findings):
        heading = Text.assemble(
            (str(severity), STYLE[severity]), f" {code}: {titles.get(code, '')} ", (f"({len(found)})", page.QUIET)
        )
        parts += [Text(), heading]
        for finding in found[:SHOWN]:
            parts += [Padding(line, (0, 0, 0, indent)) for indent, line in _lines(finding)]
        if len(found) > SHOWN:
            parts.append(
                Padding(
                    Text(f"and {plural(len(found) - SHOWN, 'more', 'more')} of this kind; --json lists all", page.QUIET),
                    (0, 0, 0, 2),
                )
            )
    parts += _contributors(report.findings)
    if report.findings:
        parts += [Text(), *(Text(f"{name}: {meaning}", page.QUIET) for name, meaning in LEGEND)]
    return [*parts, *_broken(report)]


def summary(report: Report, what: str) -> str:
    """How many findings of each severity, in one line."""
    counts = report.counts
    if not report.findings:
        return f"{what}: nothing found in {plural(report.rows, 'row')} by {plural(len(report.rules), 'rule')}"
    number = ", ".join(plural(counts[name], name) for name, _ in LEGEND)
    return f"{what}: {number} in {plural(report.rows, 'row')}"


def by_code(findings: Sequence[Finding]) -> Iterator[tuple[str, Severity, list[Finding]]]:
    """The findings code by code, in the report's order."""
    for (severity, code), found in groupby(findings, key=lambda item: (item.severity, item.code)):
        yield code, severity, list(found)


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
    """Findings by severity of each contributor who has any, most errors first."""
    found: dict[str, Counter[str]] = {}
    for finding in findings:
        if finding.contributor is not None:
            found.setdefault(finding.contributor, Counter())[str(finding.severity)] += 1
    return sorted(found.items(), key=lambda item: (-item[1]["error"], -item[1]["warning"], item[0]))


def _contributors(findings: Sequence[Finding]) -> list[RenderableType]:
    people = contributors(findings)
    if not people:
        return []
    made = page.table(("contributor", "left"), *((f"{name}s", "right") for name, _ in LEGEND))
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
