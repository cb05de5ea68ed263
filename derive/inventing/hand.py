"""How an invented hand reads an invented bed: the instrument's offset, the hand's noise, the step it is read to.

Two forms, as on the sheet: gaps taken singly with a calliper, and running marks along a rule laid once.
"""

from __future__ import annotations

import numpy as np

NOISE = {"calliper": 0.10, "rule": 0.25, "photo": 0.03}
"""Standard deviation of one reading by a hand with such an instrument [mm]."""
LAID_AT, LAID_WITHIN = 12.0, 2.0
"""The rule's own figure beside the first inner edge, and how far that wanders from laying to laying [mm]."""


def with_edges(along: np.ndarray, count: np.ndarray, half: np.ndarray) -> np.ndarray:
    """Inner edge, strings, inner edge (R, K + 2) of strings `along` (R, K) ascending about 0, `count` of them."""
    ladder = np.concatenate([-half[:, None], along, np.full((len(along), 1), np.nan)], axis=1)
    ladder[np.arange(len(along)), count + 1] = half
    return ladder


def read_gaps(rng: np.random.RandomState, ladder: np.ndarray, offset, noise) -> np.ndarray:
    """Gaps (R, K + 1) of a ladder of edges and strings, as a calliper with this offset [mm] shows them."""
    gaps = np.diff(ladder, axis=1)
    return gaps + np.reshape(offset, (-1, 1)) + rng.normal(size=gaps.shape) * np.reshape(noise, (-1, 1))


def read_marks(rng: np.random.RandomState, ladder: np.ndarray, edges, count, offset, noise) -> np.ndarray:
    """Running marks (R, K + 2) along a ladder; the scale is long by `offset` [mm] over what it is laid along.

    That is from edge to edge where `edges` (R,), else from the first string to the last.
    """
    row = np.arange(len(ladder))
    first, last = np.where(edges, 0, 1), np.where(edges, count + 1, count)
    start = ladder[row, first][:, None]
    span = ladder[row, last][:, None] - start
    laid = LAID_AT + rng.uniform(-LAID_WITHIN, LAID_WITHIN, (len(ladder), 1))
    stretched = (ladder - start) * (1 + np.reshape(offset, (-1, 1)) / span)
    return laid + stretched + rng.normal(size=ladder.shape) * np.reshape(noise, (-1, 1))


def to_steps(value: np.ndarray, step: np.ndarray | float) -> np.ndarray:
    """Readings in whole steps of the instrument [1]; blanks (NaN) become 0."""
    return np.rint(np.nan_to_num(value / step)).astype(np.int64)


def read_mask(mark: np.ndarray, edges: np.ndarray, count: np.ndarray, width: int) -> np.ndarray:
    """Which numbers (R, width) a complete run holds: gaps 0 … n or 1 … n - 1, marks 0 … n + 1 or 1 … n."""
    number = np.arange(width)[None, :]
    first = np.where(edges, 0, 1)[:, None]
    last = (count + np.where(edges, mark, mark.astype(int) - 1))[:, None]
    return (number >= first) & (number <= last)
