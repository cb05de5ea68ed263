"""Why a photograph was refused, as a person reads it."""

from __future__ import annotations

from gapbook.photo.refusals import Refusal
from gapbook.screens import page
from gapbook.signs import safe


def refused(refusal: Refusal, overlay: str) -> None:
    """Print what was found, what was expected, and what would help."""
    lines = [
        f"Refused ({refusal.code}): {refusal.found}; expected {refusal.expected}.",
        f"{refusal.fix}.",
        f"Nothing was written but {overlay}: look at it.",
    ]
    page.write("".join(f"{safe(line)}\n" for line in lines))
