"""Slopes and their uncertainty against values from outside: NIST's certified regressions, and statsmodels by other routes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from statsmodels.datasets import longley
from statsmodels.regression.linear_model import OLS
from statsmodels.tools import add_constant

from gapbook.science.leaving_out import Variance, jackknife, two_way, without
from gapbook.science.relation import Relation, Sample, Shortfall, indicators, relate, residual, within
from gapbook.science.statistics import student_quantile, student_two_sided

# NIST StRD, linear regression, Longley: certified estimates and their standard deviations, from memory. The data are carried by
# statsmodels.datasets.
LONGLEY = {
    "GNPDEFL": (15.0618722713733, 84.9149257747669),
    "GNP": (-0.358191792925910e-01, 0.334910077722432e-01),
    "UNEMP": (-2.02022980381683, 0.488399681651699),
    "ARMED": (-1.03322686717359, 0.214274163161675),
    "POP": (-0.511041056535807e-01, 0.226073200069370),
    "YEAR": (1829.15146461355, 455.478499142212),
}
# NIST StRD, linear regression, Norris: data (y, x), and certified slope with its standard deviation. From memory; the data
# give the certified slope to twelve digits, which neither would if it were misremembered.
NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9 777.0
559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1 998.0 995.8
888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0 10.2 11.1 117.6 118.3
228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"""
NORRIS_SLOPE, NORRIS_SD = 1.00211681802045, 0.429796848199937e-03


def one_tester(y, x, given=None):
    """A sample in which every row is a frame, of so many testers that only the intercept is theirs."""
    rows = len(y)
    given = np.zeros((rows, 0)) if given is None else given
    return Sample(y, x, given, np.zeros(rows, dtype=np.int64), np.arange(rows))


def slope_of(sample):
    """Slope and partial correlation by the module's own steps, without its least numbers of frames and testers."""
    held = within(sample.given, sample.tester)
    x = residual(within(sample.trait[:, None], sample.tester), held)
    y = residual(within(sample.outcome[:, None], sample.tester), held)
    return (x @ y) / (x @ x), (x @ y) / math.sqrt((x @ x) * (y @ y))


@pytest.mark.parametrize("name", LONGLEY)
def test_longley(name):
    data = longley.load_pandas()
    y, x = data.endog.to_numpy(), data.exog[name].to_numpy()
    slope, correlation = slope_of(one_tester(y, x, data.exog.drop(columns=name).to_numpy()))
    estimate, deviation = LONGLEY[name]
    assert slope == pytest.approx(estimate, rel=1e-7)
    # A partial correlation is t/√(t² + degrees of freedom), of which Longley has 16 − 7 = 9.
    t = estimate / deviation
    assert correlation == pytest.approx(t / math.sqrt(t * t + 9), rel=1e-7)


def norris():
    y, x = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    assert len(y) == 36
    return y, x


def test_norris():
    y, x = norris()
    slope, correlation = slope_of(one_tester(y, x))
    assert slope == pytest.approx(NORRIS_SLOPE, rel=1e-12)
    t = NORRIS_SLOPE / NORRIS_SD
    # Two hundredths of a millionth short of 1: √(1 − r²) says more than r. Degrees of freedom: 36 − 2.
    assert math.sqrt(1.0 - correlation**2) == pytest.approx(math.sqrt(34 / (t * t + 34)), rel=1e-6)


def test_with_a_frame_a_row_the_jackknife_is_hc3():
    """MacKinnon, Nielsen & Webb 2023: CR3 of single rows is HC3, here with the jackknife's factor (G − 1)/G."""
    y, x = norris()
    sample = one_tester(y, x)
    slope, _ = slope_of(sample)
    numbers, slopes, _ = without(within(np.column_stack([x, y]), sample.tester), sample.tester, sample.frame)
    fit = OLS(y, add_constant(x)).fit()
    assert numbers.tolist() == list(range(36))
    assert jackknife(slope, slopes) == pytest.approx(fit.HC3_se[1] * math.sqrt(35 / 36), rel=1e-10)


def drawn(seed, rows=260, frames=24, testers=7, held=2):
    """A sample in which frames, testers and noise all have a part."""
    rng = np.random.default_rng(seed)
    frame, tester = rng.integers(0, frames, rows), rng.integers(0, testers, rows)
    tester[frame == 0] = testers  # somebody who played one frame only
    trait = 110 + 7 * rng.normal(size=frames)[frame] + 0.3 * rng.normal(size=rows)
    given = rng.normal(size=(rows, held)) * ([30.0, 15.0][:held]) + [600.0, 230.0][:held] + 0.4 * trait[:, None]
    level = rng.normal(size=testers + 1)[tester] + 0.3 * rng.normal(size=frames)[frame]
    outcome = 0.1 * trait + given @ np.array([0.01, -0.02])[:held] + 2 * level + rng.normal(size=rows)
    return Sample(outcome, trait, given, tester, frame)


def dummies(sample):
    """Trait, columns held, and a column for each tester."""
    testers = np.unique(sample.tester)
    return np.column_stack([sample.trait, sample.given, (sample.tester[:, None] == testers[None, :]).astype(float)])


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("held", [0, 1, 2])
def test_against_statsmodels_with_a_column_a_tester_refitted_without_each_frame(seed, held):
    sample = drawn(seed, held=held)
    design = dummies(sample)
    fit = OLS(sample.outcome, design).fit()
    found = relate(sample)
    assert isinstance(found, Relation)
    assert found.slope == pytest.approx(fit.params[0], rel=1e-9)
    cells = sample.frame * 100 + sample.tester
    refitted = {}
    for name, group in (("frames", sample.frame), ("testers", sample.tester), ("cells", cells)):
        refitted[name] = [without_group(sample, design, group == one) for one in np.unique(group)]
    assert found.frames.slopes == pytest.approx(refitted["frames"], rel=1e-9)
    assert found.without_tester.slopes == pytest.approx(refitted["testers"], rel=1e-9)
    variances = {
        name: Variance((len(b) - 1) / len(b) * sum((one - fit.params[0]) ** 2 for one in b), len(b))
        for name, b in refitted.items()
    }
    assert found.testers.u_slope == pytest.approx(math.sqrt(variances["frames"].value), rel=1e-9)
    assert found.testers.degrees == variances["frames"].groups - 1
    beyond = max(variances["testers"].value - variances["cells"].value, 0.0)
    assert found.players.u_slope == pytest.approx(math.sqrt(variances["frames"].value + beyond), rel=1e-9)
    t = fit.tvalues[0]
    assert found.partial_correlation == pytest.approx(t / math.sqrt(t * t + fit.df_resid), rel=1e-9)


def without_group(sample, design, group):
    """The slope without a group, refitted; a tester may leave with it."""
    kept = design[~group][:, np.any(design[~group] != 0, axis=0)]
    return OLS(sample.outcome[~group], kept).fit().params[0]


# By hand, Satterthwaite's formula: (V + E)² / (V²/(G − 1) + T²/(H − 1)), with E what T has beyond C, at least the smaller.
TWO_WAYS = [
    ((4.0, 11), (1.0, 5), (2.0, 50), 2.0, 16 / (16 / 10 + 1 / 4)),
    ((4.0, 11), (6.0, 5), (1.0, 50), 3.0, 81 / (16 / 10 + 36 / 4)),
    ((0.1, 21), (9.1, 4), (0.2, 50), 3.0, 3.0),  # 2.93 by the formula, and at least testers − 1
    ((0.0, 21), (0.0, 4), (0.0, 50), 0.0, 3.0),
]


@pytest.mark.parametrize(("frames", "testers", "cells", "u", "degrees"), TWO_WAYS)
def test_two_ways_by_hand(frames, testers, cells, u, degrees):
    assert two_way(Variance(*frames), Variance(*testers), Variance(*cells)) == pytest.approx((u, degrees))


def test_cr3_is_a_little_wider_than_statsmodels_own_cluster_covariance():
    """CR1 of many clusters of like size tends to the jackknife from below (MacKinnon, Nielsen & Webb 2023, section 4)."""
    ratios = []
    for seed in range(12):
        sample = drawn(100 + seed, rows=1200, frames=60)
        fit = OLS(sample.outcome, dummies(sample)).fit(cov_type="cluster", cov_kwds={"groups": sample.frame})
        found = relate(sample)
        assert isinstance(found, Relation)
        ratios.append(found.testers.u_slope / fit.bse[0])
    assert 1.0 < np.mean(ratios) < 1.1


# Student's t: two-sided 95 % points, NIST/SEMATECH e-Handbook 1.3.6.7.2 (upper 0.975).
@pytest.mark.parametrize(("degrees", "point"), [(1, 12.706), (7, 2.365), (10, 2.228), (30, 2.042), (100, 1.984)])
def test_students_t(degrees, point):
    assert student_quantile(0.95, degrees) == pytest.approx(point, abs=5e-4)
    assert student_two_sided(point, 1.0, degrees) == pytest.approx(0.05, abs=2e-4)
    assert student_two_sided(-point, 1.0, degrees) == pytest.approx(0.05, abs=2e-4)


def test_words_are_held_level_by_level():
    assert indicators(np.array([2, 0, 2, 1])).tolist() == [[0, 1], [0, 0], [0, 1], [1, 0]]


def change(sample, **columns):
    return sample._replace(**columns)


def few_frames(count, held=0):
    sample = drawn(1, held=held)
    return Sample(*(column[sample.frame < count] for column in sample[:5]))


def on_one_frame():
    """Only one frame's copies differ in the trait, apart from what does not vary within testers."""
    sample = drawn(3, held=0)
    return change(sample, trait=np.where(sample.frame == 5, sample.trait, 100.0))


REFUSED = [
    (few_frames(7), "too few frames: 7, and at least 8"),
    (few_frames(9, held=1), "too few frames: 9, and at least 10"),
    (change(drawn(1), tester=drawn(1).frame % 2), "too few testers: 2"),
    (change(drawn(1), trait=drawn(1).tester * 2.0), "the trait does not vary"),
    (change(drawn(1), outcome=np.ones(260)), "the outcome does not vary"),
    (change(drawn(1), given=drawn(1).tester[:, None] * 1.0), "follows from the testers"),
    (change(drawn(1), given=np.column_stack([drawn(1).given, drawn(1).given.sum(axis=1)])), "follows from the testers"),
    (change(drawn(1), given=drawn(1).trait[:, None] * 3.0 + 1.0), "the trait follows from what is held"),
    (on_one_frame(), "rests on one frame"),
]


@pytest.mark.parametrize(("sample", "reason"), REFUSED, ids=[case[1] for case in REFUSED])
def test_no_figure_where_there_can_be_none(sample, reason):
    found = relate(sample)
    assert isinstance(found, Shortfall)
    assert reason in found.reason


def test_just_enough_is_enough():
    assert isinstance(relate(few_frames(8)), Relation)
    assert isinstance(relate(few_frames(10, held=1)), Relation)


def test_units_scale():
    """A trait in tenths of its unit has ten times less slope; nothing else changes."""
    sample = drawn(2)
    whole, tenth = relate(sample), relate(change(sample, trait=10.0 * sample.trait))
    assert isinstance(whole, Relation)
    assert isinstance(tenth, Relation)
    assert [10 * one for one in tenth.players[:4]] == pytest.approx(list(whole.players[:4]), rel=1e-9)
    assert (tenth.players.p, tenth.partial_correlation, tenth.curvature) == pytest.approx(
        (whole.players.p, whole.partial_correlation, whole.curvature), rel=1e-6
    )
