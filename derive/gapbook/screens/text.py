"""Text for people: figures with their uncertainty and units, counts, lists, and data made safe to print."""

from __future__ import annotations

import math

from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.units import UNITS, half_up

NOT_KNOWN = "not known"
"""Stands for a figure that nobody measured or that cannot be derived."""
HANDLING_NOT_DERIVED = "Handling is left out: it has not been derived in this package (gapbook derive --part handling)."
SQ_IN_CM2 = UNITS["[sin_i]"].factor
OUNCE_G = UNITS["[oz_av]"].factor
_KILO_N, _POUND_N = UNITS["kgf"].factor, UNITS["[lbf_av]"].factor


def decimals_for(expanded: float) -> int:
    """Decimals at which an expanded uncertainty has two significant digits (none for one of 10 and more)."""
    if not expanded > 0.0 or not math.isfinite(expanded):
        return 2
    places = 1 - math.floor(math.log10(expanded))
    if round(expanded, places) >= 10.0 ** (2 - places):
        places -= 1
    return max(places, 0)


def signed(value: float, decimals: int, plus: bool = False) -> str:
    """A number with a true minus sign and no negative zero; `plus` puts a sign before positive ones too."""
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    return ("−" if value < 0 else "+" if plus else "") + text


def with_u(value: float, u: float, scale: float = 1.0, plus: bool = False) -> str:
    """`value ± U`, U being the expanded uncertainty at two significant digits at most.

    value, u: the figure and its standard uncertainty, in any unit
    scale: to the unit shown
    plus: whether a positive figure has a sign
    """
    expanded = COVERAGE_FACTOR * u * scale
    places = decimals_for(expanded)
    if expanded >= 100.0:
        step = 10 ** (math.floor(math.log10(expanded)) - 1)
        return f"{signed(round(value * scale / step) * step, 0, plus)} ± {round(expanded / step) * step:.0f}"
    return f"{signed(value * scale, places, plus)} ± {expanded:.{places}f}"


def with_u_if_known(value: float | None, u: float | None, scale: float = 1.0, plus: bool = False) -> str:
    """`with_u`, or NOT_KNOWN if the figure or its uncertainty is missing.

    value, u, scale, plus: as of `with_u`
    """
    return NOT_KNOWN if value is None or u is None else with_u(value, u, scale, plus)


def percent(probability: float) -> str:
    """A probability in percent as people are told it: never quite 0 or 100."""
    if probability > 0.999:
        return ">99.9"
    return "<0.1" if probability < 0.001 else f"{100.0 * probability:.1f}"


def pattern(mains: int, crosses: int) -> str:
    """A string pattern, mains × crosses."""
    return f"{mains}×{crosses}"


def square_inches(area_cm2: float) -> str:
    """A head area in whole square inches, halves up."""
    return half_up(area_cm2 / SQ_IN_CM2)


def square_centimetres(area_cm2: float) -> str:
    """A head area in whole square centimetres, halves up."""
    return half_up(area_cm2)


def head_area(area_cm2: float, units: str | None) -> str:
    """A head area in the units asked for; without, square inches beside cm²."""
    if units == "metric":
        return f"{square_centimetres(area_cm2)} cm²"
    if units == "imperial":
        return f"{square_inches(area_cm2)} sq in"
    return f"{square_inches(area_cm2)} sq in ({square_centimetres(area_cm2)} cm²)"


def tension_units(units: str | None) -> list[tuple[str, float]]:
    """Units in which a tension is told beside newtons, each with its size [N]: kg and lb, or the one of the units asked for."""
    both = [("kg", _KILO_N), ("lb", _POUND_N)]
    return {"metric": both[:1], "imperial": both[1:]}.get(units or "", both)


def exact_tension(newtons: float, units: str | None) -> str:
    """A pull tension [N] that has no uncertainty, in newtons and in the other units."""
    others = [f"{newtons / size:.1f} {name}" for name, size in tension_units(units)]
    return f"{newtons:.0f} N ({', '.join(others)})"


def plural(count: int, one: str, many: str | None = None) -> str:
    """`1 frame`, `3 frames`."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def listed(items: list[str]) -> str:
    """`a, b and c`."""
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1] if items else ""
