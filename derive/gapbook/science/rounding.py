"""Numbers as text, rounded as bounds are matched: halves away from zero."""

from __future__ import annotations

import math

_NOISE = 1e-12
"""Relative allowance for the last digits of binary fractions, so that exact halves round up."""


def half_up(value: float, decimals: int = 0, plus: bool = False) -> str:
    """`value` at so many decimals, with a true minus sign, no negative zero, and with `plus` a sign before gains too."""
    scale = 10**decimals
    steps = math.floor(abs(value) * scale * (1.0 + _NOISE) + 0.5)
    text = f"{steps / scale:.{decimals}f}"
    sign = "" if steps == 0 else "−" if value < 0.0 else "+" if plus else ""
    return sign + text
