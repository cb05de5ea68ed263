"""Windows and pitches: against shapely, by hand, at the windows' edges, and gradients against finite differences."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely.geometry import box

from definitions import ACROSS, DOWN, ZONES
from gapbook.science import pitches, zones
from small import even

MIDDLES = sorted({*ACROSS.values(), *DOWN.values()})


def laid(*beds: list[float]) -> tuple[np.ndarray, np.ndarray]:
    """Positions [B, K] with string k in column k, padded with what must not matter, and the counts [B]."""
    counts = np.array([len(bed) for bed in beds])
    positions = np.full((len(beds), counts.max() + 2), 999.0)
    for row, bed in enumerate(beds):
        positions[row, 0] = bed[0] - 7.0
        positions[row, 1 : len(bed) + 1] = bed
        positions[row, len(bed) + 1] = bed[-1] + 7.0
    return positions, counts


def one(bed: list[float], middle: float) -> tuple[float, float]:
    found = pitches.pitch(*laid(bed), middle)
    return float(found.pitch[0]), float(found.coverage[0])


def by_shapely(bed: list[float], middle: float) -> tuple[float, float]:
    """N and the covered length: a gap is a box one high, its overlap the area it shares with the window's box."""
    window = box(middle - 33.5, 0.0, middle + 33.5, 1.0)
    gaps = list(pairwise(bed))
    overlaps = [box(low, 0.0, high, 1.0).intersection(window).area for low, high in gaps]
    return sum(overlap / (high - low) for overlap, (low, high) in zip(overlaps, gaps, strict=True)), sum(overlaps)


@st.composite
def beds(draw, fewest: int = 8) -> list[float]:
    """Positions of 8 to 22 strings, 4 to 18 mm apart, roughly about the middle."""
    gaps = draw(st.lists(st.floats(4.0, 18.0), min_size=fewest - 1, max_size=21))
    start = -sum(gaps) / 2 + draw(st.floats(-15.0, 15.0))
    return [start + sum(gaps[:k]) for k in range(len(gaps) + 1)]


def test_a_window_is_one_ball_wide():
    # ITF Rules of Tennis, Appendix I: a Type 2 ball is 65.4 to 68.6 mm across.
    assert abs(zones.BALL_MM - (65.4 + 68.6) / 2) < 1e-12


def test_windows_lie_where_they_are_defined():
    # Definition: left and right at x = ∓60; tip and throat at y = ±80; crosses run from the tip.
    assert zones.ZONES == ZONES
    for number, zone in enumerate(ZONES):
        main, cross = zones.MAIN_WINDOWS[number], zones.CROSS_WINDOWS[zones.CROSS_OF_ZONE[number]]
        assert (main.middle, zones.HEIGHTS[main.height]) == (ACROSS[zone], {"tip": 80, "throat": -80}.get(zone, 0))
        assert (cross.middle, zones.HEIGHTS[cross.height]) == (DOWN[zone], 0)


def test_a_count_worked_by_hand():
    strings = [-50.0, -40.0, -30.0, -18.0, -6.0, 6.0, 18.0, 31.0, 44.0, 57.0]
    # Window -33.5 … 33.5: 3.5/10 + 12/12 ·4 + 13/13 + 2.5/13 = 0.35 + 4 + 1 + 0.192308 = 5.542308 gaps in 67 mm.
    assert one(strings, 0.0) == pytest.approx((67.0 / 5.542308, 1.0), rel=1e-7)
    # Window 26.5 … 93.5: 4.5/13 + 1 + 1 gaps in 57 - 26.5 = 30.5 mm, 13 mm a gap.
    assert one(strings, 60.0) == pytest.approx((13.0, 30.5 / 67.0), rel=1e-12)
    # Window -113.5 … -46.5: 3.5/10 of a gap in 3.5 mm.
    assert one(strings, -80.0) == pytest.approx((10.0, 3.5 / 67.0), rel=1e-8)


@given(st.lists(beds(), min_size=1, max_size=4), st.sampled_from(MIDDLES))
def test_pitch_and_coverage_are_what_shapely_finds(some, middle):
    found = pitches.pitch(*laid(*some), middle)
    for row, bed in enumerate(some):
        count, covered = by_shapely(bed, middle)
        assert found.coverage[row] == pytest.approx(covered / 67.0, abs=1e-9)
        if covered > 1e-6:
            assert found.pitch[row] == pytest.approx(covered / count, rel=1e-7)
            assert 67.0 * found.coverage[row] / found.pitch[row] == pytest.approx(count, rel=1e-7)


def test_where_the_strings_do_not_reach_there_is_no_pitch():
    for middle in (-60.0, 60.0):
        pitch, coverage = one([-20.0, -10.0, 0.0, 10.0, 20.0], middle)
        assert np.isnan(pitch)
        assert coverage == 0.0


@given(beds(), st.sampled_from(MIDDLES), st.sampled_from([-33.5, 33.5]), st.integers(0, 21))
def test_a_string_that_crosses_a_windows_edge_makes_no_jump(bed, middle, edge, number):
    # String by string placed on the edge and moved by ±ε: a count of whole strings would jump by one in six or so.
    at, step = bed[number % len(bed)], 1e-7
    moved = [[x - at + middle + edge + way * step for x in bed] for way in (-1.0, 0.0, 1.0)]
    found = pitches.pitch(*laid(*moved), middle)
    assume(found.coverage.min() > 0.2)
    # |dp/dx| ≤ p·(1/covered + 2/(N·gap)) ≤ 18·(1/13 + 2/(0.7·4)) < 15 for these beds.
    assert np.ptp(found.pitch) < 15 * 2 * step
    assert np.ptp(found.coverage) <= 2.1 * step / 67.0


@given(beds(), st.sampled_from(MIDDLES))
def test_gradients_are_finite_differences(bed, middle):
    edges = np.array([middle - 33.5, middle + 33.5])
    assume(np.min(np.abs(np.subtract.outer(bed, edges))) > 1e-3)
    assume(by_shapely(bed, middle)[1] > 5.0)
    step = 1e-5
    analytic = pitches.pitch(*laid(bed), middle).gradient[0]
    assert analytic[0] == analytic[len(bed) + 1] == 0.0
    for k in range(len(bed)):
        up, down = list(bed), list(bed)
        up[k] += step
        down[k] -= step
        slope = (np.log(one(up, middle)[0]) - np.log(one(down, middle)[0])) / (2 * step)
        assert analytic[k + 1] == pytest.approx(slope, abs=1e-7)


@given(beds(fewest=16))
def test_gradients_do_not_depend_on_where_the_ruler_lies(bed):
    # With both ends of the window inside, moving everything with the window changes nothing: the slope along the bed
    # equals minus that by the window's middle, found by differences.
    assume(bed[0] < -34.0)
    assume(bed[-1] > 34.0)
    assume(np.min(np.abs(np.abs(bed) - 33.5)) > 1e-3)
    step = 1e-5
    slope = (np.log(one(bed, step)[0]) - np.log(one(bed, -step)[0])) / (2 * step)
    assert pitches.pitch(*laid(bed), 0.0).gradient.sum() == pytest.approx(-slope, abs=1e-7)


@pytest.mark.parametrize(("gap", "blank"), [(10.69, False), (10.67, True)])
def test_a_side_is_blank_below_four_fifths(gap, blank):
    # 16 mains reach 7.5 gaps: the side window, from 26.5 mm, is covered for (7.5·gap - 26.5)/67 = 0.8 at 10.68 mm.
    row = even(main=gap).bed()
    assert row["coverage_left"] == row["coverage_right"] == pytest.approx((7.5 * gap - 26.5) / 67.0, abs=1e-6)
    for name in ("main_pitch_left_mm", "cross_pitch_right_mm", "openness_left", "u_openness_right", "openness_sides"):
        assert (row[name] is None) == blank, name
    assert (row["side_opening"] is None, row["uniformity"] is None) == (blank, blank)
    assert row["openness_centre"] == pytest.approx(10 * (gap * 12.5) ** 0.5, rel=1e-5)


@pytest.mark.parametrize(("gap", "blank"), [(11.2, False), (11.1, True)])
def test_an_end_is_blank_below_four_fifths_of_either_family(gap, blank):
    # 19 crosses reach 9 gaps: the tip window, from 46.5 mm, is covered for (9·gap - 46.5)/67 = 0.8 at 11.122 mm;
    # mains of 12.5 mm cover all of it.
    row = even(cross=gap).bed()
    assert row["coverage_tip"] == row["coverage_throat"] == pytest.approx((9 * gap - 46.5) / 67.0, abs=1e-6)
    for name in ("main_pitch_tip_mm", "cross_pitch_throat_mm", "openness_tip", "uniformity"):
        assert (row[name] is None) == blank, name
    assert row["openness_left"] is not None
