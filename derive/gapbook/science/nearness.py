"""How probable it is that two beds are within tolerances of each other, in all zones at once and in single figures.

A difference is taken as normal about what was found, with its standard uncertainty. The zones of one bed share a part of their
error (the instrument, the person, the copy). It is taken as one variable, so that any two zones have the same correlation;
given it they are independent, and the probability of all zones is an integral over it.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from gapbook.science.grouping import FloatArray

REACH = 8.0
"""Standard deviations over which the shared part is integrated: beyond them lies less than 2e-15 of it."""
_NODES = 801
_LEAST = 0.02
"""A zone's own standard deviation is taken as at least this part of its whole one, so that the nodes resolve it."""


def within(difference: FloatArray, u: FloatArray, low: FloatArray | float, high: FloatArray | float) -> FloatArray:
    """P(low ≤ X ≤ high) of X normal about `difference` with standard deviation `u`; NaN if either is NaN.

    difference: what was found [any shape]
    u: its standard uncertainty, 0 or more, in the same unit
    low: the lower tolerance
    high: the upper tolerance
    """
    exact = (difference >= low) & (difference <= high)
    scale = np.where(u > 0.0, u, 1.0)
    with np.errstate(invalid="ignore"):
        spread = ndtr((high - difference) / scale) - ndtr((low - difference) / scale)
        return np.where(np.isnan(difference) | np.isnan(u), np.nan, np.where(u > 0.0, spread, exact * 1.0))


def correlation(centre: FloatArray, sides: FloatArray, ratio: FloatArray) -> FloatArray:
    """Correlation of ln O in the centre and the sides of a bed [F]: (v_centre + v_sides - v_ratio) / (2·u_centre·u_sides).

    centre: variance of ln O in the centre [F]
    sides: variance of ln O in the sides [F]
    ratio: variance of ln(O_sides/O_centre) [F]

    Between 0 and 1; 0 if one of them is not known.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        found = (centre + sides - ratio) / (2.0 * np.sqrt(centre * sides))
    return np.clip(np.nan_to_num(found), 0.0, 1.0)


def all_within(
    difference: FloatArray, variance: FloatArray, shared: FloatArray, low: FloatArray | float, high: FloatArray | float
) -> FloatArray:
    """P(low ≤ X_z ≤ high in every zone z) [F] of normal X_z; a zone that is not known (NaN) is left out, 1 if none is known.

    difference: what was found in each zone [F, Z]
    variance: of each [F, Z]
    shared: the part of each variance that comes from what all zones of a row share [F, Z]
    low: the lower tolerance
    high: the upper tolerance
    """
    known = ~np.isnan(difference) & ~np.isnan(variance)
    found, whole = np.where(known, difference, 0.0), np.where(known, variance, 1.0)
    common = np.sqrt(np.where(known, np.minimum(shared, whole), 0.0))
    own = np.sqrt(np.maximum(whole - common**2, _LEAST**2 * whole))
    node = np.linspace(-REACH, REACH, _NODES)
    weight = np.exp(-0.5 * node**2)
    weight /= weight.sum()
    product = np.ones((len(found), _NODES))
    for zone in range(found.shape[1]):
        at = found[:, zone, None] + common[:, zone, None] * node
        chance = within(at, own[:, zone, None] + 0.0 * at, low, high)
        product *= np.where(known[:, zone, None], chance, 1.0)
    return np.asarray(product @ weight)
