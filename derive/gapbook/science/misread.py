"""Readings that cannot be right: one out of line, a slip in writing, a value that makes sense only in another unit.

A pass is one repeat of a run of readings. Strings lie along a smooth curve, so one misread gap or mark stands out. The
strings of a pass are fitted by a low polynomial of their number, by generalised least squares with the covariance that
placement and reading give their positions. Polynomials of mains have odd terms only, because mains mirror left to right. A
misread gap moves every string after it, a misread mark moves one string: each is a mean-shift outlier, tried in turn (Cook
& Weisberg 1982, Residuals and Influence in Regression, 2.2.2). No polynomial fits drilling in steps: then the remaining
scatter widens the bound, and `isolated` asks that neighbours and mirror twin do not share the deviation.
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
"""Strings a pass must have to be judged."""
SCATTER_ROOM = 1.3
"""How many times the expected size the median residual may have before it widens the bound: it rests on some 16 strings."""
LEAST_ALONE = 2.0
"""Standard uncertainties by which a reading that other passes contradict must still stand out of its own pass, and by more
than it would in theirs: this decides which of two passes is wrong."""
LARGEST_SHARE = 0.5
"""Neighbours, mirror twin and other passes must share less than this part of a deviation."""
TRIM = 20.0
"""A cell whose variance is more than this many times the expected one is left out of the repeatability; by chance (chi-square
with one degree of freedom) this happens once in 130,000 cells."""


class PassModel(NamedTuple):
    """The fitted curve that passes of one kind are compared with: n strings, P terms, H readings that may be misread.

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
def pass_model(strings: int, is_main: bool, is_mark: bool, variance: float, placement: float = PLACEMENT_MM) -> PassModel:
    """The model of passes of one kind. Without placement it is that of the difference of two passes, in which the strings'
    places cancel; crosses, read at one station, then differ only by the instrument's position and scale (two terms).

    strings: string count
    is_main: whether they are mains
    is_mark: whether marks were read, else gaps
    variance: of one reading [mm²]
    placement: standard deviation of a string's distance from its place on the curve [mm]
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
    return PassModel(terms, fit, shift, residual.T @ moved / size**2, 1.0 / size, residual, moved / size)


class Group(NamedTuple):
    """Passes [L] with the same string count, family, kind and variance of a reading.

    positions: of the strings [L, n] in mm
    is_read: whether the reading was made in this pass, not taken from others [L, H]
    offset: positions less their mean in the other passes of the family [L, n] in mm, 0 if there are none
    others: how many other passes there are [L]
    """

    positions: FloatArray
    is_read: BoolArray
    offset: FloatArray
    others: IntArray


class Suspects(NamedTuple):
    """Readings that stand out [S].

    pass_number: row of the pass in its group
    place: number of the reading, less 1 (0 is gap 1 or mark 1)
    shift: by how much it is too high [mm]
    u: standard uncertainty of that [mm]
    contradicted: whether other passes contradict it
    """

    pass_number: IntArray
    place: IntArray
    shift: FloatArray
    u: FloatArray
    contradicted: BoolArray


class _Scores(NamedTuple):
    """Estimates of every shift [L, H]: in mm, in standard uncertainties, and these uncertainties in mm."""

    shift: FloatArray
    score: FloatArray
    u: FloatArray


def _scores(positions: FloatArray, model: PassModel, factor: FloatArray) -> _Scores:
    """Shifts by one model; `factor` [L] widens the uncertainties and is infinite for a pass the model cannot judge."""
    u = model.u[None, :] * factor[:, None]
    shift, says = np.zeros(u.shape), np.flatnonzero(np.isfinite(factor))
    shift[says] = positions[says] @ model.gradient
    return _Scores(shift, shift / u, u)


def _scatter(
    positions: FloatArray, model: PassModel, best: IntArray, shift: FloatArray, factor: FloatArray, taken: int
) -> FloatArray:
    """How many times the expected scatter the residuals have [L] without the shift of `best`, at least 1. The smaller of two
    estimates, by the median and by the root mean square, so that neither a second misreading nor chance widens the bound.
    """
    rest = positions @ model.residual.T - (shift / model.u[best])[:, None] * model.whitened[:, best].T
    strings, terms = model.terms.shape
    free = max(strings - terms - 1 - taken, 1)
    middle = np.median(np.abs(rest), axis=1) * 1.4826 * np.sqrt(strings / free) / SCATTER_ROOM
    square = np.sqrt((rest**2).sum(axis=1) / free)
    return np.asarray(np.maximum(1.0, np.minimum(middle, square) / factor))


def suspects(group: Group, model: PassModel, between: PassModel, bound: float, most: int = 3) -> tuple[Suspects, FloatArray]:
    """Readings that stand out of their own pass by more than `bound`; or by more than LEAST_ALONE if they stand out from the
    other passes by more than `bound`. Also the positions with their shifts removed [L, n] in mm.

    group: the passes
    model: of one pass
    between: the model without placement, for differences between passes
    bound: [standard uncertainties]
    most: readings of one pass at most, the greatest first, each judged after those before it are removed
    """
    positions, offset, candidate = group.positions.copy(), group.offset.copy(), group.is_read.copy()
    rows, steps = np.arange(len(positions)), []
    with np.errstate(divide="ignore"):
        factor = np.sqrt(1.0 + 1.0 / group.others)
    for taken in range(most):
        alone = _scores(positions[rows], model, np.ones(len(rows)))
        against = _scores(offset[rows], between, factor[rows])
        of_others = alone.score - offset[rows] @ model.gradient / model.u
        agree = (alone.score * against.score > 0.0) & (np.abs(alone.score) > np.maximum(LEAST_ALONE, np.abs(of_others)))
        strength = np.where(candidate[rows], np.maximum(np.abs(alone.score), np.where(agree, np.abs(against.score), 0.0)), 0.0)
        best = np.argmax(strength, axis=1)
        beyond = np.flatnonzero(strength[np.arange(len(rows)), best] > bound)
        if not len(beyond):
            break
        at, best = (beyond, best[beyond]), best[beyond]
        rows = rows[beyond]
        wide = _scatter(positions[rows], model, best, alone.shift[at], np.ones(len(rows)), taken)
        wide_against = _scatter(offset[rows], between, best, against.shift[at], factor[rows], taken)
        clear = np.abs(alone.score[at]) > bound * wide
        contradicted = (
            agree[at] & (np.abs(against.score[at]) > bound * wide_against) & (np.abs(alone.score[at]) > LEAST_ALONE * wide)
        )
        u, u_against = alone.u[at] * wide, np.where(contradicted, against.u[at] * wide_against, np.inf)
        weight = np.where(contradicted, u**2 / (u**2 + np.where(contradicted, u_against, 1.0) ** 2), 0.0)
        shift = (1.0 - weight) * alone.shift[at] + weight * against.shift[at]
        kept = clear | contradicted
        rows, best, shift, u = rows[kept], best[kept], shift[kept], np.minimum(u, u_against)[kept]
        steps.append(Suspects(rows, best.astype(np.int64), shift, u, contradicted[kept]))
        positions[rows] -= shift[:, None] * model.shift[:, best].T
        offset[rows] -= shift[:, None] * model.shift[:, best].T
        candidate[rows, best] = False
    if not steps:
        none = np.zeros(0, dtype=np.int64)
        return Suspects(none, none, np.zeros(0), np.zeros(0), none > 0), positions
    return Suspects(*(np.concatenate(columns) for columns in zip(*steps, strict=True))), positions


def isolated(
    positions: FloatArray, cleaned: FloatArray, model: PassModel, place: int, shift: float, is_main: bool, is_mark: bool
) -> bool:
    """Whether one reading deviates alone: its neighbours and its mirror twin do not share the deviation.

    positions: of one pass as read [n] in mm
    cleaned: the same with the shifts of all suspects removed [n] in mm
    model: of the pass
    place: number of the reading, less 1
    shift: by how much it is too high [mm]
    is_main: whether the strings are mains
    is_mark: whether marks were read
    """
    off = positions - model.terms @ (model.fit @ cleaned)
    reading_off = off if is_mark else np.diff(off)
    last = len(reading_off) - 1
    twin = (-1.0 if is_mark else 1.0) * reading_off[last - place]
    around = [reading_off[other] for other in (place - 1, place + 1) if 0 <= other <= last]
    if is_main and place != last - place:
        around.append(twin)
    return all(shared * np.sign(shift) < LARGEST_SHARE * abs(shift) for shared in around)


def believable_variance(squares: FloatArray, freedom: IntArray, pool: IntArray, pools: int, floor: FloatArray) -> FloatArray:
    """Variance of one reading [pools], pooled over cells of repeats as in JCGM 100:2008, H.3.6. Cells that scatter more than
    TRIM times as expected are left out, so that a misreading does not widen the bound that finds it. NaN without repeats.

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
"""A slip explains a figure to within this many standard uncertainties: none is offered outside the interval that is shown."""
LEAST_MM = 0.3
"""The least uncertainty of an expected reading, that of a string's place [mm]."""


class Slip(NamedTuple):
    """The figure that was probably meant, in the unit of the written one, and the slip in words."""

    value: float
    words: str


def slips(written: float, is_mark: bool) -> list[Slip]:
    """Figures that may be meant: two digits exchanged, the decimal point moved, another unit; on a rule, a misread ten."""
    candidates = [Slip(value, "two digits changed places") for value in _transposed(written)]
    candidates += [Slip(written * factor, "the decimal point slipped") for factor in (10.0, 0.1)]
    candidates += [Slip(written * factor, "a value in another unit") for factor in (INCH, 1.0 / INCH)]
    if is_mark:
        candidates += [Slip(written + step, "a ten misread on the scale") for step in (10.0, -10.0)]
    return candidates


def explained(written: float, expected: float, u: float, is_mark: bool) -> Slip | None:
    """The slip that brings a figure nearest to the expected one, within NEAR standard uncertainties; None if none does.

    written: the figure as written
    expected: the expected figure, in the same unit
    u: standard uncertainty of the expected figure
    is_mark: whether it is a mark on a rule
    """
    near = NEAR * u
    fitting = [slip for slip in slips(written, is_mark) if abs(slip.value - expected) <= near]
    return min(fitting, key=lambda slip: abs(slip.value - expected), default=None)


def _transposed(written: float) -> list[float]:
    """The figure with two neighbouring digits exchanged, at each number of decimals it may have been written with."""
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
"""Inner length and width of a head [mm], from a child's frame to more than the 394 mm by 292 mm that ITF Rules of Tennis,
Appendix II, allow. Common practice, no source."""
MIDDLE_GAP_MM = (5.0, 30.0)
"""Median distance of neighbouring strings of a bed [mm]; a ball is 67 mm across. Common practice, no source."""
TENSION_N = (60.0, 420.0)
"""Pull tension [N], with room around the 220 to 270 N in common use (Cross 2000, Sports Engineering 3, 111-122). Common
practice, no source."""
USUAL_TENSION_N = 245.0
"""A usual pull tension [N], the middle of those."""
OF_READINGS = {"head_length": HEAD_LENGTH_MM, "head_width": HEAD_WIDTH_MM}
"""Ranges of quantities that are read but that makers do not declare, in computing units."""
OF_FRAMES = {
    "head_area": "head_area_cm2",
    "length": "length_mm",
    "mass": "mass_g",
    "balance": "balance_mm",
    "swingweight": "swingweight_kgcm2",
}
"""For the other quantities that are read: the column of the frames table whose limits in the schema apply."""


def likely_units(
    written: FloatArray, base: str, low: FloatArray, high: FloatArray, middle: FloatArray
) -> tuple[list[str], IntArray]:
    """The units of a dimension, and the number of the unit that brings each figure between low and high [R]: if several do,
    the one that brings it nearest to the middle as a ratio; -1 if none does.

    written: figures as written [R]
    base: the computing unit of the dimension
    low: least possible figure [R] in `base`
    high: greatest possible figure [R] in `base`
    middle: usual figure [R] in `base`
    """
    codes = [code for code, unit in UNITS.items() if unit.base == base]
    factor = np.array([UNITS[code].factor for code in codes])
    value = written[:, None] * factor[None, :]
    fits = (value >= low[:, None]) & (value <= high[:, None])
    with np.errstate(divide="ignore"):
        away = np.where(fits, np.abs(np.log(value / middle[:, None])), np.inf)
    return codes, np.where(fits.any(axis=1), np.argmin(away, axis=1), -1).astype(np.int64)
