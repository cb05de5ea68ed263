"""`gapbook ask "QUESTION"`.

JSON of a list of frames: {"question", "reference", "searched", "matches", "undecided", "package"}, as of `find`. Some keys
are there only if the question needs them: "notes" (sentences on how it was read and taken); in "question" "either" (groups of
ranges of which one must hold), "none_of" (ranges and patterns that must not hold), "without" (frames left out) and
"trait_relations" ({"trait", "kind": less, more, not_less or not_more, "reference"}); in "reference", if it is a class such as
most 16x19, "frames" and "spread_percent" of the measured frames it stands for. A relation's "kind" can also be not_tighter or
not_more_open.

JSON of a question about a frame, two or a word: {"about": {"intent": show, compare, why or explain, "subjects", "where"},
"sentences", "command" (which tells more), "notes"}, with "scores" and "handling" of a frame, or the "contrasts" of two as of
`compare`. JSON of --phrases: {"phrases": {topic: [phrase, ...]}}.
"""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import (
    ConfidenceOption,
    JsonOption,
    PackageOption,
    UnitsOption,
    checked_confidence,
    print_answer,
    print_json,
)
from gapbook.errors import GapbookError, fail
from gapbook.screens import page

HELP = """Answer a typed question.

Write as you would say it: "98s with 16 mains, tighter than fern-98 but more open on the sides". Clauses can be joined by
commas or "and", in any order: a head size (95-98 sq in), a pattern (16x19, 16 mains), a relation (tighter centre than
fern-98, like fern-98, lighter than fern-98), a range (mesh under 11 mm, swingweight 315-330), an order and a limit
(tightest first, top 5), measured only, how sure verdicts must be (99% confidence). --phrases lists what is understood."""


def ask(
    question: Annotated[str | None, typer.Argument(help="The question, in quotes.")] = None,
    phrases: Annotated[bool, typer.Option("--phrases", help="Show phrases that are understood.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, ask, print. With --json, the error of a bad question has no line that points at the place."""
    if phrases:
        _print_phrases(as_json)
        return
    if question is None:
        raise fail("empty-question", "nothing was asked", fix="Type a question in quotes, or see gapbook ask --phrases")
    from gapbook.catalogue import open_catalogue  # late: see shared
    from gapbook.questions.language import QuestionError, read
    from gapbook.questions.question import Question

    catalogue = open_catalogue(package)
    try:
        asked, said = read(question, catalogue.names)
    except QuestionError as error:
        raise (GapbookError(*error.problems) if as_json else error) from None
    sure = None if confidence is None else checked_confidence(confidence)
    if isinstance(asked, Question):
        asked = asked if sure is None else asked.model_copy(update={"confidence": sure})
        print_answer(catalogue, asked, as_json, units, said)
        return
    from gapbook.screens.about import document, screen  # late: rich

    told = catalogue.tell(asked, sure)
    if as_json:
        print_json(document(told, said, units))
    else:
        page.show(*screen(told, said, units))


def _print_phrases(as_json: bool) -> None:
    from gapbook.questions.examples import PHRASES  # late: see shared

    if as_json:
        print_json({"phrases": {topic: list(phrases) for topic, phrases in PHRASES.items()}})
        return
    from gapbook.screens.about import phrases_text  # late: rich

    page.write(phrases_text())
