"""Sessions beside one another: differences from the others and their uncertainty, by hand and by Monte Carlo."""

from __future__ import annotations

import numpy as np
import pytest

from gapbook.science.consistency import Shared, centre_pitches, from_others
from gapbook.science.lines import Runs, points_of


def test_two_results_differ_by_the_root_sum_of_squares():
    # u² = 0.3² + 0.4² + (0.5² + 1.2²)·1: independent parts and two instruments (hand arithmetic: 0.25 + 1.69 = 1.94).
    found = from_others(
        np.array([0, 0]), np.array([10.0, 12.0]), np.array([0.09, 0.16]), Shared(np.array([0, 1]), np.array([0.5, 1.2]))
    )
    assert found.value == pytest.approx([-2.0, 2.0])
    assert found.u == pytest.approx(np.sqrt([1.94, 1.94]))
    assert found.judged.tolist() == [False, True]


def test_an_instrument_that_both_used_cancels():
    found = from_others(
        np.array([0, 0]), np.array([10.0, 12.0]), np.array([0.09, 0.16]), Shared(np.array([1, 1]), np.array([1.2, 1.2]))
    )
    assert found.u == pytest.approx([0.5, 0.5])


def test_two_people_with_one_instrument():
    # The instrument cancels, the people's 0.3 and 0.4 do not: u² = 0.25 + 0.25.
    found = from_others(
        np.array([0, 0]),
        np.array([10.0, 12.0]),
        np.array([0.09, 0.16]),
        Shared(np.array([1, 1]), np.array([1.2, 1.2])),
        Shared(np.array([4, 5]), np.array([0.3, 0.4])),
    )
    assert found.u == pytest.approx(np.sqrt([0.5, 0.5]))


def test_one_result_has_nothing_to_differ_from():
    found = from_others(np.array([0]), np.array([3.0]), np.array([1.0]), Shared(np.array([0]), np.ones(1)))
    assert not found.judged.any()


def test_several_results_by_a_matrix():
    # The same by D V D': D takes each result minus the mean of the others, V = diag(variance) + Σ_t u_t²·s_t s_t'.
    rng = np.random.default_rng(4)
    thing = np.array([0, 0, 0, 1, 1, 1, 1, 2])
    value, variance = rng.normal(size=8), rng.uniform(0.1, 1, 8)
    sensitivity, instrument = rng.uniform(0.5, 2, 8), np.array([0, 1, 0, 2, 2, 2, 1, 0])
    u = np.array([0.4, 0.7, 1.1])
    found = from_others(thing, value, variance, Shared(instrument, sensitivity * u[instrument]))
    for one in (0, 1):
        rows = np.flatnonzero(thing == one)
        count = len(rows)
        take = (np.eye(count) * count - 1) / (count - 1)
        shared = np.array([sensitivity[rows] * (instrument[rows] == tool) * u[tool] for tool in range(3)])
        whole = take @ (np.diag(variance[rows]) + shared.T @ shared) @ take.T
        assert found.value[rows] == pytest.approx(take @ value[rows])
        assert found.u[rows] == pytest.approx(np.sqrt(np.diag(whole)))
        assert found.judged[rows].all()


def _runs(points: np.ndarray, is_mark: bool, noise: float) -> Runs:
    count, width = points.shape
    return Runs(
        bed=np.zeros(count, dtype=np.int64),
        session=np.arange(count),
        station=np.zeros(count),
        is_mark=np.full(count, is_mark),
        instrument=np.zeros(count, dtype=np.int64),
        reader=np.zeros(count, dtype=np.int64),
        strings=np.full(count, width - 2),
        edges=np.ones(count, dtype=bool),
        points=points,
        variance=np.full(points.shape, noise**2),
    )


@pytest.mark.parametrize("is_mark", [True, False])
def test_the_variance_of_a_session_is_what_noise_and_placement_make(is_mark):
    rng = np.random.default_rng(8)
    gaps = np.array([25.0, 13, 12, 11, 10.5, 10, 10, 10, 10, 10, 10.5, 11, 12, 13, 25, 0])
    truth = np.concatenate([[0.0], np.cumsum(gaps[:-1])])
    noise, draws = 0.2, 4000
    placed = np.tile(truth, (draws, 1))
    placed[:, 1:-1] += rng.normal(0, 0.3, (draws, 14))
    if is_mark:
        points = placed + rng.normal(0, noise, placed.shape)
    else:
        read = np.zeros(placed.shape)
        read[:, :-1] = np.diff(placed, axis=1) + rng.normal(0, noise, (draws, 15))
        points = points_of(read, np.zeros(draws, dtype=bool))
    drawn = centre_pitches(_runs(points, is_mark, noise), 0.3)
    stated = centre_pitches(_runs(truth[None, :], is_mark, noise), 0.3)
    assert stated.log[0] == pytest.approx(np.log(10.0), abs=0.02)
    assert np.sqrt(stated.variance[0]) == pytest.approx(drawn.log.std(), rel=0.06)


def test_a_calliper_that_reads_every_gap_a_tenth_long_moves_the_pitch_by_a_tenth():
    gaps = np.array([25.0, *[10.0] * 15, 25.0])
    truth = np.concatenate([[0.0], np.cumsum(gaps)])
    found = centre_pitches(_runs(truth[None, :], False, 0.1), 0.3)
    assert found.by_instrument[0] == pytest.approx(1.0 / 10.0)
    assert found.by_reader[0] == pytest.approx(1.0 / 10.0)


def test_a_person_stretches_a_rule_as_much_as_they_would_widen_its_gaps():
    # 15 gaps of 10 mm and two of 25: 200 mm in 17 gaps. 1 mm on each is 17 mm on the span, 8.5 % of every pitch; the rule's own
    # error of 1 mm over its span is 0.5 %.
    gaps = np.array([25.0, *[10.0] * 15, 25.0])
    found = centre_pitches(_runs(np.concatenate([[0.0], np.cumsum(gaps)])[None, :], True, 0.1), 0.3)
    assert found.by_instrument[0] == pytest.approx(1.0 / 200.0)
    assert found.by_reader[0] == pytest.approx(17.0 / 200.0)
