"""Mass, balance and swingweight of a strung frame, and the moments of inertia that follow.

Swingweight is the moment of inertia about an axis exactly 10 cm from the butt (Taraborrelli et al. 2019, Sports
Engineering 22, doi 10.1007/s12283-019-0303-8, introduction). The others follow by the parallel-axis theorem,
I = I_centre + m·d². Lengths are from the butt in mm, masses in g, inertias in kg·cm².
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
BED_OFFSET_MM = 10.0
"""The head's centre lies at length - L/2 - BED_OFFSET_MM from the butt [mm]."""
DECLARED_U = (2.0, 2.0, 3.0)
"""Standard uncertainty of declared mass [g], balance [mm], swingweight [kg.cm2]. Common practice, no source."""

_G_MM2 = 1e-5
_STEP = 1e-20

Numbers = NDArray[np.complex128]


class Stated(NamedTuple):
    """Mass [g], balance [mm] and swingweight [kg.cm2] of frames [F, 3], their standard uncertainties, and for each figure
    whether it is of the strung frame. NaN where unknown.
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
)


def bed_centre(length: FloatArray, head_length: FloatArray) -> FloatArray:
    """Distance of the head's centre from the butt [mm], from overall and inner head length [mm]."""
    return length - head_length / 2.0 - BED_OFFSET_MM


def inertia_about(inertia_centre: NDArray[Any], mass: NDArray[Any], distance: NDArray[Any]) -> NDArray[Any]:
    """Moment of inertia [kg.cm2] about an axis `distance` [mm] from the balance point; mass in g."""
    return inertia_centre + mass * distance**2 * _G_MM2


def _strung(inputs: list[Numbers], strung: BoolArray, length: FloatArray, centre: FloatArray) -> list[Numbers]:
    """OUTPUTS from mass, balance, swingweight and bed mass, with the bed added to what is not strung."""
    mass, balance, swing, bed = inputs
    mass = np.where(strung[:, 0], mass, mass + bed)
    with np.errstate(invalid="ignore"):
        balance = np.where(strung[:, 1], balance, ((mass - bed) * balance + bed * centre) / mass)
    swing = np.where(strung[:, 2], swing, swing + bed * (centre - AXIS_MM) ** 2 * _G_MM2)
    inertia = inertia_about(swing, -mass, balance - AXIS_MM)
    points = (balance - length / 2.0) / POINT_MM
    return [mass, balance, points, swing, inertia, inertia_about(inertia, mass, balance)]


def as_strung(stated: Stated, length: FloatArray, centre: FloatArray) -> tuple[FloatArray, FloatArray]:
    """OUTPUTS of strung frames and their standard uncertainties [F, 6].

    length: overall [F] in mm; centre: `bed_centre` [F] in mm. Propagation is linear (JCGM 100:2008, 5.1.2), the
    derivatives taken by complex steps (Squire & Trapp 1998, SIAM Review 40, 110-112).
    """
    frames = len(length)
    inputs = [stated.value[:, column].astype(complex) for column in range(3)]
    inputs.append(np.full(frames, BED_MASS_G, dtype=complex))
    u = [*(stated.u[:, column] for column in range(3)), np.full(frames, U_BED_MASS_G)]
    value = np.stack([output.real for output in _strung(inputs, stated.strung, length, centre)], axis=1)
    variance = np.zeros(value.shape)
    for number, deviation in enumerate(u):
        moved = list(inputs)
        moved[number] = moved[number] + 1j * _STEP
        slope = np.stack([output.imag for output in _strung(moved, stated.strung, length, centre)], axis=1) / _STEP
        used = slope != 0.0
        variance += np.where(used, slope * np.nan_to_num(deviation, nan=0.0)[:, None], 0.0) ** 2
    return value, np.where(np.isnan(value), np.nan, np.sqrt(variance))


def copies(
    value: FloatArray, independent: FloatArray, instrument: FloatArray, frame: IntArray, frames: int, default: float
) -> tuple[FloatArray, FloatArray]:
    """Mean of a quantity over a frame's specimens and its standard uncertainty as the copy a buyer gets [frames].

    value, independent (variance), instrument (standard uncertainty) and frame: [S]; `default` is the specimen spread
    used below five degrees of freedom. NaN where no specimen was read.
    """
    column = value[:, None], independent[:, None]
    spread = specimen_spread(*column, frame, np.array([default])).deviation
    scored = frame_scores(column[0], Variances(column[1], instrument[:, None] ** 2), frame, spread)
    mean, u = np.full(frames, np.nan), np.full(frames, np.nan)
    seen = len(scored.specimens)
    mean[:seen], u[:seen] = scored.value[:, 0], scored.u[:, 0]
    return mean, u
