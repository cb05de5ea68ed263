"""Whether readings of one thing agree: sessions side by side, and repeats against the repeatability of others of their kind.

A cell holds the repeats of one reading; cells are pooled by instrument kind and quantity, and belong to a session.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.science.pitches import pitch
from gapbook.science.repeats import FREEDOM_NEEDED
from gapbook.science.statistics import GRUBBS_FROM, grubbs_probability, range_bound, range_probability
from gapbook.science.uncertainty import Gradients, family_parts
from gapbook.science.zones import LEAST_COVERAGE


class SessionPitches(NamedTuple):
    """Centre pitches that sessions find on their own [S].

    bed: bed of the session
    run: its first run
    instrument: the instrument of that run
    log: ln pitch, NaN if too little is covered
    variance: of ln pitch, without the instrument
    sensitivity: what an error of the instrument of 1 mm does to ln pitch [1/mm]
    """

    bed: IntArray
    run: IntArray
    instrument: IntArray
    log: FloatArray
    variance: FloatArray
    sensitivity: FloatArray


def centre_pitches(runs: Runs) -> SessionPitches:
    """The centre pitch of one family as each session would have it, with its components of uncertainty.

    Strings may have moved between two sessions, so their placement counts in each.
    """
    each = distinct(runs.session)
    owner, owners = each.number, len(each.first)
    bed, strings = runs.bed[each.first], runs.strings[each.first]
    station = station_weights(owner, runs.station, (0.0,), owners)
    positions = lines_at(about_origin(runs), owner, station.weight[:, 0], owners)
    found = pitch(positions, strings, 0.0)
    usable = (found.coverage >= LEAST_COVERAGE) & station.has_zero
    gradients = Gradients(np.where(usable, np.nan_to_num(found.gradient.T), 0.0)[None], (0,))
    parts = family_parts(runs._replace(bed=owner), station.weight, gradients, np.zeros(len(runs.bed)), 0.0)
    with np.errstate(invalid="ignore"):
        log = np.where(usable, np.log(found.pitch), np.nan)
    return SessionPitches(
        bed,
        each.first,
        runs.instrument[each.first],
        log,
        parts.covariance[:, 0, 0],
        sum_by(owner, parts.sensitivity[:, 0], owners),
    )


class Difference(NamedTuple):
    """How far each result lies from the mean of the others of its thing [N], the standard uncertainty of that [N], and
    whether it is to be judged [N]: of two results only the later one is, for the first lies as far away.
    """

    value: FloatArray
    u: FloatArray
    judged: BoolArray


def from_others(
    thing: IntArray,
    value: FloatArray,
    variance: FloatArray,
    sensitivity: FloatArray,
    instrument: IntArray,
    u_instrument: FloatArray,
) -> Difference:
    """Compare results of the same thing (a bed, a quantity of a frame), in the order in which they were given. An error
    that results share through their instrument cancels between them. Linear in the number of results.

    thing: number of the thing [N]
    value: result [N]
    variance: of each result on its own [N]
    sensitivity: what a unit error of its instrument does to it [N]
    instrument: number of its instrument [N]
    u_instrument: standard uncertainty of each instrument's error, by instrument number
    """
    things = int(thing.max(initial=-1)) + 1
    number = count_by(thing, things)[thing]
    others = np.maximum(number - 1, 1)
    value_of_others = (sum_by(thing, value, things)[thing] - value) / others
    independent = variance + (sum_by(thing, variance, things)[thing] - variance) / others**2
    tool = distinct(thing, instrument)
    at = thing[tool.first]
    error = u_instrument[instrument[tool.first]]
    together = sum_by(tool.number, sensitivity, len(tool.first))
    squares = sum_by(at, (error * together) ** 2, things)
    own = together[tool.number]
    u = u_instrument[instrument]
    from_own = sensitivity - (own - sensitivity) / others
    shared = (squares[thing] - (u * own) ** 2) / others**2 + (u * from_own) ** 2
    first = np.zeros(len(thing), dtype=bool)
    first[distinct(thing).first] = True
    judged = (number > 1) & ~((number == 2) & first)
    return Difference(value - value_of_others, np.sqrt(independent + np.maximum(shared, 0.0)), judged)


FINEST = 0.25
"""Repeatability is never taken to be finer than this share of what is assumed without repeats; no hand is. Common practice,
no source."""


class Cells(NamedTuple):
    """Cells of repeats [C], all in one unit a pool.

    times: how many repeats
    squares: sum of squares about the mean
    range: of the repeats
    farthest: largest distance from the mean
    pool: number of the pool, of instrument kind and quantity
    session: number of the session
    step: step of the instrument
    default: repeatability assumed if too few repeats tell
    lost: degrees of freedom lost to laying marks onto each other, by session [sessions]
    """

    times: IntArray
    squares: FloatArray
    range: FloatArray
    farthest: FloatArray
    pool: IntArray
    session: IntArray
    step: FloatArray
    default: FloatArray
    lost: IntArray

    def take(self, rows: IntArray) -> Cells:
        """The same for some of the cells."""
        columns: dict[str, Any] = {name: column[rows] for name, column in self._asdict().items() if name != "lost"}
        return self._replace(**columns)


def cells_of(cell: IntArray, residual: FloatArray) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Count, squares, range and farthest of cells from residuals [R] ordered by `cell` [R], numbered without gaps."""
    starts = np.searchsorted(cell, np.arange(int(cell.max(initial=-1)) + 1))
    count = np.diff(np.append(starts, len(cell)))
    if not len(starts):
        return count, np.zeros(0), np.zeros(0), np.zeros(0)
    away = residual - (np.add.reduceat(residual, starts) / count)[cell]
    high, low = np.maximum.reduceat(away, starts), np.minimum.reduceat(away, starts)
    return count, np.add.reduceat(away * away, starts), high - low, np.maximum(high, -low)


class Yardstick(NamedTuple):
    """The repeatability each cell is held against [C] and the degrees of freedom behind it [C], inf if assumed."""

    deviation: FloatArray
    freedom: FloatArray


def _without_own(group: IntArray, cells: Cells, lost: IntArray, groups: int) -> tuple[FloatArray, FloatArray]:
    """Variance and degrees of freedom of each cell's group without the cell [C]."""
    squares = sum_by(group, cells.squares, groups)[group] - cells.squares
    freedom = (np.bincount(group, weights=cells.times - 1, minlength=groups) - lost)[group] - (cells.times - 1)
    variance = np.divide(np.maximum(squares, 0.0), freedom, out=np.zeros(len(group)), where=freedom > 0)
    return variance, np.asarray(freedom, dtype=np.float64)


def pool_yardstick(cells: Cells) -> Yardstick:
    """The repeatability of each cell's pool without the cell; what is assumed if too few others tell; but no less than
    the rounding of the instrument it was read with, for coarse and fine ones share a pool.
    """
    pools = int(cells.pool.max(initial=-1)) + 1
    of_session = np.zeros(len(cells.lost), dtype=np.int64)
    of_session[cells.session] = cells.pool
    lost = np.bincount(of_session, weights=cells.lost, minlength=pools).astype(np.int64)
    variance, freedom = _without_own(cells.pool, cells, lost, pools)
    told = freedom >= FREEDOM_NEEDED
    deviation = np.where(told, np.maximum(np.sqrt(variance), FINEST * cells.default), cells.default)
    return Yardstick(np.maximum(deviation, cells.step / np.sqrt(12.0)), np.where(told, freedom, np.inf))


def session_yardstick(cells: Cells) -> Yardstick:
    """The repeatability of each cell's own session without the cell; 0 if too little is left of it."""
    variance, freedom = _without_own(cells.session, cells, cells.lost, len(cells.lost))
    told = freedom >= FREEDOM_NEEDED
    return Yardstick(np.where(told, np.sqrt(variance), 0.0), np.where(told, freedom, np.inf))


def probabilities(cells: Cells, pool: Yardstick, session: Yardstick, exact_below: float = 1.0) -> FloatArray:
    """How probable it is that each cell's repeats lie so far apart by chance [C].

    Ranges against the pool and against the session itself: a hand that is less steady all through is no fault of one cell.
    From six repeats Grubbs' test has its say too.

    cells: the cells
    pool: the repeatability of each cell's pool
    session: that of its session
    exact_below: bounds above this are not made exact, which is slow
    """
    found = np.zeros(len(cells.range))
    for yard in (pool, session):
        some = yard.deviation > 0.0
        ratio = np.divide(cells.range, yard.deviation, out=np.full(len(cells.range), np.inf), where=some)
        bound = range_bound(ratio, cells.times, yard.freedom)
        close = np.flatnonzero(some & (bound < exact_below))
        bound[close] = range_probability(ratio[close], cells.times[close], yard.freedom[close])
        found = np.maximum(found, bound)
    many = np.flatnonzero(cells.times >= GRUBBS_FROM)
    if len(many):
        variance = cells.squares[many] / (cells.times[many] - 1) + cells.step[many] ** 2 / 12.0
        statistic = np.divide(cells.farthest[many], np.sqrt(variance), out=np.zeros(len(many)), where=variance > 0.0)
        alone = grubbs_probability(statistic, cells.times[many])
        found[many] = np.minimum(2.0 * np.minimum(alone, found[many]), 1.0)
    return found


class Loose(NamedTuple):
    """Sessions against the rest of their pool [S]: their own repeatability, that of the rest, and how probable so much
    more is by chance (1 if either has too few degrees of freedom).
    """

    own: FloatArray
    rest: FloatArray
    probability: FloatArray


def loose_sessions(cells: Cells, left_out: BoolArray) -> Loose:
    """Whether whole sessions scatter more than others of their pool, by the F ratio of variances; `left_out` [C] are cells
    that have been reported for themselves.
    """
    from scipy.special import fdtrc

    sessions, pools = len(cells.lost), int(cells.pool.max(initial=-1)) + 1
    pool, step, default = np.zeros(sessions, dtype=np.int64), np.zeros(sessions), np.ones(sessions)
    pool[cells.session], step[cells.session], default[cells.session] = cells.pool, cells.step, cells.default
    kept = ~left_out
    squares = np.bincount(cells.session[kept], weights=cells.squares[kept], minlength=sessions)
    freedom = np.bincount(cells.session[kept], weights=cells.times[kept] - 1, minlength=sessions) - cells.lost
    rest_freedom = np.bincount(pool, weights=freedom, minlength=pools)[pool] - freedom
    rest_squares = np.bincount(pool, weights=squares, minlength=pools)[pool] - squares
    told, against = freedom >= FREEDOM_NEEDED, rest_freedom >= FREEDOM_NEEDED
    own = np.divide(squares, freedom, out=np.zeros(sessions), where=told)
    rest = np.divide(rest_squares, rest_freedom, out=np.zeros(sessions), where=against)
    rest = np.where(against, np.maximum(rest, (FINEST * default) ** 2), default**2) + step**2 / 12.0
    chance = fdtrc(np.maximum(freedom, 1), np.where(against, rest_freedom, 1e9), own / rest)
    return Loose(np.sqrt(own), np.sqrt(rest), np.where(told, chance, 1.0))
