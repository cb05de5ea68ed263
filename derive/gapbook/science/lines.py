"""Positions of strings: from averaged gaps or marks to positions about the head's centre, and lines through stations.

A run is one family of strings read at one station in one session. Its readings become *points*: column 0 the first inner edge,
columns 1 to n the strings, column n + 1 the other inner edge [mm]. Arrays are padded to the widest run with zeros.
Mains run left to right; crosses run from the tip, so along the long axis their coordinate s is -y.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by


class Runs(NamedTuple):
    """Runs of one family [R], their points and the variances of their readings.

    bed: number of the bed
    session: number of the session
    station: place of the rule [mm], y for mains, 0 for crosses
    is_mark: whether marks were read, else gaps
    instrument: number of the instrument
    reader: number of who read it, with which kind of instrument
    strings: count n
    edges: whether the inner edges were read
    points: inner edge, strings 1 … n, inner edge [R, K] in mm
    variance: of readings [R, K] in mm²; of marks in the point's column k, of gaps in that of the gap from point k to k + 1
    """

    bed: IntArray
    session: IntArray
    station: FloatArray
    is_mark: BoolArray
    instrument: IntArray
    reader: IntArray
    strings: IntArray
    edges: BoolArray
    points: FloatArray
    variance: FloatArray

    def take(self, rows: slice | IntArray) -> Runs:
        """The same for some of the rows."""
        return Runs(*(column[rows] for column in self))  # type: ignore[arg-type]


def points_of(readings: FloatArray, is_mark: BoolArray) -> FloatArray:
    """Points [R, K] from readings laid out by number [R, K]: marks are points, gaps add up to them."""
    summed = np.zeros_like(readings)
    np.cumsum(readings[:, :-1], axis=1, out=summed[:, 1:])
    return np.where(is_mark[:, None], readings, summed)


def ends(runs: Runs) -> tuple[IntArray, IntArray]:
    """Columns of the first and last point of each run: the inner edges, or without them the outer strings."""
    return np.where(runs.edges, 0, 1), np.where(runs.edges, runs.strings + 1, runs.strings)


def about_origin(runs: Runs) -> FloatArray:
    """Points [R, K] about the midpoint of the run's ends [mm]; columns without a point hold arbitrary numbers."""
    rows = np.arange(len(runs.bed))
    first, last = ends(runs)
    origin = (runs.points[rows, first] + runs.points[rows, last]) / 2.0
    return runs.points - origin[:, None]


def span(runs: Runs) -> FloatArray:
    """Distance between the ends of each run [mm]."""
    rows = np.arange(len(runs.bed))
    first, last = ends(runs)
    return np.asarray(runs.points[rows, last] - runs.points[rows, first])


def gaps_between_ends(runs: Runs) -> IntArray:
    """How many gaps lie between the ends of each run [R]."""
    first, last = ends(runs)
    return last - first


LEAST_SPAN_MM = 60.0
"""Stations that lie closer together tell no slope: what strings are out of place by would be taken for splay [mm]. Common
practice, no source."""


class Stations(NamedTuple):
    """How the runs of an owner (a bed or a session) are combined into a line.

    weight: of each run at each height [R, H]
    stations: how many stations each owner has [owners]
    has_zero: whether station 0 was read [owners]
    sloped: whether the stations lie far enough apart to tell a slope [owners]
    centre: mean of the stations [owners] in mm
    """

    weight: FloatArray
    stations: IntArray
    has_zero: BoolArray
    sloped: BoolArray
    centre: FloatArray


def station_weights(owner: IntArray, station: FloatArray, heights: tuple[float, ...], owners: int) -> Stations:
    """Weights of runs in the least-squares line through an owner's stations, at several heights. Runs at the same station
    share its weight. If the stations span less than LEAST_SPAN_MM, the line is their mean, parallel to the long axis. The
    weights of an owner add up to 1 at each height.

    owner: bed or session of each run [R]
    station: of each run [R] in mm
    heights: at which the line is evaluated [mm]
    owners: how many there are
    """
    levels, code = np.unique(station, return_inverse=True)
    group = distinct(owner, code.astype(np.int64))
    at, who = levels[code[group.first]], owner[group.first]
    number = count_by(who, owners)
    centre = np.divide(sum_by(who, at, owners), number, out=np.zeros(owners), where=number > 0)
    away = at - centre[who]
    spread = sum_by(who, away * away, owners)
    lowest, highest = np.full(owners, np.inf), np.full(owners, -np.inf)
    np.minimum.at(lowest, who, at)
    np.maximum.at(highest, who, at)
    sloped = highest - lowest >= LEAST_SPAN_MM
    lever = np.divide(away, spread[who], out=np.zeros(len(at)), where=sloped[who])
    weight = 1.0 / number[who][:, None] + lever[:, None] * (np.asarray(heights)[None, :] - centre[who][:, None])
    shared = count_by(group.number, len(at))
    has_zero = np.zeros(owners, dtype=bool)
    has_zero[who[at == 0.0]] = True
    return Stations(weight[group.number] / shared[group.number][:, None], number, has_zero, sloped, centre)


def lines_at(points: FloatArray, owner: IntArray, weight: FloatArray, owners: int) -> FloatArray:
    """Positions [owners, K] at one height: the weighted sum of their runs' points about the origin [mm].

    points: about the origin [R, K] in mm
    owner: bed or session of each run [R]
    weight: of each run at this height [R]
    owners: how many there are
    """
    return sum_by(owner, points * weight[:, None], owners)
