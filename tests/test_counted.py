"""Frames nobody has measured: the regression against a certified data set, scipy and numpy; what is learned of the demo."""

from __future__ import annotations

import datetime
import inspect
import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import beta
from scipy.stats import linregress, norm, t

from demo_rows import derived
from gapbook.science import scores
from small import Small

# NIST StRD, Norris: y then x, and the certified intercept, slope and residual standard deviation. From memory; exact
# rational arithmetic on the data gives the certified figures to all digits.
NORRIS = """
0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9 777.0
559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1
998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0
10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5
"""
CERTIFIED = (-0.262323073774029, 1.00211681802045, 0.884796396144373)

PATTERNS = [(16, 19), (18, 20), (16, 18), (14, 18), (16, 20), (18, 19), (16, 15), (20, 21), (16, 19), (18, 20)]


def fitted(x: np.ndarray, y: np.ndarray, area: float | np.ndarray = 1.0) -> scores.CountedLine:
    """The line through ln(mains·crosses) = x and ln O - ½·ln(area) = y."""
    area = np.broadcast_to(np.asarray(area, dtype=float), x.shape)
    return scores.fit_counted(np.exp(y) * np.sqrt(area), area, np.exp(x), np.ones(x.shape))


def test_norris():
    numbers = np.array(NORRIS.split(), dtype=float)
    y, x = numbers[::2], numbers[1::2]
    line = fitted(x / 100.0, y / 100.0)  # within what an exponential can hold
    assert line.frames == 36
    assert line.intercept * 100.0 == pytest.approx(CERTIFIED[0], rel=1e-10)
    assert line.slope == pytest.approx(CERTIFIED[1], rel=1e-12)
    assert line.residual * 100.0 == pytest.approx(CERTIFIED[2], rel=1e-10)


@given(st.lists(st.floats(-0.15, 0.15), min_size=8, max_size=10), st.floats(500.0, 800.0), st.integers(200, 450))
def test_the_line_is_scipys_and_the_prediction_numpys(noise, area, strings):
    patterns = PATTERNS[: len(noise)]
    mains, crosses = np.array(patterns).T
    areas = np.linspace(560.0, 710.0, len(noise))
    x = np.log(mains * crosses)
    y = 4.6 - 0.54 * x + np.array(noise)
    line = scores.fit_counted(np.exp(y) * np.sqrt(areas), areas, mains, crosses)
    wanted = linregress(x, y)
    assert (line.intercept, line.slope) == pytest.approx((wanted.intercept, wanted.slope), rel=1e-8, abs=1e-8)
    value, u = scores.estimate_counted(line, np.array([area]), np.array([strings]), np.array([1]))
    # Draper & Smith, ch. 1, in matrix form: s²(1 + x'(X'X)⁻¹x), by numpy.
    design = np.column_stack([np.ones(len(x)), x])
    coefficients = np.linalg.lstsq(design, y)[0]
    s2 = np.sum((y - design @ coefficients) ** 2) / (len(x) - 2)
    at = np.array([1.0, math.log(strings)])
    assert value[0] == pytest.approx(at @ coefficients + 0.5 * math.log(area), abs=1e-8)
    # By definition it counts with Student's t, and is never below 2 %.
    wider = t.ppf(0.975, len(x) - 2) / norm.ppf(0.975)
    predicted = wider * math.sqrt(s2 * (1 + at @ np.linalg.inv(design.T @ design) @ at))
    assert u[0] == pytest.approx(max(predicted, 0.02), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("frames", [0, 1, 7])
def test_below_eight_frames_the_demo_speaks(frames):
    mains, crosses = np.array(PATTERNS[:frames], dtype=int).reshape(-1, 2).T
    line = scores.fit_counted(np.full(frames, 110.0), np.full(frames, 632.3), mains, crosses)
    value, u = scores.estimate_counted(line, np.array([600.0, 700.0]), np.array([14, 20]), np.array([16, 21]))
    # Definition: u = 6 %, everywhere; larger heads more open, with the root of the area.
    assert list(u) == [0.06, 0.06]
    again, _ = scores.estimate_counted(line, np.array([1200.0, 1400.0]), np.array([14, 20]), np.array([16, 21]))
    assert again - value == pytest.approx([0.5 * math.log(2)] * 2)


def test_eight_frames_speak_for_themselves():
    mains, crosses = np.array(PATTERNS[:8]).T
    line = scores.fit_counted(np.full(8, 110.0), np.full(8, 632.3), mains, crosses)
    # All alike: a flat line without scatter.
    assert line.frames == 8
    assert (line.slope, line.residual) == pytest.approx((0.0, 0.0), abs=1e-12)


def test_frames_of_one_pattern_tell_no_slope():
    line = scores.fit_counted(np.linspace(100.0, 120.0, 9), np.full(9, 632.3), np.full(9, 16), np.full(9, 19))
    assert line.frames == 0


def package_of(frames: int) -> Small:
    """Measured frames of even beds, and `nobody`, 17x19 on 640 cm2, that nobody read."""
    small = Small()
    for number, (mains, crosses) in enumerate(PATTERNS[:frames]):
        small.frame(f"f-{number}", mains, crosses, 600 + 10 * number)
        small.copy(f"f-{number}-a", f"f-{number}")
        small.run(f"f-{number}-a", "main", [round(190 / mains + 0.1 * (number % 3), 2)] * (mains - 1))
        small.run(f"f-{number}-a", "cross", [round(235 / crosses, 2)] * (crosses - 1))
    small.frame("nobody", 17, 19, 640)
    return small


def test_a_counted_frame_in_the_table():
    rows = package_of(9).derived()["scores"]
    row = rows.pop("nobody")
    assert (row["basis"], row["specimens"], row["head_area_cm2"]) == ("counted", 0, 640.0)
    x = [math.log(one["mains"] * one["crosses"]) for one in rows.values()]
    y = [math.log(one["openness_centre"]) - 0.5 * math.log(one["head_area_cm2"]) for one in rows.values()]
    line = linregress(x, y)
    ln_o = line.intercept + line.slope * math.log(17 * 19) + 0.5 * math.log(640)
    assert row["openness_centre"] == pytest.approx(math.exp(ln_o), rel=2e-5)
    assert row["density_centre_per_cm2"] == pytest.approx(1e4 / row["openness_centre"] ** 2, rel=2e-5)
    relative = row["u_openness_centre"] / row["openness_centre"]
    assert row["u_density_centre_per_cm2"] / row["density_centre_per_cm2"] == pytest.approx(2 * relative, rel=2e-5)
    # A superellipse of 640 cm² and of exponent 2.1: W·L = 64000/k. Half of ln W·L is wrong by half of ln k, for an exponent
    # 0.15 off (half the difference to both sides), and by half of 1 % of the area; not by the aspect.
    k = {n: beta(1 / n, 1 / n) / (2 * n) for n in (1.95, 2.1, 2.25)}
    assert row["openness_even"] == pytest.approx(10 * math.sqrt(64_000 / k[2.1] / (17 * 19)), rel=6e-6)
    relative = math.hypot(math.log(k[2.25] / k[1.95]) / 4, 0.005)
    assert row["u_openness_even"] / row["openness_even"] == pytest.approx(relative, rel=2e-5)
    kept = ("openness_centre", "density_centre_per_cm2", "openness_even")
    blank = [name for name in row if f"u_{name}" in row and name not in kept]
    assert len(blank) == 9
    assert all(row[name] is None and row[f"u_{name}"] is None for name in blank)


def test_a_counted_frame_among_too_few_measured_ones():
    row = package_of(7).derived()["scores"]["nobody"]
    assert row["u_openness_centre"] / row["openness_centre"] == pytest.approx(0.06, rel=2e-5)


# What is kept beside the code


def test_the_learned_line_is_that_of_the_demo():
    measured = [row for row in derived("scores").values() if row["basis"] == "measured"]
    x = np.log([int(row["mains"]) * int(row["crosses"]) for row in measured])
    y = np.log([float(row["openness_centre"]) / math.sqrt(float(row["head_area_cm2"])) for row in measured])
    line = linregress(x, y)
    usual = np.log([m * c for m, c in PATTERNS])
    learned = scores.LEARNED.intercept + scores.LEARNED.slope * usual
    assert learned == pytest.approx(line.intercept + line.slope * usual, abs=0.01), (
        f"the demo now gives intercept={line.intercept:.4f}, slope={line.slope:.4f}: write them, with the date, into "
        "gapbook/science/scores.py"
    )
    assert scores.LEARNED.residual == 0.06


def test_the_learned_line_is_dated():
    (day,) = re.findall(r"Learned on\s+(\d{4}-\d{2}-\d{2})", inspect.getsource(scores))
    assert datetime.date.fromisoformat(day) >= datetime.date(2026, 11, 25)
