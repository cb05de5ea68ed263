"""Units: one thing broken in a good package, and exactly that finding at that line and column."""

from __future__ import annotations

from pathlib import Path

import pytest

from checked import Checked, causes, good

INCH_MM, SQUARE_INCH_CM2, OUNCE_G = 25.4, 6.4516, 28.349523125
"""NIST SP 811 (2008), Appendix B.8; the ounce is a sixteenth of 453.59237 g."""


@pytest.fixture
def package(tmp_path: Path) -> Checked:
    return Checked(tmp_path / "package")


def test_good_package_is_clean(package: Checked) -> None:
    assert package.places() == []


# What a frame can be is common knowledge: 27 in, 11.3 oz, 98 sq in, 12.7 in from the butt are everyday figures.
MISTAKEN = (
    ("length", "true", "27", "mm", "[in_i]"),
    ("length", "true", "68.5", "mm", "cm"),
    ("mass", "true", "11.3", "g", "[oz_av]"),
    ("mass", "false", "0.3035", "g", "kg"),
    ("mass", "true", "319.3", "oz", "g"),
    ("head_area", "true", "97.5", "cm2", "[sin_i]"),
    ("head_area", "true", "63050", "cm2", None),
    ("balance", "true", "12.7", "mm", "[in_i]"),
    ("balance", "false", "31.15", "mm", "cm"),
    ("head_width", "true", "9.6", "mm", "[in_i]"),
    ("head_length", "true", "325", "cm", "mm"),
)


@pytest.mark.parametrize(("quantity", "strung", "value", "unit", "likely"), MISTAKEN)
def test_reading_in_another_unit(
    package: Checked, quantity: str, strung: str, value: str, unit: str, likely: str | None
) -> None:
    line = package.line("readings", quantity=quantity, strung=strung)
    package.edit("readings", line, value=value, unit=unit)
    findings = package.findings()
    if likely is None:  # beyond the schema's own limit: the finding is that of the limit
        assert [one.code for one in findings] == ["limit"]
        return
    assert [(one.code, one.line, one.column) for one in findings] == [("likely-unit", line, "value")]
    assert likely in findings[0].fix


@pytest.mark.parametrize(
    ("quantity", "value", "unit"),
    [("length", 685.0 / INCH_MM, "in"), ("mass", 319.3 / OUNCE_G, "oz"), ("head_area", 630.5 / SQUARE_INCH_CM2, "sq in")],
)
def test_right_unit_is_no_finding(package: Checked, quantity: str, value: float, unit: str) -> None:
    package.edit("readings", package.line("readings", quantity=quantity, strung="true"), value=f"{value:.5f}", unit=unit)
    assert package.places() == []


@pytest.mark.parametrize(
    ("copy", "cells", "factor", "unit", "likely"),
    [
        ("one-a", {}, 1.0 / INCH_MM, "mm", "[in_i]"),
        ("one-a", {"family": "cross"}, 1.0 / INCH_MM, "mm", "[in_i]"),
        ("one-a", {"family": "main"}, 0.1, "mm", "cm"),
        ("one-a", {}, 1.0, "in", "mm"),
        ("one-a", {}, 1.0, "cm", "mm"),
        ("one-b", {"repeat": "2"}, 0.1, "mm", "cm"),
        ("one-b", {"repeat": "2", "family": "main"}, 1.0 / INCH_MM, "mm", "[in_i]"),
    ],
)
def test_session_in_another_unit(
    package: Checked, copy: str, cells: dict[str, str], factor: float, unit: str, likely: str
) -> None:
    lines = []
    for number, row in enumerate(package.small.tables["spacings"], 2):
        if row["specimen_id"] == copy and all(row[name] == cell for name, cell in cells.items()):
            package.edit("spacings", number, value=f"{float(row['value']) * factor:.4f}", unit=unit)
            lines.append(number)
    findings = package.findings()
    assert [(one.code, one.table, one.line, one.column) for one in findings] == [("likely-unit", "spacings", lines[0], "unit")]
    assert likely in findings[0].fix


@pytest.mark.parametrize(
    ("value", "unit", "column", "likely"),
    [("245", "lb", "main_tension", "N"), ("54", "N", "main_tension", "[lbf_av]"), ("24", "N", "main_tension", "kgf")],
)
def test_tension_in_another_unit(package: Checked, value: str, unit: str, column: str, likely: str) -> None:
    package.edit("playtests", 2, main_tension=value, cross_tension=value, tension_unit=unit)
    findings = package.findings()
    assert [(one.code, one.table, one.line, one.column) for one in findings] == [("likely-unit", "playtests", 2, column)]
    assert likely in findings[0].fix


UNKNOWN = (
    ("spacings", {"specimen_id": "one-a", "no": 4, "family": "main"}, "unit", "inches"),
    ("readings", {"quantity": "mass", "strung": "true"}, "unit", "grams"),
    ("instruments", {"instrument_id": "wheel"}, "unit", "cm^2"),
    ("playtests", {}, "tension_unit", "lbs"),
)


@pytest.mark.parametrize(("table", "cells", "column", "text"), UNKNOWN)
def test_unknown_unit(package: Checked, table: str, cells: dict[str, object], column: str, text: str) -> None:
    line = package.line(table, **cells)
    package.edit(table, line, **{column: text})
    assert package.places() == [("unit-unknown", table, line, column)]


def test_unknown_unit_of_a_session_is_one_finding(package: Checked) -> None:
    package.every("spacings", "unit", "millimetres", specimen_id="one-b", family="cross")
    line = package.line("spacings", specimen_id="one-b", family="cross")
    assert package.places() == [("unit-unknown", "spacings", line, "unit")]


DIMENSIONS = (
    ("spacings", {"specimen_id": "one-b", "no": 9, "family": "cross"}, "unit", "g"),
    ("readings", {"quantity": "mass", "strung": "false"}, "unit", "mm"),
    ("readings", {"quantity": "head_area"}, "unit", "mm"),
    ("readings", {"quantity": "swingweight", "strung": "true"}, "unit", "g"),
    ("playtests", {}, "tension_unit", "g"),
)


@pytest.mark.parametrize(("table", "cells", "column", "text"), DIMENSIONS)
def test_unit_of_another_dimension(package: Checked, table: str, cells: dict[str, object], column: str, text: str) -> None:
    line = package.line(table, **cells)
    package.edit(table, line, **{column: text})
    assert package.places() == [("unit-dimension", table, line, column)]


def test_instrument_of_another_dimension(package: Checked) -> None:
    line = package.line("readings", quantity="mass", strung="true")
    package.edit("readings", line, instrument_id="rule")
    assert package.places() == [("instrument-dimension", "readings", line, "instrument_id")]


def test_instrument_that_cannot_state_its_error_so(package: Checked) -> None:
    line = package.line("instruments", instrument_id="rule")
    package.edit("instruments", line, unit="g")
    (finding,) = package.findings()
    assert (finding.code, finding.table, finding.line, finding.column) == ("unit-dimension", "instruments", line, "unit")
    assert causes(finding) == {"instrument-dimension"}


def test_photograph_may_measure_areas(tmp_path: Path) -> None:
    small = good()
    small.add("instruments", instrument_id="snap", kind="photo", resolution="0.5", max_error="4", unit="cm2")
    small.reading("one-b", "head_area", 632.0, "cm2", instrument_id="snap")
    assert Checked(tmp_path / "package", small).places() == []
