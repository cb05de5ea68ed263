"""Whether identifiers that others issue can be what they say: the check digit of an ORCID iD."""

from __future__ import annotations

from collections.abc import Iterator

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule


def is_orcid(text: str) -> bool:
    """Whether the last sign of an ORCID iD is its check digit (ISO/IEC 7064:2003, MOD 11-2).

    text: sixteen signs in groups of four with hyphens between, as 0000-0002-1694-233X
    """
    digits = text.replace("-", "")
    total = 0
    for digit in digits[:-1]:
        total = (total + int(digit)) * 2
    return digits[-1] == "0123456789X"[(12 - total % 11) % 11]


def look(context: CheckContext) -> Iterator[Finding]:
    """A finding for each ORCID whose check digit is wrong."""
    people = context.tables["contributors"]
    if "orcid" not in people.column_names:
        return
    for row, text in enumerate(people["orcid"].to_pylist()):
        if text is not None and not is_orcid(text):
            about = str(context.cell("contributors", row, "contributor_id"))
            yield Finding("contributors", "orcid", text, "an ORCID iD whose check digit is right", about=about, rows=(row,))


RULE = Rule(
    "orcid",
    Severity.error,
    "an ORCID iD that is none",
    "Citations name people by it; one wrong digit names nobody, or somebody else.",
    "ISO/IEC 7064:2003, MOD 11-2, as ORCID's documentation of the structure of its identifiers has it",
    "Copy it from the person's page at orcid.org",
    look,
)
