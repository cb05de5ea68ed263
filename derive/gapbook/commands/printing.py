"""What every command does with its result: a screen for people, or one JSON document."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from gapbook.screens import page

if TYPE_CHECKING:
    from gapbook.questions.answer import Answer

ROWS = 20
"""Entries of each list that a screen shows at most."""


def print_json(document: Mapping[str, Any]) -> None:
    """One JSON document on stdout."""
    page.write(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def print_answer(answer: Answer, as_json: bool, units: str | None) -> None:
    """The answer of `ask` and `find`."""
    if as_json:
        print_json(answer.model_dump(mode="json"))
        return
    from gapbook.screens.answers import screen

    page.show(*screen(answer, units))
