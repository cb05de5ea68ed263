"""How probable nearness is: against scipy, against simulation by numpy, and what must hold of any tolerance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from demo_rows import ROOT
from gapbook.science import scores
from gapbook.science.nearness import all_within, correlation, within
from gapbook.tables.derived import compute
from gapbook.tables.opening import open_package

DRAWS = 400_000
deviations = st.floats(0.002, 0.05)
differences = st.floats(-0.06, 0.06)


@given(differences, deviations, st.floats(0.001, 0.1), st.floats(0.001, 0.1))
def test_one_figure_is_scipys_normal(difference, u, below, above):
    found = within(np.array([difference]), np.array([u]), -below, above)[0]
    assert found == pytest.approx(norm.cdf(above, difference, u) - norm.cdf(-below, difference, u), abs=1e-12)


def test_without_uncertainty_it_is_yes_or_no():
    found = within(np.array([0.0, 0.03, 0.031, np.nan]), np.zeros(4), -0.03, 0.03)
    assert found.tolist()[:3] == [1.0, 1.0, 0.0]
    assert np.isnan(found[3])


def zones_of(values: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([values[::2]]), np.array([values[1::2]]) ** 2


ZONES = st.tuples(*(one for _ in range(4) for one in (differences, deviations)))


@given(ZONES, st.floats(0.0, 0.95), st.floats(0.01, 0.08))
def test_all_zones_are_scipys_multivariate_normal(values, part, tolerance):
    difference, variance = zones_of(values)
    deviation = np.sqrt(variance[0])
    covariance = part * np.outer(deviation, deviation) + (1 - part) * np.diag(variance[0])
    low, high = np.full(4, np.log1p(-tolerance)), np.full(4, np.log1p(tolerance))
    wanted = multivariate_normal(difference[0], covariance, seed=3).cdf(high, lower_limit=low)
    found = all_within(difference, variance, part * variance, low[0], high[0])[0]
    assert found == pytest.approx(wanted, abs=2e-4)  # scipy integrates numerically, to about 1e-5


@pytest.mark.parametrize("seed", range(4))
def test_all_zones_are_what_a_simulation_finds(seed):
    rng = np.random.default_rng(seed)
    difference, own, common = rng.normal(0, 0.015, 4), rng.uniform(0.004, 0.02, 4), rng.uniform(0.0, 0.02, 4)
    drawn = difference + own * rng.standard_normal((DRAWS, 4)) + common * rng.standard_normal((DRAWS, 1))
    wanted = (np.abs(drawn) <= 0.03).all(axis=1).mean()
    variance = own**2 + common**2
    found = all_within(difference[None], variance[None], common[None] ** 2, -0.03, 0.03)[0]
    assert found == pytest.approx(wanted, abs=4 * np.sqrt(0.25 / DRAWS))


def test_independent_zones_multiply():
    difference, deviation = np.array([[0.01, -0.02, 0.0]]), np.array([[0.01, 0.02, 0.015]])
    found = all_within(difference, deviation**2, np.zeros((1, 3)), -0.03, 0.03)
    assert found == pytest.approx(np.prod(within(difference, deviation, -0.03, 0.03)), rel=1e-9)


def test_a_zone_that_is_not_known_is_left_out():
    variance, gap = np.array([[1e-4, 2e-4]]), np.array([[1e-4, np.nan, 2e-4]])
    whole = all_within(np.array([[0.01, 0.02]]), variance, variance / 2, -0.03, 0.03)
    assert all_within(np.array([[0.01, np.nan, 0.02]]), gap, gap / 2, -0.03, 0.03) == pytest.approx(whole)
    none = np.full((1, 2), np.nan)
    assert all_within(none, none, none, -0.03, 0.03) == pytest.approx(1.0)


@given(ZONES, st.floats(0.0, 1.0), st.floats(0.002, 0.08), st.floats(0.2, 1.0))
def test_a_narrower_tolerance_is_never_more_probable(values, part, tolerance, narrower):
    difference, variance = zones_of(values)
    shared = part * variance
    wide = all_within(difference, variance, shared, -tolerance, tolerance)[0]
    assert all_within(difference, variance, shared, -tolerance * narrower, tolerance * narrower)[0] <= wide + 1e-12


@given(ZONES, st.floats(0.0, 1.0), st.floats(0.002, 0.08))
def test_a_bed_is_nearest_to_itself(values, part, tolerance):
    """With equal uncertainties nothing is nearer than no difference (Anderson 1955, Proceedings of the AMS 6, 170-176)."""
    difference, variance = zones_of(values)
    shared = part * variance
    itself = all_within(np.zeros_like(difference), variance, shared, -tolerance, tolerance)[0]
    assert all_within(difference, variance, shared, -tolerance, tolerance)[0] <= itself + 1e-9


def test_the_correlation_follows_from_the_ratio():
    rng = np.random.default_rng(2)
    drawn = rng.multivariate_normal(np.zeros(2), [[4e-4, 3e-4], [3e-4, 9e-4]], DRAWS)
    centre, sides, ratio = (np.array([np.var(one)]) for one in (drawn[:, 0], drawn[:, 1], drawn[:, 1] - drawn[:, 0]))
    assert correlation(centre, sides, ratio) == pytest.approx(np.corrcoef(drawn.T)[0, 1], abs=1e-6)
    each = np.array([1e-4])
    assert correlation(each, each, 9 * each).tolist() == [0.0]
    assert correlation(each, 4 * each, 0 * each).tolist() == [1.0]
    assert correlation(np.array([np.nan]), each, each).tolist() == [0.0]


@pytest.fixture(scope="module")
def covariances():
    """Covariance of ln O in centre, sides, tip and throat, and the variance of side opening, of each bed of the demo as it is
    propagated from the readings.
    """
    seen = []
    original = scores.log_variances
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(scores, "log_variances", lambda covariance: seen.append(covariance) or original(covariance))
        compute(open_package(ROOT), ["beds"], workers=1)
    names = ("openness_centre", "openness_sides", "openness_tip", "openness_throat", "side_opening")
    matrix = np.stack([scores.SCORES[name] for name in names])
    beds = []
    for one in seen:
        whole = np.einsum("ai,bij,cj->bac", matrix, one.independent, matrix)
        for moved, bed in zip(one.common.effect @ matrix.T, one.common.bed, strict=True):
            whole[bed] += np.outer(moved, moved)
        beds.append(whole)
    beds = np.concatenate(beds)
    return beds[np.isfinite(beds).all(axis=(1, 2))]


@pytest.mark.slow
def test_one_correlation_stands_for_the_whole_covariance(covariances):
    """Tip and throat do not share just what centre and sides do; over the demo's beds the chance is off by 2 % as a rule."""
    rng = np.random.default_rng(5)
    off = []
    for bed in covariances:
        two = 2.0 * bed[:4, :4]  # the difference of two such beds
        difference = rng.normal(0.0, 0.012, 4)
        wanted = (np.abs(rng.multivariate_normal(difference, two, 40_000)) <= 0.03).all(axis=1).mean()
        variance = np.diag(two)[None]
        shared = correlation(bed[:1, 0], bed[1:2, 1], bed[4:, 4]) * variance
        off.append(all_within(difference[None], variance, shared, -0.03, 0.03)[0] - wanted)
    assert len(off) > 50
    assert np.sqrt(np.mean(np.square(off))) < 0.035
    assert np.abs(off).max() < 0.15
