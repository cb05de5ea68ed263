"""Beds drawn with characters, found in what a command prints."""

from __future__ import annotations

import re


def drawn_lines(text: str) -> list[str]:
    """The lines that hold nothing but blanks and dots (Unicode, block Braille Patterns), some dots at least."""
    return [line for line in text.splitlines() if re.fullmatch("[ \u2800-\u28ff]+", line) and line.strip(" \u2800")]
