"""The tension that carries a stiffness over, as a person reads it, with what always has to be said."""

from __future__ import annotations

from rich.console import RenderableType
from rich.text import Text

from gapbook.questions.retensioning import LEAST_N, MOST_N, Retension
from gapbook.science.comparison import COVERAGE_FACTOR, Figure
from gapbook.science.units import UNITS
from gapbook.screens import page
from gapbook.screens.grids import grid
from gapbook.screens.text import decimals_for, safe, with_u

KILO_N, POUND_N = UNITS["kgf"].factor, UNITS["[lbf_av]"].factor
CAUTIONS = (
    "A linear model of geometry and tension: a net of taut strings that has lost 30 % of its pull, in both beds alike. It is "
    "not a reading of any machine, and string material does not enter.",
    "The range printed on the frame and a qualified stringer decide. Mains and crosses pulled far apart can distort a hoop.",
)


def screen(found: Retension, units: str | None = None) -> list[RenderableType]:
    """The tension or why there is none, both stiffnesses, the difference if nothing is changed, and the cautions."""
    parts: list[RenderableType] = [Text(_sentence(found, units), page.HEADING)]
    if found.tension is not None and found.at.ratio != 1.0:
        parts.append(Text(_crosses(found, found.tension, units)))
    if found.stiffness is not None:
        parts += [Text(), _stiffness(found, found.stiffness), Text(_unchanged(found))]
    return [*parts, Text(), *(Text(line, page.QUIET) for line in CAUTIONS)]


def _sentence(found: Retension, units: str | None) -> str:
    source, target = safe(found.source), safe(found.target)
    allowed = f"{LEAST_N:.0f} to {MOST_N:.0f} N ({_in_units(LEAST_N, MOST_N, units)})"
    if found.outside == "asked":
        return f"No tension is given: {_pull(found, units)} is not within {allowed}, the pulls this model speaks of."
    if found.tension is None:
        way = "lower" if found.outside == "stiffer" else "higher"
        return (
            f"No tension is given: {target} is {_gap(found)} {found.outside} than {source} and would take a {way} pull than "
            f"the {allowed} this model speaks of."
        )
    mains = "pull the mains at" if found.at.ratio != 1.0 else "pull"
    return (
        f"To give {target} the centre stiffness {source} has at {_pull(found, units)}, {mains} {_figure(found.tension, units)}."
    )


def _gap(found: Retension) -> str:
    """How much stiffer or softer, without a sign."""
    gap = found.difference_percent
    return "" if gap is None else f"{with_u(abs(gap.value), gap.u)} %"


def _crosses(found: Retension, tension: Figure, units: str | None) -> str:
    ratio = found.at.ratio
    crosses = Figure(tension.value * ratio, tension.u * ratio)
    return f"Crosses at the same ratio to the mains as you asked about, {ratio:.3f}: {_figure(crosses, units)}."


def _stiffness(found: Retension, both: tuple[Figure, Figure]) -> RenderableType:
    named = zip((found.source, found.target), both, strict=True)
    rows = [(safe(name), [with_u(figure.value, figure.u)]) for name, figure in named]
    return grid("", ["centre stiffness as asked, N/mm"], rows)


def _unchanged(found: Retension) -> str:
    """How far the second bed is off if nothing is changed, unless the first sentence said so, and whether that is much."""
    gap = found.difference_percent
    if gap is None:
        return ""
    if gap.u == 0.0 and abs(gap.value) < 1e-9:
        return "They are one and the same bed."
    figure = with_u(gap.value, gap.u, plus=True)
    told = f"If nothing is changed, {safe(found.target)} differs by {figure} % (plus is stiffer; ± at k = 2)."
    told = "± is at k = 2." if found.tension is None else told
    close = abs(gap.value) <= COVERAGE_FACTOR * gap.u
    return told + (" That is within what the readings can tell: there may be nothing to change." if close else "")


def _pull(found: Retension, units: str | None) -> str:
    at = found.at
    if at.ratio == 1.0:
        return plain(at.mains, units)
    return f"{plain(at.mains, units)} in the mains and {plain(at.crosses, units)} in the crosses"


def plain(newtons: float, units: str | None) -> str:
    """A pull tension without an uncertainty: N, then kg and lb, or the one of the units asked for."""
    others = [f"{newtons / factor:.1f} {name}" for name, factor in _others(units)]
    return f"{newtons:.0f} N ({', '.join(others)})"


def _figure(tension: Figure, units: str | None) -> str:
    others = [f"{_rounded(tension, factor)} {name}" for name, factor in _others(units)]
    return f"{_rounded(tension, 1.0)} N ({', '.join(others)})"


def _rounded(tension: Figure, factor: float) -> str:
    if tension.u == 0.0:
        return f"{tension.value / factor:.{decimals_for(1.0 / factor)}f}"
    return with_u(tension.value, tension.u, 1.0 / factor)


def _in_units(least: float, most: float, units: str | None) -> str:
    return ", ".join(f"{least / factor:.1f} to {most / factor:.1f} {name}" for name, factor in _others(units))


def _others(units: str | None) -> list[tuple[str, float]]:
    both = [("kg", KILO_N), ("lb", POUND_N)]
    return {"metric": both[:1], "imperial": both[1:]}.get(units or "", both)
