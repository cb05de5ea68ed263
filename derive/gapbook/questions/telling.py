"""Answers to questions about one frame, two frames or a word: what `show` and `compare` say of them."""

from __future__ import annotations

from typing import NamedTuple

from gapbook.questions.comparing import Comparison, compare
from gapbook.questions.intents import TERMS, About
from gapbook.questions.portrait import Portrait, portrait
from gapbook.questions.shown import SCREENS, above
from gapbook.tables.store import Store


class Told(NamedTuple):
    """What is told.

    about: what was asked.
    portrait: the frame, if one was asked about.
    comparison: the second frame and then the first, if two were: the first is set against the second.
    explanation: what the word means, if one was asked about.
    """

    about: About
    portrait: Portrait | None = None
    comparison: Comparison | None = None
    explanation: str | None = None

    def __str__(self) -> str:
        return str(above(SCREENS).as_text(self))

    def _repr_html_(self) -> str:
        return str(above(SCREENS).as_html(self))


def tell(store: Store, about: About, confidence: float) -> Told:
    """The figures of a question about frames, or the explanation of a word. GapbookError as of `portrait` and `compare`."""
    if about.intent == "explain":
        term = TERMS[about.subjects[0]]
        if term.text:
            return Told(about, explanation=term.text)
        field = store.package.schema(term.table).field(term.field)
        return Told(about, explanation=f"{field.title}: {field.description}")
    if about.intent == "show":
        return Told(about, portrait=portrait(store, about.subjects[0]))
    first, second = about.subjects
    return Told(about, comparison=compare(store, [second, first], about.where or "centre", confidence))
