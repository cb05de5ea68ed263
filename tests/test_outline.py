"""The head's outline: area of a superellipse against scipy and shapely, its exponent, and sizes from an area alone."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import beta
from shapely.geometry import Polygon

from gapbook.science.outline import area_factor, exponent_of, size_errors, size_from_area

EXPONENTS = [1.0, 1.3, 1.7, 2.0, 2.1, 2.35, 2.7, 4.0, 9.0]


def polygon(width: float, length: float, exponent: float) -> Polygon:
    """A superellipse of 20,000 corners."""
    turn = np.linspace(0.0, 2.0 * np.pi, 20_000, endpoint=False)
    x, y = (np.sign(f(turn)) * np.abs(f(turn)) ** (2.0 / exponent) for f in (np.cos, np.sin))
    return Polygon(np.column_stack([x * width / 2.0, y * length / 2.0]))


@pytest.mark.parametrize("exponent", EXPONENTS)
def test_area_factor_is_scipys_beta(exponent):
    # Γ(1 + 1/n)²/Γ(1 + 2/n) = B(1/n, 1/n)/(2n), from Γ(1 + x) = x·Γ(x).
    assert area_factor(np.array(exponent)) == pytest.approx(beta(1 / exponent, 1 / exponent) / (2 * exponent), rel=1e-12)


@pytest.mark.parametrize("exponent", EXPONENTS)
def test_area_factor_is_the_integral(exponent):
    quarter, _ = quad(lambda x: (1.0 - x**exponent) ** (1.0 / exponent), 0.0, 1.0, epsabs=1e-12)
    assert area_factor(np.array(exponent)) == pytest.approx(quarter, rel=1e-8)


@pytest.mark.parametrize("exponent", EXPONENTS)
def test_area_factor_is_shapelys_polygon(exponent):
    assert area_factor(np.array(exponent)) * 250.0 * 340.0 == pytest.approx(polygon(250, 340, exponent).area, rel=1e-6)


def test_shapes_everyone_knows():
    # An ellipse has π/4 of its box, a rhombus half of it, and with the exponent the box fills up.
    assert area_factor(np.array([2.0, 1.0])) == pytest.approx([math.pi / 4, 0.5], rel=1e-14)
    assert area_factor(np.array(1e6)) == pytest.approx(1.0, abs=1e-10)


@given(st.floats(220.0, 280.0), st.floats(300.0, 370.0), st.floats(1.705, 2.695))
def test_the_exponent_of_an_area_gives_it_back(width, length, exponent):
    area = np.array([width * length * beta(1 / exponent, 1 / exponent) / (2 * exponent) / 100.0])
    assert exponent_of(np.array([width]), np.array([length]), area)[0] == pytest.approx(exponent, abs=1e-9)


def test_the_exponent_of_a_polygon():
    area = np.array([polygon(248.0, 331.0, n).area / 100.0 for n in (1.8, 2.0, 2.2, 2.6)])
    found = exponent_of(np.full(4, 248.0), np.full(4, 331.0), area)
    assert found == pytest.approx([1.8, 2.0, 2.2, 2.6], abs=1e-4)


@pytest.mark.parametrize(("exponent", "used"), [(1.65, 2.1), (1.71, 1.71), (2.69, 2.69), (2.75, 2.1), (1.0, 2.1)])
def test_outside_1_7_to_2_7_the_usual_exponent_is_used(exponent, used):
    # Definition:
    factor = beta(1 / exponent, 1 / exponent) / (2 * exponent)
    area = np.array([250.0 * 335.0 * factor / 100.0])
    assert exponent_of(np.array([250.0]), np.array([335.0]), area)[0] == pytest.approx(used, abs=1e-9)


def test_a_head_larger_than_its_box_has_the_usual_exponent():
    assert exponent_of(np.array([250.0]), np.array([335.0]), np.array([900.0]))[0] == 2.1


@pytest.mark.parametrize("area", [560.0, 632.3, 710.0])
def test_size_from_area_is_a_third_longer_than_wide(area):
    # Definition: a superellipse of exponent 2.1 and aspect 1.33.
    width, length = size_from_area(np.array([area]))
    assert length[0] / width[0] == pytest.approx(1.33, rel=1e-12)
    assert polygon(width[0], length[0], 2.1).area / 100.0 == pytest.approx(area, rel=1e-6)


def test_errors_of_a_size_from_the_area_by_drawing_aspects_and_exponents():
    # 20,000 heads of 630 cm²: exponent 2.1 ± 0.15 and aspect 1.33 ± 0.04, sizes by the area alone. Linear to some percent.
    rng = np.random.default_rng(3)
    exponent, aspect = rng.normal(2.1, 0.15, 20_000), rng.normal(1.33, 0.04, 20_000)
    width = np.sqrt(63_000 / (beta(1 / exponent, 1 / exponent) / (2 * exponent) * aspect))
    logs = np.stack([np.log(width), np.log(aspect * width)])
    errors = np.stack(size_errors())
    assert errors.T @ errors == pytest.approx(np.cov(logs), rel=0.06, abs=1e-5)
    assert errors[0].sum() == pytest.approx(0.0)  # a wider head is a shorter one: W·L does not feel it
