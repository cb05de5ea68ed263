"""Marks as steps in order: the proportional-odds model against statsmodels, and its jackknife against fitting again."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.miscmodels.ordinal_model import OrderedModel

from gapbook.science.ordinal import MOST_STEPS, _derivatives, _design, _without, fitted, ordinal
from gapbook.science.relation import Sample


def drawn(seed=3, rows=300, testers=6, frames=20, effect=0.1):
    rng = np.random.default_rng(seed)
    tester, frame = rng.integers(0, testers, rows), rng.integers(0, frames, rows)
    trait, given = 110 + 8 * rng.standard_normal(frames)[frame], rng.standard_normal(rows)
    level = effect * (trait - 110) + 0.5 * given + rng.standard_normal(testers)[tester] + rng.logistic(size=rows)
    return Sample(np.clip(np.rint(level / 1.2), -3, 3), trait, given[:, None], tester, frame)


def test_without_a_penalty_it_is_statsmodels_ordered_model():
    sample = drawn()
    design = _design(sample, 1e9)
    testers = (sample.tester[:, None] == np.arange(1, 6)[None, :]).astype(float)
    columns = np.column_stack([sample.trait - sample.trait.mean(), sample.given, testers])
    fit = OrderedModel(sample.outcome, columns, distr="logit").fit(method="bfgs", disp=0, gtol=1e-8, maxiter=500)
    found = fitted(design)
    assert found[design.thresholds :] / design.scale == pytest.approx(fit.params[:7], abs=2e-6)
    curvature = _derivatives(design, found)[1]
    u = np.sqrt(np.diag(np.linalg.inv(curvature)))[design.thresholds] / design.scale[0]
    assert u == pytest.approx(fit.bse[0], rel=1e-3)


@pytest.mark.parametrize("group", ["frame", "tester"])
def test_one_newton_step_is_close_to_fitting_again(group):
    """Judged by the jackknife itself: the two differ by a small part of how far the slopes scatter."""
    sample = drawn()
    design = _design(sample, 3.0)
    whole = fitted(design)
    numbers = getattr(sample, group)
    steps = _without(design, whole, *_derivatives(design, whole), numbers) / design.scale[0]
    again = []
    for one in np.unique(numbers):
        rest = _design(Sample(*(column[numbers != one] for column in sample[:5])), 3.0)
        again.append(fitted(rest)[rest.thresholds] / rest.scale[0])
    assert np.std(steps) == pytest.approx(np.std(again), rel=0.1)
    assert np.abs(steps - again).max() < 0.2 * np.std(again) + 1e-4


def test_many_small_groups_are_left_out_all_at_once(monkeypatch):
    """The two ways to leave out single playtests differ by a few percent of how far the slopes scatter."""
    sample = drawn()
    design = _design(sample, 3.0)
    whole = fitted(design)
    each = _without(design, whole, *_derivatives(design, whole), np.arange(300))
    monkeypatch.setattr("gapbook.science.ordinal.MANY", 100)
    at_once = _without(design, whole, *_derivatives(design, whole), np.arange(300))
    assert np.abs(at_once - each).max() < 0.1 * np.abs(each - whole[design.thresholds]).max()


def test_the_planted_odds_are_in_the_interval():
    found = ordinal(drawn(), 0.95)
    assert found.low <= 0.1 <= found.high
    assert found.low > 0.0


def test_a_tester_with_one_mark_for_all_is_no_obstacle():
    sample = drawn()
    outcome = np.where(sample.tester == 2, 3.0, sample.outcome)
    assert np.isfinite(ordinal(sample._replace(outcome=outcome), 0.95)).all()


@pytest.mark.parametrize("steps", [2, MOST_STEPS + 1])
def test_too_few_or_too_many_steps_have_no_model(steps):
    sample = drawn()
    assert ordinal(sample._replace(outcome=np.arange(300.0) % steps), 0.95) is None
