"""`gapbook check`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, outcome, print_json
from gapbook.progress import report
from gapbook.screens import page
from gapbook.tables.opening import open_package

HELP = """Check a data package, or the folder of a contribution together with the package it is meant for.

A contribution is a folder with any of the tables as CSV, its own rows only. Exit status 0: no errors; 1: errors, with
--strict also warnings that nobody accepted; 2: it could not be read, or a rule of gapbook itself failed. --annotations writes
each finding as a workflow command (::error file=...,line=...::...), which CI services show beside the line.

JSON: {"findings", "counts", "rows", "rules"}. A finding: {"code", "severity", "table", "file", "line", "column", "row_key",
"found", "expected", "fix", "causes"}. A rule: {"code", "severity", "title", "rationale", "source", "fix", "failed"}."""


def check(
    path: Annotated[
        Path | None, typer.Argument(help="A package or a contribution folder; without one, the package at hand.")
    ] = None,
    package: PackageOption = None,
    as_json: JsonOption = False,
    markdown: Annotated[bool, typer.Option("--markdown", help="The report as Markdown, for a pull request.")] = False,
    strict: Annotated[bool, typer.Option("--strict", help="Exit status 1 for warnings that nobody accepted, too.")] = False,
    annotations: Annotated[bool, typer.Option("--annotations", help="One workflow command a finding, for CI.")] = False,
    rules: Annotated[bool, typer.Option("--rules", help="List the rules instead of checking.")] = False,
) -> None:
    """Open, check, print."""
    if rules:
        _print_rules(as_json, markdown)
        return
    from gapbook.intake import check as intake  # late: see shared
    from gapbook.screens.annotations import annotated
    from gapbook.screens.findings import report_markdown, screen

    found = intake.check(path, open_package(package) if package is not None else None, say=report).report
    what = str(path) if path is not None else "the data package"
    is_bad = found.errors or (strict and found.counts["warning"])
    with outcome(2 if found.broken else 1 if is_bad else 0):
        if as_json:
            print_json(found.to_json())
        elif annotations:
            page.write(annotated(found, path))
        elif markdown:
            page.write_data(report_markdown(found, what))
        else:
            page.show(*screen(found, what))


def _print_rules(as_json: bool, markdown: bool) -> None:
    from gapbook.intake.rules import RULES  # late: see shared
    from gapbook.screens.findings import rules_markdown, rules_screen

    if as_json:
        print_json({"rules": [rule.to_json() for rule in RULES]})
    elif markdown:
        page.write_data(rules_markdown(RULES))
    else:
        page.show(*rules_screen(RULES))
