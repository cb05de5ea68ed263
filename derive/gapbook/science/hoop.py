"""Where strings meet the head's outline, and how that place moves when string or outline do.

The outline is the superellipse of `outline`: p + q = 1 with p = |x/(W/2)|^n and q = |y/(L/2)|^n. Mains run along
x = at_0 + slope·y, crosses along y.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray

_STEPS = 60
_CLOSE_MM = 1e-9
_LEAST = 1e-12


class Hoop(NamedTuple):
    """Outlines [B]: inner width and length [mm] and exponent."""

    width: FloatArray
    length: FloatArray
    exponent: FloatArray


class Shift(NamedTuple):
    """How far an end moves along its string [B, strings], in mm: per mm the string is moved aside, per unit of its slope
    (mains only, else 0), per unit of ln width, of ln length, and of the exponent.
    """

    aside: FloatArray
    slope: FloatArray
    log_width: FloatArray
    log_length: FloatArray
    exponent: FloatArray


def main_ends(hoop: Hoop, at_0: FloatArray, slope: FloatArray, side: int) -> FloatArray:
    """y [B, m] at which mains meet the outline; side 1 towards the tip, -1 towards the throat.

    By Newton's method: p + q is convex along the line, so from outside it comes down to the root without overshooting, and
    from inside its first step leads outside. A main outside the hoop gets a y that means nothing.
    """
    n = hoop.exponent[:, None]
    half_width, half_length = hoop.width[:, None] / 2.0, hoop.length[:, None] / 2.0
    y = side * half_length * np.maximum(1.0 - (np.abs(at_0) / half_width) ** n, 0.0) ** (1.0 / n)
    for _ in range(_STEPS):
        x = at_0 + slope * y
        u, v = np.abs(x) / half_width, np.abs(y) / half_length
        p, q = u ** (n - 1.0), v ** (n - 1.0)
        rise = side * n * (p * np.sign(x) * slope / half_width + q * np.sign(y) / half_length)
        after = y - side * (p * u + q * v - 1.0) / np.where(rise > _LEAST, rise, _LEAST)
        after = np.clip(after, -half_length, half_length)
        moved = np.abs(after - y).max(initial=0.0)
        y = after
        if moved < _CLOSE_MM:
            break
    return np.asarray(y)


def cross_ends(hoop: Hoop, y: FloatArray) -> FloatArray:
    """x > 0 [B, c] at which crosses meet the outline (0 for one beyond the hoop)."""
    n = hoop.exponent[:, None]
    inner = np.maximum(1.0 - np.abs(2.0 * y / hoop.length[:, None]) ** n, 0.0)
    return np.asarray(hoop.width[:, None] / 2.0 * inner ** (1.0 / n))


def main_shift(hoop: Hoop, y: FloatArray, at_0: FloatArray, slope: FloatArray) -> Shift:
    """How the ends at `y` [B, m] of mains move."""
    by_x, by_y, p, q, by_n = _partials(hoop, at_0 + slope * y, y)
    along = by_x * slope + by_y
    along = np.where(np.abs(along) > _LEAST, along, _LEAST)
    n = hoop.exponent[:, None]
    return Shift(-by_x / along, -by_x * y / along, n * p / along, n * q / along, -by_n / along)


def cross_shift(hoop: Hoop, x: FloatArray, y: FloatArray) -> Shift:
    """How the right-hand ends at `x` [B, c] of crosses move; the left-hand ones move the other way."""
    by_x, by_y, p, q, by_n = _partials(hoop, x, y)
    by_x = np.where(np.abs(by_x) > _LEAST, by_x, _LEAST)
    n = hoop.exponent[:, None]
    return Shift(-by_y / by_x, np.zeros_like(x), n * p / by_x, n * q / by_x, -by_n / by_x)


def _partials(hoop: Hoop, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Partial derivatives of p + q by x, y and n, with p and q between them: (by x, by y, p, q, by n)."""
    n = hoop.exponent[:, None]
    u, v = np.abs(2.0 * x / hoop.width[:, None]), np.abs(2.0 * y / hoop.length[:, None])
    p, q = u**n, v**n
    by_x = n * u ** (n - 1.0) * np.sign(x) * 2.0 / hoop.width[:, None]
    by_y = n * v ** (n - 1.0) * np.sign(y) * 2.0 / hoop.length[:, None]
    return by_x, by_y, p, q, p * np.log(np.maximum(u, _LEAST)) + q * np.log(np.maximum(v, _LEAST))
