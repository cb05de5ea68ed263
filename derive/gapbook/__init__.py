"""gapbook: how tight a string bed really is, from ruler and calliper readings, with the uncertainty."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from gapbook.catalogue import Catalogue, open_catalogue
    from gapbook.errors import GapbookError
    from gapbook.questions.question import Question

__all__ = ["Catalogue", "GapbookError", "Question", "open_catalogue"]

_HOMES = {
    "Catalogue": "gapbook.catalogue",
    "open_catalogue": "gapbook.catalogue",
    "GapbookError": "gapbook.errors",
    "Question": "gapbook.questions.question",
}


def __getattr__(name: str) -> Any:
    """Public names are imported when first used, so that no command pays for what it does not need."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
