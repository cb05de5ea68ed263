"""Rows that share a key: codes, runs of equal codes, and sums over them. Arrays in, arrays out."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_ROOM = 2**62


def combine(*codes: IntArray) -> IntArray:
    """One code [R] that orders rows as the given non-negative codes [R] do, by the first one first."""
    whole = codes[0]
    size = int(whole.max(initial=0)) + 1
    for code in codes[1:]:
        width = int(code.max(initial=0)) + 1
        if size * width > _ROOM:
            whole = np.unique(whole, return_inverse=True)[1].astype(np.int64)
            size = int(whole.max(initial=0)) + 1
        whole = whole * width + code
        size *= width
    return whole


def starts_of(codes: NDArray[Any]) -> IntArray:
    """The row at which each run of equal `codes` [R] starts."""
    if not len(codes):
        return np.zeros(0, dtype=np.int64)
    return np.flatnonzero(np.concatenate(([True], codes[1:] != codes[:-1])))


def numbered(starts: IntArray, size: int) -> IntArray:
    """For each of `size` rows the number of its run; runs start at `starts`."""
    marks = np.zeros(size, dtype=np.int64)
    marks[starts[1:]] = 1
    return np.cumsum(marks)


_NARROW = 8
"""Number of columns from which adding whole rows is quicker than adding column by column."""
_MANY = 64
"""Rows in the largest group above which adding column by column is quicker again."""


def sum_by(group: IntArray, values: FloatArray, groups: int) -> FloatArray:
    """Sums of `values` [R, ...] over rows of equal `group` [R], as [groups, ...]; rows need no order."""
    if values.ndim == 1:
        return np.asarray(np.bincount(group, weights=values, minlength=groups), dtype=np.float64)  # integers if empty
    rows = values.reshape(len(values), math.prod(values.shape[1:]))
    if rows.shape[1] >= _NARROW and (number := count_by(group, groups)).max(initial=0) <= _MANY:
        total = _sum_wide(group, rows, number)
    else:
        total = np.zeros((groups, rows.shape[1]))
        for column, one in enumerate(rows.T):
            total[:, column] = np.bincount(group, weights=one, minlength=groups)
    return total.reshape(groups, *values.shape[1:])


def _sum_wide(group: IntArray, rows: FloatArray, number: IntArray) -> FloatArray:
    """The same for wide rows in many small groups: adds every group's first row, then its second, …; largest groups first."""
    starts = np.cumsum(number) - number
    order = np.argsort(group, kind="stable") if np.any(group[1:] < group[:-1]) else None
    by_size = np.argsort(-number, kind="stable")
    reach = np.searchsorted(-number[by_size], -np.arange(1, number.max(initial=0) + 1), side="right")
    total = np.zeros((len(number), rows.shape[1]))
    for place, some in enumerate(reach.tolist()):
        at = starts[by_size[:some]] + place
        total[:some] += rows.take(at if order is None else order[at], axis=0)
    in_order = np.empty_like(total)
    in_order[by_size] = total
    return in_order


def count_by(group: IntArray, groups: int) -> IntArray:
    """Rows of each group."""
    return np.bincount(group, minlength=groups).astype(np.int64)


class Distinct(NamedTuple):
    """Distinct combinations of codes: the first row of each, and for each row the number of its combination."""

    first: IntArray
    number: IntArray


def distinct(*codes: IntArray) -> Distinct:
    """The distinct combinations of `codes` [R], in ascending order."""
    key = combine(*codes)
    if np.all(key[1:] >= key[:-1]):
        first = starts_of(key)
        return Distinct(first, numbered(first, len(key)))
    order = np.argsort(key, kind="stable")
    starts = starts_of(key[order])
    number = np.empty(len(key), dtype=np.int64)
    number[order] = numbered(starts, len(key))
    return Distinct(order[starts], number)
