"""The rules of tennis: limits of ITF Rules of Tennis, Appendix II, and a bed denser outside than in its centre."""

from __future__ import annotations

from pathlib import Path

import pytest

from checked import CROSSES, LENGTH, MAINS, WIDTH, Checked, between_edges, good
from gapbook.intake.rules.game import RULES


@pytest.fixture
def package(tmp_path: Path) -> Checked:
    return Checked(tmp_path / "package")


@pytest.mark.parametrize(("length", "found"), [("737", False), ("737.5", True), ("760", True)])
def test_declared_length(package: Checked, length: str, found: bool) -> None:
    """73.7 cm overall."""
    line = package.line("frames", frame_id="other-2")
    package.edit("frames", line, length_mm=length)
    assert package.places() == ([("frame-size", "frames", line, "length_mm")] if found else [])


# A rule of largest error 0.5 mm and repeatability 0.5 mm: U = 2 · √(0.5² + 0.5²/3) = 1.15 mm (JCGM 100:2008, 6.2.1).
@pytest.mark.parametrize(("quantity", "limit"), [("length", 737.0), ("head_length", 394.0), ("head_width", 292.0)])
def test_size_read(tmp_path: Path, quantity: str, limit: float) -> None:
    for off, found in ((1.0, False), (1.3, True)):
        small = good()
        small.tables["readings"] = [row for row in small.tables["readings"] if row["specimen_id"] != "one-a"]
        small.reading("one-b", quantity, limit + off)
        package = Checked(tmp_path / str(found), small)
        codes = [place for place in package.places() if place[0] == "frame-size"]
        assert codes == ([("frame-size", "readings", 2, "value")] if found else [])


def test_sides_denser_than_the_centre(tmp_path: Path) -> None:
    inside_out = (9.5, 9.5, 9.7, 10.2, 11.0, 12.2, 13.4, 14.0, 13.4, 12.2, 11.0, 10.2, 9.7, 9.5, 9.5)
    small = good(mains=inside_out)
    findings = Checked(tmp_path / "package", small).findings()
    assert [(one.code, one.table, one.row_key) for one in findings] == [
        ("outer-density", "spacings", "one-a"), ("outer-density", "spacings", "one-b"),
    ]  # fmt: skip
    assert all(str(one.severity) == "warning" and "ITF" in one.fix for one in findings)


def test_an_even_bed_is_no_finding(tmp_path: Path) -> None:
    small = good(mains=(12.0,) * 15, crosses=(13.5,) * 18)
    assert Checked(tmp_path / "package", small).places() == []


def test_nothing_is_called_illegal() -> None:
    for rule in RULES:
        said = " ".join((rule.title, rule.rationale, rule.fix)).lower()
        assert "illegal" not in said
        assert "review" in rule.fix.lower()


def test_beds_of_the_good_package_are_what_they_seem() -> None:
    assert sum(between_edges(MAINS, WIDTH)) == pytest.approx(WIDTH, abs=0.02)
    assert sum(between_edges(CROSSES, LENGTH)) == pytest.approx(LENGTH, abs=0.02)
