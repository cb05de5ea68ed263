"""Gauge studies: how much of the variation of readings is due to the parts, to repeated reading, and to who reads.

Two-way random-effects analysis of variance with the terms of the AIAG manual (Measurement Systems Analysis): EV
repeatability, AV reproducibility, GRR both together, PV parts, TV all, as standard deviations. Sums of squares are those
of fitting constants (Henderson's method 3), so people need not read the same parts equally often; for a complete study
they equal the manual's.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.comparison import CONFIDENCE
from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.statistics import student_quantile

POOLING_LEVEL = 0.05
"""An interaction less significant than this is pooled with the repeatability."""
CATEGORIES = 1.41
"""Distinct categories are this many times PV/GRR (AIAG): 97 % intervals do not overlap."""
PARTS_NEEDED = 3
"""Parts that two people must have read before a difference between people is stated. Common practice, no source."""


class Variation(NamedTuple):
    """A gauge study. Standard deviations are NaN if the data do not determine them.

    readings: how many
    parts: how many
    people: how many
    shared: parts read by two people or more
    ev: repeatability, NaN without repeats
    ev_freedom: its degrees of freedom
    av: reproducibility, NaN (as is `grr`) if fewer than PARTS_NEEDED parts were read by two people
    between: the component of `av` that is the same on every part
    av_freedom: its degrees of freedom
    interaction: the component of `av` that depends on the part read, 0 if it was pooled
    interaction_probability: p-value of its F test, NaN if there was none
    pv: variation of the parts
    """

    readings: int
    parts: int
    people: int
    shared: int
    ev: float
    ev_freedom: float
    av: float
    between: float
    av_freedom: int
    interaction: float
    interaction_probability: float
    pv: float

    @property
    def grr(self) -> float:
        """Repeatability and reproducibility together."""
        return float(np.hypot(self.ev, self.av))

    @property
    def tv(self) -> float:
        """Total variation."""
        return float(np.hypot(self.grr, self.pv))

    @property
    def categories(self) -> int | None:
        """How many classes of parts the readings distinguish, cut to a whole number; None if not known."""
        if not self.grr > 0.0 or np.isnan(self.pv):
            return None
        return int(CATEGORIES * self.pv / self.grr)


class StudyCells(NamedTuple):
    """Cells of a gauge study, each the readings of one part by one person [C].

    part: number of the part
    person: number of the person
    times: how many readings
    mean: their mean
    within: sum of squares of all readings about the means of their cells
    """

    part: IntArray
    person: IntArray
    times: FloatArray
    mean: FloatArray
    within: float

    @property
    def shared(self) -> IntArray:
        """The cells of parts read by two people or more."""
        return np.flatnonzero(count_by(self.part, int(self.part.max(initial=-1)) + 1)[self.part] > 1)


def study_cells(part: IntArray, person: IntArray, value: FloatArray) -> StudyCells:
    """Cells of the readings `value` [R] of parts by people; both are numbered anew, and the grand mean is subtracted."""
    part, person = distinct(part).number, distinct(person).number
    each = distinct(part, person)
    value = value - value.mean() if len(value) else value
    count = count_by(each.number, len(each.first)).astype(float)
    mean = sum_by(each.number, value, len(each.first)) / count
    residual = value - mean[each.number]
    return StudyCells(part[each.first], person[each.first], count, mean, float(residual @ residual))


class Fit(NamedTuple):
    """People's differences with the parts as blocks.

    inverse: generalised inverse of the normal matrix of people after parts are eliminated [P, P]
    person: the differences [P]
    explained: the sum of squares they explain
    group: numbers people who can be compared, directly or through others [P]
    """

    inverse: FloatArray
    person: FloatArray
    explained: float
    group: IntArray

    @property
    def rank(self) -> int:
        """Independent comparisons of people."""
        return len(self.group) - len(np.unique(self.group))


def fit_people(cells: StudyCells) -> Fit:
    """Least squares for the people of the cells, each cell weighted by its number of readings."""
    people = int(cells.person.max(initial=-1)) + 1
    some = cells.shared
    each = distinct(cells.part[some])
    parts = len(each.first)
    share = np.zeros((parts, people))
    share[each.number, cells.person[some]] = cells.times[some]
    total = share.sum(axis=1)
    normal = np.diag(share.sum(axis=0)) - share.T @ (share / total[:, None])
    sums = sum_by(each.number, cells.times[some] * cells.mean[some], parts)
    right = np.bincount(cells.person[some], weights=cells.times[some] * cells.mean[some], minlength=people)
    right = right - share.T @ (sums / total)
    inverse = np.linalg.pinv(normal, rcond=1e-10, hermitian=True)
    person = inverse @ right
    return Fit(inverse, person, float(person @ right), _groups(normal))


def _groups(normal: FloatArray) -> IntArray:
    """Group numbers of people [P]: people linked by parts that both have read, directly or through others, share one."""
    linked = (normal != 0.0) | np.eye(len(normal), dtype=bool)
    group = np.arange(len(normal))
    for _ in range(len(normal)):
        lowest = np.where(linked, group[None, :], len(normal)).min(axis=1, initial=len(normal))
        if np.array_equal(lowest, group):
            break
        group = lowest
    return group


def _leverage(cells: StudyCells, fit: Fit, by_part: FloatArray) -> float:
    """Σ n²·h over the cells: h is the leverage of a reading on the fit of parts and people without interaction."""
    total = float(cells.times.sum())
    some = cells.shared
    each = distinct(cells.part[some])
    share = np.zeros((len(each.first), len(fit.person)))
    share[each.number, cells.person[some]] = cells.times[some]
    share /= share.sum(axis=1)[:, None]
    away = -share[each.number]
    away[np.arange(len(some)), cells.person[some]] += 1.0
    weight = cells.times[some]
    of_people = np.einsum("cp,pq,cq->c", away, fit.inverse, away, optimize=True)
    alone = total - float(weight.sum())
    return alone + float(np.sum(weight**2 * (1.0 / by_part[cells.part[some]] + of_people)))


class _Squares(NamedTuple):
    """A sum of squares.

    squares: the sum
    freedom: its degrees of freedom
    by_interaction: coefficient of the interaction's variance in its expectation
    by_effect: coefficient of its effect's variance in its expectation
    """

    squares: float
    freedom: int
    by_interaction: float = 0.0
    by_effect: float = 0.0


def gauge_study(part: IntArray, person: IntArray, value: FloatArray, level: float = POOLING_LEVEL) -> Variation:
    """A gauge study of readings.

    part: number of the part read, from 0 [R]
    person: number of the person who read, from 0 [R]
    value: readings [R]
    level: an interaction less significant than this is pooled
    """
    cells = study_cells(part, person, value)
    parts, people = int(cells.part.max(initial=-1)) + 1, int(cells.person.max(initial=-1)) + 1
    fit = fit_people(cells)
    by_part = np.bincount(cells.part, weights=cells.times, minlength=parts)
    by_person = np.bincount(cells.person, weights=cells.times, minlength=people)
    readings = float(len(value))
    leverage = _leverage(cells, fit, np.asarray(by_part, dtype=np.float64))
    r_cells = float(np.sum(cells.times * cells.mean**2))
    r_part = float(np.sum(np.bincount(cells.part, weights=cells.times * cells.mean, minlength=parts) ** 2 / by_part))
    r_person = float(np.sum(np.bincount(cells.person, weights=cells.times * cells.mean, minlength=people) ** 2 / by_person))
    both = r_part + fit.explained
    shared_part = float(np.sum(cells.times**2 / by_part[cells.part]))
    shared_person = float(np.sum(cells.times**2 / by_person[cells.person]))
    error = _Squares(cells.within, len(value) - len(cells.part))
    mixed = _Squares(max(r_cells - both, 0.0), len(cells.part) - parts - fit.rank, readings - leverage)
    of_person = _Squares(fit.explained, fit.rank, leverage - shared_part, readings - shared_part)
    of_part = _Squares(both - r_person, parts + fit.rank - people, leverage - shared_person, readings - shared_person)
    shared = len(np.unique(cells.part[cells.shared]))
    return _variation((len(value), parts, people, shared), error, mixed, of_person, of_part, level)


def _variation(
    counts: tuple[int, int, int, int], error: _Squares, mixed: _Squares, of_person: _Squares, of_part: _Squares, level: float
) -> Variation:
    """Variance components from sums of squares, the interaction pooled if it is not significant."""
    probability = _f_probability(mixed, error)
    interaction = 0.0
    freedom = error.freedom
    variance = error.squares / error.freedom if error.freedom else np.nan
    if error.freedom and mixed.freedom:
        if probability > level:
            freedom += mixed.freedom
            variance = (error.squares + mixed.squares) / freedom
        else:
            interaction = _component(mixed.squares - variance * mixed.freedom, mixed.by_interaction)
    elif mixed.freedom:  # nothing was repeated: interaction and repeatability cannot be told apart, and need not be
        variance = mixed.squares / mixed.freedom
    known = counts[3] >= PARTS_NEEDED and of_person.freedom > 0
    between_people = _component(
        of_person.squares - variance * of_person.freedom - interaction * of_person.by_interaction, of_person.by_effect
    )
    between_parts = _component(
        of_part.squares - variance * of_part.freedom - interaction * of_part.by_interaction, of_part.by_effect
    )
    return Variation(
        *counts,
        ev=float(np.sqrt(variance)) if error.freedom else np.nan,
        ev_freedom=float(freedom),
        av=float(np.sqrt(between_people + interaction)) if known else np.nan,
        between=float(np.sqrt(between_people)) if known else np.nan,
        av_freedom=of_person.freedom,
        interaction=float(np.sqrt(interaction)),
        interaction_probability=probability,
        pv=float(np.sqrt(between_parts)) if of_part.freedom > 0 else np.nan,
    )


def _component(excess: float, weight: float) -> float:
    """A variance component, 0 if it would be negative; NaN for NaN."""
    return max(excess / weight, 0.0) if weight > 1e-9 and not np.isnan(excess) else (np.nan if np.isnan(excess) else 0.0)


def _f_probability(upper: _Squares, lower: _Squares) -> float:
    if not upper.freedom or not lower.freedom or lower.squares <= 0.0:
        return float("nan")
    from scipy.special import fdtrc

    ratio = (upper.squares / upper.freedom) / (lower.squares / lower.freedom)
    return float(fdtrc(upper.freedom, lower.freedom, ratio))


class OfPeople(NamedTuple):
    """How well each person's readings repeat [P].

    deviation: standard deviation of their readings of one part; NaN if they read none twice
    freedom: degrees of freedom
    readings: how many readings of theirs there are
    """

    deviation: FloatArray
    freedom: FloatArray
    readings: IntArray


def repeatability_of_people(part: IntArray, person: IntArray, value: FloatArray, people: int) -> OfPeople:
    """The repeatability of each person: the standard deviation within the cells of a part and a person, pooled over parts (as
    equipment variation is, AIAG MSA).

    part: number of the part read [R]
    person: number of the person who read, below `people` [R]
    value: readings [R]
    people: how many there are
    """
    each = distinct(part, person)
    count = count_by(each.number, len(each.first)).astype(float)
    mean = sum_by(each.number, value - value.mean() if len(value) else value, len(each.first)) / count
    residual = (value - value.mean() if len(value) else value) - mean[each.number]
    squares = sum_by(person, residual * residual, people)
    readings = count_by(person, people)
    freedom = readings - count_by(person[each.first], people).astype(float)
    deviation = np.sqrt(np.divide(squares, freedom, out=np.full(people, np.nan), where=freedom > 0))
    return OfPeople(deviation, freedom, readings)


class Biases(NamedTuple):
    """Each person's readings against those of the people they can be compared with [P]; NaN if the data do not determine it.

    bias: difference from the mean of their group
    half: half the width of its interval
    parts: how many parts the person shares with others
    group: number of their group
    freedom: degrees of freedom of the intervals
    """

    bias: FloatArray
    half: FloatArray
    parts: IntArray
    group: IntArray
    freedom: int


FREEDOM_NEEDED = 3
"""Degrees of freedom below which no bias is given: its interval would be too wide to be of use. Common practice, no source."""


def biases(part: IntArray, person: IntArray, value: FloatArray, people: int, confidence: float = CONFIDENCE) -> Biases:
    """Each person's difference from the mean of their group, with parts as blocks; a part read often by one person counts
    once for them. The interval is Student's.

    part: number of the part read [R]
    person: number of the person who read, below `people` [R]
    value: readings [R]
    people: how many there are
    confidence: of the interval
    """
    known = np.unique(person)
    cells = study_cells(part, person, value)
    cells = cells._replace(times=np.ones(len(cells.times)))
    some = cells.shared
    fit = fit_people(cells)
    each = distinct(cells.part[some])
    means = cells.mean[some] - fit.person[cells.person[some]]
    level = sum_by(each.number, means, len(each.first)) / count_by(each.number, len(each.first))
    residual = means - level[each.number]
    freedom = len(some) - len(each.first) - fit.rank
    same = fit.group[:, None] == fit.group[None, :]
    centring = np.eye(len(known)) - same / same.sum(axis=1)[:, None]
    bias = centring @ fit.person
    spread = np.einsum("ip,pq,iq->i", centring, fit.inverse, centring)
    parts = np.zeros(people, dtype=np.int64)
    parts[known] = count_by(cells.person[some], len(known))
    determined = (freedom >= FREEDOM_NEEDED) & (same.sum(axis=1) > 1)
    person_bias, half = np.full(people, np.nan), np.full(people, np.nan)
    person_bias[known] = np.where(determined, bias, np.nan)
    if freedom >= FREEDOM_NEEDED:
        variance = float(residual @ residual) / freedom
        width = student_quantile(confidence, freedom) * np.sqrt(variance * np.maximum(spread, 0.0))
        half[known] = np.where(determined, width, np.nan)
    group = np.full(people, -1, dtype=np.int64)
    group[known] = known[fit.group]
    return Biases(person_bias, half, parts, group, freedom)
