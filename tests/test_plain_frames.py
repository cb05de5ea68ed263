"""Frames in the plain twin of derive: means, specimen spread and frames nobody measured, checked by hand and numpy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import beta

from bench import plain
from bench.plain_scores import Bed, Estimate
from bench.tiny import Package


def beds_of(frames, name, independent=0.01, instrument=0.004):
    """Beds with nothing but one estimate, from logs by frame."""
    variance = independent**2 + instrument**2
    return [Bed(f, {}, {name: Estimate(log, variance, {"cal": instrument})}) for f, logs in frames.items() for log in logs]


def scores_of_beds(beds):
    package = Package()
    for frame_id in dict.fromkeys(bed.frame_id for bed in beds):
        package.frame(frame_id, copies=())
    return {row["frame_id"]: row for row in plain.derive_scores(package.tables, beds)}


def test_a_frame_is_the_geometric_mean_of_its_specimens():
    row = scores_of_beds(beds_of({"one": [math.log(100), math.log(121)]}, "openness_centre"))["one"]
    assert (row["openness_centre"], row["specimens"], row["basis"]) == (pytest.approx(110.0), 2, "measured")
    # Hand: 0.01²/2 + 0.004² + s²·1.5. The two logs are ln 1.21 apart: squares of half that squared, less 0.01² of measurement,
    # with 5 of 1 %² over 6 degrees of freedom; t(0.975, 6) = 2.446912 (tables).
    s2 = (math.log(1.21) ** 2 / 2 - 1e-4 + 5e-4) / 6 * (2.446912 / 1.959964) ** 2
    assert row["u_openness_centre"] == pytest.approx(110 * math.sqrt(0.00005 + 0.000016 + 1.5 * s2))
    assert row["openness_tip"] is None
    assert row["u_openness_tip"] is None


def test_a_spread_that_is_not_known():
    # Hand: 0.01² + 0.004² + s²·2, s = 1 %, for uniformity 2 %.
    for name, s in (("openness_tip", 0.01), ("drilling_main", 0.01), ("uniformity", 0.02), ("side_opening", 0.01)):
        row = scores_of_beds(beds_of({"one": [0.0]}, name))["one"]
        assert row[f"u_{name}"] == pytest.approx(math.sqrt(0.0001 + 0.000016 + 2 * s**2)), name


@pytest.mark.parametrize(
    ("name", "s2"), [("openness_left", 0.0007), ("side_opening", 0.0007), ("density_centre_per_cm2", 0.0004)]
)
def test_specimen_spread_is_pooled_over_frames(name, s2):
    frames = {f"frame-{no}": [1.0 + no, 1.04 + no] for no in range(6)} | {"lone": [2.0]}
    found = scores_of_beds(beds_of(frames, name))["lone"]
    # Hand: six pairs 0.04 apart have squares 6·0.0008, less 6·½·2·0.01² of measurement: 6·0.0007, with 5·0.01² over 11; and
    # t(0.975, 11) = 2.200985 (tables). Density takes twice the spread of the centre's openness, not known here: 2 %.
    if name != "density_centre_per_cm2":
        s2 = (6 * s2 + 5e-4) / 11 * (2.200985 / 1.959964) ** 2
    assert found[f"u_{name}"] == pytest.approx(math.exp(2.0) * math.sqrt(0.01**2 + 0.004**2 + 2 * s2))
    assert found[name] == pytest.approx(math.exp(2.0) - (name == "side_opening"))


def counted_package(count):
    patterns = [(16, 19), (18, 20), (16, 20), (14, 18), (18, 19), (16, 18), (18, 18), (20, 20), (16, 21)][:count]
    package, beds = Package(), []
    for no, (mains, crosses) in enumerate(patterns):
        package.frame(f"frame-{no}", mains, crosses, area=600 + 10 * no)
        log = 7.4 - 0.52 * math.log(mains * crosses) + 0.5 * math.log(600 + 10 * no) + 0.01 * math.sin(5 * no)
        beds += [Bed(f"frame-{no}", {}, {"openness_centre": Estimate(log, 1e-4, {})})]
    package.frame("unmeasured", 17, 19, area=640)
    return patterns, beds, plain.derive_scores(package.tables, beds)[-1]


def test_a_frame_nobody_measured_is_predicted_by_regression():
    patterns, beds, row = counted_package(9)
    areas = 600 + 10 * np.arange(9)
    design = np.array([[1.0, math.log(m * c)] for m, c in patterns])
    y = np.array([bed.estimates["openness_centre"].log for bed in beds]) - np.log(areas) / 2
    coefficients, squares, *_ = np.linalg.lstsq(design, y)  # the matrix form, by numpy
    at = np.array([1.0, math.log(17 * 19)])
    u = math.sqrt(squares[0] / 7 * (1 + at @ np.linalg.inv(design.T @ design) @ at))
    u = max(u * 2.364624 / 1.959964, 0.02)  # t(0.975, 7), tables; never below 2 %
    centre = math.exp(at @ coefficients) * math.sqrt(640)
    assert (row["basis"], row["specimens"], row["openness_left"]) == ("counted", 0, None)
    assert (row["openness_centre"], row["u_openness_centre"]) == pytest.approx((centre, centre * u), rel=1e-8)
    assert row["density_centre_per_cm2"] == pytest.approx(10_000 / centre**2)
    assert row["u_density_centre_per_cm2"] == pytest.approx(10_000 / centre**2 * 2 * u)
    k = {n: beta(1 / n, 1 / n) / (2 * n) for n in (1.95, 2.1, 2.25)}
    assert row["openness_even"] == pytest.approx(10 * math.sqrt(64_000 / k[2.1] / 323))
    assert row["u_openness_even"] == pytest.approx(row["openness_even"] * math.hypot(math.log(k[2.25] / k[1.95]) / 4, 0.005))


def test_seven_measured_frames_are_too_few_to_regress():
    _, _, row = counted_package(7)
    assert row["openness_centre"] is None
    assert row["openness_even"] is not None
