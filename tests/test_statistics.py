"""Tests on readings against published values and other routes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from gapbook.science.consistency import cell_statistics
from gapbook.science.statistics import (
    e_n,
    e_n_probability,
    grubbs_probability,
    holm,
    holm_adjusted,
    range_bound,
    range_critical,
    range_probability,
)


def grubbs_critical(count: int, level: float, two_sided: bool = True) -> float:
    """The critical value by the formula of NIST/SEMATECH e-Handbook 1.3.5.17.1, held against published values below."""
    t = stats.t.isf(level / (2 * count if two_sided else count), count - 2)
    return float((count - 1) / np.sqrt(count) * np.sqrt(t * t / (count - 2 + t * t)))


def grubbs_of_a_cell(values):
    """G as the rule of repeats has it: the farthest from the mean over the standard deviation."""
    (count,), (squares,), _, (farthest,) = cell_statistics(np.zeros(len(values), dtype=np.int64), np.array(values))
    return farthest / np.sqrt(squares / (count - 1))


def test_grubbs_statistic_of_the_handbook():
    # NIST/SEMATECH e-Handbook 1.3.5.17.1: G is 2.4687 (cut, not rounded).
    values = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    assert grubbs_of_a_cell(values) == pytest.approx(2.4687, abs=1e-4)


def test_grubbs_is_degenerate_at_three_values():
    # Two alike and one elsewhere give the most G can be at n = 3: (n - 1)/sqrt(n) = 1.1547 (hand arithmetic).
    assert grubbs_of_a_cell([1.0, 1.0, 9.0]) == pytest.approx(1.1547, abs=1e-4)


def test_grubbs_critical_value_of_the_handbook():
    # NIST/SEMATECH e-Handbook 1.3.5.17.1, its example of eight values: the upper one-sided critical value at 5 % is 2.032.
    assert grubbs_critical(8, 0.05, two_sided=False) == pytest.approx(2.032, abs=5e-4)


@pytest.mark.parametrize(
    ("count", "level", "two_sided", "critical"),
    [
        # Grubbs & Beck 1972, Technometrics 14, 847-854, Table I, one-sided; from memory, confirmed by the formula with scipy.
        (6, 0.05, False, 1.822),
        (10, 0.05, False, 2.176),
        (20, 0.05, False, 2.557),
        (10, 0.01, False, 2.410),
        # The same table's 2.5 % one-sided is 5 % two-sided.
        (6, 0.05, True, 1.887),
        (10, 0.05, True, 2.290),
    ],
)
def test_grubbs_critical_values_of_the_table(count, level, two_sided, critical):
    assert grubbs_critical(count, level, two_sided) == pytest.approx(critical, abs=6e-4)


@pytest.mark.parametrize("count", [6, 8, 15])
@pytest.mark.parametrize("level", [0.2, 0.01, 1e-6])
@pytest.mark.parametrize("two_sided", [True, False])
def test_grubbs_probability_is_the_level_at_which_a_statistic_is_critical(count, level, two_sided):
    statistic = np.array([grubbs_critical(count, level, two_sided)])
    assert grubbs_probability(statistic, np.array([count]), two_sided)[0] == pytest.approx(level, rel=1e-6)


def test_range_of_two_is_students_t():
    # Two readings differ by 3 s with chance 2·P(t > 3/sqrt 2); with s known, by the normal distribution (scipy.stats).
    ratio, count = np.array([3.0, 3.0]), np.array([2, 2])
    expected = [2 * stats.t.sf(3 / np.sqrt(2), 12), 2 * stats.norm.sf(3 / np.sqrt(2))]
    assert range_probability(ratio, count, np.array([12.0, np.inf])) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    ("count", "freedom", "ratio"),
    [
        # Upper 5 % points of the studentized range: tables of Pearson & Hartley, from memory, agree with scipy to two decimals.
        (3, np.inf, 3.31),
        (4, np.inf, 3.63),
        (5, np.inf, 3.86),
        (3, 10.0, 3.88),
        (4, 20.0, 3.96),
    ],
)
def test_range_of_several_is_the_studentized_range(count, freedom, ratio):
    found = range_probability(np.array([ratio]), np.array([count]), np.array([freedom]))
    assert found[0] == pytest.approx(0.05, abs=6e-4)


@pytest.mark.parametrize("count", [3, 4, 5])
@pytest.mark.parametrize("freedom", [15.0, np.inf])
@pytest.mark.parametrize("ratio", [7.0, 9.0])
def test_the_bound_of_all_pairs_is_close_where_it_is_small(count, freedom, ratio):
    exact = stats.studentized_range.sf(ratio, count, freedom)
    bound = range_bound(np.array([ratio]), np.array([count]), np.array([freedom]))[0]
    assert exact * (1 - 1e-6) <= bound
    assert bound <= 1.3 * exact


@pytest.mark.parametrize(("count", "freedom"), [(2, np.inf), (2, 12.0), (4, np.inf), (4, 25.0)])
def test_a_critical_range_is_passed_at_its_level(count, freedom):
    critical = range_critical(1e-5, count, freedom)
    assert stats.studentized_range.sf(critical, count, freedom) == pytest.approx(1e-5, rel=0.06)


@pytest.mark.parametrize(
    ("difference", "u", "score"),
    [
        # ISO 13528: (x - X)/sqrt(U_x² + U_X²) with U = 2u. 0.5 apart with U 0.3 and 0.4 is exactly 1 (hand arithmetic, 3-4-5).
        (0.5, np.hypot(0.15, 0.20), 1.0),
        (-1.5, np.hypot(0.15, 0.20), -3.0),
        (0.0, 0.1, 0.0),
    ],
)
def test_e_n(difference, u, score):
    assert e_n(np.array([difference]), np.array([u]))[0] == pytest.approx(score)


def test_e_n_of_one_is_two_standard_uncertainties():
    # P(|z| > 2) = 0.0455 (normal distribution).
    assert e_n_probability(np.array([1.0, -1.0])) == pytest.approx([0.0455, 0.0455], abs=5e-5)


@pytest.mark.parametrize(
    ("chance", "tests", "expected"),
    [
        # Hand arithmetic at 5 %: 0.01 <= 0.05/4, 0.04 > 0.05/3 ends it, though 0.03 <= 0.05/1 would hold alone.
        ([0.03, 0.01, 0.04, 0.2], None, [False, True, False, False]),
        # 0.01 <= 0.05/3, 0.02 <= 0.05/2, 0.04 <= 0.05.
        ([0.04, 0.01, 0.02], None, [True, True, True]),
        # Left-out tests count: 0.01 > 0.05/6.
        ([0.01], 6, [False]),
        ([0.008], 6, [True]),
        ([], None, []),
    ],
)
def test_holm(chance, tests, expected):
    assert holm(np.array(chance), 0.05, tests).tolist() == expected


# By hand, after Holm 1979: sorted p times the number still in the race, never falling, never above 1.
HOLM = [
    ([0.01, 0.04, 0.03], [0.03, 0.06, 0.06]),
    ([0.5], [0.5]),
    ([0.9, 0.6], [1.0, 1.0]),
    ([0.02, 0.001, 0.02, 0.3], [0.06, 0.004, 0.06, 0.3]),
]


@pytest.mark.parametrize(("p", "adjusted"), HOLM)
def test_holm_adjusted_by_hand(p, adjusted):
    assert holm_adjusted(np.array(p)) == pytest.approx(adjusted, rel=1e-12)


@pytest.mark.parametrize("size", [1, 2, 7, 200])
def test_holm_adjusted_is_that_of_statsmodels(size):
    p = np.random.default_rng(size).beta(0.3, 2.0, size)
    rejected, adjusted, *_ = multipletests(p, 0.05, method="holm")
    assert holm_adjusted(p) == pytest.approx(adjusted, rel=1e-12)
    assert holm(p, 0.05).tolist() == rejected.tolist()


def test_holm_leaves_out_what_was_not_tested():
    assert holm_adjusted(np.array([0.02, np.nan, 0.01])) == pytest.approx([0.02, np.nan, 0.02], nan_ok=True)
    assert holm_adjusted(np.array([])).tolist() == []


def test_holm_keeps_its_level_over_many_true_hypotheses():
    rng = np.random.default_rng(3)
    rejected = sum(holm(rng.random(50), 0.1).any() for _ in range(2000))
    assert 140 <= rejected <= 260  # 2000·(1 - 0.998^50) = 190.5, standard deviation 13.1
