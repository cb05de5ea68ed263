"""The plain twin of derive, checked by hand arithmetic and finite differences."""

from __future__ import annotations

import csv
import json
import math
import random
import statistics
from pathlib import Path

import pytest
from scipy.special import gamma

from bench import plain
from bench.plain_bed import fractional_index, pitch
from bench.plain_scores import head_exponent
from bench.plain_tables import Spacings, instruments_of
from bench.tiny import Package, even, invented

SCHEMA = Path(__file__).parent.parent / "schema"


def factor(n):
    """Area of a superellipse over width times length."""
    return gamma(1 + 1 / n) ** 2 / gamma(1 + 2 / n)


K = factor(2.1)
U_EVEN = math.hypot(math.log(factor(2.25) / factor(1.95)) / 4, 0.005)
"""Of a head of declared area: half of what an exponent 0.15 off does to ln k, and half of 1 %; the aspect does nothing."""


def test_an_even_bed_has_its_spacing_for_pitch():
    row = even().bed().row
    for zone in ("centre", "left", "right", "tip", "throat"):
        assert row[f"main_pitch_{zone}_mm"] == pytest.approx(12.5, rel=1e-12)
        assert row[f"openness_{zone}"] == pytest.approx(125.0, rel=1e-12)
    # Hand: mains reach ±93.75, the left window -93.5; crosses reach ±112.5, the tip window 113.5.
    assert (row["coverage_left"], row["coverage_tip"]) == pytest.approx((1.0, 66 / 67))
    assert row["density_centre_per_cm2"] == pytest.approx(0.64)  # (10/12.5)², ISO 9044
    assert row["open_area_centre"] == pytest.approx(0.81)  # (1 - 1.25/12.5)²
    assert row["side_opening"] == pytest.approx(0.0, abs=1e-12)
    assert (row["uniformity"], row["openness_sides"], row["sessions"]) == pytest.approx((1.0, 125.0, 1))
    # Area alone: k·W·1.33 W = 62,000 mm² with k of a superellipse of exponent 2.1, so W·L = 62,000/k.
    assert row["head_width_mm"] == pytest.approx(math.sqrt(62_000 / K / 1.33))
    assert row["openness_even"] == pytest.approx(10 * math.sqrt(62_000 / K / 304))
    assert row["u_openness_even"] == pytest.approx(row["openness_even"] * U_EVEN)
    assert row["drilling_main"] == pytest.approx(12.5 * 16 / row["head_width_mm"])
    assert row["head_exponent"] == pytest.approx(2.1, abs=1e-8)


def test_main_and_cross_pitch_are_not_mixed_up():
    row = even(main=12.0, cross=13.0).bed().row
    assert (row["main_pitch_centre_mm"], row["cross_pitch_centre_mm"]) == pytest.approx((12.0, 13.0))
    assert row["openness_centre"] == pytest.approx(10 * math.sqrt(156))


def test_fractional_count_by_hand():
    strings = [-40.0, -20.0, -10.0, 0.0, 10.0, 30.0, 50.0]
    # Window -33.5 to 33.5: 13.5/20 + 1 + 1 + 1 + 1 + 3.5/20 = 4.85 gaps.
    assert fractional_index(strings, 33.5)[0] - fractional_index(strings, -33.5)[0] == pytest.approx(4.85)
    found = pitch(strings, 0.0)
    assert (math.exp(found.log), found.coverage) == pytest.approx((67 / 4.85, 1.0))
    # Window 6.5 to 73.5: 3.5/10 + 1 + 1 = 2.35 gaps over 43.5 mm.
    found = pitch(strings, 40.0)
    assert (math.exp(found.log), found.coverage) == pytest.approx((43.5 / 2.35, 43.5 / 67))
    assert pitch(strings, 120.0).coverage == 0.0


def test_crosses_are_numbered_from_the_tip():
    package = Package()
    package.frame("one")
    package.run("one-a", "main", [12.5] * 15)
    package.run("one-a", "cross", [14.0] * 9 + [11.0] * 9)
    row = package.bed().row
    # Hand: origin 112.5 below string 1, string 10 at y = -13.5; both windows lie within one spacing.
    assert (row["cross_pitch_tip_mm"], row["cross_pitch_throat_mm"]) == pytest.approx((14.0, 11.0))
    assert row["uniformity"] == pytest.approx(row["cross_pitch_centre_mm"] / 11.0)


@pytest.mark.parametrize("middle", [0.0, -60.0, 60.0, 85.0, -85.0])
def test_slopes_of_the_pitch_are_its_finite_differences(middle):
    rng = random.Random(4)
    strings = [(k - 7.5) * 11.3 + rng.uniform(-2, 2) for k in range(16)]
    found, step = pitch(strings, middle), 1e-6
    for k in range(16):
        logs = [pitch([x + d * (j == k) for j, x in enumerate(strings)], middle).log for d in (step, -step)]
        assert found.slopes.get(k, 0.0) == pytest.approx((logs[0] - logs[1]) / (2 * step), abs=1e-8)


def test_a_zone_that_is_not_covered_is_blank():
    row = even(main=9.0).bed().row  # mains reach 67.5 of 93.5: (67.5 - 26.5)/67 = 0.612
    assert row["coverage_left"] == pytest.approx(41 / 67)
    blank = ("main_pitch_left_mm", "cross_pitch_left_mm", "u_openness_left", "openness_sides", "side_opening")
    assert all(row[name] is None for name in (*blank, "uniformity", "u_uniformity"))
    assert row["openness_tip"] is not None


# ---- repeats, sessions, head --------------------------------------------------------------------------------------


def averaged(package):
    """The runs of the one specimen."""
    tables = package.tables
    spacings = Spacings(tables, instruments_of(tables))
    return spacings.averaged("one-a", {"main": 16, "cross": 19})


def test_repeats_of_gaps_are_averaged_and_give_the_repeatability():
    package = even()
    package.run("one-a", "main", [12.7] * 15, repeat=2)
    assert package.bed().row["main_pitch_centre_mm"] == pytest.approx(12.6)
    # Hand: 15 pairs 0.2 mm apart: squares 15·0.02 with 15 degrees of freedom, and 10 of 0.1² with the step of 0.01 mm; half for
    # a mean of two.
    main, cross = averaged(package)
    single = (0.3 + 10 * (0.01 + 0.0001 / 12)) / 25
    assert main.sigmas == pytest.approx([math.sqrt(single / 2)] * 15)
    assert cross.sigmas == pytest.approx([math.sqrt(single)] * 18)


def test_a_reading_is_no_better_than_its_resolution():
    package = even()
    for repeat in range(2, 40):
        package.run("one-a", "main", [12.5] * 15, repeat=repeat, instrument_id="rule")
    # Thirty-eight readings with a rule of 0.5 mm that agree: only the step is left, 0.5/√12 (JCGM 100:2008, F.2.2.1).
    assert averaged(package)[2].sigmas == pytest.approx([0.5 / math.sqrt(12)] * 15)


def test_repeats_of_marks_are_shifted_onto_the_first():
    package = Package()
    package.frame("one")
    rule = {"kind": "mark", "instrument_id": "rule"}
    marks = [12.5 * k for k in range(16)]
    package.run("one-a", "main", marks, repeat=2, **rule)
    package.run("one-a", "main", [7.0 + m + (0.5 if k % 2 else -0.5) for k, m in enumerate(marks)], repeat=5, **rule)
    package.run("one-a", "cross", [12.5] * 18)
    # Hand: 16 pairs, each 0.25 off its mean: squares 16·0.125 with 16 - 1 degrees of freedom, and 10 of 0.25² with the step of
    # 0.5 mm; a pair's mean half.
    main, cross = averaged(package)
    assert main.sigmas == pytest.approx([math.sqrt((2.0 + 10 * (0.0625 + 0.25 / 12)) / 25 / 2)] * 16)
    assert main.points[:2] == pytest.approx([-93.75 - 0.25, -81.25 + 0.25])
    assert cross.sigmas == pytest.approx([math.sqrt(0.01 + 0.0001 / 12)] * 18)  # callipers and gaps have no repeats


def test_an_instrument_errs_the_same_everywhere():
    # Hand: an offset adds to the pitch whole, and to mains and crosses alike; a stretch by e over the span, 187.5 mm.
    bed = even().bed()
    for name in ("main_pitch_centre_mm", "cross_pitch_tip_mm", "openness_centre"):
        assert bed.estimates[name].common["cal"] == pytest.approx(0.05 / math.sqrt(3) / 12.5)
        assert bed.estimates[name].common["ida with a calliper"] == pytest.approx(0.05 / 12.5)
    assert bed.estimates["side_opening"].common["cal"] == pytest.approx(0.0, abs=1e-10)
    package = Package()
    package.frame("one")
    package.run("one-a", "main", [12.5 * k for k in range(16)], kind="mark", instrument_id="rule")
    package.run("one-a", "cross", [12.5] * 18)
    common = package.bed().estimates["openness_centre"].common
    assert common["rule"] == pytest.approx(0.5 / math.sqrt(3) / 187.5 / 2)
    assert common["cal"] == pytest.approx(0.05 / math.sqrt(3) / 12.5 / 2)
    # The stretch that 0.05 mm on each of 15 gaps would give.
    assert common["ida with a rule"] == pytest.approx(15 * 0.05 / 187.5 / 2)
    assert common["ida with a calliper"] == pytest.approx(0.05 / 12.5 / 2)


def test_sessions_that_disagree_widen_the_uncertainty():
    package = even()
    for day, gap in (("2026-03-02", 15.5), ("2026-03-03", 14.0)):
        package.run("one-a", "main", [gap] * 15, taken_on=day)
    package.run("one-a", "cross", [12.5] * 18, taken_on="2026-03-02")
    row = package.bed().row
    assert row["sessions"] == 3
    logs = [math.log(gap) for gap in (12.5, 15.5, 14.0)]
    assert row["main_pitch_centre_mm"] == pytest.approx(14.0)
    assert row["u_main_pitch_centre_mm"] == pytest.approx(14 * statistics.stdev(logs) / math.sqrt(3))
    # Only two sessions read both families.
    spread = statistics.stdev([logs[0] / 2, logs[1] / 2]) / math.sqrt(2)
    assert row["u_openness_centre"] == pytest.approx(row["openness_centre"] * spread)
    assert row["u_openness_even"] == pytest.approx(row["openness_even"] * U_EVEN)


def test_stations_that_span_less_than_60_mm_tell_no_slope():
    package = even()
    package.run("one-a", "main", [12.6] * 15, station=5)
    package.frame("two")
    package.run("two-a", "main", [12.5] * 15)
    package.run("two-a", "main", [12.6] * 15, station=60)
    package.run("two-a", "cross", [12.5] * 18)
    close, far = plain.measured_beds(package.tables)
    for zone in ("centre", "tip", "throat"):
        assert close.row[f"main_pitch_{zone}_mm"] == pytest.approx(12.55)
    # By definition 1.5 % at a height 80 mm from where the strings were read, 2.5 mm above the middle.
    splay = {zone: close.estimates[f"main_pitch_{zone}_mm"].common["unknown splay"] for zone in ("centre", "tip", "throat")}
    assert splay == pytest.approx({"centre": -0.015 * 2.5 / 80, "tip": 0.015 * 77.5 / 80, "throat": -0.015 * 82.5 / 80})
    assert far.row["main_pitch_tip_mm"] == pytest.approx(12.5 + 0.1 * 80 / 60)
    assert "unknown splay" not in far.estimates["main_pitch_tip_mm"].common


def test_a_session_of_mains_alone_does_not_count_for_side_opening():
    package = even()
    package.run("one-a", "main", [20.0] * 5 + [12.5] * 5 + [20.0] * 5, taken_on="2026-03-02")
    row = package.bed().row
    # Were it to count, its own side opening, some 30 %, would give a spread of about 13 %.
    assert row["u_main_pitch_left_mm"] > 0.1 * row["main_pitch_left_mm"]
    assert row["u_side_opening"] < 0.05


def test_a_session_without_every_station_does_not_count_at_the_tip():
    package = even()
    for station in (0, 90):
        package.run("one-a", "main", [15.5] * 15, station=station, taken_on="2026-03-02")
    package.run("one-a", "cross", [12.5] * 18, taken_on="2026-03-02")
    row = package.bed().row
    spread = math.log(15.5 / 12.5) / 2  # sd of two values is their difference/√2, over √2
    assert row["u_openness_centre"] == pytest.approx(row["openness_centre"] * spread / 2)
    assert row["u_openness_tip"] < row["openness_tip"] * spread / 4
    # Line through 14 at 0 (the mean) and 15.5 at 90: 14 + 1.5·80/90 at the tip.
    assert row["main_pitch_tip_mm"] == pytest.approx(14 + 1.5 * 80 / 90)


def test_the_head_is_read_else_between_the_edges():
    package = Package()
    package.frame("one")
    package.run("one-a", "main", [30.0, *[12.5] * 15, 31.5], edges=True)
    package.run("one-a", "cross", [60.0, *[12.5] * 18, 62.0], edges=True)
    for more, value in (({}, 10), ({"repeat": 2}, 9.9), ({"taken_on": "2026-03-05"}, 9.85), ({"strung": "false"}, 9)):
        package.head("one-a", "head_width", value, unit="in", **more)
    package.head("one-a", "head_area", 98, unit="sq in")
    bed = package.bed()
    row = bed.row
    assert row["head_width_mm"] == pytest.approx((9.95 + 9.85) / 2 * 25.4)
    assert row["misclosure_main_mm"] == pytest.approx(249.0 - 9.9 * 25.4)
    assert (row["head_length_mm"], row["misclosure_cross_mm"]) == (pytest.approx(347.0), None)
    assert row["head_area_cm2"] == pytest.approx(98 * 6.4516)  # NIST SP 811
    # An offset e of the calliper adds e to the width read, and 20 e to the length, the sum of 20 gaps.
    offset = 0.05 / math.sqrt(3) * (1 / row["head_width_mm"] + 20 / 347.0) / 2
    assert bed.estimates["openness_even"].common["cal"] == pytest.approx(offset)
    # What ida adds to each of 20 gaps; the width was read directly.
    assert bed.estimates["openness_even"].common["ida with a calliper"] == pytest.approx(20 * 0.05 / 347.0 / 2)
    # Edge gaps of 30 and 31.5 put the origin 0.75 right of the middle string gap: mains reach -94.5 and 93.
    assert row["coverage_right"] == pytest.approx((93.0 - 26.5) / 67)


def test_head_exponent_solves_the_superellipse():
    n = 2.3
    area = 250 * 340 * gamma(1 + 1 / n) ** 2 / gamma(1 + 2 / n) / 100
    assert head_exponent(250.0, 340.0, area) == pytest.approx(n, abs=1e-9)
    assert head_exponent(250.0, 340.0, 850.0) == 2.1


def test_inches_and_millimetres_agree():
    package = even(main=12.7)
    inches = Package()
    inches.frame("one")
    inches.run("one-a", "main", [0.5] * 15, unit="in")
    inches.run("one-a", "cross", [12.5] * 18)
    assert inches.bed().row == pytest.approx(package.bed().row)


@pytest.mark.parametrize("values", [[12.5] * 14, [12.5] * 16, [12.5] * 18])
def test_an_incomplete_run_is_an_error(values):
    package = Package()
    package.frame("one")
    package.run("one-a", "main", values)
    with pytest.raises(ValueError, match="incomplete run of gaps"):
        package.bed()


# ---- frames -------------------------------------------------------------------------------------------------------


def test_derive_writes_the_columns_of_the_schemas(tmp_path):
    package = invented(30, seed=1)
    package.write(tmp_path)
    plain.derive(tmp_path, tmp_path)
    for name, count, unrounded in (
        ("beds", 30, plain.derive_beds(package.tables)),
        ("scores", 16, plain.derive_scores(package.tables)),
    ):
        with open(tmp_path / f"{name}.csv", newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        fields = json.loads((SCHEMA / f"{name}.json").read_text(encoding="utf-8"))["fields"]
        assert list(rows[0]) == list(unrounded[0]) == [field["name"] for field in fields]
        assert len(rows) == count
        for row, exact in zip(rows, unrounded, strict=True):
            for column, value in exact.items():
                if isinstance(value, float):
                    assert float(row[column]) == pytest.approx(value, rel=5.1e-6), column
                    assert row[column] == f"{float(row[column]):.6g}"
                else:
                    assert row[column] == ("" if value is None else str(value)), column
