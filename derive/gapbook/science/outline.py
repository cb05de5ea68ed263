"""The head's outline as a superellipse: its exponent, its size if nobody read it, and the points at which strings meet it.

|x/(W/2)|^n + |y/(L/2)|^n = 1 has the area W·L·k(n), k(n) = Γ(1 + 1/n)² / Γ(1 + 2/n); n = 2 is an ellipse. Below,
p = |x/(W/2)|^n and q = |y/(L/2)|^n, so that p + q = 1 on the outline; a main is x = at_0 + slope·y, a cross has a fixed y.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.polynomial import Chebyshev

from gapbook.science.grouping import FloatArray

LEAST_EXPONENT = 1.7
GREATEST_EXPONENT = 2.7
USUAL_EXPONENT = 2.1
"""Used if no exponent from LEAST_EXPONENT to GREATEST_EXPONENT gives the area."""
ASPECT = 1.33
"""Length over width of a head nobody measured. Common practice, no source."""

_HALVINGS = 60
_DEGREE = 20


def area_factor(exponent: FloatArray) -> FloatArray:
    """k(n), the area over width times length; exponents [any shape] from 0.01."""
    return np.asarray(np.vectorize(_area_factor, otypes=[float])(exponent))


def _area_factor(exponent: float) -> float:
    return math.gamma(1.0 + 1.0 / exponent) ** 2 / math.gamma(1.0 + 2.0 / exponent)


_FACTORS = (_area_factor(LEAST_EXPONENT), _area_factor(GREATEST_EXPONENT))


def _exponent(factor: float) -> float:
    """The exponent of an area factor between _FACTORS, by bisection."""
    low, high = LEAST_EXPONENT, GREATEST_EXPONENT
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _area_factor(middle) < factor else (low, middle)
    return (low + high) / 2.0


_EXPONENT = Chebyshev.interpolate(lambda factors: np.array([_exponent(factor) for factor in factors]), _DEGREE, _FACTORS)
"""The exponent by area factor, between _FACTORS: within 1e-12 of the bisection, and quick for arrays."""


def exponent_of(width: FloatArray, length: FloatArray, area: FloatArray) -> FloatArray:
    """The exponent n of the superellipse of this inner width [mm], length [mm] and area [cm2]; all [B].

    USUAL_EXPONENT if no exponent from 1.7 to 2.7 gives the area. Accurate to 1e-12.
    """
    factor = area * 100.0 / (width * length)
    fits = (factor >= _FACTORS[0]) & (factor <= _FACTORS[1])
    return np.where(fits, _EXPONENT(np.clip(factor, *_FACTORS)), USUAL_EXPONENT)


def exponent_per_log_size(width: FloatArray, length: FloatArray, area: FloatArray) -> FloatArray:
    """Change of `exponent_of` per unit of ln width, or of ln length, at the same area [B]; 0 if no exponent fits.

    ln area = ln width + ln length + ln k(n) is constant, so dn = -d ln width / (d ln k / dn).
    """
    n = exponent_of(width, length, area)
    fits = np.abs(area_factor(n) * width * length / (area * 100.0) - 1.0) < 1e-9
    return np.where(fits, -1.0 / log_factor_slope(n), 0.0)


def size_from_area(area: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Width and length [mm] of a superellipse of this area [cm2], of USUAL_EXPONENT and ASPECT."""
    width = np.sqrt(area * 100.0 / (_area_factor(USUAL_EXPONENT) * ASPECT))
    return width, ASPECT * width


U_DECLARED_AREA = 0.01
"""Relative standard uncertainty of a declared head area: makers round to a square inch and measure in different ways.
Common practice, no source."""
U_USUAL_EXPONENT = 0.15
U_LOG_ASPECT = 0.04 / ASPECT
"""Standard uncertainty of the exponent and of ln(length/width) of a head of which only the area is known. Common practice, no
source."""


def log_factor_slope(exponent: FloatArray) -> FloatArray:
    """d ln k/dn of the area factor k(n) [B]."""
    from scipy.special import digamma  # only here, because it takes long to import

    return np.asarray(2.0 * (digamma(1.0 + 2.0 / exponent) - digamma(1.0 + 1.0 / exponent)) / exponent**2)


def size_errors() -> tuple[FloatArray, FloatArray]:
    """Errors of ln width and of ln length that follow from an area, of one standard uncertainty: from the aspect (a wider head
    is a shorter one), and from the exponent (the same in both), by the central difference over one standard uncertainty.
    """
    aspect = U_LOG_ASPECT / 2.0
    high, low = (math.log(_area_factor(USUAL_EXPONENT + sign * U_USUAL_EXPONENT)) for sign in (1.0, -1.0))
    exponent = (low - high) / 4.0
    return np.array([-aspect, aspect]), np.array([exponent, exponent])


_STEPS = 60
_CLOSE_MM = 1e-9
_LEAST = 1e-12


class Outlines(NamedTuple):
    """Outlines of heads [B]: inner width and length [mm] and exponent."""

    width: FloatArray
    length: FloatArray
    exponent: FloatArray


class EndShift(NamedTuple):
    """How far an end moves along its string [B, strings], in mm.

    aside: per mm that the string is moved aside
    slope: per unit of its slope (0 for crosses)
    log_width: per unit of ln width
    log_length: per unit of ln length
    exponent: per unit of the exponent
    """

    aside: FloatArray
    slope: FloatArray
    log_width: FloatArray
    log_length: FloatArray
    exponent: FloatArray


def main_ends(outlines: Outlines, at_0: FloatArray, slope: FloatArray, side: int) -> FloatArray:
    """y [B, m] at which mains meet the outline.

    By Newton's method: p + q is convex along the line, so from outside it approaches the root without overshooting, and from
    inside its first step leads outside. The y of a main outside the head has no meaning.

    outlines: [B]
    at_0: x of the mains at y = 0 [B, m] in mm
    slope: of the mains [B, m]
    side: 1 for the ends towards the tip, -1 for those towards the throat
    """
    n = outlines.exponent[:, None]
    half_width, half_length = outlines.width[:, None] / 2.0, outlines.length[:, None] / 2.0
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


def cross_ends(outlines: Outlines, y: FloatArray) -> FloatArray:
    """x > 0 [B, c] at which crosses meet the outline (0 for a cross beyond the head)."""
    n = outlines.exponent[:, None]
    inner = np.maximum(1.0 - np.abs(2.0 * y / outlines.length[:, None]) ** n, 0.0)
    return np.asarray(outlines.width[:, None] / 2.0 * inner ** (1.0 / n))


def main_shift(outlines: Outlines, y: FloatArray, at_0: FloatArray, slope: FloatArray) -> EndShift:
    """How the ends of mains move.

    outlines: [B]
    y: of the ends [B, m] in mm
    at_0: x of the mains at y = 0 [B, m] in mm
    slope: of the mains [B, m]
    """
    by_x, by_y, p, q, by_n = _partials(outlines, at_0 + slope * y, y)
    along = by_x * slope + by_y
    along = np.where(np.abs(along) > _LEAST, along, _LEAST)
    n = outlines.exponent[:, None]
    return EndShift(-by_x / along, -by_x * y / along, n * p / along, n * q / along, -by_n / along)


def cross_shift(outlines: Outlines, x: FloatArray, y: FloatArray) -> EndShift:
    """How the right-hand ends at `x` [B, c] of crosses move; the left-hand ones move the other way."""
    by_x, by_y, p, q, by_n = _partials(outlines, x, y)
    by_x = np.where(np.abs(by_x) > _LEAST, by_x, _LEAST)
    n = outlines.exponent[:, None]
    return EndShift(-by_y / by_x, np.zeros_like(x), n * p / by_x, n * q / by_x, -by_n / by_x)


def _partials(
    outlines: Outlines, x: FloatArray, y: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Partial derivatives of p + q by x, y and n, and p and q themselves, in the order: by x, by y, p, q, by n."""
    n = outlines.exponent[:, None]
    u, v = np.abs(2.0 * x / outlines.width[:, None]), np.abs(2.0 * y / outlines.length[:, None])
    p, q = u**n, v**n
    by_x = n * u ** (n - 1.0) * np.sign(x) * 2.0 / outlines.width[:, None]
    by_y = n * v ** (n - 1.0) * np.sign(y) * 2.0 / outlines.length[:, None]
    return by_x, by_y, p, q, p * np.log(np.maximum(u, _LEAST)) + q * np.log(np.maximum(v, _LEAST))
