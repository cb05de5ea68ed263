"""What mass, balance and swingweight a body can have, what is usual, and what a string bed adds.

Lengths from the butt in mm, masses in g, moments of inertia in kg·cm²; swingweight is about an axis 10 cm from the butt.
Columns of the arrays [B, 3] are mass, balance, swingweight; NaN where unknown.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray
from gapbook.science.handling import AXIS_MM, BED_MASS_G, U_BED_MASS_G, inertia_about

_G_MM2 = 1e-5
USUAL = np.array([[310.0, 320.0, 320.0], [15.0, 10.0, 15.0]])
"""Middle and spread of strung adult frames, where a package holds too few to say. Common practice, no source."""
LEAST_SPREAD = np.array([3.0, 3.0, 4.0, 2.0])
"""Below this a package's frames are not held to be alike: mass [g], balance [mm], swingweight [kg.cm2], radius of gyration
[mm]. Common practice, no source."""
FEWEST = 10
"""Figures a package must hold of a kind before one of them can be unusual."""
EFFICIENCY = 0.37
"""Part of normal figures' information that the median absolute deviation uses (Rousseeuw & Croux 1993, Journal of the American
Statistical Association 88, 1273-1283)."""
U_CENTRE_MM = 10.0
"""How far a bed's middle may lie from where it is taken to lie [mm]. Common practice, no source."""


def inertia_centre(body: FloatArray) -> FloatArray:
    """Moment of inertia about the balance point [B] in kg.cm2, by the parallel-axis theorem."""
    return np.asarray(inertia_about(body[:, 2], -body[:, 0], body[:, 1] - AXIS_MM))


def greatest_inertia(body: FloatArray, length: FloatArray) -> FloatArray:
    """The most that can be about the balance point [B] in kg.cm2: m·b·(L - b), all mass at the two ends (Bhatia & Davis 2000,
    American Mathematical Monthly 107, 353-357).
    """
    return np.asarray(body[:, 0] * body[:, 1] * (length - body[:, 1]) * _G_MM2)


class Impossible(NamedTuple):
    """Bodies that cannot be [B]: with the balance point off the frame, with a negative inertia, or with too great a one."""

    balance: BoolArray
    negative: BoolArray
    great: BoolArray


def impossible(body: FloatArray, length: FloatArray) -> Impossible:
    """Which bodies no distribution of mass from 0 to `length` [B] has. What is not known is not judged."""
    inertia = inertia_centre(body)
    with np.errstate(invalid="ignore"):
        off = (body[:, 1] <= 0.0) | (body[:, 1] >= length)
        return Impossible(off, ~off & (inertia < 0.0), ~off & (inertia > greatest_inertia(body, length)))


def gyration(body: FloatArray) -> FloatArray:
    """Radius of gyration about the balance point [B] in mm; NaN where unknown or impossible."""
    with np.errstate(invalid="ignore", divide="ignore"):
        square = inertia_centre(body) / (body[:, 0] * _G_MM2)
        return np.where(square >= 0.0, np.sqrt(np.maximum(square, 0.0)), np.nan)


class Middle(NamedTuple):
    """Median and spread (1.4826 times the median absolute deviation) of columns [C], and how many figures each has."""

    middle: FloatArray
    spread: FloatArray
    figures: FloatArray


def middle_of(values: FloatArray, least: FloatArray) -> Middle:
    """The middle of each column of values [B, C], the spread no less than `least` [C]; NaN for an empty column."""
    middle, spread, count = (np.full(values.shape[1], np.nan) for _ in range(3))
    for column in range(values.shape[1]):
        known = values[~np.isnan(values[:, column]), column]
        count[column] = len(known)
        if len(known):
            middle[column] = np.median(known)
            spread[column] = max(1.4826 * float(np.median(np.abs(known - middle[column]))), float(least[column]))
    return Middle(middle, spread, count)


class Shift(NamedTuple):
    """What stringing adds to mass, balance and swingweight [B, 3], and the standard uncertainty of that."""

    value: FloatArray
    u: FloatArray


def strung_shift(bare: FloatArray, centre: FloatArray) -> Shift:
    """What a bed of 16 ± 2 g at `centre` [B] (from the butt in mm) adds to bare frames [B, 3].

    Linear propagation (JCGM 100:2008, 5.1.2) of the bed's mass and of where its middle lies.
    """
    mass, balance = bare[:, 0], bare[:, 1]
    arm, lever = centre - AXIS_MM, centre - balance
    strung = mass + BED_MASS_G
    value = np.stack([np.full(len(mass), BED_MASS_G), BED_MASS_G * lever / strung, BED_MASS_G * arm**2 * _G_MM2], axis=1)
    by_mass = np.stack([np.ones(len(mass)), lever * mass / strung**2, arm**2 * _G_MM2], axis=1)
    by_centre = np.stack([np.zeros(len(mass)), BED_MASS_G / strung, 2.0 * BED_MASS_G * arm * _G_MM2], axis=1)
    return Shift(value, np.sqrt((by_mass * U_BED_MASS_G) ** 2 + (by_centre * U_CENTRE_MM) ** 2))
