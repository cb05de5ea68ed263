"""Whether what is derived follows from the catalogue as it is now."""

from __future__ import annotations

from collections.abc import Iterator

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CATALOGUE
from gapbook.intake.rule import Rule
from gapbook.tables.freshness import changed
from gapbook.tables.package import DERIVED_TABLES


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each file that changed since something was derived from it, or since it was derived itself."""
    if context.own != CATALOGUE:
        return
    package = context.package
    pairs = changed(package)
    if pairs is None:
        there = next(name for name in DERIVED_TABLES if name in package.resources and package.path(name).exists())
        yield _finding(package.shown(there), there, "derived tables without digests of what they follow from")
        return
    for source in dict.fromkeys(pair.source for pair in pairs):
        tables = [package.shown(pair.table) for pair in pairs if pair.source == source and pair.table != source]
        changes = (
            f"the file changed since {', '.join(tables)} followed from it" if tables else "the file is not as it was derived"
        )
        yield _finding(package.shown(source), source, changes)


def _finding(file: str, table: str, found: str) -> Finding:
    return Finding(table, None, found, "derived tables that follow from the catalogue", file=file)


RULE = Rule(
    "stale",
    Severity.error,
    "derived tables that do not follow from the catalogue",
    "Answers and exports rest on the derived tables; if the catalogue changed since, they tell what is no longer there. Judged "
    "by the SHA-256 of the files.",
    "common practice, no source",
    "Run gapbook derive; gapbook derive --check says which rows differ",
    look,
)
