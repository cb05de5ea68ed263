"""Steps, regular and copied figures, copies of frames: against scipy's distributions, simulation, and beds written by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from gapbook.science.consistency import from_copies
from gapbook.science.counting import left_out
from gapbook.science.statistics import below_chi_square, beyond_poisson
from gapbook.science.steps import decimals, off_steps, same_probability


@pytest.mark.parametrize(("step", "deviation"), [(0.01, 0.14), (0.05, 0.14), (0.5, 0.35), (1.0, 0.2)])
def test_how_often_two_readings_are_the_same_step(step, deviation):
    # Simulated: a thing anywhere between two steps, read twice with errors whose difference has this deviation.
    rng = np.random.default_rng(5)
    thing, errors = rng.uniform(0.0, step, 400_000), rng.normal(0.0, deviation / np.sqrt(2.0), (2, 400_000))
    one, two = np.rint((thing + errors) / step)
    found = float(same_probability(np.array([step]), np.array([deviation]))[0])
    assert found == pytest.approx(float((one == two).mean()), abs=0.004)


def test_tails_are_those_of_scipy():
    total, freedom = np.array([0.5, 3.0, 12.0]), np.array([4.0, 12.0, 12.0])
    assert below_chi_square(total, freedom) == pytest.approx(stats.chi2.cdf(total, freedom))
    count, mean = np.array([0, 1, 5, 9]), np.array([0.2, 0.2, 0.4, 12.0])
    assert beyond_poisson(count, mean) == pytest.approx(stats.poisson.sf(count - 1, mean))


def test_whole_steps():
    # Thirty-seconds of an inch, exactly and rounded to three decimals or to tenths of a millimetre, are whole steps.
    value = np.array([9.59375, 9.594, 243.7, 9.6, 12.345])
    step = np.array([1 / 32, 1 / 32, 25.4 / 32, 1 / 32, 0.02])
    assert decimals(value).tolist() == [5, 3, 1, 1, 3]
    assert off_steps(value, step).tolist() == [False, False, False, False, True]


def test_a_copy_beside_the_others_of_its_frame():
    # Two frames of three copies and one of a single copy, by the formulas written out (variance components, JCGM 100:2008, H.5)
    value, frame = np.array([0.00, 0.01, 0.08, 1.00, 1.02, 1.01, 5.0]), np.array([0, 0, 0, 1, 1, 1, 2])
    own, shared = np.full(7, 0.004**2), np.full(7, 0.003**2)
    apart = from_copies(value, (own, shared), frame, 0.01)
    seen = sum((one - 1.01) ** 2 - (1 - 1 / 3) * 0.004**2 for one in (1.00, 1.02, 1.01))
    spread = (seen + 5 * 0.01**2) / (2 + 5)  # of frame 1, and the default
    u = np.sqrt((spread + 0.004**2 + 0.003**2) * (1 + 1 / 2))
    assert apart.difference[2] == pytest.approx(0.08 - 0.005)
    assert apart.u[2] == pytest.approx(u)
    assert apart.freedom[2] == 7
    assert apart.probability[2] == pytest.approx(2 * stats.t.sf(0.075 / u, 7))
    assert np.isnan(apart.probability[6])


def test_of_two_copies_the_later_one_is_judged():
    apart = from_copies(np.array([0.0, 0.1]), (np.full(2, 1e-6), np.zeros(2)), np.array([0, 0]), 0.01)
    assert np.isnan(apart.probability).tolist() == [True, False]


MAINS = [22.0, 17.6, 15.9, 14.4, 13.2, 12.1, 11.2, 10.4, 10.0, 10.5, 11.2, 12.2, 13.2, 14.3, 15.8, 17.7, 22.0]
"""A bed of 16 mains by hand: narrow in the middle, alike on both sides to a tenth, with both inner edges."""


@pytest.mark.parametrize("number", [2, 3, 5, 12, 14])
def test_a_gap_left_out_is_among_those_named(number):
    found = left_out(np.array(MAINS[:number] + MAINS[number + 1 :]), True, True)
    assert found is not None
    assert found.low <= number <= found.high
    assert abs(found.best - number) <= 1
    assert not found.doubled


@pytest.mark.parametrize("number", [3, 8, 13])
def test_a_string_skipped_is_named(number):
    # The gap that is read is the sum of two.
    gaps = [*MAINS[:number], MAINS[number] + MAINS[number + 1], *MAINS[number + 2 :]]
    found = left_out(np.array(gaps), True, True)
    assert found is not None
    assert (found.best, found.doubled) == (number, True)


@pytest.mark.parametrize("gaps", [MAINS[:-1], MAINS[1:-2]], ids=["the last edge", "the last gap, without edges"])
def test_where_only_the_end_is_missing_nothing_is_numbered_wrongly(gaps):
    edges = len(gaps) == len(MAINS) - 1
    assert left_out(np.array(gaps), edges, True) is None
