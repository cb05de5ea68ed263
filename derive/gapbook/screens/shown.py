"""Results as the command line prints them, as text and as HTML, for `print` and for notebooks."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from rich.console import Console, RenderableType

from gapbook.intake.agreement import Agreement
from gapbook.intake.rule import Report
from gapbook.questions.advice import Advice
from gapbook.questions.answer import Answer
from gapbook.questions.comparing import Comparison
from gapbook.questions.designing import Design
from gapbook.questions.neighbours import Neighbours
from gapbook.questions.portrait import Portrait
from gapbook.questions.relations_found import Associations
from gapbook.questions.retensioning import Retension
from gapbook.questions.telling import Told
from gapbook.screens import about, advise, agreement, answers, comparisons, designs, findings, frames, near, page, relations
from gapbook.screens import retension as retensions

_SCREENS: dict[type, Callable[[Any], list[RenderableType]]] = {
    Answer: answers.screen,
    Comparison: comparisons.screen,
    Portrait: lambda portrait: frames.screen(portrait, None),
    Associations: relations.screen,
    Design: designs.screen,
    Neighbours: near.screen,
    Advice: advise.screen,
    Retension: retensions.screen,
    Told: about.screen,
    Agreement: agreement.screen,
    Report: lambda report: findings.screen(report, "the data package"),
}


def as_text(result: object) -> str:
    """A result as text; its `repr` if there is no screen for it."""
    if type(result) not in _SCREENS:
        return repr(result)
    console, out = _console()
    for part in _SCREENS[type(result)](result):
        console.print(part)
    return "\n".join(line.rstrip() for line in out.getvalue().rstrip("\n").split("\n"))


def as_html(result: object) -> str:
    """A result as HTML, in which nothing of the data is read as HTML."""
    console, _ = _console(record=True)
    parts = _SCREENS[type(result)](result) if type(result) in _SCREENS else [repr(result)]
    for part in parts:
        console.print(part)
    return console.export_html(inline_styles=True, code_format='<pre style="line-height:normal">{code}</pre>')


def _console(record: bool = False) -> tuple[Console, io.StringIO]:
    out = io.StringIO()
    plain = {"markup": False, "highlight": False, "emoji": False}
    return Console(file=out, width=page.width(), record=record, color_system=None, **plain), out  # type: ignore[arg-type]
