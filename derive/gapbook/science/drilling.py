"""A drilling for a target: where the strings of a bed would have to lie for given meshes in its centre and at its sides.

Each family is alike on both sides of the middle. Its gaps, from the middle outwards, and what is left from the outer string
to the inner edge are the unknowns. They are found by least squares: the meshes asked for come first, by a large weight; then
gaps that change little from one to the next, and outer strings where outer strings usually lie. Limits are bounds of the
unknowns. Pitches are those of the scores (`pitches`); they are nearly linear in the gaps, so the problem is nearly convex, and
several starts find the same bed. A drawing is geometry; what a frame can bear is not considered.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray
from gapbook.science.pitches import Pitch, pitch
from gapbook.science.zones import BALL_MM, CROSS_OF_ZONE, CROSS_WINDOWS, LEAST_COVERAGE, MAIN_WINDOWS, ZONES

STEP_MM = 0.1
"""Places are whole steps from the middle."""
LEAST_GAP_MM = 7.0
"""The smallest gap between two strings, if nothing else is said. Common practice, no source."""
USUAL_REACH = 0.81
"""Where the outer string usually lies, as a part of the way from the middle to the inner edge. Common practice, no source."""
TOLERANCE = 5e-4
"""A mesh counts as reached, before rounding, if it is off by no more than this part of itself."""
_AT_LIMIT_MM = 0.05
_STARTS, _STEPS = (USUAL_REACH, 0.7, 0.9), 100
"""Reaches of the even beds from which the solution is looked for, and the most steps from each: 10 to 30 are usual; beyond what
can be had, one start in three does not come to an end."""
_U_MESH, _U_STEADY_MM, _U_REACH, _U_SPAN_MM = 1e-3, 0.3, 0.02, 1e-4
"""What counts as one in the sum of squares: of the logarithm of a mesh, of a change between changes of neighbouring gaps, of
the reach, and of the half span, which gaps and edge must add up to."""


class Drilling(NamedTuple):
    """Places of the strings about the middle, rising, in mm: of mains [m] from left to right, and of crosses [c], whose y
    they are too, because both sides are alike.
    """

    mains: FloatArray
    crosses: FloatArray


class Reached(NamedTuple):
    """The best bed found, before and after rounding, and what kept it from the meshes asked for.

    exact: places before rounding
    drilling: places in whole steps
    is_reached: whether both meshes asked for are reached
    held_by: if not, the limits that hold it (names as in LIMITS)
    """

    exact: Drilling
    drilling: Drilling
    is_reached: bool
    held_by: tuple[str, ...]


LIMITS = {
    "main-gap": "mains no closer together than the smallest gap",
    "cross-gap": "crosses no closer together than the smallest gap",
    "main-edge": "the outer mains no closer to the inner edge than the smallest gap",
    "cross-edge": "the outer crosses no closer to the inner edge than the smallest gap",
    "main-cover": "mains that reach far enough for the windows at the sides",
    "cross-cover": "crosses that reach far enough for the windows at tip and throat",
}
"""What can keep a bed from the meshes asked for."""


def drill(counts: tuple[int, int], size: tuple[float, float], mesh: float, side_opening: float, least_gap: float) -> Reached:
    """The smoothest bed with these meshes, or the nearest to them within the limits.

    counts: mains and crosses, 4 to 40 each
    size: inner width and length of the head [mm], whole steps twice over
    mesh: wanted in the centre [mm]
    side_opening: openness of the sides over that of the centre, less 1, wanted
    least_gap: the smallest gap allowed, also from the outer string to the inner edge [mm]; whole steps

    ValueError if so many strings have no room even at the smallest gap.
    """
    from scipy.optimize import least_squares  # late: takes long to import

    families = [
        _family(count, span / 2.0, least_gap, max(abs(window.middle) for window in windows))
        for count, span, windows in zip(counts, size, (MAIN_WINDOWS, CROSS_WINDOWS), strict=True)
    ]
    wanted = np.array([np.log(mesh), np.log1p(side_opening)])
    bounds = np.concatenate([family.bounds for family in families], axis=1)
    solutions = []
    for reach in _STARTS:
        start = np.clip(np.concatenate([family.start(reach) for family in families]), *bounds)
        solutions.append(
            least_squares(
                _misfit, start, _slopes, bounds, ftol=1e-10, xtol=1e-10, x_scale="jac", max_nfev=_STEPS, args=(families, wanted)
            )
        )
    found = min(solutions, key=lambda one: float(one.cost)).x
    own = _split(found, families)
    off = np.abs(_meshes(own, families)[0] - wanted)
    is_reached = bool((off <= TOLERANCE).all())
    exact = Drilling(*(family.places @ gaps[:-1] for family, gaps in zip(families, own, strict=True)))
    rounded = Drilling(*(np.round(np.round(places / STEP_MM) * STEP_MM, 6) + 0.0 for places in exact))
    return Reached(exact, rounded, is_reached, () if is_reached else _held_by(own, families))


class _Family(NamedTuple):
    """One family.

    places: the places of its strings by its gaps from the middle outwards [strings, gaps]; an even number of strings has one
        gap over the middle
    half: half the span [mm]
    bounds: least and greatest of its gaps and of its edge [2, gaps + 1] in mm
    """

    places: FloatArray
    half: float
    bounds: FloatArray

    def start(self, reach: float) -> FloatArray:
        """Even gaps whose outer string lies at this part of the half span, and the edge."""
        outer = reach * self.half
        gaps = np.full(self.places.shape[1], outer / float(self.places[-1].sum()))
        return np.append(gaps, self.half - outer)


def _family(strings: int, half: float, least_gap: float, outermost: float) -> _Family:
    """outermost: the middle of its outermost window [mm]."""
    number = strings // 2
    upper = np.tril(np.ones((number, number)))
    if strings % 2 == 0:
        upper[:, 0] = 0.5
    places = np.concatenate([-upper[::-1], np.zeros((strings % 2, number)), upper])
    least = np.full(number + 1, least_gap)
    if strings % 2 == 0:
        least[0] = 2.0 * STEP_MM * np.ceil(round(least_gap / (2.0 * STEP_MM), 6))  # both its strings lie on whole steps
    most = np.full(number + 1, half)
    most[-1] = half - (outermost - BALL_MM / 2.0 + LEAST_COVERAGE * BALL_MM + STEP_MM)
    if places[-1] @ least[:-1] > half - least_gap or most[-1] <= least_gap:
        raise ValueError("so many strings have no room")
    return _Family(places, half, np.stack([least, most]))


def _split(unknown: FloatArray, families: list[_Family]) -> list[FloatArray]:
    """The gaps and edge of each family."""
    return np.split(unknown, [families[0].bounds.shape[1]])


def window_pitch(places: FloatArray, middle: float) -> Pitch:
    """The pitch of one family across the window about `middle` [mm]. places: of its strings, rising [strings]."""
    padded = np.concatenate([[0.0], places, [0.0]])[None]
    return pitch(padded, np.array([len(places)]), middle)


def zone_meshes(drilling: Drilling) -> dict[str, float]:
    """The mesh of each zone [mm]; NaN if less than LEAST_COVERAGE of its window is covered."""
    found = {}
    for number, zone in enumerate(ZONES):
        across = window_pitch(drilling.mains, MAIN_WINDOWS[number].middle)
        along = window_pitch(drilling.crosses, CROSS_WINDOWS[CROSS_OF_ZONE[number]].middle)
        covered = min(float(across.coverage[0]), float(along.coverage[0])) >= LEAST_COVERAGE
        found[zone] = float(np.sqrt(across.pitch[0] * along.pitch[0])) if covered else float("nan")
    return found


def _meshes(own: list[FloatArray], families: list[_Family]) -> tuple[FloatArray, FloatArray]:
    """ln mesh in the centre and ln of the sides' over it [2], and their gradient by the unknowns [2, unknowns].

    Both sides have the same mesh, and the sides' crosses are those of the centre.
    """
    places = [family.places @ gaps[:-1] for family, gaps in zip(families, own, strict=True)]
    windows = [
        (0, window_pitch(places[0], MAIN_WINDOWS[ZONES.index("centre")].middle), (0.5, -0.5)),
        (0, window_pitch(places[0], MAIN_WINDOWS[ZONES.index("right")].middle), (0.0, 0.5)),
        (1, window_pitch(places[1], CROSS_WINDOWS[0].middle), (0.5, 0.0)),
    ]
    value, slope = np.zeros(2), [np.zeros((2, len(gaps))) for gaps in own]
    for family, found, shares in windows:
        value += np.array(shares) * np.log(found.pitch[0])
        slope[family][:, :-1] += np.outer(shares, found.gradient[0, 1:-1] @ families[family].places)
    return value, np.concatenate(slope, axis=1)


def _misfit(unknown: FloatArray, families: list[_Family], wanted: FloatArray) -> FloatArray:
    own = _split(unknown, families)
    parts = [(_meshes(own, families)[0] - wanted) / _U_MESH]
    for family, gaps in zip(families, own, strict=True):
        linear, aim = _wishes(family)
        parts.append(linear @ gaps - aim)
    return np.concatenate(parts)


def _slopes(unknown: FloatArray, families: list[_Family], wanted: FloatArray) -> FloatArray:
    own = _split(unknown, families)
    rows = [_meshes(own, families)[1] / _U_MESH]
    for number, family in enumerate(families):
        linear = _wishes(family)[0]
        row = [np.zeros((len(linear), len(gaps))) for gaps in own]
        row[number] = linear
        rows.append(np.concatenate(row, axis=1))
    return np.concatenate(rows)


def _wishes(family: _Family) -> tuple[FloatArray, FloatArray]:
    """What a family's gaps and edge should come near to, as rows of a linear system and their aims."""
    steady = np.diff(family.places, n=3, axis=0) / _U_STEADY_MM
    reach = family.places[-1:] / (family.half * _U_REACH)
    span = family.places[-1:] / _U_SPAN_MM
    edge = np.zeros((len(steady) + 2, 1))
    edge[-1] = 1.0 / _U_SPAN_MM
    aim = np.zeros(len(edge))
    aim[-2:] = USUAL_REACH / _U_REACH, family.half / _U_SPAN_MM
    return np.concatenate([np.concatenate([steady, reach, span]), edge], axis=1), aim


def _held_by(own: list[FloatArray], families: list[_Family]) -> tuple[str, ...]:
    """The limits that some gap or edge has come to."""
    found = []
    for name, gaps, family in zip(("main", "cross"), own, families, strict=True):
        low, high = gaps - family.bounds[0] < _AT_LIMIT_MM, family.bounds[1] - gaps < _AT_LIMIT_MM
        found += [f"{name}-gap"] * bool(low[:-1].any()) + [f"{name}-edge"] * bool(low[-1]) + [f"{name}-cover"] * bool(high[-1])
    return tuple(found)
