"""Fine even nets against membranes: under equal tension per width S they are one, and the error falls with the pitch squared.

A main's tension is S times the pitch across it, a cross's S times the pitch along it; a pressure q loads each node by q
times both pitches.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import jn_zeros, mathieu_modcem1

from gapbook.science.cable_net import deflections, net_of, shapes, springs
from gapbook.science.mechanics import STRING_KG_MM, respond, stiffness_at
from nets_made import even

S = 10.0  # N/mm
TENSION = 171.5
CENTRE = np.array([[0.0, 0.0]])


class Membrane:
    """An even net under S, and its error against exact values as its strings are made finer."""

    def __init__(self, mains: int, crosses: int, width: float, length: float, exponent: float = 2.0) -> None:
        self.net = net_of(even(mains, crosses, width, length, exponent))
        self.pitch = width / mains, length / crosses
        self.matrix = springs(self.net, S * self.pitch[0], S * self.pitch[1])
        self.middle = crosses // 2, mains // 2
        self.inside = self.net.inside[0]

    def sag(self, load: np.ndarray) -> np.ndarray:
        return deflections(self.matrix, load[None, None])[0, 0]

    def under_pressure(self, q: float) -> float:
        """Deflection of the middle node."""
        return float(self.sag(self.inside * q * self.pitch[0] * self.pitch[1])[self.middle])

    def frequency(self, density: float) -> float:
        """Angular frequency of the lowest mode, `density` mass per area."""
        mass = self.inside * density * self.pitch[0] * self.pitch[1]
        none = np.zeros((1, 1, *self.inside.shape))
        return math.sqrt(shapes(self.matrix, none, mass[None]).eigenvalue[0])


def falls_with_the_square(errors: list[float], last: float) -> None:
    """Each time the strings are twice as many the error is a quarter, within a half; and the last is small enough."""
    for coarse, fine in pairwise(errors):
        assert abs(fine) < abs(coarse) * 0.375, errors
    assert abs(errors[-1]) < last, errors


@pytest.mark.parametrize(("width", "length"), [(240.0, 320.0), (250.0, 250.0), (200.0, 340.0)])
def test_an_ellipse_under_pressure(width, length):
    # w(0) = q·a²b²/(2S(a² + b²)), exact for ∇²w = -q/S.
    a, b, q = width / 2, length / 2, 2e-3
    exact = q * a * a * b * b / (2 * S * (a * a + b * b))
    nets = [Membrane(mains, round(mains * length / width) // 2 * 2 + 1, width, length) for mains in (17, 33, 65)]
    errors = [net.under_pressure(q) / exact - 1 for net in nets]
    assert abs(errors[0]) < 0.004
    assert abs(errors[1]) < 0.001
    falls_with_the_square(errors, 3e-4)


def square_series() -> float:
    """Centre deflection of a square membrane over q·s²/S: the plate's double sine series for ∇²w = -q/S, summed once:
    1/8 - 4/π³·Σ (-1)^k/((2k+1)³ cosh((2k+1)π/2)).
    """
    odd = np.arange(1, 40, 2)
    signs = np.where(odd % 4 == 1, 1.0, -1.0)
    return 1 / 8 - 4 / math.pi**3 * float(np.sum(signs / (odd**3 * np.cosh(odd * math.pi / 2))))


def test_a_square_under_pressure():
    # 0.0736714·q·s²/S (from memory, confirmed by the series above). A superellipse of exponent 400 is square but for its
    # corners, where a membrane does not move.
    assert square_series() == pytest.approx(0.0736714, rel=1e-6)
    errors = [
        Membrane(n, n, 240.0, 240.0, 400.0).under_pressure(2e-3) / (0.0736714 * 2e-3 * 240.0**2 / S) - 1 for n in (15, 31, 63)
    ]
    falls_with_the_square(errors, 3e-4)


def rings(net: Membrane, radius: float) -> tuple[np.ndarray, np.ndarray]:
    """A load of 1 spread evenly over a patch, each node's square counted by the part that lies in it (from a 24 × 24 grid of
    points in it), and one spread as a paraboloid, counted at the nodes.
    """
    x, y = net.net.x[0], net.net.y[0]
    part = (np.arange(24) + 0.5) / 24 - 0.5
    across, along = part * net.pitch[0], part * net.pitch[1]
    inside = np.hypot(x[..., None, None] + across[:, None], y[..., None, None] + along) <= radius
    flat, round_ = inside.mean(axis=(2, 3)), np.maximum(1 - (x**2 + y**2) / radius**2, 0.0)
    return flat / flat.sum(), round_ / round_.sum()


def test_patches_on_a_circle():
    # Exact: F/(2πS)·(ln(R/c) + 1/2) in the centre and + 1/4 over an even patch; paraboloid + 3/4 and + 11/24.
    radius, patch = 150.0, 60.0
    scale, log = 1 / (2 * math.pi * S), math.log(radius / patch)
    exact = np.array([log + 1 / 2, log + 1 / 4, log + 3 / 4, log + 11 / 24]) * scale
    for mains in (15, 31, 63, 121):
        net = Membrane(mains, mains, 2 * radius, 2 * radius)
        found = []
        for load in rings(net, patch):
            sag = net.sag(load)
            found += [sag[net.middle], np.sum(sag * load)]
        # 3 % with 15 strings, and from there on at least as the pitch squared.
        assert found == pytest.approx(exact, rel=0.03 * (15 / mains) ** 2), mains


def test_stiffness_of_a_fine_circular_bed():
    # The model's own load is the paraboloid, c = 33.5 mm: k = 2πS/(ln(R/c) + 11/24), S the tension over the pitch. 0.4 % with
    # 31 strings, which the load spans with seven, and from there on at least as the pitch.
    for mains in (31, 61, 121):
        found = stiffness_at(even(mains, mains, 300.0, 300.0), CENTRE)[0, 0]
        exact = 2 * math.pi * TENSION / (300.0 / mains) / (math.log(150.0 / 33.5) + 11 / 24)
        assert found == pytest.approx(exact, rel=0.004 * 31 / mains), mains


def bessel(radius: float) -> float:
    """Angular frequency of a circular membrane of unit S and density."""
    return float(jn_zeros(0, 1)[0]) / radius


def mathieu(aspect: float) -> float:
    """That of an elliptic one of the same area as the unit circle: the least q with Mc₀⁽¹⁾(q, ξ₀) = 0, k = 2√q/f where f is
    half the distance between the foci.
    """
    a, b = math.sqrt(aspect), 1 / math.sqrt(aspect)
    foci, edge = math.sqrt(a * a - b * b), math.atanh(b / a)

    def at(k: float) -> float:
        return float(mathieu_modcem1(0, (k * foci / 2) ** 2, edge)[0])

    return float(brentq(at, 2.2, 2.7, xtol=1e-12))


@pytest.mark.parametrize(("aspect", "higher"), [(1.0, 0.0), (1.1, 0.0021), (1.2, 0.0078), (1.3, 0.0162), (1.4, 0.0266)])
def test_frequencies_of_round_and_elliptic_membranes(aspect, higher):
    # Zeros of Bessel's and Mathieu's functions (scipy.special); an ellipse is higher than the circle of its area by 0.21,
    # 0.78, 1.62 and 2.66 %: the area matters, the shape hardly (Cross & Bower 2001).
    if aspect > 1.0:
        assert mathieu(aspect) / bessel(1.0) - 1 == pytest.approx(higher, abs=6e-5)
    width = 300.0 / math.sqrt(aspect)
    errors = []
    for mains in (16, 32, 64):
        net = Membrane(mains, round(mains * aspect), width, width * aspect)
        errors.append(net.frequency(1e-6) / (bessel(150.0) * math.sqrt(S / 1e-6) * (1 + higher)) - 1)
    assert abs(errors[0]) < 0.0025
    assert abs(errors[1]) < abs(errors[0]) / 2
    assert abs(errors[2]) < 3e-4


@pytest.mark.parametrize("strings", [32, 64])
def test_frequency_of_a_fine_circular_bed(strings):
    # Mains and crosses alike: S = T/p, σ = 2μ/p; f = 2.404826/(2πR)·√(T/(2μ)), N/mm over kg/mm being (1000 m/s)². The last
    # half segments weigh nothing, a part of the order of p/R.
    found = math.exp(respond(even(strings, strings, 300.0, 300.0), TENSION, TENSION).logs[0, 5])
    exact = bessel(150.0) / math.tau * math.sqrt(TENSION / (2 * STRING_KG_MM) * 1e3)
    assert found == pytest.approx(exact, rel=0.16 / strings)


def test_area_matters_and_shape_hardly():
    # Cross & Bower 2001. One area in three outlines: within 3 %; a tenth more of it: 1/√1.1 of the frequency.
    def frequency(area: float, aspect: float, exponent: float) -> float:
        from scipy.special import gamma

        factor = gamma(1 + 1 / exponent) ** 2 / gamma(1 + 2 / exponent)
        width = math.sqrt(area / (factor * aspect))
        return math.exp(respond(even(32, 40, width, width * aspect, exponent), TENSION, TENSION).logs[0, 5])

    usual = frequency(63_000.0, 1.33, 2.0)
    for aspect, exponent in ((1.2, 2.0), (1.4, 2.0), (1.33, 2.5)):
        assert frequency(63_000.0, aspect, exponent) == pytest.approx(usual, rel=0.03)
    assert frequency(63_000.0 * 1.1, 1.33, 2.0) == pytest.approx(usual / math.sqrt(1.1), rel=1e-3)
