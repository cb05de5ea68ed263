"""A strung bed as a net, assembled node by node in a plain loop from the definitions alone and solved with scipy.sparse.

Frozen: it is what the array code is compared with, in time and in tests. Nothing of the package under test is used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

RADIUS = 33.5
PLACES = {"centre": (0, 0), "left": (-60, 0), "right": (60, 0), "tip": (0, 80), "throat": (0, -80)}


@dataclass
class PlainBed:
    """Mains as (x at y = 0, slope), crosses y from the tip, and the superellipse's width, length and exponent [mm]."""

    mains: list[tuple[float, float]]
    crosses: list[float]
    width: float
    length: float
    exponent: float

    def level(self, x: float, y: float) -> float:
        """Below 1 inside the outline, 1 on it."""
        return abs(2 * x / self.width) ** self.exponent + abs(2 * y / self.length) ** self.exponent


def _main_end(bed: PlainBed, at_0: float, slope: float, y: float, far: float) -> float:
    """y where a main leaves the hoop, between y inside and far on or beyond the outline, by halving (regula falsi's
    Illinois variant, so that few steps are needed).
    """
    f_in, f_out = bed.level(at_0 + slope * y, y) - 1, bed.level(at_0 + slope * far, far) - 1
    for _ in range(100):
        new = (y * f_out - far * f_in) / (f_out - f_in)
        f_new = bed.level(at_0 + slope * new, new) - 1
        if abs(f_new) < 1e-13:
            return new
        if f_new > 0:
            far, f_out, f_in = new, f_new, f_in / 2
        else:
            y, f_in, f_out = new, f_new, f_out / 2
    return new


def assembled(bed: PlainBed, main_tension: float, cross_tension: float):
    """The nodes, (cross, main) and (x, y), the stiffness matrix [N/mm], and segments: (node, node or None, tension, length)."""
    places = {}
    for j, y in enumerate(bed.crosses):
        for k, (at_0, slope) in enumerate(bed.mains):
            x = at_0 + slope * y
            if bed.level(x, y) < 1:
                places[j, k] = (x, y)
    number = {node: index for index, node in enumerate(places)}
    segments = []
    for (j, k), (x, y) in places.items():
        at_0, slope = bed.mains[k]
        lean = math.sqrt(1 + slope * slope)
        if (j + 1, k) in places:
            segments.append((number[j, k], number[j + 1, k], main_tension, (y - places[j + 1, k][1]) * lean))
        else:
            end = _main_end(bed, at_0, slope, y, -bed.length / 2)
            segments.append((number[j, k], None, main_tension, (y - end) * lean))
        if (j - 1, k) not in places:
            end = _main_end(bed, at_0, slope, y, bed.length / 2)
            segments.append((number[j, k], None, main_tension, (end - y) * lean))
        edge = bed.width / 2 * (1 - abs(2 * y / bed.length) ** bed.exponent) ** (1 / bed.exponent)
        if (j, k + 1) in places:
            segments.append((number[j, k], number[j, k + 1], cross_tension, places[j, k + 1][0] - x))
        else:
            segments.append((number[j, k], None, cross_tension, edge - x))
        if (j, k - 1) not in places:
            segments.append((number[j, k], None, cross_tension, x + edge))
    rows, columns, values = [], [], []
    for one, other, tension, length in segments:
        stiff = tension / length
        rows.append(one), columns.append(one), values.append(stiff)
        if other is not None:
            rows += [other, one, other]
            columns += [other, other, one]
            values += [stiff, -stiff, -stiff]
    size = len(places)
    return places, coo_matrix((values, (rows, columns)), shape=(size, size)).tocsc(), segments


def loads(places, points) -> np.ndarray:
    """Shares of a load about each point over the nodes [nodes, P]; 0 where none lies under it."""
    found = np.zeros((len(places), len(points)))
    for column, (x0, y0) in enumerate(points):
        for row, (x, y) in enumerate(places.values()):
            found[row, column] = max(0.0, 1 - ((x - x0) ** 2 + (y - y0) ** 2) / RADIUS**2)
        if found[:, column].any():
            found[:, column] /= found[:, column].sum()
    return found


def stiffness(bed: PlainBed, main_tension: float, cross_tension: float) -> list[float]:
    """Stiffness in the five places [N/mm] at tensions in the bed [N]; NaN without a crossing under the load."""
    places, matrix, _ = assembled(bed, main_tension, cross_tension)
    load = loads(places, PLACES.values())
    sag = splu(matrix).solve(load)
    return [1 / (w @ z) if w.any() else math.nan for w, z in zip(load.T, sag.T, strict=True)]


def masses(bed: PlainBed, per_mm: float) -> np.ndarray:
    """String mass lumped at the nodes: half of each segment's to either end."""
    places, _, segments = assembled(bed, 1.0, 1.0)
    found = np.zeros(len(places))
    for one, other, _, length in segments:
        found[one] += per_mm * length / 2
        if other is not None:
            found[other] += per_mm * length / 2
    return found


def frequency(bed: PlainBed, main_tension: float, cross_tension: float, kg_per_mm: float) -> float:
    """Lowest frequency [Hz] of the strings alone, by a dense eigenvalue routine; N/mm are 1000 N/m."""
    from scipy.linalg import eigh

    matrix = assembled(bed, main_tension, cross_tension)[1].toarray() * 1000.0
    return math.sqrt(eigh(matrix, np.diag(masses(bed, kg_per_mm)), eigvals_only=True, subset_by_index=[0, 0])[0]) / math.tau
