"""What the rules reckon with: levels, slips of the pen, mirror twins; expected values from scipy.stats or by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from gapbook.science import closure, misread, statistics
from gapbook.science.misread import explained, likely_units, slips


@pytest.mark.parametrize("tests", [1, 20, 6000])
def test_bounds(tests: int) -> None:
    assert statistics.bonferroni(tests, 0.05) == pytest.approx(stats.norm.isf(0.025 / tests))
    freedom = np.array([4.0, 30.0])
    assert statistics.student_bound(tests, freedom, 0.01) == pytest.approx(stats.t.isf(0.005 / tests, freedom))


def test_chances() -> None:
    assert statistics.two_sided(np.array([-2.5])) == pytest.approx(2.0 * stats.norm.sf(2.5))
    assert statistics.one_sided(np.array([2.5])) == pytest.approx(stats.norm.sf(2.5))
    found = statistics.beyond_chi_square(np.array([20.0, 3.0]), np.array([7, 0]))
    assert found == pytest.approx([stats.chi2.sf(20.0, 7), 1.0])


# Holm 1979 at 5 %, by hand: the k-th smallest of m chances is held against 0.05 / (m - k + 1), until one is above.
@pytest.mark.parametrize(
    ("chance", "rejected"),
    [
        ([0.01, 0.04, 0.03, 0.005], [True, False, False, True]),
        ([0.04, np.nan, 0.012, 0.02], [True, False, True, True]),
        ([0.2, 0.017, 0.6], [False, False, False]),
        ([], []),
    ],
)
def test_holm(chance: list[float], rejected: list[bool]) -> None:
    assert statistics.holm(np.array(chance, dtype=float), 0.05).tolist() == rejected


@pytest.mark.parametrize(
    ("written", "expected", "is_mark", "meant"),
    [
        (6.91, 9.6, False, 9.61),
        (9.6, 6.95, False, 6.9),  # written 9.60
        (96.1, 9.5, False, 9.61),
        (0.961, 9.5, False, 9.61),
        (0.38, 9.6, False, 9.652),
        (158.5, 185.3, True, 185.5),
        (112.5, 102.4, True, 102.5),
        (112.5, 102.4, False, None),
        (9.61, 12.9, False, None),
    ],
)
def test_slips(written: float, expected: float, is_mark: bool, meant: float | None) -> None:
    slip = explained(written, expected, 0.3, is_mark)
    assert (slip.value if slip else None) == (None if meant is None else pytest.approx(meant))


def test_a_slip_changes_the_figure() -> None:
    assert all(slip.value != 11.1 for slip in slips(11.1, True))


def test_likely_unit_is_the_one_nearest_to_what_is_usual() -> None:
    """0.9 is 9 mm in centimetres and 22.9 mm in inches, both possible gaps; 12 mm is nearer to the first."""
    low, high, usual = np.array([5.0]), np.array([30.0]), np.array([12.0])
    units, which = likely_units(np.array([0.9]), "mm", low, high, usual)
    assert units[which[0]] == "cm"
    units, which = likely_units(np.array([0.9]), "mm", low, high, np.array([20.0]))
    assert units[which[0]] == "[in_i]"
    assert likely_units(np.array([400.0]), "mm", low, high, usual)[1].tolist() == [-1]


@pytest.mark.parametrize(("count", "is_mark"), [(16, False), (18, True), (15, False)])
def test_mirror_chi_square_is_one(count: int, is_mark: bool) -> None:
    """Strings out of place by 0.3 mm and readings of 0.2 mm make a chi-square with one degree of freedom a pair: mean and
    quantiles against scipy.stats.chi2, over 20,000 beds of a fixed seed.
    """
    rng = np.random.default_rng(5)
    beds = 20_000
    half = np.linspace(0.0, 120.0, count)
    place = half[None, :] + rng.normal(0.0, 0.3, (beds, count))
    if is_mark:
        strings = place + rng.normal(0.0, 0.2, place.shape)
    else:
        gaps = np.diff(place, axis=1) + rng.normal(0.0, 0.2, (beds, count - 1)) + 0.7
        strings = np.concatenate([np.zeros((beds, 1)), np.cumsum(gaps, axis=1)], axis=1)
    found = closure.mirror(strings, np.full(beds, count), np.full(beds, is_mark), np.full(beds, 0.04))
    pairs = (count - 1) // 2
    assert found.freedom.tolist() == [pairs] * beds
    assert found.chi_square.mean() == pytest.approx(pairs, rel=0.02)
    for part in (0.5, 0.99):
        assert (found.chi_square < stats.chi2.ppf(part, pairs)).mean() == pytest.approx(part, abs=0.012)


@pytest.mark.parametrize("is_mark", [False, True])
@pytest.mark.parametrize("is_main", [False, True])
def test_shift_of_one_reading_is_estimated_with_its_uncertainty(is_mark: bool, is_main: bool) -> None:
    """Generalised least squares: the estimate is unbiased, and scatters by the u that is stated. Over 20,000 passes of a
    fixed seed; curvature that the line's terms hold falls out.
    """
    rng = np.random.default_rng(11)
    strings, passes, at, off = 16, 20_000, 5, 2.5
    number = np.linspace(-1.0, 1.0, strings)
    place = (90.0 * number + 14.0 * number**3)[None, :] + rng.normal(0.0, 0.3, (passes, strings))
    if is_mark:
        seen = place + rng.normal(0.0, 0.2, place.shape)
        seen[:, at] += off
    else:
        gaps = np.diff(place, axis=1) + rng.normal(0.0, 0.2, (passes, strings - 1))
        gaps[:, at] += off
        seen = np.concatenate([np.zeros((passes, 1)), np.cumsum(gaps, axis=1)], axis=1)
    one = misread.pass_model(strings, is_main, is_mark, 0.04)
    estimate = (seen @ one.gradient)[:, at]
    assert estimate.mean() == pytest.approx(off, abs=0.02)
    assert estimate.std() == pytest.approx(one.u[at], rel=0.03)


def test_one_wild_cell_does_not_widen_the_repeatability() -> None:
    """Two readings of standard deviation 0.1 mm each: half the squared difference is 0.01 mm² on average."""
    rng = np.random.default_rng(3)
    squares = rng.normal(0.0, 0.1, 4000) ** 2
    squares[7] = 2.7**2 / 2.0
    found = misread.believable_variance(squares, np.ones(4000, dtype=np.int64), np.zeros(4000, dtype=np.int64), 2, np.zeros(2))
    assert found[0] == pytest.approx(0.01, rel=0.07)
    assert np.isnan(found[1])
