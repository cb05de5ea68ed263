"""Mass, balance and swingweight of strung frames, the moments of inertia that follow, and what is physically possible.

Swingweight is the moment of inertia about an axis 10 cm from the butt. Taraborrelli et al. 2019 (Sports Engineering 22, doi
10.1007/s12283-019-0303-8, introduction) say "approximately"; that it is exactly 10 cm is our definition (4 in would give
some 2 kg·cm² less). The others follow by the parallel-axis theorem, I = I_centre + m·d². The centre of percussion of a frame
held at the butt is that of a physical pendulum, I_butt/(m·b) from there (textbook). Lengths are from the butt in mm, masses
in g, inertias in kg·cm². Columns of a body [B, 3] are mass, balance, swingweight; NaN if unknown.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.scores import Variances, frame_scores, specimen_spread
from gapbook.science.units import INCH

AXIS_MM = 100.0
POINT_MM = INCH / 8.0
"""One balance point [mm]: an eighth of an inch. Common practice, no source."""
BED_MASS_G = 16.0
U_BED_MASS_G = 2.0
"""Mass of a string bed and its standard uncertainty [g]. Common practice, no source."""
BED_GYRATION_MM = 80.0
U_BED_GYRATION_MM = 4.0
"""Radius of gyration of a string bed about its own middle, and its standard uncertainty [mm]. An even elliptical plate of
length L has L/4 (textbook): 78 to 86 mm for heads of 310 to 345 mm. Strings stop short of tip and throat."""
BED_OFFSET_MM = 10.0
"""The head's centre lies at length - L/2 - BED_OFFSET_MM from the butt [mm]."""
DECLARED_U = (2.0, 2.0, 3.0)
"""Standard uncertainty of declared mass [g], balance [mm], swingweight [kg.cm2]. Common practice, no source."""
KG_CM2 = 1e-5
"""kg·cm² in a g·mm²."""
_STEP = 1e-20

Numbers = NDArray[np.complex128]


class Stated(NamedTuple):
    """Stated mass [g], balance [mm] and swingweight [kg.cm2] of frames [F, 3], NaN if unknown; their standard uncertainties;
    and whether each is of the strung frame.
    """

    value: FloatArray
    u: FloatArray
    strung: BoolArray


OUTPUTS = (
    "mass_g",
    "balance_mm",
    "balance_points",
    "swingweight_kgcm2",
    "inertia_centre_kgcm2",
    "inertia_butt_kgcm2",
    "percussion_mm",
)


def bed_centre(length: FloatArray, head_length: FloatArray) -> FloatArray:
    """Distance of the head's centre from the butt [mm], from overall and inner head length [mm]."""
    return length - head_length / 2.0 - BED_OFFSET_MM


def inertia_about(inertia_centre: NDArray[Any], mass: NDArray[Any], distance: NDArray[Any]) -> NDArray[Any]:
    """Moment of inertia [kg.cm2] about an axis `distance` [mm] from the balance point; mass in g."""
    return inertia_centre + mass * distance**2 * KG_CM2


def _strung(inputs: list[Numbers], strung: BoolArray, length: FloatArray, centre: FloatArray) -> list[Numbers]:
    """OUTPUTS from mass, balance, swingweight, bed mass and the bed's gyration, with the bed added to figures of unstrung
    frames.
    """
    mass, balance, swing, bed, gyration = inputs
    mass = np.where(strung[:, 0], mass, mass + bed)
    with np.errstate(invalid="ignore"):
        balance = np.where(strung[:, 1], balance, ((mass - bed) * balance + bed * centre) / mass)
    swing = np.where(strung[:, 2], swing, swing + inertia_about(bed * gyration**2 * KG_CM2, bed, centre - AXIS_MM))
    inertia = inertia_about(swing, -mass, balance - AXIS_MM)
    points = (balance - length / 2.0) / POINT_MM
    at_butt = inertia_about(inertia, mass, balance)
    moment = mass * balance * KG_CM2
    with np.errstate(invalid="ignore"):
        percussion = at_butt / np.where(moment.real > 0.0, moment, np.nan)
    return [mass, balance, points, swing, inertia, at_butt, percussion]


def as_strung(stated: Stated, length: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
    """OUTPUTS of strung frames and their standard uncertainties [F, 7], from stated figures.

    length: overall [F] in mm; centre: `bed_centre` [F] in mm. Propagation is linear (JCGM 100:2008, 5.1.2), the
    derivatives taken by complex steps (Squire & Trapp 1998, SIAM Review 40, 110-112).
    """
    bed = (np.full(len(length), figure) for figure in (BED_MASS_G, BED_GYRATION_MM))
    inputs = [*stated.value.T.astype(complex), *(figure.astype(complex) for figure in bed)]
    u = [*stated.u.T, *(np.full(len(length), figure) for figure in (U_BED_MASS_G, U_BED_GYRATION_MM))]
    value = np.stack([output.real for output in _strung(inputs, stated.strung, length, centre)], axis=1)
    variance = np.zeros(value.shape)
    for number, deviation in enumerate(u):
        moved = list(inputs)
        moved[number] = moved[number] + 1j * _STEP
        slope = np.stack([output.imag for output in _strung(moved, stated.strung, length, centre)], axis=1) / _STEP
        variance += np.where(slope != 0.0, slope * np.nan_to_num(deviation)[:, None], 0.0) ** 2
    return value, np.where(np.isnan(value), np.nan, np.sqrt(variance))


def copies(
    value: FloatArray, independent: FloatArray, instrument: FloatArray, frame: IntArray, frames: int, default: float
) -> tuple[FloatArray, FloatArray]:
    """Mean of a quantity over a frame's specimens and its standard uncertainty for another copy [frames]; NaN if no specimen
    was read.

    value: of each specimen [S]
    independent: variance of its reading [S]
    instrument: standard uncertainty from the instrument [S]
    frame: number of its frame [S]
    frames: how many there are
    default: specimen spread that is assumed
    """
    column, variances = value[:, None], Variances(independent[:, None], instrument[:, None] ** 2)
    spread = specimen_spread(column, variances, frame, np.array([default])).counted
    scored = frame_scores(column, variances, frame, spread)
    mean, u = np.full(frames, np.nan), np.full(frames, np.nan)
    seen = len(scored.specimens)
    mean[:seen], u[:seen] = scored.value[:, 0], scored.u[:, 0]
    return mean, u


USUAL = np.array([[310.0, 320.0, 320.0], [15.0, 10.0, 15.0]])
"""Middle and spread of strung adult frames, used if a package holds too few. Common practice, no source."""
LEAST_SPREAD = np.array([3.0, 3.0, 4.0, 2.0])
"""The spread of a package's frames is taken to be at least this: mass [g], balance [mm], swingweight [kg.cm2], radius of
gyration [mm]. Common practice, no source."""
FEWEST = 10
"""Figures of a kind that a package must hold before one of them can be called unusual."""
EFFICIENCY = 0.37
"""Efficiency of the median absolute deviation for normally distributed figures (Rousseeuw & Croux 1993, Journal of the American
Statistical Association 88, 1273-1283)."""
U_CENTRE_MM = 10.0
"""Standard uncertainty of the place of a bed's middle [mm]. Common practice, no source."""


def inertia_centre(body: FloatArray) -> FloatArray:
    """Moment of inertia about the balance point [B] in kg.cm2, by the parallel-axis theorem."""
    return np.asarray(inertia_about(body[:, 2], -body[:, 0], body[:, 1] - AXIS_MM))


def greatest_inertia(body: FloatArray, length: FloatArray) -> FloatArray:
    """Greatest inertia about the balance point [B] in kg.cm2: m·b·(L - b), with all mass at the two ends (Bhatia & Davis 2000,
    American Mathematical Monthly 107, 353-357).
    """
    return np.asarray(body[:, 0] * body[:, 1] * (length - body[:, 1]) * KG_CM2)


class Impossible(NamedTuple):
    """Bodies that are impossible [B]: the balance point off the frame, a negative inertia, or too great an inertia."""

    balance: BoolArray
    negative: BoolArray
    great: BoolArray


def impossible(body: FloatArray, length: FloatArray) -> Impossible:
    """Bodies that no distribution of mass from 0 to `length` [B] can have. An unknown figure is not judged."""
    inertia = inertia_centre(body)
    with np.errstate(invalid="ignore"):
        off = (body[:, 1] <= 0.0) | (body[:, 1] >= length)
        return Impossible(off, ~off & (inertia < 0.0), ~off & (inertia > greatest_inertia(body, length)))


def gyration(body: FloatArray) -> FloatArray:
    """Radius of gyration about the balance point [B] in mm; NaN if unknown or impossible."""
    with np.errstate(invalid="ignore", divide="ignore"):
        square = inertia_centre(body) / (body[:, 0] * KG_CM2)
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


class StringingShift(NamedTuple):
    """Change of mass, balance and swingweight by stringing [B, 3], and its standard uncertainty."""

    value: FloatArray
    u: FloatArray


def strung_shift(bare: FloatArray, centre: FloatArray) -> StringingShift:
    """Change of bare frames [B, 3] by a bed of 16 ± 2 g at `centre` [B] (from the butt in mm).

    Linear propagation (JCGM 100:2008, 5.1.2) of the bed's mass, the place of its middle and its gyration.
    """
    mass, balance = bare[:, 0], bare[:, 1]
    arm, lever = centre - AXIS_MM, centre - balance
    strung = mass + BED_MASS_G
    about_axis = (arm**2 + BED_GYRATION_MM**2) * KG_CM2
    value = np.stack([np.full(len(mass), BED_MASS_G), BED_MASS_G * lever / strung, BED_MASS_G * about_axis], axis=1)
    by_mass = np.stack([np.ones(len(mass)), lever * mass / strung**2, about_axis], axis=1)
    by_gyration = np.array([0.0, 0.0, 2.0 * BED_MASS_G * BED_GYRATION_MM * KG_CM2])
    by_centre = np.stack([np.zeros(len(mass)), BED_MASS_G / strung, 2.0 * BED_MASS_G * arm * KG_CM2], axis=1)
    parts = (by_mass * U_BED_MASS_G, by_centre * U_CENTRE_MM, by_gyration * U_BED_GYRATION_MM)
    return StringingShift(value, np.sqrt(sum(part**2 for part in parts)))
