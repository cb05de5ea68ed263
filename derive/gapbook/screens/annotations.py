"""Findings as workflow commands, which CI services show beside the lines of a pull request."""

from __future__ import annotations

from pathlib import Path

from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import is_package
from gapbook.intake.rule import Report
from gapbook.screens.findings import summary
from gapbook.signs import safe

_COMMANDS = {Severity.error: "error", Severity.warning: "warning", Severity.note: "notice"}


def annotated(report: Report, path: Path | None) -> str:
    """The report, one command a finding, and a last line that counts them; `path` is what was checked."""
    root = path if path is not None and is_package(path) else None
    folder = None if root is None else root.parent if root.is_file() else root
    lines = [_command(finding, folder) for finding in report.findings]
    lines += [f"::error title=gapbook::{_escaped(line)}" for line in report.broken]
    return "".join(f"{line}\n" for line in [*lines, safe(summary(report, str(path or "the data package")))])


def _command(finding: Finding, folder: Path | None) -> str:
    file = finding.file if folder is None else (folder / finding.file).as_posix()
    line = "" if finding.line is None else f",line={finding.line}"
    column = "" if finding.column is None else f"{finding.column}: "
    text = f"{column}found {finding.found}; expected {finding.expected}. {finding.fix}"
    title = _property(f"{finding.severity} {finding.code}")
    return f"::{_COMMANDS[finding.severity]} file={_property(file)}{line},title={title}::{_escaped(text)}"


def _escaped(text: str) -> str:
    """A text that cannot end the line, and so cannot begin another command."""
    return safe(text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A"))


def _property(text: str) -> str:
    return _escaped(text).replace(":", "%3A").replace(",", "%2C")
