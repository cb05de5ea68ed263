"""Density, openness and open area as ISO 9044 counts them for woven wire cloth: the same geometry as a string bed."""

from __future__ import annotations

import math

import numpy as np
import pytest

from gapbook.science.scores import NAMES, log_scores
from gapbook.science.uncertainty import QUANTITIES
from small import even

SIX = 5.1e-6
"""Rounding to six significant digits, relative."""

# Wire-cloth tables in inches: meshes an inch, wire, opening, open area in percent. From memory of trade handbook tables
# (the 4-mesh row also stands in a published wire-mesh glossary).
CLOTH = [(4, 0.063, 0.187, 56.0), (8, 0.028, 0.097, 60.2), (10, 0.025, 0.075, 56.3), (20, 0.016, 0.034, 46.2)]


def scored(mains: int = 16, crosses: int = 19, **quantities: float) -> dict[str, float]:
    """Scores of one bed; every pitch not named is 12 mm, the head 250 mm by 330 mm."""
    sizes = dict.fromkeys(QUANTITIES, 12.0) | {"width": 250.0, "length": 330.0} | quantities
    logs = np.log([[sizes[name] for name in QUANTITIES]])
    return dict(zip(NAMES, np.exp(log_scores(logs, np.array([mains]), np.array([crosses])))[0], strict=True))


@pytest.mark.parametrize(("mesh", "wire", "opening", "percent"), CLOTH)
def test_density_is_that_of_the_cloth(mesh, wire, opening, percent):
    pitch = 25.4 / mesh
    density = scored(main_centre=pitch, cross_centre=pitch)["density_centre_per_cm2"]
    # ISO 9044: apertures per cm² = (10/p)², p = w + d in mm; a square inch is 6.4516 cm² and has mesh² of them.
    assert density == pytest.approx((10.0 / (25.4 * (opening + wire))) ** 2, rel=1e-9)
    assert density == pytest.approx(mesh**2 / 6.4516, rel=1e-9)


@pytest.mark.parametrize(("mesh", "wire", "opening", "percent"), CLOTH)
def test_open_area_is_that_of_the_cloth(mesh, wire, opening, percent):
    # The cloth magnified to a pitch of 5.5 mm: 30 strings by 40 of the gauge that then goes with it.
    gauge = 5.5 * wire * mesh
    row = even(5.5, 5.5, 30, 40, f"{gauge:.6f}").bed()
    # ISO 9044: open screening area = 100·(w/p)²; the table rounds to 0.1.
    assert 100.0 * row["open_area_centre"] == pytest.approx(100.0 * (opening * mesh) ** 2, abs=1e-3)
    assert 100.0 * row["open_area_centre"] == pytest.approx(percent, abs=0.051)


def test_an_oblong_mesh():
    # By hand: 10.7 mm by 11.7 mm, string 1.30 mm: √(10.7·11.7) = 11.188834 mm, 0.798786 apertures a cm²,
    # (1 - 1.3/10.7)(1 - 1.3/11.7) = 0.780893 open.
    row = even(10.7, 11.7, gauge="1.30").bed()
    assert row["openness_centre"] == pytest.approx(111.88834, rel=SIX)
    assert row["density_centre_per_cm2"] == pytest.approx(0.798786, rel=SIX)
    assert row["open_area_centre"] == pytest.approx(0.780893, rel=SIX)


def test_without_a_gauge_there_is_no_open_area():
    assert even(gauge="").bed()["open_area_centre"] is None


@pytest.mark.parametrize("pitch", [8.5, 10.0, 13.2])
def test_openness_100_is_a_10_mm_mesh(pitch):
    found = scored(main_centre=pitch, cross_centre=pitch)
    # Definition: O = 10·mesh = 100/√D.
    assert found["openness_centre"] == pytest.approx(10.0 * pitch)
    assert found["openness_centre"] == pytest.approx(100.0 / math.sqrt(found["density_centre_per_cm2"]))


def test_sides_uniformity_and_drilling_by_hand():
    found = scored(
        main_centre=10.0, main_left=14.4, main_right=10.0, main_tip=9.0, main_throat=12.5,
        cross_centre=12.1, cross_tip=16.0, cross_throat=8.0, width=240.0, length=342.0,
    )  # fmt: skip
    # O: centre 10·√121 = 110; left 10·√174.24 = 132; right 110; tip 10·√144 = 120; throat 10·√100 = 100.
    outer = {"centre": 110.0, "left": 132.0, "right": 110.0, "tip": 120.0, "throat": 100.0}
    for zone, openness in outer.items():
        assert found[f"openness_{zone}"] == pytest.approx(openness)
    assert found["openness_sides"] == pytest.approx(math.sqrt(132.0 * 110.0))
    assert found["side_opening"] == pytest.approx(math.sqrt(1.2))  # ln(1 + side opening) is what is kept
    # Densities over the centre's: 121·10/(14.4·12.1·10) = 0.694444, 1, 121/144, 121/100.
    for zone, ratio in {"left": 1 / 1.44, "right": 1.0, "tip": 121 / 144, "throat": 1.21}.items():
        assert found[f"uniformity_{zone}"] == pytest.approx(ratio)
    # Even drilling: 240/16 = 15 mm by 342/19 = 18 mm.
    assert found["openness_even"] == pytest.approx(10.0 * math.sqrt(270.0))
    assert found["drilling_main"] == pytest.approx(10.0 / 15.0)
    assert found["drilling_cross"] == pytest.approx(12.1 / 18.0)


def test_uniformity_is_that_of_the_densest_outer_zone():
    # Mains 12 mm but for the six right ones, 11 mm apart; gaps 1-9 of 12 and 10-15 of 11: 174 mm, origin at 87.
    small = even()
    small.tables["spacings"].clear()
    small.run("one-a", "main", [12.0] * 9 + [11.0] * 6)
    small.run("one-a", "cross", [12.0] * 18)
    row = small.bed()
    # String 10 lies at 108 - 87 = 21: the right window, 26.5 … 87, has 11 mm gaps only, the left one 12 mm only;
    # the centre 54.5 mm of twelves and 12.5 mm of elevens: 54.5/12 + 12.5/11 = 5.678030 gaps in 67 mm.
    centre = 67.0 / 5.678030
    assert row["main_pitch_centre_mm"] == pytest.approx(centre, rel=SIX)
    assert (row["main_pitch_left_mm"], row["main_pitch_right_mm"]) == pytest.approx((12.0, 11.0))
    assert row["uniformity"] == pytest.approx(centre / 11.0, rel=2 * SIX)
    assert row["side_opening"] == pytest.approx(math.sqrt(math.sqrt(132.0) / centre) - 1, abs=3e-6)
