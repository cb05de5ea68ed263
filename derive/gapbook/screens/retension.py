"""The tension that gives a second bed the stiffness of the first, as a person reads it, and the cautions that go with it."""

from __future__ import annotations

import math

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.retensioning import Retension
from gapbook.science.comparison import COVERAGE_FACTOR, Figure
from gapbook.science.tension import LEAST_N, MOST_N
from gapbook.screens import page
from gapbook.screens.tables import grid
from gapbook.screens.text import decimals_for, exact_tension, tension_units, with_u
from gapbook.signs import safe


def screen(answer: Retension, units: str | None = None) -> list[RenderableType]:
    """The tension (or why there is none), both stiffnesses, the difference if nothing is changed, and the cautions."""
    parts: list[RenderableType] = [Text(_sentence(answer, units), page.HEADING)]
    if answer.tension is not None and answer.at.ratio != 1.0:
        parts.append(Text(_crosses(answer, answer.tension, units)))
    if answer.tension is not None and answer.tension.u > 0.0:
        parts.append(Text(_models(answer)))
    if answer.stiffness is not None:
        parts += [Text(), _stiffness(answer, answer.stiffness), Text(_unchanged(answer))]
    if answer.tension is not None and answer.dwell_percent is not None and answer.tension.u > 0.0:
        parts.append(Text(_dwell(answer.dwell_percent)))
    return [*parts, Text(), *(Text(one.text, page.QUIET) for one in answer.cautions)]


def _sentence(answer: Retension, units: str | None) -> str:
    source, target = safe(answer.source), safe(answer.target)
    allowed = f"{LEAST_N:.0f} to {MOST_N:.0f} N ({_in_units(LEAST_N, MOST_N, units)})"
    if answer.outside == "asked":
        return f"No tension is given: {_pull(answer, units)} is not within {allowed}, the range these models cover."
    if answer.tension is None:
        way = "lower" if answer.outside == "stiffer" else "higher"
        return (
            f"No tension is given: {target} is {_gap(answer)} {answer.outside} than {source} and would take a {way} pull than "
            f"the {allowed} these models cover."
        )
    mains = "pull the mains at" if answer.at.ratio != 1.0 else "pull"
    tension = _pulled(answer, answer.tension, 1.0, units)
    return f"To give {target} the centre stiffness {source} has at {_pull(answer, units)}, {mains} {tension}."


def _models(answer: Retension) -> str:
    """What each model gives alone."""
    linear, *stretching = answer.models
    ends = [f"{end(one.value for one in stretching):.0f}" for end in (min, max)]
    if_they_do = " to ".join(dict.fromkeys(ends))
    return (
        f"If strings do not stretch: {with_u(linear.value, linear.u)} N; if they do: {if_they_do} N. ± is at k = 2 and covers "
        "both."
    )


def _gap(answer: Retension) -> str:
    """How much stiffer or softer, without a sign."""
    gap = answer.difference_percent
    return "" if gap is None else f"{with_u(abs(gap.value), gap.u)} %"


def _crosses(answer: Retension, tension: Figure, units: str | None) -> str:
    ratio = answer.at.ratio
    return f"Crosses at the same ratio to the mains as you asked about, {ratio:.3f}: {_pulled(answer, tension, ratio, units)}."


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


def _dwell(longer: Figure) -> str:
    return (
        f"The time a ball stays in it then differs by {with_u(longer.value, longer.u, plus=True)} % at most: half a period of "
        "a mass on a spring. The ball is soft too, so the true difference is smaller, and the time itself is not known."
    )


def _pull(answer: Retension, units: str | None) -> str:
    at = answer.at
    if at.ratio == 1.0:
        return exact_tension(at.mains, units)
    return f"{exact_tension(at.mains, units)} in the mains and {exact_tension(at.crosses, units)} in the crosses"


def _pulled(answer: Retension, tension: Figure, ratio: float, units: str | None) -> str:
    """A pull with ±, of the mains or of crosses at `ratio` to them; if ± would pass the range of the models, its two ends."""
    if answer.interval is None or not answer.is_cut:
        return _figure(Figure(tension.value * ratio, tension.u * ratio), units)
    least, most = (end * ratio for end in answer.interval)
    newtons = f"{math.ceil(least - 0.5)} to {math.floor(most + 0.5)} N"
    return f"{newtons} ({_in_units(least, most, units)}), cut off where the range of these models ends"


def _figure(tension: Figure, units: str | None) -> str:
    others = [f"{_rounded(tension, size)} {name}" for name, size in tension_units(units)]
    return f"{_rounded(tension, 1.0)} N ({', '.join(others)})"


def _rounded(tension: Figure, size: float) -> str:
    if tension.u == 0.0:
        return f"{tension.value / size:.{decimals_for(1.0 / size)}f}"
    return with_u(tension.value, tension.u, 1.0 / size)


def _in_units(least: float, most: float, units: str | None) -> str:
    return ", ".join(f"{least / size:.1f} to {most / size:.1f} {name}" for name, size in tension_units(units))
