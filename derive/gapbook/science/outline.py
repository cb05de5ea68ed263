"""The head's outline as a superellipse, and its width and length where nobody read them.

|x/(W/2)|^n + |y/(L/2)|^n = 1 has the area W·L·k(n), k(n) = Γ(1 + 1/n)² / Γ(1 + 2/n); n = 2 is an ellipse.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.polynomial import Chebyshev

from gapbook.science.grouping import FloatArray

LEAST_EXPONENT = 1.7
GREATEST_EXPONENT = 2.7
USUAL_EXPONENT = 2.1
"""Used where no exponent from LEAST_EXPONENT to GREATEST_EXPONENT gives the area."""
ASPECT = 1.33
"""Length over width of a head nobody measured. Common practice, no source."""
U_ASPECT = 0.015
"""Relative standard uncertainty of a width or length that follows from area and ASPECT. Common practice, no source."""

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
"""The exponent by area factor, between _FACTORS: within 1e-12 of the bisection, and of arrays at once."""


def exponent_of(width: FloatArray, length: FloatArray, area: FloatArray) -> FloatArray:
    """The exponent n of the superellipse of this inner width [mm], length [mm] and area [cm2]; all [B].

    USUAL_EXPONENT where the area fits none from 1.7 to 2.7. To 1e-12.
    """
    factor = area * 100.0 / (width * length)
    fits = (factor >= _FACTORS[0]) & (factor <= _FACTORS[1])
    return np.where(fits, _EXPONENT(np.clip(factor, *_FACTORS)), USUAL_EXPONENT)


def exponent_per_log_size(width: FloatArray, length: FloatArray, area: FloatArray) -> FloatArray:
    """Change of `exponent_of` per unit of ln width, or of ln length, at the same area [B]; 0 where no exponent fits.

    ln area = ln width + ln length + ln k(n) stays as it is, so dn = -d ln width / (d ln k / dn).
    """
    from scipy.special import digamma  # takes long to import

    n = exponent_of(width, length, area)
    fits = np.abs(area_factor(n) * width * length / (area * 100.0) - 1.0) < 1e-9
    per_exponent = 2.0 * (digamma(1.0 + 2.0 / n) - digamma(1.0 + 1.0 / n)) / n**2
    return np.where(fits, -1.0 / per_exponent, 0.0)


def size_from_area(area: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Width and length [mm] of an ellipse of this area [cm2] and ASPECT."""
    width = np.sqrt(4.0 * area * 100.0 / (np.pi * ASPECT))
    return width, ASPECT * width
