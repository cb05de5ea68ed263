"""Where a reading was left out of a run and the rest numbered on: a gap as wide as two, or a step in a smooth line of gaps.

The gaps of a bed change smoothly from string to string, and those of mains alike to both sides. A run with one number too few
at its end is held against this with a gap put in at each place in turn.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray

FEWEST = 10
"""Gaps that a run must have for its smooth line to be told."""
WANDER_MM = 0.5
"""Standard deviation of a gap about the smooth line [mm]: two strings out of place by 0.3 mm, and the reading. Common practice,
no source."""
CLEARLY = 9.0
"""By how much the sum of squares, in units of WANDER_MM, must be less for one explanation than for another to rule that out:
three standard deviations. Common practice, no source."""
AS_TWO = (1.6, 2.4)
"""A gap is as wide as two if it is so many times as wide as the mean of its neighbours. Common practice, no source."""
EDGE_MM = 1.5
"""Standard deviation of the difference of the gaps to the two inner edges, in mains [mm]. Common practice, no source."""


class LeftOut(NamedTuple):
    """What was left out of a run.

    best: the number it most likely had
    low, high: the least and the greatest number it may have had
    doubled: whether a string was skipped, so that gap `low` is as wide as two; else a gap was not written down
    surely: whether the gaps are not those of a bed with one string less
    """

    best: int
    low: int
    high: int
    doubled: bool
    surely: bool = True


def left_out(gaps: FloatArray, edges: bool, is_main: bool, like: FloatArray | None = None) -> LeftOut | None:
    """What was left out of the gaps of a run that has one too few; None if that cannot be told, or if it was the last one, so
    that nothing is numbered wrongly.

    gaps: those that were read, in order, the first and the last to the inner edges if there are `edges` [N] in mm
    edges: whether the inner edges were read
    is_main: whether the strings are mains
    like: the gaps between the strings of a bed drilled alike [N - 1 with edges, else N + 1] in mm; None if there is none
    """
    inner = gaps[1:-1] if edges else gaps
    if len(inner) < FEWEST:
        return None
    doubled = _doubled(inner)
    if doubled is not None:
        return LeftOut(doubled + 1, doubled + 1, doubled + 1, True)
    count = len(inner) + 1
    squares = np.array([_squares(inner, np.delete(np.arange(count), at), count, is_main, like) for at in range(count)])
    if edges:  # the last inner edge may be missing, and all numbers right
        last = _squares(gaps[1:], np.arange(count), count, is_main, like)
        ends = ((gaps[-1] - gaps[0]) / EDGE_MM) ** 2 if is_main else 0.0
        if last < squares.min() + ends + CLEARLY:
            return None
    elif squares[-1] < squares.min() + CLEARLY:
        return None
    possible = np.flatnonzero(squares <= squares.min() + CLEARLY / 2.0)
    whole = _squares(inner, np.arange(count - 1), count - 1, is_main, None)
    smooth = (
        squares.min()
        if like is None
        else min(_squares(inner, np.delete(np.arange(count), at), count, is_main, None) for at in possible.tolist())
    )
    return LeftOut(int(np.argmin(squares)) + 1, int(possible[0]) + 1, int(possible[-1]) + 1, False, whole > smooth + CLEARLY)


def _squares(gaps: FloatArray, place: IntArray, count: int, is_main: bool, like: FloatArray | None) -> float:
    """Sum of squares of gaps at some places of a run of `count`, in units of WANDER_MM: about gaps `like` them, as far as those
    are known, or about a smooth line.
    """
    if like is None:
        along = 2.0 * place / (count - 1) - 1.0
        terms = np.stack([along**power for power in ((0, 2, 4) if is_main else (0, 1, 2, 3, 4))], axis=1)
    else:
        terms = like[place][:, None]
    rest = gaps - terms @ np.linalg.lstsq(terms, gaps, rcond=None)[0]
    return float(rest @ rest) / (WANDER_MM**2 * (1.0 if like is None else 2.0))


def _doubled(inner: FloatArray) -> int | None:
    """The place of the only gap that is as wide as two; None if there is none, or more than one."""
    beside = np.concatenate([[inner[1]], (inner[:-2] + inner[2:]) / 2.0, [inner[-2]]])
    found = np.flatnonzero((inner >= AS_TWO[0] * beside) & (inner <= AS_TWO[1] * beside))
    return int(found[0]) if len(found) == 1 else None
