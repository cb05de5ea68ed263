"""Advice as a player reads it: what is likely to change, each statement with the figure it rests on, then what to mind."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from gapbook.questions.advice import Advice, Rest, Statement
from gapbook.questions.advice_facts import Bed
from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.tension import PULL_N
from gapbook.science.units import INCH
from gapbook.screens import page
from gapbook.screens.text import (
    NOT_KNOWN,
    decimals_for,
    exact_tension,
    head_area,
    listed,
    pattern,
    percent,
    plural,
    signed,
    with_u,
)
from gapbook.signs import safe

UNCERTAIN = "Nothing here is certain; try it before deciding. String, tension, swing and player do as much."
LABELS = {
    "centre": "Mesh in the centre",
    "middle": "Mesh in the centre",
    "sides": "Mesh in the sides",
    "side_opening": "Sides open by",
    "stiffness": "Stiffness in the centre",
    "stiffness_middle": "Stiffness in the centre",
    "openness": "Mesh in the centre",
    "against_openness": "Mesh in the centre, the other bed",
    "crosses": "Crosses",
    "head": "Head",
    "string": "String",
    "tension": "Tension",
}
"""What each figure of an advice is called."""


def screen(advice: Advice, units: str | None = None) -> list[RenderableType]:
    """The whole advice; `units` are "metric", "imperial", or None for the usual ones."""
    parts: list[RenderableType] = [Text(_title(advice, units), page.HEADING), Text(_player(advice, units))]
    if advice.expect:
        parts += [Text(), Text("What to expect of the bed", page.HEADING), *_by_figure(advice, advice.expect, units)]
    if advice.unknown:
        parts += [Text(), Text("What cannot be said", page.HEADING), *_by_figure(advice, advice.unknown, units)]
    parts += [Text(), Text("Mind", page.HEADING), *_by_figure(advice, advice.cautions, units), Text()]
    return [*parts, *(Text(line, page.QUIET) for line in _notes(advice, units))]


def _title(advice: Advice, units: str | None) -> str:
    if advice.against is None:
        return f"{_named(advice.frame, units)}, on its own"
    if advice.against.kind == "middle":
        middle = f"the middle of {plural(advice.against.frames, 'measured frame')}"
        return f"{_named(advice.frame, units)}, against {middle} (--against names the one you know)"
    return f"{_named(advice.frame, units)}, for a player who knows {_named(advice.against, units)}"


def _named(bed: Bed, units: str | None) -> str:
    assert bed.mains is not None
    heads = [head_area(bed.head_area_cm2, system) for system in ([units] if units else ["imperial", "metric"])]
    return f"{safe(bed.name)} ({', '.join([pattern(bed.mains, bed.crosses), *heads])})"


def _player(advice: Advice, units: str | None) -> str:
    said = {
        "--style": advice.style and f"{advice.style} style",
        "--string": advice.string and f"{advice.string} string",
        "--arm": advice.arm and f"{advice.arm} arm",
        "--tension": None if advice.tension_n is None else exact_tension(advice.tension_n, units),
    }
    missing = [option for option, words in said.items() if words is None]
    told = f"You said: {', '.join(words for words in said.values() if words) or 'nothing of yourself'}."
    return told + (f" {listed(missing)} would say more." if missing else "")


def _by_figure(advice: Advice, statements: Iterable[Statement], units: str | None) -> list[RenderableType]:
    """Statements below the figure they rest on; figures come in the order of their first statement."""
    groups: dict[str | None, list[Statement]] = {}
    for one in statements:
        groups.setdefault(one.on, []).append(one)
    parts: list[RenderableType] = []
    for name, said in groups.items():
        if name is not None:
            parts.append(Text(_rests_on(advice, name, units)))
        shared = said[0].source if len({one.source for one in said}) == 1 else None
        parts += [_item(one.text, None if shared else one.source) for one in said]
        if shared:
            parts.append(Padding(Text(f"[{shared}]", page.QUIET), (0, 0, 0, 4)))
    return parts


def _item(text: str, source: str | None) -> RenderableType:
    """A statement after a dash; its further lines begin where its first one does."""
    made = Table.grid(padding=(0, 1, 0, 0))
    made.add_column(no_wrap=True)
    made.add_column(overflow="fold")
    line = Text(safe(text))
    if source:
        line.append(f" [{source}]", page.QUIET)
    made.add_row(Text("  -"), line)
    return made


def _rests_on(advice: Advice, name: str, units: str | None) -> str:
    rest = advice.figures[name]
    label = LABELS[name]
    if name == "head":
        return f"{label}: {head_area(float(rest.value or 0.0), units)}"
    if name == "string":
        return f"{label}: {rest.value}"
    if name == "tension":
        return f"{label}: {exact_tension(float(rest.value or 0.0), units)}"
    if name == "crosses":
        return f"{label}: {_count(rest.value)} against {_count(rest.against)}"
    factor, unit, plus = _shown(name, units)
    exact = decimals_for(COVERAGE_FACTOR * max(rest.u or 0.0, rest.u_against or 0.0) * factor)
    text = f"{label}: " + _with_unit(rest.value, rest.u, factor, unit, plus, exact)
    if rest.difference_percent is None or rest.u_difference_percent is None or rest.against is None:
        return text
    against = _with_unit(rest.against, rest.u_against, factor, unit, plus, exact)
    if name in ("middle", "stiffness_middle"):
        against += " in the middle of the measured frames"
    return f"{text} against {against}; {_verdict(rest, name, advice.confidence)}"


def _count(value: float | str | None) -> str:
    return f"{value:.0f}" if isinstance(value, float) else NOT_KNOWN


def _shown(name: str, units: str | None) -> tuple[float, str, bool]:
    if name == "side_opening":
        return 100.0, "%", True
    if name.startswith("stiffness"):
        return 1.0, "N/mm", False
    return (0.1 / INCH, "in", False) if units == "imperial" else (0.1, "mm", False)


def _with_unit(value: float | str | None, u: float | None, factor: float, unit: str, plus: bool, exact: int) -> str:
    """A figure times `factor` with its unit.

    value, u: the figure and its standard uncertainty, which is None or 0 if it is exact
    factor, unit: to the unit shown, and its name
    plus: whether a positive figure has a sign
    exact: decimals of an exact figure, those of the figure it is compared with
    """
    if not isinstance(value, float):
        return NOT_KNOWN
    if not u:
        return f"{signed(value * factor, exact, plus)} {unit}"
    return f"{with_u(value, u, factor, plus)} {unit}"


def _verdict(rest: Rest, name: str, confidence: float) -> str:
    assert rest.difference_percent is not None
    assert rest.u_difference_percent is not None
    assert rest.probability_lower is not None
    gap = "" if name == "side_opening" else with_u(rest.difference_percent, rest.u_difference_percent, plus=True) + " %, "
    if rest.verdict == "too close to call":
        return f"{gap}too close to call at {100.0 * confidence:g} %"
    sure = max(rest.probability_lower, 1.0 - rest.probability_lower)
    return f"{gap}{rest.verdict}, {percent(sure)} % sure"


def _notes(advice: Advice, units: str | None) -> list[str]:
    notes = [UNCERTAIN] if advice.expect else []
    if any(name.startswith("stiffness") for name in advice.figures):
        pull = exact_tension(PULL_N, units)
        notes.append(f"Stiffness is a model of geometry and tension, both beds pulled at {pull} in mains and crosses.")
    return [*notes, "± is at k = 2. In brackets: where the link from the figure to play comes from."]
