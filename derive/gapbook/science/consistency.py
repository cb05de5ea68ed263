"""Whether readings of one thing agree: sessions with each other, and repeats with the repeatability of readings of their kind.

A cell holds the repeats of one reading in one session; a pool is all cells of one instrument kind and quantity.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from scipy.special import stdtr

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.science.pitches import pitch
from gapbook.science.repeats import FREEDOM_NEEDED
from gapbook.science.statistics import GRUBBS_FROM, grubbs_probability, range_bound, range_probability
from gapbook.science.uncertainty import Gradients, family_parts
from gapbook.science.zones import LEAST_COVERAGE


class SessionPitches(NamedTuple):
    """Centre pitch of each session, from its runs alone [S].

    bed: bed of the session
    run: its first run
    instrument: the instrument of that run
    reader: the reader of that run
    log: ln pitch, NaN if too little is covered
    variance: of ln pitch, without instrument and person
    by_instrument: change of ln pitch by an instrument error of 1 mm [1/mm]
    by_reader: change of ln pitch by a reader's offset of 1 mm [1/mm]
    """

    bed: IntArray
    run: IntArray
    instrument: IntArray
    reader: IntArray
    log: FloatArray
    variance: FloatArray
    by_instrument: FloatArray
    by_reader: FloatArray


def centre_pitches(runs: Runs, placement_mm: float) -> SessionPitches:
    """The centre pitch of one family in each session, with its components of uncertainty.

    runs: of the family
    placement_mm: standard deviation of a string's distance from its place of rest [mm]

    Strings may have moved between two sessions, so the uncertainty of their places counts in each session.
    """
    each = distinct(runs.session)
    owner, owners = each.number, len(each.first)
    bed, strings = runs.bed[each.first], runs.strings[each.first]
    station = station_weights(owner, runs.station, (0.0,), owners)
    positions = lines_at(about_origin(runs), owner, station.weight[:, 0], owners)
    centre = pitch(positions, strings, 0.0)
    usable = (centre.coverage >= LEAST_COVERAGE) & station.has_zero
    gradients = Gradients(np.where(usable, np.nan_to_num(centre.gradient.T), 0.0)[None], (0,))
    parts = family_parts(runs._replace(bed=owner), station.weight, gradients, np.zeros(len(runs.bed)), 0.0, placement_mm)
    with np.errstate(invalid="ignore"):
        log = np.where(usable, np.log(centre.pitch), np.nan)
    return SessionPitches(
        bed,
        each.first,
        runs.instrument[each.first],
        runs.reader[each.first],
        log,
        parts.covariance[:, 0, 0],
        sum_by(owner, parts.sensitivity[:, 0], owners),
        sum_by(owner, parts.by_reader[:, 0], owners),
    )


class Deviations(NamedTuple):
    """Results less the mean of the other results of the same thing, their standard uncertainties, and whether they are to be
    judged [N]: of two results only the later one is, because both deviate equally.
    """

    value: FloatArray
    u: FloatArray
    judged: BoolArray


class Shared(NamedTuple):
    """An error that results may share: the number of its cause (an instrument, a reader), and how one standard uncertainty of
    it changes each result [N].
    """

    cause: IntArray
    effect: FloatArray


def from_others(thing: IntArray, value: FloatArray, variance: FloatArray, *errors: Shared) -> Deviations:
    """Compare results of the same thing (a bed, a quantity of a frame), in the order given. An error that results share
    cancels between them. The time is linear in the number of results.

    thing: number of the thing [N]
    value: result [N]
    variance: of each result, without what results share [N]
    errors: what they may share
    """
    things = int(thing.max(initial=-1)) + 1
    number = count_by(thing, things)[thing]
    others = np.maximum(number - 1, 1)
    value_of_others = (sum_by(thing, value, things)[thing] - value) / others
    total = variance + (sum_by(thing, variance, things)[thing] - variance) / others**2
    for cause, effect in errors:
        each = distinct(thing, cause)
        together = sum_by(each.number, effect, len(each.first))
        squares = sum_by(thing[each.first], together**2, things)
        of_cause = together[each.number]
        from_itself = effect - (of_cause - effect) / others
        total = total + np.maximum((squares[thing] - of_cause**2) / others**2 + from_itself**2, 0.0)
    first = np.zeros(len(thing), dtype=bool)
    first[distinct(thing).first] = True
    judged = (number > 1) & ~((number == 2) & first)
    return Deviations(value - value_of_others, np.sqrt(total), judged)


class Apart(NamedTuple):
    """Copies of frames beside the other copies of the same frame [B].

    difference: a copy's log value less the mean of the others'; NaN if there are none
    u: its standard uncertainty
    freedom: degrees of freedom of the spread in it
    others: how many others there are
    probability: of so great a difference by chance; NaN if it is not judged: of two copies only the later one is
    """

    difference: FloatArray
    u: FloatArray
    freedom: FloatArray
    others: IntArray
    probability: FloatArray


COPIES_WEIGHT = 5
"""Degrees of freedom that the default spread of copies counts for."""


def from_copies(value: FloatArray, variance: tuple[FloatArray, FloatArray], frame: IntArray, default: float) -> Apart:
    """Hold each copy against the others of its frame. Copies spread by what all other frames show, drawn towards a default:
    s² = (ν·s_seen² + 5·s_default²) / (ν + 5). What several copies share is taken not to be shared, which makes u too large.

    value: log values, in the order in which copies came [B]
    variance: their variances without what copies share, and those of that [B]
    frame: number of each copy's frame [B]
    default: the spread that is assumed, as a part of the value
    """
    frames = int(frame.max(initial=-1)) + 1
    independent, shared = variance
    given = ~np.isnan(value)
    number = count_by(frame[given], frames)
    mean = sum_by(frame, np.where(given, value, 0.0), frames) / np.maximum(number, 1)
    away = np.where(given, value - mean[frame], 0.0)
    share = np.where(given, 1.0 - 1.0 / np.maximum(number, 1)[frame], 0.0)
    excess = sum_by(frame, away**2 - share * np.where(given, independent, 0.0), frames)
    freedom = (np.maximum(number, 1) - 1).astype(float)
    rest = np.maximum(excess.sum() - excess, 0.0), freedom.sum() - freedom + COPIES_WEIGHT
    spread = ((rest[0] + COPIES_WEIGHT * default**2) / rest[1])[frame]
    first = np.zeros(len(value), dtype=bool)
    first[np.flatnonzero(given)[distinct(frame[given]).first]] = True
    copies = number[frame]
    whole = sum_by(frame, np.where(given, independent + shared, 0.0), frames)[frame]
    own = np.where(given, independent + shared, 0.0)
    several = np.maximum(copies - 1, 1)
    u = np.sqrt(own + spread + (whole - own) / several**2 + spread / several)
    difference = np.where(given & (copies > 1), away * copies / several, np.nan)
    judged = ~np.isnan(difference) & ~((copies == 2) & first)
    degrees = rest[1][frame]
    probability = np.where(judged, 2.0 * stdtr(degrees, -np.abs(np.where(judged, difference, 0.0)) / u), np.nan)
    return Apart(difference, u, degrees, copies - 1, probability)


FINEST = 0.25
"""Repeatability is taken to be at least this part of the one assumed without repeats: no hand is steadier. Common practice,
no source."""


class RepeatCells(NamedTuple):
    """Cells of repeats [C]; a pool has one unit.

    times: how many repeats
    squares: sum of squares about the mean
    range: of the repeats
    farthest: largest distance from the mean
    pool: number of the pool, of instrument kind and quantity
    session: number of the session
    step: step of the instrument
    default: repeatability assumed if there are too few repeats to estimate it
    lost: degrees of freedom lost because passes of marks are shifted onto each other [sessions]
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

    def take(self, rows: IntArray) -> RepeatCells:
        """The same for some of the cells."""
        columns: dict[str, Any] = {name: column[rows] for name, column in self._asdict().items() if name != "lost"}
        return self._replace(**columns)


def cell_statistics(cell: IntArray, residual: FloatArray) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    """Count, squares, range and farthest of cells, from residuals [R] ordered by `cell` [R], numbered without gaps."""
    starts = np.searchsorted(cell, np.arange(int(cell.max(initial=-1)) + 1))
    count = np.diff(np.append(starts, len(cell)))
    if not len(starts):
        return count, np.zeros(0), np.zeros(0), np.zeros(0)
    away = residual - (np.add.reduceat(residual, starts) / count)[cell]
    high, low = np.maximum.reduceat(away, starts), np.minimum.reduceat(away, starts)
    return count, np.add.reduceat(away * away, starts), high - low, np.maximum(high, -low)


class Yardstick(NamedTuple):
    """The repeatability each cell is compared with [C] and its degrees of freedom [C], inf if it is assumed."""

    deviation: FloatArray
    freedom: FloatArray


def _without_own(group: IntArray, cells: RepeatCells, lost: IntArray, groups: int) -> tuple[FloatArray, FloatArray]:
    """Variance and degrees of freedom of each cell's group without the cell [C]."""
    squares = sum_by(group, cells.squares, groups)[group] - cells.squares
    freedom = (np.bincount(group, weights=cells.times - 1, minlength=groups) - lost)[group] - (cells.times - 1)
    variance = np.divide(np.maximum(squares, 0.0), freedom, out=np.zeros(len(group)), where=freedom > 0)
    return variance, np.asarray(freedom, dtype=np.float64)


def pool_yardstick(cells: RepeatCells) -> Yardstick:
    """The repeatability of each cell's pool without the cell; the assumed one if the others are too few. At least the rounding
    of the cell's instrument, because coarse and fine instruments share a pool.
    """
    pools = int(cells.pool.max(initial=-1)) + 1
    of_session = np.zeros(len(cells.lost), dtype=np.int64)
    of_session[cells.session] = cells.pool
    lost = np.bincount(of_session, weights=cells.lost, minlength=pools).astype(np.int64)
    variance, freedom = _without_own(cells.pool, cells, lost, pools)
    known = freedom >= FREEDOM_NEEDED
    deviation = np.where(known, np.maximum(np.sqrt(variance), FINEST * cells.default), cells.default)
    return Yardstick(np.maximum(deviation, cells.step / np.sqrt(12.0)), np.where(known, freedom, np.inf))


def session_yardstick(cells: RepeatCells) -> Yardstick:
    """The repeatability of each cell's own session without the cell; 0 if the session's other cells are too few."""
    variance, freedom = _without_own(cells.session, cells, cells.lost, len(cells.lost))
    known = freedom >= FREEDOM_NEEDED
    return Yardstick(np.where(known, np.sqrt(variance), 0.0), np.where(known, freedom, np.inf))


def probabilities(cells: RepeatCells, pool: Yardstick, session: Yardstick, exact_below: float = 1.0) -> FloatArray:
    """Probability that each cell's repeats differ so much by chance [C].

    The range is compared with the pool and with the session, and the larger probability counts: if a whole session is
    unsteady, this is no fault of one cell. From six repeats on, Grubbs' test counts too.

    cells: the cells
    pool: the repeatability of each cell's pool
    session: that of its session
    exact_below: only bounds below this are replaced by exact probabilities, which are slow
    """
    probability = np.zeros(len(cells.range))
    for yardstick in (pool, session):
        some = yardstick.deviation > 0.0
        ratio = np.divide(cells.range, yardstick.deviation, out=np.full(len(cells.range), np.inf), where=some)
        bound = range_bound(ratio, cells.times, yardstick.freedom)
        close = np.flatnonzero(some & (bound < exact_below))
        bound[close] = range_probability(ratio[close], cells.times[close], yardstick.freedom[close])
        probability = np.maximum(probability, bound)
    many = np.flatnonzero(cells.times >= GRUBBS_FROM)
    if len(many):
        variance = cells.squares[many] / (cells.times[many] - 1) + cells.step[many] ** 2 / 12.0
        statistic = np.divide(cells.farthest[many], np.sqrt(variance), out=np.zeros(len(many)), where=variance > 0.0)
        alone = grubbs_probability(statistic, cells.times[many])
        probability[many] = np.minimum(2.0 * np.minimum(alone, probability[many]), 1.0)
    return probability


class SessionScatter(NamedTuple):
    """Repeatability of sessions, that of the rest of their pools, and the probability of so large a ratio by chance [S], 1 if
    a session has too few degrees of freedom.
    """

    deviation: FloatArray
    rest: FloatArray
    probability: FloatArray


def session_scatter(cells: RepeatCells, left_out: BoolArray) -> SessionScatter:
    """Whether whole sessions scatter more than the rest of their pool, by the F ratio of variances. `left_out` [C] marks cells
    that are reported singly.
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
    known, rest_known = freedom >= FREEDOM_NEEDED, rest_freedom >= FREEDOM_NEEDED
    variance = np.divide(squares, freedom, out=np.zeros(sessions), where=known)
    variance_of_rest = np.divide(rest_squares, rest_freedom, out=np.zeros(sessions), where=rest_known)
    variance_of_rest = np.where(rest_known, np.maximum(variance_of_rest, (FINEST * default) ** 2), default**2) + step**2 / 12.0
    probability = fdtrc(np.maximum(freedom, 1), np.where(rest_known, rest_freedom, 1e9), variance / variance_of_rest)
    return SessionScatter(np.sqrt(variance), np.sqrt(variance_of_rest), np.where(known, probability, 1.0))
