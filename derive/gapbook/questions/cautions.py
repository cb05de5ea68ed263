"""What is said wherever advice could hurt: the cautions of advice.toml by their codes."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

ADVICE = Path(__file__).with_name("advice.toml")


class Caution(NamedTuple):
    """One thing to mind: its stable code, what is said, and how that is known."""

    code: str
    text: str
    source: str


@cache
def rows() -> tuple[dict[str, Any], ...]:
    """Every rule of advice.toml as it stands there, in its order."""
    return tuple(tomllib.loads(ADVICE.read_text(encoding="utf-8"))["rule"])


def caution(code: str) -> Caution:
    """The caution with this code, which advice.toml has."""
    return next(Caution(row["code"], row["text"], row["source"]) for row in rows() if row["code"] == code)
