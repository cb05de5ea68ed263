"""The bed as a net: single strings by hand, a plain loop, laws that hold for any elastic net, scaling, trade ordering."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bench import plain_net
from gapbook.science.cable_net import PatternStrings, deflections, net_of, springs
from gapbook.science.mechanics import (
    LOAD_RADIUS_MM,
    RESPONSES,
    STRING_KG_MM,
    ZONE_POINTS,
    lumped_mass,
    respond,
    stiffness_at,
    stiffness_map,
)
from gapbook.science.tension import in_bed
from gapbook.science.zones import ZONES
from nets_made import even, strings, together, uneven

T = 171.5  # 245 N less 30 % (Cross & Bower 2001)
CENTRE = np.array([[0.0, 0.0]])
ALONE = 1e-12  # a tension that does not count


def test_tension_in_the_bed_is_seven_tenths_of_the_pull():
    # Cross & Bower 2001: about 30 % below the pull just after stringing.
    assert in_bed(245.0) == pytest.approx(T)


def test_the_load_is_one_balls_radius_wide():
    # By definition R = 33.5 mm; a Type 2 ball is 65.4 to 68.6 mm across (ITF Rules of Tennis, Appendix I).
    assert LOAD_RADIUS_MM == 33.5


def test_mass_of_the_string_by_hand():
    # 1.38 g/cm³ · π/4 · (0.125 cm)² = 0.016935 g/cm = 1.6935e-6 kg/mm.
    assert pytest.approx(1.6935e-6, rel=1e-4) == STRING_KG_MM


@pytest.mark.parametrize("length", [200.0, 325.0, 340.0])
def test_a_single_string_pressed_in_its_middle(length):
    # F = 2·T·z/(ℓ/2): stiffness 4T/ℓ.
    bed = strings([0.0], [0.0], [0.0], 250.0, length)
    assert stiffness_at(bed, CENTRE, (245.0, ALONE))[0, 0] == pytest.approx(4 * T / length, rel=1e-9)
    assert stiffness_at(bed, CENTRE, (ALONE, 245.0))[0, 0] == pytest.approx(4 * T / 250.0, rel=1e-9)
    assert stiffness_at(bed, CENTRE)[0, 0] == pytest.approx(4 * T / length + 4 * T / 250.0, rel=1e-9)


def test_a_single_string_pressed_off_its_middle():
    # F = T·z/a + T·z/b: stiffness T·(1/a + 1/b), here a = 130 and b = 190 mm.
    bed = strings([0.0], [0.0], [30.0], 250.0, 320.0)
    assert stiffness_at(bed, np.array([[0.0, 30.0]]), (245.0, ALONE))[0, 0] == pytest.approx(T * (1 / 130 + 1 / 190), rel=1e-9)


def test_a_leaning_string_is_as_long_as_it_runs():
    # A chord of the circle of radius 150 mm through (0, 0) is 300 mm long whichever way it leans; T/ℓ acts on each half.
    bed = strings([0.0], [0.4], [0.0], 300.0, 300.0)
    assert stiffness_at(bed, CENTRE, (245.0, ALONE))[0, 0] == pytest.approx(4 * T / 300.0, rel=1e-9)
    # Through (40, 0) at slope 0.4 (x = 40 + 0.4·y): y² + (40 + 0.4y)² = 150² gives y = (-16 ± √(16² + 1.16·20900))/1.16.
    root = math.sqrt(256 + 1.16 * 20900)
    up, down = (root - 16) / 1.16 * math.sqrt(1.16), (root + 16) / 1.16 * math.sqrt(1.16)
    bed = strings([40.0], [0.4], [0.0], 300.0, 300.0)
    found = stiffness_at(bed, np.array([[40.0, 0.0]]), (245.0, ALONE))[0, 0]
    assert found == pytest.approx(T * (1 / up + 1 / down), rel=1e-9)


def test_three_nodes_of_one_string_by_hand():
    # A string of 400 mm with nodes at -100, 0, 100, pressed by w = (¼, ½, ¼) through flexibility a(ℓ - b)/(Tℓ): with
    # T = 1 the compliances are 75, 50, 25; 50, 100, 50; 25, 50, 75, so wᵀCw = 62.5.
    net = net_of(strings([0.0], [0.0], [100.0, 0.0, -100.0], 250.0, 400.0))
    load = np.array([0.25, 0.5, 0.25]).reshape(1, 1, 3, 1)
    assert np.sum(deflections(springs(net, 1.0, ALONE), load) * load) == pytest.approx(62.5, rel=1e-9)


@pytest.mark.slow_after(2)
@pytest.mark.parametrize("pattern", [(16, 19), (18, 20), (16, 15), (14, 18), (21, 22)], ids=str)
@pytest.mark.parametrize("tensions", [(T, T), (180.0, 140.0)], ids=["even", "uneven"])
def test_stiffness_and_frequency_are_those_of_a_plain_loop(pattern, tensions):
    # scipy.sparse for the deflections, scipy.linalg.eigh for the frequency: tests/bench/plain_net.py.
    made = [uneven(seed, *pattern) for seed in range(6)]
    found = np.exp(respond(together([bed for bed, _ in made]), *tensions).logs)
    for row, (_, plain) in zip(found, made, strict=True):
        assert row[:5] == pytest.approx(plain_net.stiffness(plain, *tensions), rel=1e-9)
        assert row[5] == pytest.approx(plain_net.frequency(plain, *tensions, STRING_KG_MM), rel=1e-7)


@pytest.mark.parametrize("size", [(150.0, 330.0), (300.0, 300.0), (330.0, 200.0)], ids=str)
def test_the_lowest_mode_of_heads_of_any_shape(size):
    bed = even(15, 18, *size)
    plain = plain_net.PlainBed([(x, 0.0) for x in bed.main_at_0[0]], bed.cross_y[0].tolist(), *size, 2.0)
    assert np.exp(respond(bed, T, T).logs[0, 5]) == pytest.approx(plain_net.frequency(plain, T, T, STRING_KG_MM), rel=1e-6)


def test_a_sum_of_squares_over_the_segments_is_the_work():
    # ½·F·z = Σ ½·(T/ℓ)·Δz², segments as the plain loop lists them.
    bed, plain = uneven(3)
    places, _, segments = plain_net.assembled(plain, T, 0.8 * T)
    net = net_of(bed)
    load = np.zeros(net.x.shape)
    load[0, 7, 5], load[0, 12, 9] = 30.0, 12.0
    sag = deflections(springs(net, T, 0.8 * T), load[:, None])[0, 0]
    flat = [sag[node] for node in places]
    stored = math.fsum(
        t / length * (flat[one] - (flat[other] if other is not None else 0.0)) ** 2 / 2 for one, other, t, length in segments
    )
    assert stored == pytest.approx(float(np.sum(load[0] * sag)) / 2, rel=1e-9)


def test_compliance_is_reciprocal_and_positive():
    # Maxwell's reciprocity: what i moves under a load at j, j moves under the same load at i.
    bed, _ = uneven(8)
    net = net_of(bed)
    nodes = np.argwhere(net.inside[0])
    load = np.zeros((1, len(nodes), *net.x.shape[1:]))
    load[0, np.arange(len(nodes)), nodes[:, 0], nodes[:, 1]] = 1.0
    sag = deflections(springs(net, T, 0.8 * T), load)[0]
    compliance = sag[:, nodes[:, 0], nodes[:, 1]]
    assert compliance == pytest.approx(compliance.T, rel=1e-9)
    assert compliance.min() > 0.0
    assert np.linalg.eigvalsh((compliance + compliance.T) / 2).min() > 0.0
    assert (sag[:, ~net.inside[0]] == 0.0).all()


def mirrored(bed: PatternStrings) -> PatternStrings:
    return bed._replace(main_at_0=-bed.main_at_0[:, ::-1], main_slope=-bed.main_slope[:, ::-1])


def turned(bed: PatternStrings) -> PatternStrings:
    """Tip for throat."""
    return bed._replace(main_slope=-bed.main_slope, cross_y=-bed.cross_y[:, ::-1])


def test_a_mirrored_bed_has_its_sides_exchanged():
    bed, _ = uneven(4)
    here, there = respond(bed, T, T).logs[0], respond(mirrored(bed), T, T).logs[0]
    assert there == pytest.approx(here[[0, 2, 1, 3, 4, 5]], rel=1e-9)
    assert abs(here[1] - here[2]) > 1e-4
    upside = respond(turned(bed), T, T).logs[0]
    assert upside == pytest.approx(here[[0, 1, 2, 4, 3, 5]], rel=1e-9)
    assert abs(here[3] - here[4]) > 1e-4


def test_double_tension_is_double_stiffness():
    bed, _ = uneven(5)
    once, twice = respond(bed, T, 0.9 * T).logs, respond(bed, 2 * T, 1.8 * T).logs
    assert twice[:, :5] - once[:, :5] == pytest.approx(math.log(2.0), rel=1e-9)
    assert twice[:, 5] - once[:, 5] == pytest.approx(math.log(2.0) / 2, rel=1e-9)


def test_double_lengths_are_half_the_stiffness():
    # Every T/ℓ halves. The lowest frequency halves too: stiffness over mass falls to a quarter.
    bed, _ = uneven(6)
    outlines = bed.outlines._replace(width=2 * bed.outlines.width, length=2 * bed.outlines.length)
    large = PatternStrings(2 * bed.main_at_0, bed.main_slope, 2 * bed.cross_y, outlines)
    small = stiffness_at(bed, ZONE_POINTS)
    assert stiffness_at(large, 2 * ZONE_POINTS, radius=67.0) == pytest.approx(small / 2, rel=1e-9)
    assert respond(large, T, T).logs[0, 5] == pytest.approx(respond(bed, T, T).logs[0, 5] - math.log(2), rel=1e-9)


@pytest.mark.parametrize(
    ("tighter", "opener"),
    # Common practice, no source: a tighter bed is a stiffer one.
    [
        (even(18, 20, 245, 326), even(16, 19, 245, 326)),
        (even(18, 20, 239, 318), even(18, 20, 245, 326)),
        (strings(np.arange(-7.5, 8) * 10.5, np.zeros(16), np.arange(9, -10, -1) * 12.0, 245, 326),
         strings(np.arange(-7.5, 8) * 12.5, np.zeros(16), np.arange(9, -10, -1) * 14.0, 245, 326)),
    ],
    ids=["18x20 over 16x19", "a smaller head", "closer drilling"],
)  # fmt: skip
def test_a_tighter_bed_is_stiffer(tighter, opener):
    assert stiffness_at(tighter, CENTRE)[0, 0] > 1.01 * stiffness_at(opener, CENTRE)[0, 0]


def test_a_tighter_centre_than_sides_is_stiffer_there_than_an_even_one():
    # The same 16 mains, drawn to the middle: stiffer in the centre, softer at the sides (common practice, no source).
    close = np.sign(np.arange(-7.5, 8)) * (9.5 * np.abs(np.arange(-7.5, 8)) + 0.55 * np.arange(-7.5, 8) ** 2)
    drawn = strings(close, np.zeros(16), -np.arange(-9, 10) * 15.0, 245, 326)
    spread = strings(np.linspace(close[0], close[-1], 16), np.zeros(16), -np.arange(-9, 10) * 15.0, 245, 326)
    here, even_ = stiffness_at(drawn, ZONE_POINTS)[0], stiffness_at(spread, ZONE_POINTS)[0]
    assert here[0] > even_[0]
    assert here[1] < even_[1]


def test_a_zone_without_a_crossing_under_the_load_is_blank():
    # Crosses within 40 mm of the middle: none lies within 33.5 mm of (0, ±80), some do of the others.
    bed = strings(np.arange(-7.5, 8) * 13.0, np.zeros(16), np.arange(4, -5, -1) * 10.0, 245, 326)
    found = respond(bed, T, T).logs[0]
    assert [name for name, value in zip(RESPONSES, found, strict=True) if math.isnan(value)] == ["tip", "throat"]
    assert np.isnan(stiffness_at(bed, ZONE_POINTS)[0]).tolist() == [False, False, False, True, True]


def test_the_map_goes_through_the_zones_and_ends_at_the_hoop():
    bed, plain = uneven(7)
    x, y = np.array([-130.0, -60.0, 0.0, 60.0]), np.array([80.0, 0.0, -80.0, -175.0])
    found = stiffness_map(bed, x, y)[0]
    zones = dict(zip(ZONES, plain_net.stiffness(plain, T, T), strict=True))
    assert found[:3, 2] == pytest.approx([zones["tip"], zones["centre"], zones["throat"]], rel=1e-9)
    assert found[1, [1, 3]] == pytest.approx([zones["left"], zones["right"]], rel=1e-9)
    assert np.isnan(found[:, 0]).all()
    assert np.isnan(found[3]).all()
    assert found[0, 1] > found[1, 2]


def test_all_string_between_the_hoops_sides_is_weighed():
    # Lumped at crossings: all string but the outer halves of the end segments. Single strings of 320 and 250 mm crossing
    # in their middles: half of each.
    net = net_of(strings([0.0], [0.0], [0.0], 250.0, 320.0))
    assert lumped_mass(net).sum() == pytest.approx(STRING_KG_MM * (320 + 250) / 2)


def test_a_crossing_on_the_hoop_is_held():
    # A node that comes to lie ever closer to the outline stops moving; beyond it it is gone. Stiffness has no jump.
    values = []
    for y in (159.999999, 160.0, 160.000001):
        bed = strings(np.arange(-3, 4) * 15.0, np.zeros(7), [y, 40.0, 0.0, -40.0], 250.0, 320.0)
        values.append(stiffness_at(bed, CENTRE)[0, 0])
    assert values == pytest.approx([values[1]] * 3, rel=1e-6)
