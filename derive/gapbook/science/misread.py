"""Readings that cannot be right: one out of line, a slip of the pen, a value that makes sense in another unit only.

Strings lie along a smooth curve, so a single misread gap or mark stands out of it. A laying's strings are fitted by a low
polynomial of their number (mains: odd terms only, for they mirror left to right), by generalised least squares with what
placement and reading do to their positions. A misread gap moves every string after it, a misread mark moves one string:
each is a mean-shift outlier, tried in turn (Cook & Weisberg 1982, Residuals and Influence in Regression, 2.2.2). Drilling
in steps fits no polynomial: the scatter that is left widens the bound, and `lone` asks that the neighbours and the mirror
twin do not share the deviation.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.uncertainty import PLACEMENT_MM
from gapbook.science.units import INCH, UNITS

FEWEST = 8
"""Strings a laying must have to be looked at."""
SCATTER_ROOM = 1.3
"""How much more than expected the middle of the residuals may be before it widens the bound: it rests on some 16 strings."""
BORNE = 2.0
"""Standard uncertainties by which a reading must stand out of its own laying, and more than in the others, if these tell
against it: that says which of two layings is wrong."""
LONE = 0.5
"""Part of a deviation that neighbours, mirror twin and other layings must not share."""
TRIM = 20.0
"""A cell's scatter over its expectation beyond which it does not speak for the repeatability; chi-square with one degree of
freedom passes it once in 130,000 cells."""


class Line(NamedTuple):
    """What a kind of laying of n strings is compared with, P terms and H readings that may be misread.

    terms: powers of the string's place [n, P]
    fit: takes positions to the coefficients of the terms [P, n]
    shift: what an error of 1 mm of each reading does to the strings [n, H]
    gradient: takes positions to estimates of those errors [n, H]
    u: standard uncertainty of such an estimate [H] in mm
    residual: takes positions to whitened residuals [n, n]
    whitened: shifts, likewise, of unit length [n, H]
    """

    terms: FloatArray
    fit: FloatArray
    shift: FloatArray
    gradient: FloatArray
    u: FloatArray
    residual: FloatArray
    whitened: FloatArray


@lru_cache(maxsize=1024)
def line(strings: int, is_main: bool, is_mark: bool, variance: float, placement: float = PLACEMENT_MM) -> Line:
    """The line of one kind of layings. Without placement it is that of the difference of two layings: of crosses, which are
    read at one station, no more than where and how the instrument was laid.

    strings: string count
    is_main: whether they are mains
    is_mark: whether marks were read, else gaps
    variance: of one reading [mm²]
    placement: how far strings wander from where they would rest [mm]
    """
    place = np.linspace(-1.0, 1.0, strings)
    powers = (0, 1, 3, 5) if is_main else (0, 1, 2, 3, 4, 5) if placement else (0, 1)
    terms = np.stack([place**power for power in powers], axis=1)
    number = np.arange(strings)
    covariance = (placement**2 + 1e-4 * variance) * np.eye(strings)
    covariance += variance * (np.eye(strings) if is_mark else np.minimum(number[:, None], number[None, :]))
    shift = np.eye(strings) if is_mark else (number[:, None] > number[None, :-1]).astype(float)
    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    basis, _ = np.linalg.qr(whiten @ terms)
    residual = whiten - basis @ (basis.T @ whiten)
    moved = residual @ shift
    size = np.sqrt((moved**2).sum(axis=0))
    fit = np.asarray(np.linalg.lstsq(whiten @ terms, whiten, rcond=None)[0], dtype=np.float64)
    return Line(terms, fit, shift, residual.T @ moved / size**2, 1.0 / size, residual, moved / size)


class Group(NamedTuple):
    """Layings that share count, family, kind and variance of a reading.

    positions: of the strings [L, n] in mm
    own: whether a reading is the laying's own [L, H]
    apart: how far its strings lie from where the other layings of the family have them on average [L, n] in mm, 0 without any
    others: how many others there are [L]
    """

    positions: FloatArray
    own: BoolArray
    apart: FloatArray
    others: IntArray


class Suspects(NamedTuple):
    """Readings that stand out [S].

    laying: number of the laying
    place: among what may be misread (0 is gap 1 or mark 1)
    shift: by how much it is too high [mm]
    u: standard uncertainty of that [mm]
    belied: whether other layings tell against it
    """

    laying: IntArray
    place: IntArray
    shift: FloatArray
    u: FloatArray
    belied: BoolArray


class _Scores(NamedTuple):
    """Estimates of every shift [L, H] in mm, in standard uncertainties, and those uncertainties [L, H]."""

    shift: FloatArray
    score: FloatArray
    u: FloatArray


def _scores(positions: FloatArray, one: Line, factor: FloatArray) -> _Scores:
    """Shifts by one line; `factor` [L] widens its uncertainties, infinite if it says nothing."""
    u = one.u[None, :] * factor[:, None]
    shift, says = np.zeros(u.shape), np.flatnonzero(np.isfinite(factor))
    shift[says] = positions[says] @ one.gradient
    return _Scores(shift, shift / u, u)


def _scatter(positions: FloatArray, one: Line, best: IntArray, shift: FloatArray, factor: FloatArray, taken: int) -> FloatArray:
    """How much more than expected residuals scatter [L] once the shift of `best` is taken out, at least 1: by their middle or
    by their root mean square, whichever is less, so that neither a second misreading nor chance widens the bound.
    """
    rest = positions @ one.residual.T - (shift / one.u[best])[:, None] * one.whitened[:, best].T
    strings, terms = one.terms.shape
    free = max(strings - terms - 1 - taken, 1)
    middle = np.median(np.abs(rest), axis=1) * 1.4826 * np.sqrt(strings / free) / SCATTER_ROOM
    square = np.sqrt((rest**2).sum(axis=1) / free)
    return np.asarray(np.maximum(1.0, np.minimum(middle, square) / factor))


def suspects(group: Group, one: Line, other: Line, bound: float, most: int = 3) -> tuple[Suspects, FloatArray]:
    """What stands out of a laying's own line by more than `bound` standard uncertainties; or by BORNE of them, if it stands
    out from the other layings by `bound`. And the positions with that taken out.

    group: the layings
    one: their line
    other: the same for strings in place, for what one laying has and the others have not
    bound: [standard uncertainties]
    most: readings of one laying at most, the greatest first, each judged after those before it are taken out
    """
    left, apart, may = group.positions.copy(), group.apart.copy(), group.own.copy()
    rows, found = np.arange(len(left)), []
    with np.errstate(divide="ignore"):
        factor = np.sqrt(1.0 + 1.0 / group.others)
    for taken in range(most):
        alone = _scores(left[rows], one, np.ones(len(rows)))
        beside = _scores(apart[rows], other, factor[rows])
        in_others = alone.score - apart[rows] @ one.gradient / one.u
        agree = (alone.score * beside.score > 0.0) & (np.abs(alone.score) > np.maximum(BORNE, np.abs(in_others)))
        strength = np.where(may[rows], np.maximum(np.abs(alone.score), np.where(agree, np.abs(beside.score), 0.0)), 0.0)
        best = np.argmax(strength, axis=1)
        passed = np.flatnonzero(strength[np.arange(len(rows)), best] > bound)
        if not len(passed):
            break
        at, best = (passed, best[passed]), best[passed]
        rows = rows[passed]
        wide = _scatter(left[rows], one, best, alone.shift[at], np.ones(len(rows)), taken)
        spread = _scatter(apart[rows], other, best, beside.shift[at], factor[rows], taken)
        sure = np.abs(alone.score[at]) > bound * wide
        borne = agree[at] & (np.abs(beside.score[at]) > bound * spread) & (np.abs(alone.score[at]) > BORNE * wide)
        u, u_beside = alone.u[at] * wide, np.where(borne, beside.u[at] * spread, np.inf)
        weight = np.where(borne, u**2 / (u**2 + np.where(borne, u_beside, 1.0) ** 2), 0.0)
        shift = (1.0 - weight) * alone.shift[at] + weight * beside.shift[at]
        kept = sure | borne
        rows, best, shift, u = rows[kept], best[kept], shift[kept], np.minimum(u, u_beside)[kept]
        found.append(Suspects(rows, best.astype(np.int64), shift, u, borne[kept]))
        left[rows] -= shift[:, None] * one.shift[:, best].T
        apart[rows] -= shift[:, None] * one.shift[:, best].T
        may[rows, best] = False
    if not found:
        none = np.zeros(0, dtype=np.int64)
        return Suspects(none, none, np.zeros(0), np.zeros(0), none > 0), left
    return Suspects(*(np.concatenate(columns) for columns in zip(*found, strict=True))), left


def lone(positions: FloatArray, cleaned: FloatArray, one: Line, place: int, shift: float, is_main: bool, is_mark: bool) -> bool:
    """Whether the deviation of one reading is its own: neighbours and mirror twin do not share it.

    positions: of one laying as read [n] in mm
    cleaned: with everything that stands out taken out [n] in mm
    one: the line of the laying
    place: of the reading
    shift: by how much it is too high [mm]
    is_main: whether the strings are mains
    is_mark: whether marks were read
    """
    off = positions - one.terms @ (one.fit @ cleaned)
    own = off if is_mark else np.diff(off)
    last = len(own) - 1
    twin = (-1.0 if is_mark else 1.0) * own[last - place]
    around = [own[other] for other in (place - 1, place + 1) if 0 <= other <= last]
    if is_main and place != last - place:
        around.append(twin)
    return all(one_off * np.sign(shift) < LONE * abs(shift) for one_off in around)


def believable_variance(squares: FloatArray, freedom: IntArray, pool: IntArray, pools: int, floor: FloatArray) -> FloatArray:
    """Variance of one reading [pools], pooled over cells of repeats as in JCGM 100:2008, H.3.6, but without the cells that
    scatter beyond belief: a misreading must not widen the bound that finds it. NaN if nothing was repeated.

    squares: sum of squares of each cell [C]
    freedom: degrees of freedom of each cell [C]
    pool: number of its pool [C]
    pools: how many there are
    floor: variance that rounding alone gives [pools]
    """
    several = freedom > 0
    squares, freedom, pool = squares[several], freedom[several], pool[several]
    result = np.full(pools, np.nan)
    for number in np.unique(pool):
        mine = pool == number
        mean = squares[mine] / freedom[mine]
        start = max(float(np.median(mean)) / 0.4549, float(floor[number]))
        kept = mean <= TRIM * start
        result[number] = squares[mine][kept].sum() / freedom[mine][kept].sum() if start > 0.0 else 0.0
    return result


NEAR = 2.0
"""Standard uncertainties within which a slip explains a figure: no figure is offered outside the interval that is shown."""
LEAST_MM = 0.3
"""Uncertainty below which none is believed: how far a string wanders from where it would rest [mm]."""


class Slip(NamedTuple):
    """What should have been written, in the unit written in, and what went wrong, in words."""

    value: float
    words: str


def slips(written: float, is_mark: bool) -> list[Slip]:
    """What may have been meant by a figure: digits that changed places, a point that slipped, another unit; on a rule, a ten
    misread.
    """
    found = [Slip(value, "two digits changed places") for value in _transposed(written)]
    found += [Slip(written * factor, "the decimal point slipped") for factor in (10.0, 0.1)]
    found += [Slip(written * factor, "a value in another unit") for factor in (INCH, 1.0 / INCH)]
    if is_mark:
        found += [Slip(written + step, "a ten misread on the scale") for step in (10.0, -10.0)]
    return found


def explained(written: float, expected: float, u: float, is_mark: bool) -> Slip | None:
    """The slip that brings a figure nearest to what is expected, within NEAR times its standard uncertainty; None if none
    does.

    written: the figure as written
    expected: what it should be, in the unit written in
    u: standard uncertainty of that
    is_mark: whether it is a mark on a rule
    """
    near = NEAR * u
    fitting = [slip for slip in slips(written, is_mark) if abs(slip.value - expected) <= near]
    return min(fitting, key=lambda slip: abs(slip.value - expected), default=None)


def _transposed(written: float) -> list[float]:
    """The figure with two neighbouring digits changed about, with the decimals it may have been written with."""
    values = set()
    plain = f"{written:.6f}".rstrip("0")
    for decimals in {max(len(plain.partition(".")[2]), least) for least in (0, 1, 2)}:
        text = f"{written:.{decimals}f}"
        places = [place for place, letter in enumerate(text) if letter.isdigit()]
        for one, other in pairwise(places):
            if text[one] != text[other]:
                letters = list(text)
                letters[one], letters[other] = letters[other], letters[one]
                values.add(float("".join(letters)))
    return sorted(values)


HEAD_LENGTH_MM = (200.0, 440.0)
HEAD_WIDTH_MM = (150.0, 330.0)
"""Inner length and width of a head, from a child's frame to more than the 394 mm by 292 mm that ITF Rules of Tennis,
Appendix II, allow. Common practice, no source."""
MIDDLE_GAP_MM = (5.0, 30.0)
"""Median distance of neighbouring strings of a bed; a ball is 67 mm across. Common practice, no source."""
TENSION_N = (60.0, 420.0)
"""Pull tension, with room around the 220 to 270 N in common use (Cross 2000, Sports Engineering 3, 111-122). Common
practice, no source."""
USUAL_TENSION_N = 245.0
"""The middle of those."""
U_DECLARED_AREA = 0.01
"""Relative standard uncertainty of a declared head area: makers round to a square inch and measure as they please. Common
practice, no source."""
OF_READINGS = {"head_length": HEAD_LENGTH_MM, "head_width": HEAD_WIDTH_MM}
"""Ranges of quantities that are read and that makers do not declare, in computing units."""
OF_FRAMES = {
    "head_area": "head_area_cm2",
    "length": "length_mm",
    "mass": "mass_g",
    "balance": "balance_mm",
    "swingweight": "swingweight_kgcm2",
}
"""For the other quantities that are read: the column of the frames whose limits the schema states."""


def likely_units(
    written: FloatArray, base: str, low: FloatArray, high: FloatArray, middle: FloatArray
) -> tuple[list[str], IntArray]:
    """The units of a dimension, and for each figure which of them brings it between low and high [R]: if several do, the
    one that brings it nearest to the middle as a ratio; -1 if none does.

    written: figures as written [R]
    base: the computing unit of the dimension
    low: least figure that can be [R] in `base`
    high: greatest figure that can be [R] in `base`
    middle: usual figure [R] in `base`
    """
    codes = [code for code, unit in UNITS.items() if unit.base == base]
    factor = np.array([UNITS[code].factor for code in codes])
    value = written[:, None] * factor[None, :]
    fits = (value >= low[:, None]) & (value <= high[:, None])
    with np.errstate(divide="ignore"):
        away = np.where(fits, np.abs(np.log(value / middle[:, None])), np.inf)
    return codes, np.where(fits.any(axis=1), np.argmin(away, axis=1), -1).astype(np.int64)
