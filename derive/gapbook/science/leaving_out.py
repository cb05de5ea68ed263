"""Slopes without each frame, tester or cell of both, and the interval that these jackknives give together.

Playtests of one frame share what is particular to it, and playtests of one tester share that tester's own slope. So the
variance is that of leaving frames out, and what leaving testers out shows beyond leaving out single cells (a tester with a
frame), which both contain. Each is CR3, the jackknife about the whole slope. The two parts have degrees of freedom of their
own, frames − 1 and testers − 1, which count by Satterthwaite's formula: where testers hardly differ the frames decide, where
they do the testers, and never fewer than the smaller of the two.

References
----------
- MacKinnon, Nielsen & Webb 2023, J. Econometrics 232, 272-299: cluster-robust inference, CR3 as a jackknife, t(G − 1).
- Cameron, Gelbach & Miller 2011, J. Business & Economic Statistics 29, 238-249: two ways of clustering, and min(G, H) − 1.
- Satterthwaite 1946, Biometrics Bulletin 2, 110-114; JCGM 100:2008, G.4: effective degrees of freedom.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.statistics import student_quantile, student_two_sided

NOTHING = 1e-9
"""A residual with less than this part of a column's sum of squares counts as zero."""
_SINGULAR = 1e11


class Without(NamedTuple):
    """What is found if one group of playtests is left out.

    numbers: the groups, ascending [G]
    slopes: the slope without each [G]; NaN if there is none
    left: what is left of the trait's sum of squares without each, after testers and the columns held [G]
    """

    numbers: IntArray
    slopes: FloatArray
    left: FloatArray


class Variance(NamedTuple):
    """A jackknife variance and how many groups it is made of."""

    value: float
    groups: int


class Interval(NamedTuple):
    """A slope and its interval, in units of the outcome per unit of the trait.

    slope: the estimate
    u_slope: its standard uncertainty
    low: lower end of its interval
    high: upper end of its interval
    degrees: degrees of freedom of Student's t
    p: p-value of a slope of zero
    """

    slope: float
    u_slope: float
    low: float
    high: float
    degrees: float
    p: float


def interval(slope: float, u: float, degrees: float, confidence: float) -> Interval:
    """The interval of a slope by Student's t.

    slope: the estimate
    u: its standard uncertainty
    degrees: degrees of freedom, above 0
    confidence: of the interval, below 1
    """
    half = student_quantile(confidence, degrees) * u
    return Interval(slope, u, slope - half, slope + half, degrees, student_two_sided(slope, u, degrees))


def without(columns: FloatArray, tester: IntArray, group: IntArray) -> Without:
    """Slopes of the last of `columns` on the first, the others held, without each group.

    columns: within testers [N, K]
    tester: number of the tester [N]
    group: what is left out together: frames, testers, or cells of both [N]

    Exact, and without refitting: the cross products without a group are the whole ones less those of the group, less the
    change due to the new means of its testers.
    """
    scale = np.sqrt((columns**2).mean(axis=0))
    scaled = columns / np.where(scale > 0.0, scale, 1.0)
    numbers, of_group = np.unique(group, return_inverse=True)
    of_tester = distinct(tester).number
    cell = distinct(of_tester, of_group)
    sums = sum_by(cell.number, scaled, len(cell.first))
    rest = count_by(of_tester, int(of_tester.max()) + 1)[of_tester[cell.first]] - count_by(cell.number, len(cell.first))
    shared = rest > 0  # a tester who played this group only is left out with it
    moved = sums[shared][:, :, None] * sums[shared][:, None, :] / rest[shared][:, None, None]
    of_each = sum_by(of_group, scaled[:, :, None] * scaled[:, None, :], len(numbers))
    of_each += sum_by(of_group[cell.first][shared], moved, len(numbers))
    products = scaled.T @ scaled - of_each
    slopes, left = _solved(products[:, :-1, :-1], products[:, :-1, -1])
    return Without(numbers, slopes * (scale[-1] / scale[0]), left * scale[0] ** 2)


def _solved(left: FloatArray, right: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The first unknown of each of many small sets of equations, and 1 over the first cell of each inverse; NaN if a set has
    no unique solution.
    """
    diagonal = np.sqrt(np.clip(np.diagonal(left, axis1=1, axis2=2), 0.0, None))
    sound = (diagonal > np.sqrt(NOTHING) * np.sqrt(np.abs(left).max(initial=0.0))).all(axis=1)
    sound[sound] = np.linalg.cond(left[sound] / (diagonal[sound][:, :, None] * diagonal[sound][:, None, :])) < _SINGULAR
    first, square = np.full(len(left), np.nan), np.full(len(left), np.nan)
    if sound.any():
        one = np.zeros((left.shape[1], 1))
        one[0] = 1.0
        both = np.concatenate([right[sound][:, :, None], np.broadcast_to(one, (int(sound.sum()), *one.shape))], axis=2)
        found = np.linalg.solve(left[sound], both)[:, 0, :]
        first[sound], square[sound] = found[:, 0], 1.0 / found[:, 1]
    return first, square


def jackknife(slope: float, slopes: FloatArray) -> float:
    """Standard uncertainty from the slopes without each group [G], about the whole slope: √((G−1)/G Σ(b − b₋g)²)."""
    count = len(slopes)
    return float(np.sqrt((count - 1) / count * ((slopes - slope) ** 2).sum()))


def variance(slope: float, slopes: FloatArray) -> Variance:
    """The jackknife variance of those slopes that there are."""
    known = slopes[np.isfinite(slopes)]
    return Variance(jackknife(slope, known) ** 2, len(known))


def two_way(frames: Variance, testers: Variance, cells: Variance) -> tuple[float, float]:
    """Standard uncertainty of a slope for frames and testers like these, and its degrees of freedom.

    Over packages of known truth in which testers' slopes do or do not differ, intervals with these hold the truth in 94 to
    98 %; the table stands in DEVELOPERS.md.
    """
    first, second, third = (np.array([part.value]) for part in (frames, testers, cells))
    u, degrees = two_ways(first, second, third, frames.groups, testers.groups)
    return float(u[0]), float(degrees[0])


def two_ways(
    frames: FloatArray, testers: FloatArray, cells: FloatArray, frame_count: int, tester_count: int
) -> tuple[FloatArray, FloatArray]:
    """The same for many slopes of one layout.

    frames: variances of leaving out frames [S]
    testers: of leaving out testers [S]
    cells: of leaving out cells of both [S]
    frame_count: how many frames there are
    tester_count: how many testers there are
    """
    whole = frames + np.maximum(testers - cells, 0.0)
    parts = frames**2 / (frame_count - 1) + testers**2 / (tester_count - 1)
    least = min(frame_count, tester_count) - 1.0
    return np.sqrt(whole), np.maximum(np.divide(whole**2, parts, out=np.zeros_like(whole), where=parts > 0.0), least)
