"""The tension that gives a second bed the stiffness of the first, as a person reads it, and the cautions that go with it."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.retensioning import Retension
from gapbook.science.comparison import COVERAGE_FACTOR, Figure
from gapbook.science.tension import LEAST_N, MOST_N
from gapbook.screens import page
from gapbook.screens.tables import grid
from gapbook.screens.text import decimals_for, exact_tension, safe, tension_units, with_u

CAUTIONS = (
    "A linear model of geometry and tension: a net of taut strings that has lost 30 % of its pull, in both beds alike. It is "
    "not a reading of any machine, and string material does not enter.",
    "The range printed on the frame and a qualified stringer decide. Mains and crosses pulled far apart can distort a hoop.",
)


def screen(answer: Retension, units: str | None = None) -> list[RenderableType]:
    """The tension (or why there is none), both stiffnesses, the difference if nothing is changed, and the cautions."""
    parts: list[RenderableType] = [Text(_sentence(answer, units), page.HEADING)]
    if answer.tension is not None and answer.at.ratio != 1.0:
        parts.append(Text(_crosses(answer, answer.tension, units)))
    if answer.stiffness is not None:
        parts += [Text(), _stiffness(answer, answer.stiffness), Text(_unchanged(answer))]
    return [*parts, Text(), *(Text(line, page.QUIET) for line in CAUTIONS)]


def _sentence(answer: Retension, units: str | None) -> str:
    source, target = safe(answer.source), safe(answer.target)
    allowed = f"{LEAST_N:.0f} to {MOST_N:.0f} N ({_in_units(LEAST_N, MOST_N, units)})"
    if answer.outside == "asked":
        return f"No tension is given: {_pull(answer, units)} is not within {allowed}, the pulls this model speaks of."
    if answer.tension is None:
        way = "lower" if answer.outside == "stiffer" else "higher"
        return (
            f"No tension is given: {target} is {_gap(answer)} {answer.outside} than {source} and would take a {way} pull than "
            f"the {allowed} this model speaks of."
        )
    mains = "pull the mains at" if answer.at.ratio != 1.0 else "pull"
    tension = _figure(answer.tension, units)
    return f"To give {target} the centre stiffness {source} has at {_pull(answer, units)}, {mains} {tension}."


def _gap(answer: Retension) -> str:
    """How much stiffer or softer, without a sign."""
    gap = answer.difference_percent
    return "" if gap is None else f"{with_u(abs(gap.value), gap.u)} %"


def _crosses(answer: Retension, tension: Figure, units: str | None) -> str:
    ratio = answer.at.ratio
    crosses = Figure(tension.value * ratio, tension.u * ratio)
    return f"Crosses at the same ratio to the mains as you asked about, {ratio:.3f}: {_figure(crosses, units)}."


def _stiffness(answer: Retension, both: tuple[Figure, Figure]) -> RenderableType:
    named = zip((answer.source, answer.target), both, strict=True)
    rows = [(safe(name), [with_u(figure.value, figure.u)]) for name, figure in named]
    return grid("", ["centre stiffness as asked, N/mm"], rows)


def _unchanged(answer: Retension) -> str:
    """How far the second bed is off if nothing is changed, and whether the readings can tell.

    Without a tension the first sentence has said how far.
    """
    gap = answer.difference_percent
    if gap is None:
        return ""
    if gap.u == 0.0 and abs(gap.value) < 1e-9:
        return "They are one and the same bed."
    figure = with_u(gap.value, gap.u, plus=True)
    told = f"If nothing is changed, {safe(answer.target)} differs by {figure} % (plus is stiffer; ± at k = 2)."
    told = "± is at k = 2." if answer.tension is None else told
    close = abs(gap.value) <= COVERAGE_FACTOR * gap.u
    return told + (" That is within what the readings can tell: there may be nothing to change." if close else "")


def _pull(answer: Retension, units: str | None) -> str:
    at = answer.at
    if at.ratio == 1.0:
        return exact_tension(at.mains, units)
    return f"{exact_tension(at.mains, units)} in the mains and {exact_tension(at.crosses, units)} in the crosses"


def _figure(tension: Figure, units: str | None) -> str:
    others = [f"{_rounded(tension, size)} {name}" for name, size in tension_units(units)]
    return f"{_rounded(tension, 1.0)} N ({', '.join(others)})"


def _rounded(tension: Figure, size: float) -> str:
    if tension.u == 0.0:
        return f"{tension.value / size:.{decimals_for(1.0 / size)}f}"
    return with_u(tension.value, tension.u, 1.0 / size)


def _in_units(least: float, most: float, units: str | None) -> str:
    return ", ".join(f"{least / size:.1f} to {most / size:.1f} {name}" for name, size in tension_units(units))
