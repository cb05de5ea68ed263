"""Mass, balance and swingweight: bodies of point masses summed up, rods, conversion to strung, and uncertainty."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import beta
from uncertainties import ufloat

from demo_rows import derived
from gapbook.science.mass_properties import OUTPUTS, Stated, as_strung, bed_centre, copies, inertia_about
from nets_made import demo_bed
from small import Small

MASS, BALANCE, POINTS, SWING, CENTRE, BUTT, PERCUSSION = range(7)
G_MM2 = 1e-5  # kg·cm² in a g·mm²


def stated(mass: float, balance: float, swing: float, strung: bool = True, u=(0.0, 0.0, 0.0)) -> Stated:
    return Stated(np.array([[mass, balance, swing]]), np.array([u], dtype=float), np.full((1, 3), strung))


def found(one: Stated, length: float = 685.0, centre: float = 512.0) -> tuple[np.ndarray, np.ndarray]:
    value, u = as_strung(one, np.array([length]), np.array([centre]))
    return value[0], u[0]


def test_outputs_stand_in_this_order():
    assert [name.split("_")[0] for name in OUTPUTS] == [
        "mass", "balance", "balance", "swingweight", "inertia", "inertia", "percussion",
    ]  # fmt: skip
    assert OUTPUTS[POINTS] == "balance_points"
    assert OUTPUTS[CENTRE] == "inertia_centre_kgcm2"


@pytest.mark.parametrize(("mass", "length"), [(300.0, 685.0), (250.0, 500.0)])
def test_a_uniform_rod(mass, length):
    # m·L²/12 about its middle, m·L²/3 about its end; about 10 cm from the end m·(L²/12 + (L/2 - 10 cm)²).
    rod = mass * length**2 / 12 * G_MM2
    swing = rod + mass * (length / 2 - 100.0) ** 2 * G_MM2
    value, _ = found(stated(mass, length / 2, swing), length)
    assert value[CENTRE] == pytest.approx(rod, rel=1e-12)
    assert value[BUTT] == pytest.approx(mass * length**2 / 3 * G_MM2, rel=1e-12)
    assert value[POINTS] == pytest.approx(0.0, abs=1e-12)
    # A rod held at its end has its centre of percussion at two thirds of its length (textbook).
    assert value[PERCUSSION] == pytest.approx(2 * length / 3, rel=1e-12)


def test_a_calibration_rod_by_hand():
    # 0.240 kg and 68.5 cm about 10 cm from its end: 0.240·(68.5²/12 + 24.25²) = 93.845 + 141.135 = 234.98 kg·cm², in
    # the range of the rods of Spurr et al. 2014, Procedia Engineering 72, 569-574.
    value, _ = found(stated(240.0, 342.5, 234.98))
    assert value[CENTRE] == pytest.approx(93.845, abs=0.01)


def test_the_axis_is_10_cm_by_our_definition():
    # The paper cited says "approximately 10 cm". By hand for 0.320 kg balancing at 33 cm with 320 kg·cm² at 10 cm: about the
    # balance point 320 - 0.320·23² = 150.72; an axis at 4 in (10.16 cm) would give 150.72 + 0.320·22.84² = 317.65, 2.35 less.
    value, _ = found(stated(320.0, 330.0, 320.0))
    assert value[CENTRE] == pytest.approx(150.72, abs=1e-9)
    four_inches = inertia_about(value[CENTRE], np.array(320.0), np.array(330.0 - 101.6))
    assert value[SWING] - four_inches == pytest.approx(2.35, abs=0.005)


bodies = st.lists(st.tuples(st.floats(1.0, 60.0), st.floats(0.0, 700.0)), min_size=2, max_size=30)


def summed(body: list[tuple[float, float]]) -> tuple[float, float, dict[float, float]]:
    """Mass [g], balance [mm] and the inertia [kg·cm²] about the butt, 10 cm from it and the balance point, by sums."""
    mass = math.fsum(m for m, _ in body)
    balance = math.fsum(m * x for m, x in body) / mass
    about = {axis: math.fsum(m * (x - axis) ** 2 for m, x in body) * G_MM2 for axis in (0.0, 100.0, balance)}
    return mass, balance, about


@given(bodies)
def test_any_body_of_point_masses(body):
    mass, balance, about = summed(body)
    value, _ = found(stated(mass, balance, about[100.0]), 700.0)
    assert value[MASS] == pytest.approx(mass)
    assert value[BALANCE] == pytest.approx(balance)
    assert value[SWING] == pytest.approx(about[100.0])
    assert value[CENTRE] == pytest.approx(about[balance], rel=1e-9, abs=1e-8)
    assert value[BUTT] == pytest.approx(about[0.0], rel=1e-9, abs=1e-8)
    if balance > 1e-3:
        # A blow J at q turns a free body at J·(q - b)/I_c about its balance point, which moves at J/m: the butt, b below it,
        # stands still if 1/m = b·(q - b)/I_c, so q = b + I_c/(m·b).
        assert value[PERCUSSION] == pytest.approx(balance + about[balance] / (mass * balance * G_MM2), rel=1e-6)
    # Bhatia & Davis 2000, Amer. Math. Monthly 107: 0 ≤ I ≤ m·b·(L - b) for any mass between 0 and L.
    assert -1e-8 <= value[CENTRE] <= mass * balance * (700.0 - balance) * G_MM2 + 1e-8


@given(bodies, st.floats(-100.0, 800.0))
def test_parallel_axes(body, axis):
    mass, balance, about = summed(body)
    here = math.fsum(m * (x - axis) ** 2 for m, x in body) * G_MM2
    moved = inertia_about(np.array(about[balance]), np.array(mass), np.array(axis - balance))
    assert moved == pytest.approx(here, rel=1e-9, abs=1e-8)


@given(bodies, st.floats(450.0, 560.0))
def test_stringing_adds_sixteen_grams_at_the_heads_centre(body, centre):
    mass, balance, about = summed(body)
    with_bed = summed([*body, (8.0, centre - 80.0), (8.0, centre + 80.0)])  # gyration of 80 mm about its own middle
    value, _ = found(stated(mass, balance, about[100.0], strung=False), 700.0, centre)
    assert value[MASS] == pytest.approx(with_bed[0])
    assert value[BALANCE] == pytest.approx(with_bed[1])
    assert value[SWING] == pytest.approx(with_bed[2][100.0])
    assert value[BUTT] == pytest.approx(with_bed[2][0.0], rel=1e-9)
    assert value[CENTRE] == pytest.approx(with_bed[2][with_bed[1]], rel=1e-7, abs=1e-6)


def test_stringing_by_hand():
    # 300 g balancing at 310 mm, swingweight 290; a bed of 16 g at 685 - 326/2 - 10 = 512 mm: 316 g at
    # (93000 + 8192)/316 = 320.2278 mm; 290 + 0.016·(41.2² + 8²) = 318.183 kg·cm².
    assert bed_centre(np.array(685.0), np.array(326.0)) == 512.0
    value, _ = found(stated(300.0, 310.0, 290.0, strung=False))
    assert value[[MASS, BALANCE, SWING]] == pytest.approx([316.0, 320.2278, 318.18304], rel=1e-6)


def test_the_beds_own_inertia_is_that_of_strings_in_a_head():
    # Every string of every measured bed of the demo, cut into 2,000 pieces of even mass: the radius of gyration about the
    # bed's own middle lies within 80 ± 8 mm (k = 2).
    for name in list(derived("beds"))[::9]:
        bed = demo_bed(name)
        y = np.linspace(-bed.length / 2, bed.length / 2, 2001)
        pieces = [(y, (np.vectorize(bed.level)(at_0 + slope * y, y) < 1) * (y[1] - y[0])) for at_0, slope in bed.mains]
        width = [bed.width * (1 - abs(2 * at / bed.length) ** bed.exponent) ** (1 / bed.exponent) for at in bed.crosses]
        at = np.concatenate([*(place for place, _ in pieces), bed.crosses])
        weight = np.concatenate([*(share for _, share in pieces), width])
        middle = np.average(at, weights=weight)
        assert math.sqrt(np.average((at - middle) ** 2, weights=weight)) == pytest.approx(80.0, abs=8.0)


@pytest.mark.parametrize(
    ("balance", "points"),
    # 685 mm: the middle is at 342.5 mm; a point is an eighth of an inch, 3.175 mm (common practice).
    [(342.5, 0.0), (342.5 - 8 * 3.175, -8.0), (342.5 + 3 * 3.175, 3.0), (330.0, -12.5 / 3.175)],
)
def test_head_light_is_negative(balance, points):
    value, u = found(stated(320.0, balance, 320.0, u=(1.0, 2.0, 3.0)))
    assert value[POINTS] == pytest.approx(points, abs=1e-9)
    assert u[POINTS] == pytest.approx(2.0 / 3.175)


@pytest.mark.parametrize("strung", [(True, True, True), (False, False, False), (True, False, False), (False, True, True)])
def test_uncertainty_is_that_of_the_uncertainties_package(strung):
    mass, balance, swing, bed = ufloat(301.3, 1.1), ufloat(312.0, 1.6), ufloat(288.5, 2.4), ufloat(16.0, 2.0)
    gyration = ufloat(80.0, 4.0)
    one = Stated(
        np.array([[x.n for x in (mass, balance, swing)]]),
        np.array([[x.s for x in (mass, balance, swing)]]),
        np.array([strung]),
    )
    total = mass if strung[0] else mass + bed
    moment = total * balance if strung[1] else (total - bed) * balance + bed * 512.0
    about = swing if strung[2] else swing + bed * ((512.0 - 100.0) ** 2 + gyration**2) * G_MM2
    at = moment / total
    centre = about - total * (at - 100.0) ** 2 * G_MM2
    butt = centre + total * at**2 * G_MM2
    expected = [total, at, (at - 342.5) / 3.175, about, centre, butt, butt / (total * at * G_MM2)]
    value, u = found(one)
    assert value == pytest.approx([x.n for x in expected], rel=1e-9)
    assert u == pytest.approx([x.s for x in expected], rel=1e-9)


def test_what_is_not_known_stays_blank_and_hides_nothing():
    value, u = found(stated(320.0, math.nan, math.nan, u=(2.0, math.nan, math.nan)))
    assert (value[MASS], u[MASS]) == (320.0, 2.0)
    assert np.isnan(value[1:]).all()
    assert np.isnan(u[1:]).all()


def test_copies_by_hand():
    # Frame 0: 318 and 322 g, each good to 0.3 g by reading and 0.4 g by the scale; frame 1 nothing; frame 2: 305 g.
    # The pair's squares of 8 less 0.09 with 5 of the default 2 g, over 6, and with t(0.975, 6) = 2.446912 (tables).
    s2 = (7.91 + 5 * 4.0) / 6 * (2.446912 / 1.959964) ** 2
    frame = np.array([0, 0, 2])
    mean, u = copies(np.array([318.0, 322.0, 305.0]), np.full(3, 0.09), np.full(3, 0.4), frame, 3, 2.0)
    assert mean[[0, 2]] == pytest.approx([320.0, 305.0])
    assert u[[0, 2]] == pytest.approx([math.sqrt(0.045 + 0.16 + s2 * 1.5), math.sqrt(0.09 + 0.16 + s2 * 2)])
    assert np.isnan(mean[1])
    assert np.isnan(u[1])
    # Five pairs 4 g apart: 8 - 0.09 five times, and the default, over 10; t(0.975, 10) = 2.228139.
    s2 = (5 * 7.91 + 5 * 4.0) / 10 * (2.228139 / 1.959964) ** 2
    frame = np.repeat(np.arange(5), 2)
    _, u = copies(np.array([318.0, 322.0] * 5), np.full(10, 0.09), np.full(10, 0.4), frame, 5, 2.0)
    assert u == pytest.approx([math.sqrt(0.045 + 0.16 + s2 * 1.5)] * 5)


# The table


def frame(**declared: object) -> Small:
    small = Small()
    small.frame("one", length_mm=685, **declared)
    small.copy("one-a", "one")
    return small


def row_of(small: Small) -> dict[str, object]:
    return small.derived(["handling"])["handling"]["one"]


def test_declared_figures_are_good_to_2_g_2_mm_and_3_kgcm2():
    # Definition (common practice, no source).
    row = row_of(frame(mass_g=320, balance_mm=325, swingweight_kgcm2=325, strung="true"))
    assert (row["basis"], row["strung"]) == ("declared", True)
    assert [row[name] for name in ("mass_g", "balance_mm", "swingweight_kgcm2")] == [320.0, 325.0, 325.0]
    assert [row[f"u_{name}"] for name in ("mass_g", "balance_mm", "swingweight_kgcm2")] == [2.0, 2.0, 3.0]
    assert row["balance_points"] == pytest.approx(-17.5 / 3.175, rel=6e-6)


def test_declared_unstrung_figures_are_strung_first():
    # 620 cm² as a superellipse of exponent 2.1 and aspect 1.33: L = √(1.33·62000/k(2.1)), k by beta functions.
    row = row_of(frame(mass_g=304, balance_mm=318, swingweight_kgcm2=295, strung="false"))
    at = 685 - math.sqrt(1.33 * 62_000 * 4.2 / beta(1 / 2.1, 1 / 2.1)) / 2 - 10
    assert row["strung"] is True
    assert row["mass_g"] == 320.0
    assert row["u_mass_g"] == pytest.approx(math.sqrt(8.0), rel=6e-6)
    assert row["balance_mm"] == pytest.approx((304 * 318 + 16 * at) / 320, rel=6e-6)
    assert row["swingweight_kgcm2"] == pytest.approx(295 + 16 * ((at - 100) ** 2 + 80**2) * G_MM2, rel=6e-6)


def test_a_reading_counts_before_what_is_declared():
    small = frame(mass_g=320, balance_mm=325, strung="true")
    small.reading("one-a", "mass", "11.4", "oz", instrument_id="scale")
    row = row_of(small)
    # 11.4 · 28.349523125 g (NIST SP 811). Scale: resolution 0.1/√12 and largest error 0.5/√3 g; reading 0.3 g; copies 2 g.
    assert row["mass_g"] == pytest.approx(11.4 * 28.349523125, rel=6e-6)
    assert row["u_mass_g"] == pytest.approx(math.sqrt(0.09 + 0.01 / 12 + 0.25 / 3 + 2 * 4.0), rel=6e-6)
    assert (row["basis"], row["balance_mm"]) == ("declared", 325.0)
    assert row["swingweight_kgcm2"] is None
    assert row["inertia_centre_kgcm2"] is None


def test_measured_and_converted():
    for strung, basis, mass in (("true", "measured", 318.0), ("false", "converted", 334.0)):
        small = frame()
        small.reading("one-a", "mass", 318, "g", instrument_id="scale", strung=strung)
        row = row_of(small)
        assert (row["basis"], row["mass_g"], row["strung"]) == (basis, mass, True)
