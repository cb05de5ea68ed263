"""Strings that stretch: a single string (exact), a strip under even pressure (handbook), a plain loop minimised by scipy,
differences of the energy, laws that hold for any such net, and the linear net at small depths.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq, minimize

from bench import plain_net
from gapbook.science.cable_net import net_of
from gapbook.science.mechanics import patch, stiffness_at
from gapbook.science.stretching import DEPTHS_MM, STIFFNESS_N, StretchingNet, press
from nets_made import even, strings, together, uneven

T, EA = 171.5, 4500.0
ALONE = 1e-9  # a tension or stiffness that does not count
CENTRE = np.array([[0.0, 0.0]])


def under_the_ball(bed, point=CENTRE) -> np.ndarray:
    """Shares of the load about a point."""
    return patch(net_of(bed), point).shared[:, 0]


@pytest.mark.parametrize("depth", [0.5, 5.0, 25.0, 80.0])
def test_two_strings_that_cross_in_their_middles(depth):
    # Exact, large deflections: each half of a string of ℓ/2 at rest becomes h = √((ℓ/2)² + z²), pulls with
    # T + EA·(h - ℓ/2)/(ℓ/2), and the load carries z/h of each of four halves.
    bed = strings([0.0], [0.0], [0.0], 250.0, 320.0)
    tensions, axial = (180.0, 150.0), (4000.0, 5500.0)
    expected = 0.0
    for half, pull, ea in zip((160.0, 125.0), tensions, axial, strict=True):
        h = math.hypot(half, depth)
        expected += 2 * (pull + ea * (h - half) / half) * depth / h
    found = press(bed, under_the_ball(bed), [depth], tensions, axial)[0]
    assert found.force[0] == pytest.approx(expected, rel=1e-12)
    assert found.moved[0, 0, 0] == pytest.approx([0.0, 0.0, depth], abs=1e-9)


def test_a_string_pressed_off_its_middle_slides_until_its_tension_is_even_along_it():
    # A main of 320 mm pressed at y = 30 alone (crosses carry nothing): both parts pull alike along the string, so the point
    # moves along it too. Two equations by hand: with the point at (30 + v, z), tension is T + EA·(Δℓ/ℓ) in each part, and
    # the pulls along the string balance.
    depth = 25.0

    def parts(v: float) -> tuple[float, float, float, float]:
        upper, lower = math.hypot(130.0 - v, depth), math.hypot(190.0 + v, depth)
        return upper, lower, T + EA * (upper - 130.0) / 130.0, T + EA * (lower - 190.0) / 190.0

    def along(v: float) -> float:
        upper, lower, above, below = parts(v)
        return above * (130.0 - v) / upper - below * (190.0 + v) / lower

    v = brentq(along, -20.0, 20.0, xtol=1e-14)
    upper, lower, above, below = parts(v)
    bed = strings([0.0], [0.0], [30.0], 250.0, 320.0)
    share = np.ones((1, 1, 1))
    found = press(bed, share, [depth], (T, ALONE), (EA, ALONE))[0]
    assert found.force[0] == pytest.approx(depth * (above / upper + below / lower), rel=1e-9)
    assert found.moved[0, 0, 0, 1] == pytest.approx(v, rel=1e-6)


@pytest.mark.parametrize("pressure", [0.5, 2.0, 8.0])
def test_a_strip_under_even_pressure_bends_to_the_handbooks_cubic(pressure):
    # A net in one direction is a strip bent to a cylinder, without flexural stiffness: deflection qℓ²/(8S), and its tension
    # is the root of S³ - S₀·S² = EA·(qℓ)²/24 (Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., ch. 1,
    # bending to a cylindrical surface with immovable edges, parabola of small slope; from memory, derived below).
    # The parabola w = 4w₀·x(ℓ - x)/ℓ² is 8w₀²/(3ℓ) longer than its chord. Slopes of up to 0.09 leave out terms of 0.5 %.
    length, crosses = 320.0, 63
    bed = strings([0.0], [0.0], np.arange(31, -32, -1) * length / 64.0, 4000.0, length)
    q = pressure / length * 2.0  # N/mm
    tension = brentq(lambda s: s**3 - T * s**2 - EA * (q * length) ** 2 / 24.0, T, 50 * T)
    middle = q * length**2 / (8.0 * tension)
    share = np.full((1, crosses, 1), 1.0 / crosses)
    mean = 2.0 / 3.0 * middle * 64.0 / 63.0 * (1.0 - 1.0 / 64.0**2)  # of the parabola over its 63 inner nodes
    found = press(bed, share, [mean], (T, ALONE), (EA, ALONE))[0]
    total = q * length * 63.0 / 64.0  # each node carries q·ℓ/64
    assert found.force[0] == pytest.approx(total, rel=0.005)
    assert found.moved[0, 31, 0, 2] == pytest.approx(middle, rel=0.003)


def potential(plain: plain_net.PlainBed, tensions, axial: float):
    """Energy of a bed and its gradient by displacements [nodes, 3], summed up segment by segment."""
    places, _, segments = plain_net.assembled(plain, *tensions)
    at = np.array([(*place, 0.0) for place in places.values()])
    laid = []
    lines = {node: number for number, node in enumerate(places)}
    for one, other, tension, length in segments:
        if other is not None:
            way = at[other] - at[one]
        else:
            way = outward(plain, list(places)[one], at[one], length, tension == tensions[0], lines)
        laid.append((one, other, way, tension, length))
    one = np.array([item[0] for item in laid])
    other = np.array([-1 if item[1] is None else item[1] for item in laid])
    way, tension, length = (np.array([item[k] for item in laid]) for k in (2, 3, 4))

    def value(moved: np.ndarray) -> tuple[float, np.ndarray]:
        u = np.vstack([moved, np.zeros(3)])
        span = way + u[other] - u[one]
        now = np.sqrt((span**2).sum(axis=1))
        longer = now - length
        pull = tension + axial * longer / length
        slope = np.zeros_like(u)
        np.add.at(slope, other, (pull / now)[:, None] * span)
        np.add.at(slope, one, -(pull / now)[:, None] * span)
        return float((tension * longer + axial * longer**2 / (2 * length)).sum()), slope[:-1]

    return places, value


def outward(plain, node, at, length, main, nodes) -> np.ndarray:
    """From a node to the outline: along the main or the cross, away from its neighbour inside."""
    j, k = node
    if main:
        lean = np.array([plain.mains[k][1], 1.0, 0.0]) / math.hypot(1.0, plain.mains[k][1])
        ends = [sign for sign, near in ((1.0, (j - 1, k)), (-1.0, (j + 1, k))) if near not in nodes]
    else:
        lean = np.array([1.0, 0.0, 0.0])
        ends = [sign for sign, near in ((1.0, (j, k + 1)), (-1.0, (j, k - 1))) if near not in nodes]
    reach = [abs(plain.level(*(at + sign * length * lean)[:2]) - 1.0) for sign in ends]
    return ends[int(np.argmin(reach))] * length * lean


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(("seed", "depth"), [(3, 15.0), (5, 25.0), (8, 5.0)])
def test_the_same_energy_minimised_by_scipy(seed, depth):
    # A plain loop over segments and scipy's L-BFGS, which knows nothing of the band or of the bordered system: under the
    # force found, the potential's least place is the displacement found.
    bed, plain = uneven(seed, 9, 8)
    tensions = (T, 150.0)
    share = under_the_ball(bed)
    found = press(bed, share, [depth], tensions, (EA, EA))[0]
    places, value = potential(plain, tensions, EA)
    rows = tuple(np.array(list(places)).T)
    load = np.zeros((len(places), 3))
    load[:, 2] = share[0][rows] * found.force[0]

    def whole(flat: np.ndarray) -> tuple[float, np.ndarray]:
        moved = flat.reshape(-1, 3)
        energy, slope = value(moved)
        return energy - float((load * moved).sum()), (slope - load).ravel()

    patient = {"maxiter": 20000, "maxfun": 20000, "ftol": 1e-16, "gtol": 1e-7}
    least = minimize(whole, np.zeros(load.size), jac=True, method="L-BFGS-B", options=patient)
    assert least.x.reshape(-1, 3)[:, 2] @ share[0][rows] == pytest.approx(depth, rel=1e-5)
    assert found.moved[0][rows] == pytest.approx(least.x.reshape(-1, 3), abs=2e-3)


def test_first_and_second_derivatives_are_those_of_differences():
    bed, _ = uneven(4, 5, 6)
    net = net_of(bed)
    stretching = StretchingNet(net, bed, (T, 140.0), (EA, 3000.0))
    moved = np.random.default_rng(1).normal(0.0, 0.3, (*net.x.shape, 3)) * net.inside[..., None]
    moved[..., 2] *= 20.0

    def slope(at: np.ndarray) -> np.ndarray:
        return stretching.gathered(*(family.force for family in stretching.pulls(at)))[0]

    first = slope(moved)
    band = stretching.banded(*(family.stiff for family in stretching.pulls(moved)))[0]
    size = len(band)
    whole = np.zeros((size, size))
    for k in range(band.shape[1]):
        rows = np.arange(size - k)
        whole[rows + k, rows] = whole[rows, rows + k] = band[: size - k, k]
    unknowns = [3 * n + d for n in np.flatnonzero(net.inside[0].ravel()) for d in range(3)]
    for unknown in unknowns[::7]:
        step = np.zeros(moved.size)
        step[unknown] = 1e-5
        step = step.reshape(moved.shape)
        by_energy = (stretching.energy(moved + step) - stretching.energy(moved - step))[0] / 2e-5
        assert first.ravel()[unknown] == pytest.approx(by_energy, rel=1e-5, abs=1e-4)
        by_slope = ((slope(moved + step) - slope(moved - step)) / 2e-5).ravel()
        assert whole[unknown, unknowns] == pytest.approx(by_slope[unknowns], rel=1e-5, abs=1e-3)


def test_small_depths_are_the_linear_net():
    beds = together([uneven(seed)[0] for seed in range(4)])
    linear = stiffness_at(beds, CENTRE, (T / 0.7, 0.8 * T / 0.7))[:, 0]
    found = press(beds, under_the_ball(beds), [0.01], (T, 0.8 * T), (EA, EA))[0]
    assert found.force / 0.01 == pytest.approx(linear, rel=1e-5)


@pytest.mark.parametrize("depth", DEPTHS_MM)
def test_the_force_follows_tension_and_stiffness(depth):
    # F is of the first degree in (T, EA) together (Euler), and its change with ln T is that of differences.
    beds = together([uneven(seed)[0] for seed in range(3)])
    share = under_the_ball(beds)

    def force(by_tension: float, by_axial: float) -> np.ndarray:
        return press(beds, share, [depth], (T * by_tension, 0.9 * T * by_tension), (EA * by_axial, EA * by_axial))[0].force

    here = press(beds, share, [depth], (T, 0.9 * T), (EA, EA))[0]
    assert force(1.3, 1.3) == pytest.approx(1.3 * here.force, rel=1e-9)
    by_axial = (force(1.0, 1.0001) - force(1.0, 1 / 1.0001)) / (2 * math.log(1.0001))
    assert here.by_log_tension + by_axial == pytest.approx(here.force, rel=1e-6)
    by_tension = (force(1.0001, 1.0) - force(1 / 1.0001, 1.0)) / (2 * math.log(1.0001))
    assert here.by_log_tension == pytest.approx(by_tension, rel=1e-6)


def test_a_mirrored_bed_moves_as_its_mirror_image():
    bed, _ = uneven(6)
    mirrored = bed._replace(main_at_0=-bed.main_at_0[:, ::-1], main_slope=-bed.main_slope[:, ::-1])
    here, there = (press(one, under_the_ball(one), [20.0], (T, T), (EA, EA))[0] for one in (bed, mirrored))
    assert there.force == pytest.approx(here.force, rel=1e-9)
    assert there.moved[:, :, ::-1] * [-1.0, 1.0, 1.0] == pytest.approx(here.moved, abs=1e-7)


def test_a_load_that_lies_on_no_crossing_has_no_force():
    high = strings(np.arange(-7.5, 8) * 13.0, np.zeros(16), np.arange(9, -10, -1) * 2.0 + 90.0, 245, 326)
    beds = together([even(16, 19, 245, 326), high])
    found = press(beds, under_the_ball(beds), [5.0, 25.0], (T, T), (EA, EA))
    assert np.isnan([one.force[1] for one in found]).all()
    assert not np.isnan([one.force[0] for one in found]).any()


def test_deeper_is_stiffer_and_so_are_stiffer_strings():
    bed = even(16, 19, 245, 326)
    share = under_the_ball(bed)
    secant = [
        [one.force[0] / depth for one, depth in zip(press(bed, share, DEPTHS_MM, (T, T), (ea, ea)), DEPTHS_MM, strict=True)]
        for ea in STIFFNESS_N
    ]
    assert secant[0] == sorted(secant[0])
    assert all(soft < hard for soft, hard in zip(*secant, strict=True))
    assert secant[0][0] > stiffness_at(bed, CENTRE)[0, 0]
