"""What an interval of `relate` covers: testers whose slopes differ, a trait that is itself uncertain, a bent line."""

from __future__ import annotations

import re

import numpy as np
import pytest
from scipy.stats import binom

from bench.coverage import EFFECT, KINDS, MARKS, drawn, held
from gapbook.science.relation import LEAST_RELIABILITY, Relation, Sample, relate
from small import ROOT


@pytest.mark.parametrize("name", KINDS)
def test_the_interval_for_players_holds_the_truth(name):
    """40 packages of each kind: misses are binomial, and more than its 99.9 % point is no chance."""
    found = held(KINDS[name], 40, seed=3)
    assert found.packages - found.players <= binom.ppf(0.999, 40, 0.08)


def test_counting_frames_only_is_not_enough_where_testers_differ():
    found = held(KINDS["slopes differ by 0.05 between 4 testers"], 40, seed=3)
    assert found.testers < 30  # the fault that this interval mends
    assert found.players >= 34


@pytest.mark.slow
@pytest.mark.parametrize("name", KINDS)
def test_over_many_packages_it_holds_in_92_to_98_percent(name):
    found = held(KINDS[name], 500, seed=7)
    assert 0.92 <= found.players / 500 <= 0.98


def related(name, seed=1, **changes):
    sample = drawn(KINDS[name], np.random.default_rng(seed)).sample
    found = relate(sample._replace(**changes))
    assert isinstance(found, Relation)
    return sample, found


def test_slopes_that_differ_between_testers_are_seen():
    _, differ = related("slopes differ by 0.05 between 12 testers")
    assert 0.02 < differ.between.deviation < 0.10
    assert differ.between.p < 0.01
    _, same = related("many frames")
    assert same.between.p > 0.01
    assert same.between.deviation < 0.01


def test_a_noisy_trait_flattens_the_slope_and_the_corrected_one_is_right():
    slopes = [related("a trait with u of 5 (its corrected slope)", seed)[1] for seed in range(20)]
    assert np.mean([one.slope for one in slopes]) < 0.85 * EFFECT
    assert np.mean([one.corrected.slope for one in slopes]) == pytest.approx(EFFECT, rel=0.08)


def test_without_error_the_corrected_slope_is_the_slope_itself():
    _, found = related("few frames")
    assert found.corrected == pytest.approx(found.players)


def test_with_more_error_than_figure_there_is_no_corrected_slope():
    sample = drawn(KINDS["few frames"], np.random.default_rng(1)).sample
    left = sample.trait.std()
    found = relate(sample._replace(u_trait=np.full(144, left * np.sqrt(1 - LEAST_RELIABILITY) * 1.2)))
    assert found.corrected is None
    unknown = relate(sample._replace(u_trait=np.where(np.arange(144) == 3, np.nan, 1.0)))
    assert unknown.corrected is None


def test_what_is_held_takes_no_error_away_that_it_does_not_share():
    """A column that has nothing to do with the trait leaves the corrected slope nearly as it is."""
    sample = drawn(KINDS["a trait with u of 5 (its corrected slope)"], np.random.default_rng(5)).sample
    noise = np.random.default_rng(6).standard_normal((len(sample.outcome), 1))
    plain, held_too = relate(sample), relate(sample._replace(given=noise))
    assert held_too.corrected.slope == pytest.approx(plain.corrected.slope, rel=0.03)


def test_a_bent_line_is_seen_and_a_straight_one_is_not():
    sample, straight = related("many frames")
    assert straight.curvature > 0.01
    bent = relate(sample._replace(outcome=sample.outcome + 0.01 * sample.trait**2))
    assert bent.curvature < 0.001


def test_eight_frames_are_too_few_for_a_curve():
    rng = np.random.default_rng(2)
    frame, tester = np.repeat(np.arange(8), 6), np.tile(np.arange(3), 16)
    trait = rng.standard_normal(8)[frame]
    found = relate(Sample(trait + rng.standard_normal(48), trait, np.zeros((48, 0)), tester, frame))
    assert found.curvature is None


def test_a_slope_that_one_tester_makes_is_not_told():
    """Two of three testers played one frame only."""
    rng = np.random.default_rng(2)
    frame = np.concatenate([np.arange(12), np.zeros(4, int), np.ones(4, int)])
    tester = np.concatenate([np.zeros(12, int), np.ones(4, int), np.full(4, 2)])
    trait = np.arange(12.0)[frame]
    found = relate(Sample(trait + rng.standard_normal(20), trait, np.zeros((20, 0)), tester, frame))
    assert "rests on one tester" in found.reason


def test_the_published_table_is_of_these_packages_and_within_its_bounds():
    """The table of DEVELOPERS.md: every kind, over 500 packages or more, 92 to 98 %."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition(MARKS[0])[2].partition(MARKS[1])[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in text.splitlines() if line.startswith("| ")][2:]
    assert [row[0] for row in rows] == list(KINDS)
    assert all(92 <= float(row[2].removesuffix(" %")) <= 98 for row in rows)
    assert int(re.search(r"--coverage ([0-9]+)", text)[1]) >= 500
