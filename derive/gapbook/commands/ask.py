"""`gapbook ask "QUESTION"`."""

from __future__ import annotations

from typing import Annotated

import typer

from gapbook.commands.shared import ConfidenceOption, JsonOption, PackageOption, UnitsOption, checked_confidence, print_answer
from gapbook.errors import GapbookError

HELP = """Answer a typed question.

Clauses are joined by commas or "and", in any order: a head range (95-98 sq in), a pattern (16x19, 16 mains), a
relation (tighter centre than fern-98, more open sides than fern-98, like fern-98), a range (mesh under 11 mm,
swingweight 315-330, mass ..320, signed balance -8..4), an order and a limit (tightest first, top 5), measured only,
how sure verdicts must be (99% confidence)."""


def ask(
    question: Annotated[str, typer.Argument(help="The question, in quotes.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
    units: UnitsOption = None,
    confidence: ConfidenceOption = None,
) -> None:
    """Open, ask, print. With --json, the error of a bad question has no line that points at the place."""
    from gapbook.questions.language import QuestionError, parse  # late: see shared

    try:
        asked = parse(question)
    except QuestionError as error:
        raise (GapbookError(*error.problems) if as_json else error) from None
    if confidence is not None:
        asked = asked.model_copy(update={"confidence": checked_confidence(confidence)})
    print_answer(asked, package, as_json, units)
