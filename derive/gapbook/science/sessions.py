"""Sessions side by side: what each finds on its own, and how far it lies from what the others find."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.science.pitches import pitch
from gapbook.science.uncertainty import Gradients, family_parts
from gapbook.science.zones import LEAST_COVERAGE


class SessionPitches(NamedTuple):
    """Centre pitches that sessions find on their own [S]: their bed, the first run of each, its instrument, ln pitch
    (NaN where too little is covered), the variance of ln pitch without the instrument, and what an error of the
    instrument of 1 mm does to it [1/mm].
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
    """Compare results of the same thing (a bed, a quantity of a frame), in the order in which they were given.

    variance: that of each result on its own [N]; sensitivity: what a unit error of its instrument does to it [N];
    instrument: [N]; u_instrument: by instrument number. An error that results share through their instrument cancels
    between them. Linear in the number of results.
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
