"""Gauge studies: the AIAG manual's worked example, made-up data of known variation, and dummy variables by least squares."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from gapbook.science import gauge_rr
from gauge_example import AIAG

PERSON, _, PART = (axis.ravel() for axis in np.indices(AIAG.shape))


def test_figures_of_the_aiag_manual():
    found = gauge_rr.gauge_study(PART, PERSON, AIAG.ravel())
    assert (found.readings, found.parts, found.people, found.shared) == (90, 10, 3, 10)
    figures = (found.ev, found.av, found.grr, found.pv, found.tv)
    # AIAG MSA manual, worked example, analysis of variance with the interaction pooled.
    assert [f"{figure:.5f}" for figure in figures] == ["0.19993", "0.22684", "0.30237", "1.04233", "1.08530"]
    assert found.interaction == 0.0
    assert (found.ev_freedom, found.av_freedom) == (78, 2)
    # 1.41·1.04233/0.30237 = 4.86, cut to 4.
    assert found.categories == 4


def test_the_interaction_of_the_manual_is_judged_by_its_f():
    # Sums of squares of the manual: interaction 0.35898 on 18, equipment 2.75893 on 60 degrees of freedom (scipy.stats.f).
    expected = stats.f.sf((0.35898 / 18) / (2.75893 / 60), 18, 60)
    assert gauge_rr.gauge_study(PART, PERSON, AIAG.ravel()).interaction_probability == pytest.approx(expected, rel=1e-4)


def test_an_interaction_below_nothing_is_nothing():
    # The manual's interaction has a smaller mean square than its equipment, so kept or not, it adds nothing. Balanced case by
    # hand: s²_a = (MS_a - MS_e)/(p·r), s²_p = (MS_p - MS_e)/(a·r), sums of squares as the manual prints them.
    error, mixed, person, part = 2.75893 / 60, 0.35898 / 18, 3.16726 / 2, 88.36193 / 9
    assert mixed < error
    found = gauge_rr.gauge_study(PART, PERSON, AIAG.ravel(), level=1.0)
    assert found.ev == pytest.approx(np.sqrt(error), rel=1e-5)
    assert found.interaction == 0.0
    assert found.av == pytest.approx(np.sqrt((person - error) / 30), rel=1e-5)
    assert found.pv == pytest.approx(np.sqrt((part - error) / 9), rel=1e-5)


def with_interaction(size: float) -> np.ndarray:
    """The manual's readings [appraiser, trial, part], to which each appraiser adds what depends on the part."""
    return AIAG + size * np.random.default_rng(3).normal(size=(3, 1, 10))


def mean_squares(study: np.ndarray) -> dict[str, tuple[float, float]]:
    """Mean squares and degrees of freedom of the two-way analysis of variance, by statsmodels."""
    data = pd.DataFrame({"part": PART, "person": PERSON, "value": study.ravel()})
    table = anova_lm(ols("value ~ C(part) * C(person)", data).fit())
    return {name: (row["sum_sq"] / row["df"], row["df"]) for name, row in table.iterrows()}


@pytest.mark.parametrize("size", [0.15, 0.3, 0.8])
def test_a_kept_interaction_is_that_of_expected_mean_squares(size):
    """Complete study of p = 10 parts, a = 3 people, r = 3 readings, random effects: s²_pa = (MS_pa - MS_e)/r,
    s²_a = (MS_a - MS_pa)/(p·r), s²_p = (MS_p - MS_pa)/(a·r). Montgomery, Design and Analysis of Experiments, 13.3, from memory.
    """
    study = with_interaction(size)
    mean = mean_squares(study)
    (error, error_freedom), (mixed, mixed_freedom) = mean["Residual"], mean["C(part):C(person)"]
    person, part = mean["C(person)"][0], mean["C(part)"][0]
    assert mixed > 2.0 * error
    between = max(person - mixed, 0.0) / 30  # with the largest interaction the people's own part is lost in it
    found = gauge_rr.gauge_study(PART, PERSON, study.ravel())
    assert found.interaction_probability == pytest.approx(stats.f.sf(mixed / error, mixed_freedom, error_freedom), rel=1e-6)
    assert found.interaction_probability < 0.05
    assert found.ev == pytest.approx(np.sqrt(error), rel=1e-9)
    assert found.ev_freedom == error_freedom == 60
    assert found.interaction == pytest.approx(np.sqrt((mixed - error) / 3), rel=1e-9)
    assert found.av == pytest.approx(np.sqrt((mixed - error) / 3 + between), rel=1e-9)
    assert found.pv == pytest.approx(np.sqrt((part - mixed) / 9), rel=1e-9)
    assert found.grr == pytest.approx(np.sqrt(found.ev**2 + found.av**2), rel=1e-12)


def test_an_interaction_is_kept_up_to_the_level_and_pooled_above_it():
    study = with_interaction(0.1)
    mean = mean_squares(study)
    (error, error_freedom), (mixed, mixed_freedom) = mean["Residual"], mean["C(part):C(person)"]
    level = float(stats.f.sf(mixed / error, mixed_freedom, error_freedom))
    assert 0.001 < level < 0.999
    kept = gauge_rr.gauge_study(PART, PERSON, study.ravel(), level=level * 1.001)
    pooled = gauge_rr.gauge_study(PART, PERSON, study.ravel(), level=level * 0.999)
    assert kept.ev_freedom == 60
    assert kept.interaction == pytest.approx(np.sqrt(max(mixed - error, 0.0) / 3), rel=1e-9)
    assert (pooled.ev_freedom, pooled.interaction) == (78, 0.0)
    both = (error * error_freedom + mixed * mixed_freedom) / 78
    assert pooled.ev == pytest.approx(np.sqrt(both), rel=1e-9)


def test_people_who_agree_better_than_their_readings_have_no_reproducibility():
    # Means of people all the same: the component between people would be below nothing, and is nothing.
    study = AIAG - AIAG.mean(axis=(1, 2), keepdims=True)
    assert gauge_rr.gauge_study(PART, PERSON, study.ravel()).av == 0.0


def shared_parts(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Two people who both read the first parts twice; the first alone reads the rest."""
    rng = np.random.default_rng(6)
    part = np.concatenate([np.repeat(np.arange(8), 2), np.repeat(np.arange(count), 2)])
    person = np.repeat([0, 1], [16, 2 * count])
    return part, person, rng.normal(size=8)[part] + 0.1 * rng.normal(size=len(part)) + 0.5 * person


@pytest.mark.parametrize(("shared", "told"), [(2, False), (3, True), (4, True)])
def test_three_parts_that_two_people_have_read_tell_reproducibility(shared, told):
    found = gauge_rr.gauge_study(*shared_parts(shared))
    assert found.shared == shared
    assert found.av_freedom == 1
    assert np.isfinite(found.av) == told
    assert np.isfinite(found.grr) == told
    assert np.isfinite(found.pv)


@pytest.mark.parametrize(("parts", "told"), [(3, False), (4, True)])
def test_three_degrees_of_freedom_tell_a_bias(parts, told):
    # Two people on p parts: p - 1 degrees of freedom about parts and people. By a paired t interval (scipy.stats).
    rng = np.random.default_rng(parts)
    part, person = np.tile(np.arange(parts), 2), np.repeat([0, 1], parts)
    value = rng.normal(size=parts)[part] + 0.4 * person + 0.05 * rng.normal(size=2 * parts)
    found = gauge_rr.biases(part, person, value, 2)
    assert found.freedom == parts - 1
    assert np.isfinite(found.bias).all() == told
    if told:
        pair = stats.ttest_rel(value[parts:], value[:parts])
        interval = pair.confidence_interval(0.95)
        assert found.bias[1] == pytest.approx((interval.low + interval.high) / 4, rel=1e-9)
        assert found.half == pytest.approx((interval.high - interval.low) / 4, rel=1e-9)
        assert found.parts.tolist() == [parts, parts]


def test_categories_are_cut_not_rounded():
    # 1.41·PV/GRR by the manual; PV as printed over GRR gives 4.86 for the example, and is scaled here to either side of 5.
    found = gauge_rr.gauge_study(PART, PERSON, AIAG.ravel())
    assert found._replace(pv=found.grr * 4.99 / 1.41).categories == 4
    assert found._replace(pv=found.grr * 5.01 / 1.41).categories == 5
    assert found._replace(pv=0.0).categories == 0
    assert found._replace(pv=np.nan).categories is None
    assert found._replace(ev=0.0, av=0.0).categories is None


def _made(rng, parts, people, ev, av, interaction, pv, keep):
    """Readings of a study of which a part `keep` was made, one to three of each cell."""
    part, person = (axis.ravel() for axis in np.indices((parts, people)))
    kept = rng.random(len(part)) < keep
    part, person = part[kept], person[kept]
    cell = rng.normal(0, pv, parts)[part] + rng.normal(0, av, people)[person] + rng.normal(0, interaction, len(part))
    times = rng.integers(1, 4, len(part))
    part, person, cell = (np.repeat(column, times) for column in (part, person, cell))
    return part, person, cell + rng.normal(0, ev, len(cell))


@pytest.mark.parametrize("interaction", [0.0, 0.8])
@pytest.mark.parametrize("keep", [1.0, 0.5, 0.2])
def test_known_variation_is_found_in_unbalanced_studies(interaction, keep):
    rng = np.random.default_rng(11)
    ev, av, pv = 0.5, 0.7, 2.0
    squares = []
    for _ in range(60):
        found = gauge_rr.gauge_study(*_made(rng, 80, 12, ev, av, interaction, pv, keep), level=1.0)
        squares.append([found.ev**2, found.av**2, found.interaction**2, found.pv**2])
    mean, error = np.mean(squares, axis=0), np.std(squares, axis=0) / np.sqrt(60)
    # Without an interaction, cutting it at nothing lifts it a little, and the people with it.
    room = 4.0 * error + (0.01 if interaction == 0.0 else 0.0)
    truth = np.array([ev**2, av**2 + interaction**2, interaction**2, pv**2])
    assert np.all(np.abs(mean - truth) <= room), (mean, truth, room)


def test_people_who_share_no_part_are_not_compared():
    part, person = np.repeat(np.arange(20), 2), np.repeat(np.arange(20) % 2, 2)
    found = gauge_rr.gauge_study(part, person, np.random.default_rng(1).normal(size=40))
    assert np.isnan(found.av)
    assert found.categories is None
    assert not np.isnan(found.ev)


def test_without_repeats_repeatability_is_not_known():
    part, person = (axis.ravel() for axis in np.indices((6, 3)))
    assert np.isnan(gauge_rr.gauge_study(part, person, np.arange(18.0)).ev)


@pytest.mark.parametrize(("offset", "tolerance"), [(1e4, 1e-6), (1e8, 1e-5)])
def test_an_offset_changes_nothing(offset, tolerance):
    # At 1e8 numbers are 1.5e-8 apart, and their squares 2: only sums about the mean still tell hundredths.
    first, second = (gauge_rr.gauge_study(PART, PERSON, AIAG.ravel() + shift) for shift in (0.0, offset))
    assert second == pytest.approx(first, rel=tolerance)


def test_nothing_read_tells_nothing():
    nothing = np.zeros(0, dtype=np.int64)
    found = gauge_rr.gauge_study(nothing, nothing, np.zeros(0))
    assert (found.readings, found.parts, found.people, found.shared) == (0, 0, 0, 0)
    assert np.isnan([found.ev, found.av, found.pv, found.interaction_probability]).all()
    biases = gauge_rr.biases(nothing, nothing, np.zeros(0), 2)
    assert np.isnan(biases.bias).all()
    assert biases.group.tolist() == [-1, -1]


def _by_dummies(part, person, value, people):
    """Effects of people about their mean and their intervals, from one row a cell and dummy variables (numpy.linalg)."""
    cells = sorted({(p, q) for p, q in zip(part.tolist(), person.tolist(), strict=True)})
    mean = np.array([value[(part == p) & (person == q)].mean() for p, q in cells])
    design = np.zeros((len(cells), part.max() + 1 + people - 1))
    contrast = np.vstack([np.eye(people - 1), -np.ones(people - 1)])
    for row, (p, q) in enumerate(cells):
        design[row, p] = 1.0
        design[row, part.max() + 1 :] = contrast[q]
    solution, squares, rank, _ = np.linalg.lstsq(design, mean, rcond=None)
    freedom = len(cells) - rank
    covariance = np.linalg.inv(design.T @ design)[-people + 1 :, -people + 1 :] * float(squares[0]) / freedom
    effect = contrast @ solution[-people + 1 :]
    half = stats.t.ppf(0.975, freedom) * np.sqrt(np.diag(contrast @ covariance @ contrast.T))
    return effect, half, freedom


@pytest.mark.parametrize("seed", range(5))
def test_biases_are_those_of_least_squares_with_parts_as_blocks(seed):
    rng = np.random.default_rng(seed)
    part, person, value = _made(rng, 12, 4, 0.2, 0.5, 0.0, 2.0, 0.7)
    part = np.unique(part, return_inverse=True)[1]
    alone = np.bincount(part, minlength=part.max() + 1)
    assert alone.min() >= 1
    found = gauge_rr.biases(part, person, value, 4)
    effect, half, freedom = _by_dummies(part, person, value, 4)
    assert found.freedom == freedom
    assert found.bias == pytest.approx(effect, abs=1e-9)
    assert found.half == pytest.approx(half, rel=1e-7)


def test_intervals_of_biases_cover_the_truth():
    rng = np.random.default_rng(5)
    inside = total = 0
    for _ in range(300):
        part, person = (axis.ravel() for axis in np.indices((6, 3)))
        kept = rng.random(18) < 0.8
        truth = np.array([0.3, -0.1, -0.2])
        value = rng.normal(0, 2, 6)[part] + truth[person] + rng.normal(0, 0.2, 18)
        found = gauge_rr.biases(part[kept], person[kept], value[kept], 3)
        inside += int(np.sum(np.abs(found.bias - truth) <= found.half))
        total += int(np.sum(~np.isnan(found.bias)))
    assert total > 800
    assert 0.925 <= inside / total <= 0.972  # 95 %, three intervals of a study being alike


def test_groups_that_share_nothing_have_means_of_their_own():
    # Persons 0 and 1 share parts 0 to 4, persons 2 and 3 parts 5 to 9; 1 reads 1 higher than 0, and 3 reads 4 lower than 2.
    part = np.repeat(np.arange(10), 2)
    person = np.array([0, 1] * 5 + [2, 3] * 5)
    noise = np.random.default_rng(2).normal(0, 0.01, 20)
    value = part + np.array([0.0, 1.0, 0.0, -4.0])[person] + noise
    found = gauge_rr.biases(part, person, value, 5)
    assert found.bias[:4] == pytest.approx([-0.5, 0.5, 2.0, -2.0], abs=0.03)
    assert found.group.tolist() == [0, 0, 2, 2, -1]
    assert np.isnan(found.bias[4])
    assert found.parts.tolist() == [5, 5, 5, 5, 0]


def test_too_few_shared_parts_tell_no_bias():
    found = gauge_rr.biases(np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1]), np.array([1.0, 2.0, 3.0, 4.1]), 2)
    assert np.isnan(found.bias).all()
    assert found.freedom == 1
