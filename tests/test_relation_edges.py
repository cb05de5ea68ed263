"""Slopes at the borders of what readings can tell: small samples, exact lines, columns of very different size."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS

from gapbook.science.leaving_out import without
from gapbook.science.relation import Relation, Sample, Shortfall, _slope, relate, within
from gapbook.science.statistics import student_quantile, student_two_sided


def drawn(seed: int, frames: int, held: int = 0, rows: int = 12) -> Sample:
    """So many playtests of each frame by three testers."""
    rng = np.random.default_rng(seed)
    frame, tester = np.repeat(np.arange(frames), rows), np.tile(np.arange(3), frames * rows // 3)
    trait = rng.normal(size=frames)[frame] + 0.2 * rng.normal(size=len(frame))
    given = rng.normal(size=(len(frame), held))
    return Sample(0.5 * trait + rng.normal(size=len(frame)), trait, given, tester, frame)


# Student's t, NIST/SEMATECH e-Handbook 1.3.6.7.2: upper 0.975, 0.95 and 0.995 points for frames − 1 degrees of freedom.
INTERVALS = [(8, 0, 0.95, 2.365), (8, 0, 0.90, 1.895), (8, 0, 0.99, 3.499), (11, 1, 0.95, 2.228), (13, 2, 0.95, 2.179)]


@pytest.mark.parametrize(("frames", "held", "confidence", "point"), INTERVALS)
def test_an_interval_is_as_wide_as_students_t_of_one_less_than_the_frames(frames, held, confidence, point):
    found = relate(drawn(4, frames, held), confidence)
    assert isinstance(found, Relation)
    alone = found.testers
    assert alone.degrees == frames - 1
    assert (alone.high - alone.slope) / alone.u_slope == pytest.approx(point, abs=5e-4)
    assert (alone.slope - alone.low) / alone.u_slope == pytest.approx(point, abs=5e-4)
    assert alone.p == pytest.approx(2 * stats.t.sf(abs(alone.slope) / alone.u_slope, frames - 1), rel=1e-9)
    players = found.players
    assert players.u_slope >= alone.u_slope
    assert players.p == pytest.approx(2 * stats.t.sf(abs(players.slope) / players.u_slope, players.degrees), rel=1e-9)


def test_slopes_without_a_frame_stand_beside_its_number():
    sample = drawn(6, 9)
    found = relate(sample._replace(frame=100 - 7 * sample.frame))
    assert isinstance(found, Relation)
    assert found.frames.numbers.tolist() == list(range(44, 101, 7))  # ascending
    assert found.frames.slopes == pytest.approx([refitted(sample, frame) for frame in range(8, -1, -1)], rel=1e-9)


def test_an_exact_line_leaves_no_doubt():
    # Whole numbers, so that no rounding is left: 2 for each unit of the trait, whoever plays.
    frame = np.repeat(np.arange(8), 6)
    tester = np.tile(np.arange(3), 16)
    trait = np.repeat(np.arange(8.0), 6)
    outcome = 2.0 * trait + np.array([0.0, 4.0, -8.0])[tester]
    found = relate(Sample(outcome, trait, np.zeros((48, 0)), tester, frame))
    assert isinstance(found, Relation)
    assert found.slope == pytest.approx(2.0, rel=1e-12)
    assert found.players.u_slope == pytest.approx(0.0, abs=1e-12)
    assert [found.players.low, found.players.high] == pytest.approx([2.0, 2.0], rel=1e-11)
    assert found.players.p < 1e-20
    assert found.partial_correlation == pytest.approx(1.0, rel=1e-12)


def test_nothing_left_of_an_outcome_is_not_correlated():
    # No outside value: 0/0 is taken as no correlation.
    assert _slope(np.array([1.0, -1.0]), np.zeros(2)) == (0.0, 0.0)
    assert _slope(np.array([3.0, -3.0]), np.array([1.0, -1.0])) == pytest.approx((1 / 3, 1.0))


def test_without_any_doubt_zero_is_certain_and_everything_else_impossible():
    assert student_two_sided(0.0, 0.0, 5) == 1.0
    assert student_two_sided(1e-9, 0.0, 5) == 0.0
    assert student_two_sided(-3.0, 0.0, 5) == 0.0
    assert student_quantile(0.5, 1) == pytest.approx(1.0)  # Cauchy's quartile


def refitted(sample: Sample, frame: int) -> float:
    """The slope without a frame, by statsmodels with a column for each tester."""
    rest = sample.frame != frame
    testers = (sample.tester[:, None] == np.unique(sample.tester[rest])[None, :]).astype(float)
    design = np.column_stack([sample.trait, sample.given, testers])[rest]
    return float(OLS(sample.outcome[rest], design).fit().params[0])


@pytest.mark.parametrize("large", [1.0, 1e2, 1e3])
@pytest.mark.parametrize("held", [1, 2])
def test_a_column_that_hardly_varies_without_one_frame_is_still_told_from_none(large, held):
    """One frame carries nearly all of the variation of a column held constant; without it the rest is small, but is there."""
    sample = drawn(7, 12, held)
    given = sample.given.copy()
    given[sample.frame == 3, 0] += large * np.linspace(-1, 1, int((sample.frame == 3).sum()))
    sample = sample._replace(given=given)
    columns = within(np.column_stack([sample.trait, sample.given, sample.outcome]), sample.tester)
    numbers, slopes, _ = without(columns, sample.tester, sample.frame)
    assert numbers.tolist() == list(range(12))
    assert slopes == pytest.approx([refitted(sample, frame) for frame in range(12)], rel=1e-6)


@pytest.mark.parametrize("unit", [1e-6, 1.0, 1e6])
def test_units_of_what_is_held_do_not_matter(unit):
    sample = drawn(2, 13, 2)
    plain, scaled = relate(sample), relate(sample._replace(given=sample.given * np.array([unit, 1.0 / unit])))
    assert isinstance(plain, Relation)
    assert isinstance(scaled, Relation)
    assert list(scaled.players) == pytest.approx(list(plain.players), rel=1e-6)


def test_what_is_left_of_a_column_without_one_frame_may_be_nothing():
    """Without frame 3 two columns held are the same: there is no slope without it, however large its own numbers are."""
    sample = drawn(5, 13, 2)
    given = sample.given.copy()
    given[sample.frame != 3, 1] = given[sample.frame != 3, 0]
    given[sample.frame == 3] *= 50.0
    found = relate(sample._replace(given=given))
    assert isinstance(found, Shortfall)
    assert "rests on one frame" in found.reason
