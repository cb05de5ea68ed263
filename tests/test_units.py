"""Units: factors against NIST SP 811, scipy.constants and pint; aliases; names nobody knows."""

from __future__ import annotations

import pint
import pytest
from scipy import constants

from gapbook.science.units import ALIASES, INCH, UNITS, lookup, names

# NIST SP 811 (2008), Appendix B.8, seven digits where it gives seven: unit, computing unit, factor, relative tolerance.
NIST = [
    ("mm", "mm", 1.0, 0.0),
    ("cm", "mm", 10.0, 0.0),
    ("[in_i]", "mm", 25.4, 0.0),  # inch, exact
    ("cm2", "cm2", 1.0, 0.0),
    ("mm2", "cm2", 0.01, 0.0),
    ("[sin_i]", "cm2", 6.4516, 1e-15),  # square inch, exact
    ("g", "g", 1.0, 0.0),
    ("kg", "g", 1000.0, 0.0),
    ("[oz_av]", "g", 28.34952, 2e-7),  # ounce (avoirdupois)
    ("[oz_av]", "g", 453.59237 / 16, 1e-15),  # pound, exact, of sixteen ounces
    ("kg.cm2", "kg.cm2", 1.0, 0.0),
    ("N", "N", 1.0, 0.0),
    ("kgf", "N", 9.80665, 0.0),  # kilogram-force, exact
    ("[lbf_av]", "N", 4.448222, 1e-7),  # pound-force
]

# Aliases of the units, and what each means in the trade.
EVERYDAY = {
    "in": "[in_i]",
    "inch": "[in_i]",
    "sq in": "[sin_i]",
    "in2": "[sin_i]",
    "sq cm": "cm2",
    "oz": "[oz_av]",
    "kg cm2": "kg.cm2",
    "lb": "[lbf_av]",
    "lbf": "[lbf_av]",
}

# The same units as pint knows them, with the computing unit.
PINT = {
    "[in_i]": ("inch", "mm"),
    "[sin_i]": ("inch ** 2", "cm ** 2"),
    "mm2": ("mm ** 2", "cm ** 2"),
    "cm": ("cm", "mm"),
    "[oz_av]": ("ounce", "g"),
    "kg": ("kg", "g"),
    "kgf": ("kilogram_force", "N"),
    "[lbf_av]": ("pound_force", "N"),
}


@pytest.mark.parametrize(("name", "base", "factor", "tolerance"), NIST)
def test_factors_are_those_of_nist_sp_811(name, base, factor, tolerance):
    unit = lookup(name)
    assert (unit.code, unit.base) == (name, base)
    assert unit.factor == pytest.approx(factor, rel=tolerance, abs=0)


def test_every_unit_is_checked():
    assert set(UNITS) == {name for name, *_ in NIST}
    assert all(code == unit.code for code, unit in UNITS.items())


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("[in_i]", constants.inch * 1e3),
        ("[sin_i]", constants.inch**2 * 1e4),
        ("[oz_av]", constants.oz * 1e3),
        ("kgf", constants.kilogram_force),
        ("[lbf_av]", constants.pound_force),
    ],
)
def test_factors_agree_with_scipy(name, factor):
    assert lookup(name).factor == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize("name", PINT)
def test_factors_agree_with_pint(name):
    registry = pint.UnitRegistry()
    unit, base = PINT[name]
    assert lookup(name).factor == pytest.approx(registry.Quantity(1.0, unit).to(base).magnitude, rel=1e-12)


def test_an_inch_is_a_length_in_millimetres():
    assert INCH == 25.4  # NIST SP 811, exact


@pytest.mark.parametrize("alias", EVERYDAY)
def test_an_alias_stands_for_its_code(alias):
    assert lookup(alias) == UNITS[EVERYDAY[alias]]


def test_no_alias_hides_a_code_or_is_unchecked():
    assert set(ALIASES) == set(EVERYDAY)
    assert not set(ALIASES) & set(UNITS)


@pytest.mark.parametrize("name", ["", " ", "furlong", "IN", "Mm", "MM", "mm ", " mm", "lbs", "[in_us]", "kg.m2", "%"])
def test_a_name_that_is_not_listed_is_unknown(name):
    assert lookup(name) is None


@pytest.mark.parametrize(
    ("base", "expected"),
    [
        ("mm", ["mm", "cm", "[in_i]", "in", "inch"]),
        ("cm2", ["cm2", "mm2", "[sin_i]", "sq in", "in2", "sq cm"]),
        ("g", ["g", "kg", "[oz_av]", "oz"]),
        ("kg.cm2", ["kg.cm2", "kg cm2"]),
        ("N", ["N", "kgf", "[lbf_av]", "lb", "lbf", "kg"]),
        ("K", []),
    ],
)
def test_names_of_a_dimension_codes_first(base, expected):
    assert names(base) == expected


@pytest.mark.parametrize(("name", "factor"), [("kg", 9.80665), ("kgf", 9.80665), ("lb", 4.4482216152605)])
def test_a_tension_in_kg_is_one_of_kilograms_force(name, factor):
    """NIST SP 811, Appendix B.8: kilogram-force and pound-force to newton."""
    assert lookup(name, tension=True).base == "N"
    assert lookup(name, tension=True).factor == pytest.approx(factor, rel=1e-12)
    assert lookup("kg").base == "g"  # a mass elsewhere
