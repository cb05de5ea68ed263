"""Two beds compared: probabilities against scipy, the parts of a difference by hand, on their own, and adding up."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from demo_rows import derived
from gapbook.science.comparison import Build, Difference, Figure, build_from_even, difference, why

openness = st.floats(80.0, 170.0)
spread = st.floats(0.05, 8.0)
factor = st.builds(Figure, st.floats(0.4, 1.4), st.floats(0.001, 0.05))


@given(openness, spread, openness, spread)
def test_probability_is_scipys(a, u_a, b, u_b):
    found = difference(Figure(a, u_a), Figure(b, u_b))
    # Definition: δ = ln(A/B), u_δ² = (u_A/A)² + (u_B/B)², P(A tighter) = Φ(-δ/u_δ).
    delta, u = math.log(a) - math.log(b), math.sqrt((u_a / a) ** 2 + (u_b / b) ** 2)
    assert found.log == pytest.approx(delta, abs=1e-12)
    assert found.u == pytest.approx(u, rel=1e-12)
    assert found.tighter == pytest.approx(norm.cdf(-delta / u), rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(
    ("log", "u", "confidence", "verdict"),
    [
        # Φ(1.6449) = 0.95, Φ(1.2816) = 0.90, Φ(2.3263) = 0.99 (any table of the normal distribution).
        (-1.65, 1.0, 0.95, "tighter"),
        (-1.64, 1.0, 0.95, "too close to call"),
        (1.64, 1.0, 0.95, "too close to call"),
        (1.65, 1.0, 0.95, "more open"),
        (-0.0129, 0.01, 0.90, "tighter"),
        (-0.0128, 0.01, 0.90, "too close to call"),
        (0.0233, 0.01, 0.99, "more open"),
        (0.0232, 0.01, 0.99, "too close to call"),
        (0.0, 0.02, 0.95, "too close to call"),
        (-1e-9, 0.0, 0.95, "tighter"),
        (1e-9, 0.0, 0.95, "more open"),
        (0.0, 0.0, 0.95, "too close to call"),
    ],
)
def test_verdicts(log, u, confidence, verdict):
    assert Difference(log, u).verdict(confidence) == verdict


def test_a_difference_in_percent():
    # 105 against 100, u of 1 % and 2 %: 5 % more open, u = 1.05·√5 % = 2.348 %.
    found = difference(Figure(105.0, 1.05), Figure(100.0, 2.0))
    assert (found.percent, found.u_percent) == pytest.approx((5.0, 2.34787), rel=1e-5)


@given(openness, spread, openness, spread, st.floats(0.51, 0.999))
def test_a_verdict_turned_round_is_the_opposite(a, u_a, b, u_b, confidence):
    one, other = difference(Figure(a, u_a), Figure(b, u_b)), difference(Figure(b, u_b), Figure(a, u_a))
    assert other.log == pytest.approx(-one.log, abs=1e-12)
    assert one.tighter + other.tighter == pytest.approx(1.0, abs=1e-12)
    opposite = {"tighter": "more open", "more open": "tighter", "too close to call": "too close to call"}
    assert other.verdict(confidence) == opposite[one.verdict(confidence)]


# Why two beds differ

A = Build(250.0 * 340.0, 0.002, 16, 19, Figure(0.70, 0.007), Figure(0.68, 0.0136), Figure(1.20, 0.006))
B = Build(240.0 * 330.0, 0.0015, 18, 20, Figure(0.78, 0.0039), Figure(0.70, 0.007), Figure(1.10, 0.011))


def test_the_parts_by_hand():
    found = why(A, B)
    # ½·ln(85000/79200) = 0.035338; -½·ln(304/360) = 0.084538; ½·ln(0.70·0.68/(0.78·0.70)) = -0.068601;
    # ln(1.2/1.1) = 0.087011: in percent. u: √(0.2² + 0.15²) = 0.25; nothing; ½√(1² + 2² + 0.5² + 1²) = 1.25;
    # √(0.5² + 1²) = 1.118034.
    assert (found.size.percent, found.size.u) == pytest.approx((3.5338, 0.25), abs=1e-4)
    assert (found.strings.percent, found.strings.u) == pytest.approx((8.4538, 0.0), abs=1e-4)
    assert (found.drilling.percent, found.drilling.u) == pytest.approx((-6.8601, 1.25), abs=1e-4)
    assert (found.zone.percent, found.zone.u) == pytest.approx((8.7011, 1.118034), abs=1e-4)


@pytest.mark.parametrize(
    ("changed", "moves"),
    [
        ({"area": 81_000.0}, "size"),
        ({"mains": 16, "crosses": 18}, "strings"),
        ({"crosses": 20}, "strings"),
        ({"drilling_main": Figure(0.8, 0.008)}, "drilling"),
        ({"drilling_cross": Figure(0.8, 0.008)}, "drilling"),
        ({"zone": Figure(1.3, 0.01)}, "zone"),
    ],
)
def test_each_part_is_worked_out_on_its_own(changed, moves):
    # The same two beds but for one thing: only its part moves.
    before, after = why(A, B), why(A._replace(**changed), B)
    for part in before._fields:
        assert (getattr(after, part) != getattr(before, part)) == (part == moves), part
    alone = why(A._replace(**changed), A)
    assert [part for part in alone._fields if abs(getattr(alone, part).percent) > 1e-9] == [moves]


@given(factor, factor, factor, factor, st.integers(12, 20), st.integers(14, 22), st.floats(6e4, 1e5))
def test_parts_turned_round_change_sign(dm_a, dc_a, dm_b, dc_b, mains, crosses, area):
    a = Build(area, 0.01, mains, crosses, dm_a, dc_a, Figure(1.1, 0.01))
    b = Build(8e4, 0.02, 16, 19, dm_b, dc_b, Figure(1.2, 0.01))
    for one, other in zip(why(a, b), why(b, a), strict=True):
        assert other.percent == pytest.approx(-one.percent, abs=1e-9)
        assert other.u == pytest.approx(one.u, rel=1e-12)


def test_without_a_measured_bed_there_is_no_drilling_and_no_zone():
    counted = A._replace(drilling_main=None, drilling_cross=None, zone=None)
    for one, other in ((counted, B), (B, counted)):
        found = why(one, other)
        assert (found.drilling, found.zone) == (None, None)
        assert found.size.percent == pytest.approx(3.5338 if one is counted else -3.5338, abs=1e-4)
    assert why(A._replace(drilling_cross=None), B).drilling is None


def test_a_size_read_back_from_even_openness():
    # 250 mm by 340 mm, 16x19: 10·√(85000/304) = 167.2140; u of 0.5 is 0.299 %.
    found = build_from_even(Figure(167.2140, 0.5), 16, 19, (None, None), None)
    assert found.area == pytest.approx(85_000.0, rel=1e-6)
    assert found.u_half_area == pytest.approx(0.5 / 167.2140)
    assert (found.mains, found.crosses) == (16, 19)


# The demo's frames, taken from the derived table as text


def figure(row: dict[str, str], name: str) -> Figure:
    return Figure(float(row[name]), float(row[f"u_{name}"]))


def build(row: dict[str, str], zone: str) -> Build:
    centre, there = float(row["openness_centre"]), float(row[f"openness_{zone}"])
    return build_from_even(
        figure(row, "openness_even"),
        int(row["mains"]),
        int(row["crosses"]),
        (figure(row, "drilling_main"), figure(row, "drilling_cross")),
        None if zone == "centre" else Figure(there / centre, 0.01),
    )


@pytest.mark.parametrize("zone", ["centre", "left", "right", "sides", "tip", "throat"])
def test_the_parts_add_up_to_the_difference(zone):
    measured = [row for row in derived("scores").values() if row["basis"] == "measured"]
    pairs = list(combinations(measured, 2))
    assert len(pairs) > 1_000
    for a, b in pairs:
        parts = why(build(a, zone), build(b, zone))
        total = sum(part.percent for part in parts if part is not None)
        whole = 100.0 * math.log(float(a[f"openness_{zone}"]) / float(b[f"openness_{zone}"]))
        # Six significant digits each of ten figures: 5e-6 each at most, in percent 0.005 in all.
        assert total == pytest.approx(whole, abs=0.005), (a["frame_id"], b["frame_id"])
        assert (parts.zone is None) == (zone == "centre")
