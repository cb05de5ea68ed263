"""Mass, balance and swingweight: one figure broken, exactly that finding; bounds by hand."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from checked import Checked, good
from gapbook.science.mass_properties import greatest_inertia, impossible, inertia_centre, strung_shift


@pytest.fixture
def package(tmp_path: Path) -> Checked:
    return Checked(tmp_path / "package")


# By hand: a frame of 319.3 g balanced at 321.5 mm has m·(b - 10 cm)² = 0.3193 · 22.15² = 156.66 kg·cm²; all its mass at butt
# and tip (685 mm) would make 0.3193 · 32.15 · 36.35 = 373.15 kg·cm² about the balance point, 529.8 about the axis.
@pytest.mark.parametrize(
    ("swing", "code"),
    [(156.0, "impossible-body"), (157.5, "unusual-body"), (529.0, "unusual-body"), (530.5, "impossible-body")],
)
def test_swingweight_beyond_what_a_body_can_have(package: Checked, swing: float, code: str) -> None:
    line = package.line("readings", quantity="swingweight", strung="true")
    package.edit("readings", line, value=swing)
    (finding,) = package.findings()
    assert (finding.code, finding.table, finding.line, finding.column) == (code, "readings", line, "value")


# A rod of 600 mm and 300 g, balanced 300 mm from the butt: 300 · 0.06² / 12 = 90 kg·cm² about its middle (m L² / 12), and
# 0.3 · 20² = 120 more about the axis 10 cm from its butt.
def test_a_rod_is_possible() -> None:
    rod = np.array([[300.0, 300.0, 210.0]])
    assert inertia_centre(rod) == pytest.approx(90.0)
    assert greatest_inertia(rod, np.array([600.0])) == pytest.approx(270.0)
    assert not any(one[0] for one in impossible(rod, np.array([600.0])))


@given(
    st.lists(st.tuples(st.floats(1.0, 200.0), st.floats(0.0, 700.0)), min_size=1, max_size=8),
)
def test_no_set_of_masses_is_impossible(masses: list[tuple[float, float]]) -> None:
    """Any masses along 0 to 700 mm obey the bound (Bhatia & Davis 2000): sums of point masses, by definition."""
    mass = np.array([one for one, _ in masses])
    place = np.array([at for _, at in masses])
    balance = float((mass * place).sum() / mass.sum())
    swing = float((mass * (place - 100.0) ** 2).sum() * 1e-5)
    body, length = np.array([[mass.sum(), balance, swing]]), np.array([700.0])
    assert -1e-6 <= inertia_centre(body)[0] <= greatest_inertia(body, length)[0] + 1e-6


@pytest.mark.parametrize(
    ("strung", "quantity", "value", "code"),
    [
        ("true", "balance", "455", "impossible-body"),
        ("false", "mass", "450", "unusual-body"),
        ("true", "mass", "231.9", "unusual-body"),
        ("true", "swingweight", "231", "unusual-body"),
        ("false", "balance", "380", "unusual-body"),
    ],
)
def test_reading_unlike_the_others(package: Checked, strung: str, quantity: str, value: str, code: str) -> None:
    line = package.line("readings", quantity=quantity, strung=strung)
    package.edit("readings", line, value=value)
    (finding,) = package.findings()
    assert (finding.code, finding.table, finding.line, finding.column) == (code, "readings", line, "value")


def test_one_bad_repeat_is_the_row_named(tmp_path: Path) -> None:
    small = good()
    for repeat, mass in ((2, 319.4), (3, 391.3)):
        small.reading("one-a", "mass", mass, "g", instrument_id="scale", repeat=repeat)
    package = Checked(tmp_path / "package", small)
    line = package.line("readings", quantity="mass", repeat=3)
    assert [place for place in package.places() if place[0] == "unusual-body"] == [("unusual-body", "readings", line, "value")]


@pytest.mark.parametrize(
    ("column", "value", "code"),
    [("swingweight_kgcm2", "140", "impossible-body"), ("swingweight_kgcm2", "580", "impossible-body"),
     ("mass_g", "230", "unusual-body"), ("balance_mm", "390", "unusual-body"), ("balance_mm", "420", "impossible-body"),
     ("swingweight_kgcm2", "232", "unusual-body")],
)  # fmt: skip
def test_declared_figure(package: Checked, column: str, value: str, code: str) -> None:
    line = package.line("frames", frame_id="other-4")
    package.edit("frames", line, **{column: value})
    assert package.places() == [(code, "frames", line, column)]


def test_few_frames_make_none_unusual(tmp_path: Path) -> None:
    small = good()
    small.tables["frames"] = small.tables["frames"][:4]
    package = Checked(tmp_path / "package", small)
    package.edit("frames", 3, mass_g="230")
    assert package.places() == []


# 16 ± 2 g at the head's centre, at one of three tests two-sided in 1 %: 2.94 u. Mass: u² = 2² + 2 · 0.3² (one scale, whose
# own error falls out): u = 2.04, so 16 ± 6.0 g.
@pytest.mark.parametrize(("mass", "found"), [(297.8, False), (296.8, True), (308.8, False), (309.8, True)])
def test_mass_added_by_stringing(package: Checked, mass: float, found: bool) -> None:
    package.edit("readings", package.line("readings", quantity="mass", strung="false"), value=mass)
    line = package.line("readings", quantity="mass", strung="true")
    assert package.places() == ([("strung-shift", "readings", line, "value")] if found else [])


@pytest.mark.parametrize(("quantity", "value"), [("balance", "321"), ("swingweight", "312")])
def test_figures_that_stringing_should_move(package: Checked, quantity: str, value: str) -> None:
    package.edit("readings", package.line("readings", quantity=quantity, strung="false"), value=value)
    line = package.line("readings", quantity=quantity, strung="true")
    assert package.places() == [("strung-shift", "readings", line, "value")]


def test_shift_by_hand() -> None:
    """16 g at 512 mm on a bare frame of 304 g balanced at 312 mm: 16 · 200 / 320 = 10 mm, 16e-3 · (41.2² + 8²) = 28.18."""
    shift = strung_shift(np.array([[304.0, 312.0, 293.0]]), np.array([512.0]))
    assert shift.value[0] == pytest.approx([16.0, 10.0, 28.183], abs=1e-3)
