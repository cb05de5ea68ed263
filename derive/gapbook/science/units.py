"""Units a reading may be in (UCUM codes, their everyday aliases, exact factors to the computing unit), and numbers as text.

Factors: NIST SP 811 (2008), Appendix B.8. Each dimension has one computing unit: mm, cm2, g, kg.cm2, N.
"""

from __future__ import annotations

import math
from typing import NamedTuple

INCH = 25.4
"""Millimetres in an inch, exact [NIST SP 811]."""


class Unit(NamedTuple):
    """A unit: its UCUM code, the computing unit of its dimension, and its size in that unit."""

    code: str
    base: str
    factor: float


_POUND_G = 453.59237
_GRAVITY = 9.80665

UNITS: dict[str, Unit] = {
    unit.code: unit
    for unit in (
        Unit("mm", "mm", 1.0),
        Unit("cm", "mm", 10.0),
        Unit("[in_i]", "mm", INCH),
        Unit("cm2", "cm2", 1.0),
        Unit("mm2", "cm2", 0.01),
        Unit("[sin_i]", "cm2", INCH * INCH / 100.0),
        Unit("g", "g", 1.0),
        Unit("kg", "g", 1000.0),
        Unit("[oz_av]", "g", _POUND_G / 16.0),
        Unit("kg.cm2", "kg.cm2", 1.0),
        Unit("N", "N", 1.0),
        Unit("kgf", "N", _GRAVITY),
        Unit("[lbf_av]", "N", _POUND_G / 1000.0 * _GRAVITY),
    )
}
"""Every unit known, by UCUM code."""

ALIASES: dict[str, str] = {
    "in": "[in_i]",
    "inch": "[in_i]",
    "sq in": "[sin_i]",
    "in2": "[sin_i]",
    "sq cm": "cm2",
    "oz": "[oz_av]",
    "kg cm2": "kg.cm2",
    "lb": "[lbf_av]",
    "lbf": "[lbf_av]",
}
"""Everyday names and the code each stands for. `lb` is a tension here; masses are in g, kg or oz."""
TENSION_ALIASES: dict[str, str] = {"kg": "kgf"}
"""Names that stand for another code where a tension is stated: nobody strings at a mass."""


def lookup(name: str, tension: bool = False) -> Unit | None:
    """The unit called `name` (a UCUM code or an alias, exactly as listed), or None. tension: whether it is a tension's."""
    if tension and name in TENSION_ALIASES:
        return UNITS[TENSION_ALIASES[name]]
    return UNITS.get(ALIASES.get(name, name))


def names(base: str) -> list[str]:
    """Every code and alias of the dimension computed in `base`, codes first."""
    codes = [code for code, unit in UNITS.items() if unit.base == base]
    aliases = {**ALIASES, **TENSION_ALIASES}
    return codes + [alias for alias, code in aliases.items() if UNITS[code].base == base]


_NOISE = 1e-12
"""Relative allowance for binary rounding, so that exact halves round up."""


def half_up(value: float, decimals: int = 0, plus: bool = False) -> str:
    """`value` at so many decimals, with a true minus sign and no negative zero; if `plus`, positive values have a sign too."""
    scale = 10**decimals
    steps = math.floor(abs(value) * scale * (1.0 + _NOISE) + 0.5)
    text = f"{steps / scale:.{decimals}f}"
    sign = "" if steps == 0 else "−" if value < 0.0 else "+" if plus else ""
    return sign + text
