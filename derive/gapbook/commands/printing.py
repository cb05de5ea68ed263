"""What every command does with its result: a screen for people, or one JSON document."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from gapbook.screens import page
from gapbook.screens.text import safe

if TYPE_CHECKING:
    from gapbook.questions.question import Question


@contextmanager
def outcome(status: int = 0) -> Iterator[None]:
    """Print within what was done, and end with `status`, which tells it too: no trouble with printing changes that."""
    try:
        yield
    except Exception as error:
        with suppress(OSError):
            sys.stderr.write(f"gapbook: it is done, but could not be printed: {safe(str(error))}\n")
    if status:
        raise typer.Exit(status)


def print_json(document: Mapping[str, Any]) -> None:
    """One JSON document on stdout."""
    page.write(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False) + "\n")


def print_answer(question: Question, package: Path | None, as_json: bool, units: str | None) -> None:
    """Answer a question and print it, for `ask` and `find` alike; a screen has only the entries made out that it shows."""
    from gapbook.catalogue import open_catalogue

    catalogue = open_catalogue(package)
    if as_json:
        print_json(catalogue.find(question).model_dump(mode="json"))
        return
    from gapbook.screens.answers import ROWS, screen

    page.show(*screen(catalogue.find(question, ROWS), units))
