"""Sums over rows that share a key, against numpy's unbuffered addition."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from gapbook.science import grouping

SHAPES = [(), (0,), (1,), (7,), (8,), (30,), (6, 6)]


@given(
    st.lists(st.integers(0, 12), max_size=200),
    st.sampled_from(SHAPES),
    st.booleans(),
    st.integers(0, 2**32 - 1),
)
def test_sums_by_group_are_numpys(group, shape, in_order, seed):
    # np.add.at adds row by row, whatever the order.
    number = np.array(sorted(group) if in_order else group, dtype=np.int64)
    values = np.random.default_rng(seed).normal(size=(len(number), *shape))
    expected = np.zeros((13, *shape))
    np.add.at(expected, number, values)
    found = grouping.sum_by(number, values, 13)
    assert (found.shape, found.dtype) == (expected.shape, expected.dtype)
    assert found == pytest.approx(expected, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("rows", [grouping._MANY, grouping._MANY + 1])
def test_one_large_group_among_small_ones(rows):
    number = np.array([*[1] * rows, 0, 2])
    values = np.arange(len(number) * 9.0).reshape(-1, 9)
    # By hand: an arithmetic series in each column of the large group.
    large = rows * (np.arange(9.0) + 9.0 * (rows - 1) / 2.0)
    assert grouping.sum_by(number, values, 4) == pytest.approx(
        np.stack([values[-2], large, values[-1], np.zeros(9)]), rel=1e-14
    )
