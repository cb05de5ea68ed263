"""The pitch of a family of strings across a window of the bed.

Along the window's middle line, N = sum over the gaps of overlap / gap is the fractional string count and
pitch = covered / N [mm].
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray
from gapbook.science.zones import BALL_MM


class Pitch(NamedTuple):
    """Pitch [B] in mm, the part of the window covered [B], and the gradient of ln pitch by point [B, K] in 1/mm."""

    pitch: FloatArray
    coverage: FloatArray
    gradient: FloatArray


def pitch(positions: FloatArray, strings: IntArray, middle: float) -> Pitch:
    """Pitch across the window about `middle` [mm].

    positions: [B, K] in mm, strings 1 … n in columns 1 … n and rising; strings: [B]. If no string reaches into the
    window, the pitch is NaN, and the gradient holds NaN.
    """
    window = across(only_strings(positions, strings), strings, middle)
    gradient = np.zeros(positions.shape)
    window.add_gradient(gradient.T)
    return Pitch(window.pitch, window.coverage, gradient)


def only_strings(positions: FloatArray, strings: IntArray) -> FloatArray:
    """Positions [K, B] of the strings 1 … n, infinite elsewhere, from those of lines [B, K]."""
    by_string = positions.T.copy()
    number = np.arange(len(by_string))[:, None]
    by_string[(number < 1) | (number > strings)] = np.inf
    return by_string


def across(positions: FloatArray, strings: IntArray, middle: float) -> Across:
    """The strings across the window about `middle` [mm]; positions as `only_strings` gives them."""
    low, high = (_index_at(positions, strings, middle + side * BALL_MM / 2.0) for side in (-1.0, 1.0))
    return Across(low, high, high.end - low.end, high.number - low.number)


class Across(NamedTuple):
    """The strings across a window [B].

    low: place of its lower end among the strings
    high: place of its upper end among the strings
    covered: length of the window that strings cover [mm]
    number: fractional string count in that length
    """

    low: _Reach
    high: _Reach
    covered: FloatArray
    number: FloatArray

    @property
    def pitch(self) -> FloatArray:
        """Pitch [B] in mm, NaN if no string reaches into the window."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.number > 0.0, self.covered / self.number, np.nan)

    @property
    def coverage(self) -> FloatArray:
        """The part of the window that strings cover [B]."""
        return np.maximum(self.covered, 0.0) / BALL_MM

    def add_gradient(self, gradient: FloatArray) -> None:
        """Add the gradient of ln pitch by point to `gradient` [K, B] in 1/mm."""
        beds = np.arange(gradient.shape[1])
        with np.errstate(divide="ignore", invalid="ignore"):
            for side, sign in ((self.high, 1.0), (self.low, -1.0)):
                gradient[side.string, beds] += sign * (side.end_below / self.covered - side.index_below / self.number)
                gradient[side.string + 1, beds] -= sign * side.index_above / self.number


class _Reach(NamedTuple):
    """Place of a window's end among the strings [B].

    number: the fractional string index there
    end: the end of the covered part [mm]
    string: the string below it
    index_below: gradient of the index by that string [1/mm]
    index_above: gradient of the index by the next string [1/mm]
    end_below: gradient of the end by the string below it
    """

    number: FloatArray
    end: FloatArray
    string: IntArray
    index_below: FloatArray
    index_above: FloatArray
    end_below: FloatArray


def _index_at(positions: FloatArray, strings: IntArray, end: float) -> _Reach:
    """The piecewise-linear index F, with F(x_k) = k, at `end`; beyond the outer strings it stays at 1 or n.

    positions: [K, B], infinite if there is no string.
    """
    beds = np.arange(positions.shape[1])
    below = np.count_nonzero(positions <= end, axis=0)
    inside = (below >= 1) & (below < strings)
    outer = np.where(below < 1, 1, strings)
    string = np.where(inside, below, outer)
    here, after = positions[string, beds], positions[np.where(inside, string + 1, outer), beds]
    gap = np.where(inside, after - here, 1.0)
    part = np.where(inside, (end - here) / gap, 0.0)
    return _Reach(
        number=np.where(inside, string + part, outer),
        end=np.where(inside, end, here),
        string=string,
        index_below=np.where(inside, (part - 1.0) / gap, 0.0),
        index_above=np.where(inside, -part / gap, 0.0),
        end_below=np.where(inside, 0.0, 1.0),
    )
