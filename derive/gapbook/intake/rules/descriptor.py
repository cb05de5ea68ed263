"""Whether the descriptor says what a package needs to be named, cited and reused."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from gapbook.errors import GapbookError
from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layers import CATALOGUE
from gapbook.intake.rule import Rule
from gapbook.tables.package import DESCRIPTOR
from gapbook.tables.starting import spdx

_NAME = re.compile(r"[a-z0-9][a-z0-9._-]*")
VERSION = re.compile(r"(?:0|[1-9]\d{0,8})\.(?:0|[1-9]\d{0,8})\.(?:0|[1-9]\d{0,8})(?:[-+][0-9A-Za-z.+-]{1,40})?")
"""MAJOR.MINOR.PATCH, with a suffix or none (Semantic Versioning 2.0.0, in essence)."""


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each property of the descriptor that is missing or cannot be used."""
    if context.own != CATALOGUE:
        return
    stated = context.package.descriptor
    if not isinstance(stated.get("name"), str) or not _NAME.fullmatch(stated["name"]):
        yield _finding("name", stated.get("name"), "small letters, digits, points and hyphens, such as club-beds")
    if not isinstance(stated.get("version"), str) or not VERSION.fullmatch(stated["version"]):
        yield _finding("version", stated.get("version"), "MAJOR.MINOR.PATCH, such as 0.1.0")
    if not isinstance(stated.get("title"), str) or not stated["title"].strip():
        yield _finding("title", stated.get("title"), "a few words")
    yield from _licences(stated.get("licenses"))
    names = [resource["name"] for resource in stated["resources"]]
    for name in dict.fromkeys(name for name in names if names.count(name) > 1):
        yield _finding("resources", f"{name} twice", "each resource once")


def _licences(stated: Any) -> Iterator[Finding]:
    listed = [item for item in stated if isinstance(item, dict)] if isinstance(stated, list) else []
    if not listed:
        yield _finding("licenses", stated, "one licence at least, by its SPDX id: without one nobody may use the data")
    for item in listed:
        try:
            spdx(str(item.get("name", "")))
        except GapbookError as error:
            if "path" not in item:  # a licence of one's own needs its text
                yield _finding("licenses", item.get("name"), f"{error.problems[0].expected}, or the path of its text")


def _finding(name: str, found: object, expected: str) -> Finding:
    text = "nothing" if found in (None, "", []) else str(found)[:80]
    return Finding("", name, text, expected, file=DESCRIPTOR)


RULE = Rule(
    "descriptor",
    Severity.error,
    "a descriptor that lacks something",
    "Name, version and licence say which data these are and what may be done with them; exports and citations repeat them.",
    "Data Package v2; SPDX licence list; Semantic Versioning 2.0.0",
    f"Write it in {DESCRIPTOR}",
    look,
)
