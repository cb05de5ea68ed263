"""Measured beds as nets: where their strings run, and what they do when struck, pattern by pattern.

A main's line is carried by where it lies at two heights, so that what moves a whole string moves it alike at both.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.science import outline
from gapbook.science.beds import Heads, head_sizes
from gapbook.science.cable_net import Strings
from gapbook.science.grouping import FloatArray, IntArray, distinct
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.science.mechanics import RESPONSES, ZONE_POINTS, in_bed, respond, stiffness_at
from gapbook.science.mechanics_gradient import Gradient, gradient
from gapbook.science.outline import Outlines
from gapbook.science.zones import END_MM

HEIGHTS = (END_MM, -END_MM)
"""Heights between which the mains' lines are drawn [mm]."""
CHUNK = 32
"""Beds solved together: enough to be fast, few enough to stay in cache."""
Pulls = tuple[float, float]
"""Pull tensions of mains and crosses [N]."""


class Lines(NamedTuple):
    """Where the strings of beds run: mains at HEIGHTS [B, 2, K] and crosses, y from the centre [B, K], strings in columns
    1 … n, all in mm; string counts [B]; inner width and length [B, 2] in mm and area [B] in cm2.
    """

    mains: FloatArray
    cross_y: FloatArray
    main_count: IntArray
    cross_count: IntArray
    size: FloatArray
    area: FloatArray

    def take(self, rows: IntArray) -> Lines:
        """The same for some of the beds."""
        return Lines(*(column[rows] for column in self))  # type: ignore[arg-type]


class Slopes(NamedTuple):
    """Gradient of the logs of beds by their Lines: by mains [B, 6, 2, K], crosses' y [B, 6, K], ln width and length
    [B, 6, 2].
    """

    mains: FloatArray
    cross_y: FloatArray
    log_size: FloatArray


def lines_of(mains: Runs, crosses: Runs, heads: Heads) -> Lines:
    """Where the strings of beds run, from their runs and heads."""
    at, cross_y = positions(mains, crosses, mains.bed, crosses.bed, len(heads.mains))
    return Lines(at, cross_y, heads.mains, heads.crosses, head_sizes(mains, crosses, heads).size, heads.area)


def positions(mains: Runs, crosses: Runs, of_main: IntArray, of_cross: IntArray, owners: int) -> tuple[FloatArray, FloatArray]:
    """Mains at HEIGHTS [owners, 2, K] and crosses' y [owners, K] of beds or sessions, each run belonging to an owner."""
    weight = station_weights(of_main, mains.station, HEIGHTS, owners).weight
    points = about_origin(mains)
    at = [lines_at(points, of_main, weight[:, side], owners) for side in range(len(HEIGHTS))]
    level = station_weights(of_cross, crosses.station, (0.0,), owners).weight[:, 0]
    return np.stack(at, axis=1), -lines_at(about_origin(crosses), of_cross, level, owners)


def strings_of(lines: Lines) -> Strings:
    """Beds of one pattern as strings and outlines."""
    m, c = int(lines.main_count[0]), int(lines.cross_count[0])
    upper, lower = lines.mains[:, 0, 1 : m + 1], lines.mains[:, 1, 1 : m + 1]
    width, length = lines.size[:, 0], lines.size[:, 1]
    outlines = Outlines(width, length, outline.exponent_of(width, length, lines.area))
    return Strings((upper + lower) / 2.0, (upper - lower) / (2.0 * END_MM), lines.cross_y[:, 1 : c + 1], outlines)


def _chunks(lines: Lines) -> Iterator[tuple[IntArray, Strings]]:
    """Some beds of one pattern at a time: their numbers and strings."""
    pattern = distinct(lines.main_count, lines.cross_count)
    for number in range(len(pattern.first)):
        alike = np.flatnonzero(pattern.number == number)
        strings = strings_of(lines.take(alike))
        for start in range(0, len(alike), CHUNK):
            part = slice(start, start + CHUNK)
            yield alike[part], strings.take(part)


def solve(lines: Lines, pulls: Pulls) -> FloatArray:
    """Logs of what RESPONSES names [B, 6] at these pull tensions."""
    value = np.full((len(lines.area), len(RESPONSES)), np.nan)
    for rows, strings in _chunks(lines):
        value[rows] = respond(strings, in_bed(pulls[0]), in_bed(pulls[1])).logs
    return value


def solve_zones(lines: Lines, pulls: Pulls) -> FloatArray:
    """Logs of stiffness in the five zones alone [B, 5], which is quicker."""
    value = np.full((len(lines.area), len(ZONE_POINTS)), np.nan)
    for rows, strings in _chunks(lines):
        value[rows] = np.log(stiffness_at(strings, ZONE_POINTS, pulls))
    return value


def solve_with_slopes(lines: Lines, pulls: Pulls) -> tuple[FloatArray, Slopes]:
    """Logs [B, 6] and their gradients."""
    shape = (len(lines.area), len(RESPONSES))
    value = np.full(shape, np.nan)
    slopes = Slopes(*(np.zeros((*shape, *rest)) for rest in (lines.mains.shape[1:], lines.cross_y.shape[1:], (2,))))
    tensions = in_bed(pulls[0]), in_bed(pulls[1])
    turn = outline.exponent_per_log_size(lines.size[:, 0], lines.size[:, 1], lines.area)
    for rows, strings in _chunks(lines):
        found = respond(strings, *tensions)
        value[rows] = found.logs
        _fill(slopes, rows, gradient(found, strings, tensions, turn[rows]))
    return value, slopes


def _fill(slopes: Slopes, rows: IntArray, own: Gradient) -> None:
    """Write the gradients of some beds of one pattern into `slopes`."""
    m, c = own.main_at_0.shape[2], own.cross_y.shape[2]
    lean = own.main_slope / (2.0 * END_MM)
    slopes.mains[rows, :, 0, 1 : m + 1] = own.main_at_0 / 2.0 + lean
    slopes.mains[rows, :, 1, 1 : m + 1] = own.main_at_0 / 2.0 - lean
    slopes.cross_y[rows, :, 1 : c + 1] = own.cross_y
    slopes.log_size[rows] = np.stack([own.log_width, own.log_length], axis=2)
