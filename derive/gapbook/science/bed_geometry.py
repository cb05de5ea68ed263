"""The meshes between the strings of one bed: their places and sizes, and the points at which strings meet the hoop.

Lengths in mm from the head's centre, x to the right, y to the tip. Main i runs x = a_i + b_i·y, cross j along y = y_j.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science import outline as heads
from gapbook.science.grouping import BoolArray, FloatArray
from gapbook.science.zones import BALL_MM, LEAST_COVERAGE, MIDDLES


class Hoop(NamedTuple):
    """The inner edge: a superellipse of this width and length [mm] and exponent."""

    width: float
    length: float
    exponent: float


def hoop_of_area(area_cm2: float) -> Hoop:
    """The inner edge of a head of which only the area [cm2] is known, of the usual exponent and aspect."""
    width, length = heads.size_from_area(np.array([area_cm2]))
    return Hoop(float(width[0]), float(length[0]), heads.USUAL_EXPONENT)


class BedStrings(NamedTuple):
    """Mains a_i left to right and their slopes b_i [m], crosses y_j from tip to throat [c]."""

    main_at_0: FloatArray
    main_slope: FloatArray
    cross_y: FloatArray

    def mains_at(self, height: FloatArray) -> FloatArray:
        """x of every main at these heights: [m, *height.shape]."""
        shape = (-1, *([1] * np.ndim(height)))
        return np.asarray(self.main_at_0.reshape(shape) + self.main_slope.reshape(shape) * height)


class GapUncertainty(NamedTuple):
    """Standard uncertainty of one gap of the mains, and of the crosses [mm]."""

    main: float
    cross: float


class Meshes(NamedTuple):
    """Meshes by main gap and cross gap: corners [m−1, c−1, 4, 2] (left and right at the upper cross, right and left at
    the lower), and size [m−1, c−1], √(main gap · cross gap), the main gap at half height.
    """

    corners: FloatArray
    size: FloatArray


def meshes(strings: BedStrings) -> Meshes:
    """Every mesh between two neighbouring mains and two neighbouring crosses, including those that the hoop cuts."""
    y = strings.cross_y
    x = strings.mains_at(y)
    upper, lower = x[:, :-1], x[:, 1:]
    top = np.broadcast_to(y[:-1], (len(x) - 1, len(y) - 1))
    bottom = np.broadcast_to(y[1:], top.shape)
    across = np.stack([upper[:-1], upper[1:], lower[1:], lower[:-1]], axis=-1)
    corners = np.stack([across, np.stack([top, top, bottom, bottom], axis=-1)], axis=-1)
    main_gap = np.diff(strings.mains_at((y[:-1] + y[1:]) / 2.0), axis=0)
    return Meshes(corners, np.sqrt(main_gap * -np.diff(y)))


def size_over(other: BedStrings, corners: FloatArray) -> FloatArray:
    """Mesh size of another bed at the places of these meshes [m−1, c−1] in mm; NaN if its strings cover less than 80 % of one.

    Strings are counted as in a window (see pitches): pitch = covered / fractional count, main pitch at half height.
    """
    x, y = corners[..., 0], corners[..., 1]
    size = np.full(corners.shape[:2], np.nan)
    rising = other.cross_y[::-1]
    for place in np.ndindex(*size.shape):
        upper, lower = y[place][0], y[place][2]
        ends = (x[place][0] + x[place][3]) / 2.0, (x[place][1] + x[place][2]) / 2.0
        main = pitch_between(other.mains_at(np.asarray((upper + lower) / 2.0)), *ends)
        size[place] = np.sqrt(main * pitch_between(rising, lower, upper))
    return size


class Differences(NamedTuple):
    """Of every mesh of a bed: its size less that of another bed over the same place [m−1, c−1] in mm, NaN as `size_over` has
    it, and the standard uncertainty of that.
    """

    size: FloatArray
    u: FloatArray


def differences(strings: BedStrings, other: BedStrings, u_gap: GapUncertainty, u_other: GapUncertainty) -> Differences:
    """Each mesh of a bed against another bed.

    strings, other: the two beds
    u_gap, u_other: how well single gaps of each are known

    A size √(g·h) has the relative uncertainty ½·√((u_g/g)² + (u_h/h)²). Over a stretch as long as a gap g the pitch of the
    other bed has at most the uncertainty that a gap g of it would have, which is taken for it. What all gaps of a bed share,
    its instrument's error, is small beside that (0.05 mm) and left out.
    """
    found = meshes(strings)
    over = size_over(other, found.corners)
    x, y = found.corners[..., 0], found.corners[..., 1]
    across, along = (x[..., 1] - x[..., 0] + x[..., 2] - x[..., 3]) / 2.0, y[..., 0] - y[..., 2]
    relative = [np.hypot(one.main / across, one.cross / along) / 2.0 for one in (u_gap, u_other)]
    return Differences(found.size - over, np.hypot(found.size * relative[0], over * relative[1]))


def pitch_between(positions: FloatArray, low: float, high: float) -> float:
    """Pitch of rising positions [n] from `low` to `high`; NaN if they cover less than 80 % of this stretch."""
    first, last = max(low, positions[0]), min(high, positions[-1])
    if last - first < LEAST_COVERAGE * (high - low):
        return float("nan")
    count = np.interp((first, last), positions, np.arange(len(positions)))
    return float((last - first) / (count[1] - count[0]))


def inside(hoop: Hoop, x: FloatArray, y: FloatArray) -> BoolArray:
    """Whether points lie within the inner edge."""
    across, along = np.abs(2.0 * x / hoop.width), np.abs(2.0 * y / hoop.length)
    return np.asarray(across**hoop.exponent + along**hoop.exponent < 1.0)


def cross_ends(hoop: Hoop, cross_y: FloatArray) -> FloatArray:
    """x at which each cross meets the inner edge on the right [c]; on the left it is −x. 0 for a cross beyond the head."""
    return np.asarray(heads.cross_ends(_one(hoop), cross_y[None])[0])


def main_ends(hoop: Hoop, strings: BedStrings) -> FloatArray:
    """y at which each main meets the inner edge, at the throat and at the tip [m, 2]. 0 for a main that is outside at y = 0."""
    at_0, slope = strings.main_at_0[None], strings.main_slope[None]
    ends = np.stack([heads.main_ends(_one(hoop), at_0, slope, side)[0] for side in (-1, 1)], axis=-1)
    return np.where(inside(hoop, strings.main_at_0, np.zeros(1))[:, None], ends, 0.0)


def _one(hoop: Hoop) -> heads.Outlines:
    return heads.Outlines(*(np.array([figure]) for figure in hoop))


def outline(hoop: Hoop, points: int = 240) -> FloatArray:
    """Points [points, 2] of the inner edge, counter-clockwise from the right."""
    angle = np.linspace(0.0, 2.0 * np.pi, points, endpoint=False)
    x, y = np.cos(angle), np.sin(angle)
    power = 2.0 / hoop.exponent
    half = hoop.width / 2.0, hoop.length / 2.0
    return np.stack([half[0] * np.sign(x) * np.abs(x) ** power, half[1] * np.sign(y) * np.abs(y) ** power], axis=-1)


REACH = 0.81
"""Distance of the outer strings of a schematic bed from the middle, as a part of the distance to the hoop."""


def schematic(mains: int, crosses: int, hoop: Hoop) -> BedStrings:
    """Evenly spaced strings for a drawing that shows only their count."""
    x = np.linspace(-REACH, REACH, mains) * hoop.width / 2.0
    return BedStrings(x, np.zeros(mains), np.linspace(REACH, -REACH, crosses) * hoop.length / 2.0)


def windows() -> dict[str, tuple[float, float, float]]:
    """The five windows by zone: left edge, lower edge and side [mm]."""
    half = BALL_MM / 2.0
    return {zone: (x - half, y - half, BALL_MM) for zone, (x, y) in MIDDLES.items()}
