"""Runs that are not whole, beds that do not close, heads that do not fit: one thing broken, exactly that finding."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from scipy.special import gamma

from checked import CROSSES, LENGTH, MAINS, WIDTH, Checked, between_edges, causes, good
from small import Small


@pytest.fixture
def package(tmp_path: Path) -> Checked:
    return Checked(tmp_path / "package")


def first(package: Checked, copy: str, family: str) -> int:
    return package.line("spacings", specimen_id=copy, family=family)


# Runs ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("copy", "family", "no"),
    [("one-a", "main", 7), ("one-a", "cross", 0), ("one-a", "cross", 19), ("one-a", "main", 16), ("one-b", "main", 4)],
)
def test_missing_number(package: Checked, copy: str, family: str, no: int) -> None:
    lines = [number for number, row in enumerate(package.small.tables["spacings"], 2)
             if (row["specimen_id"], row["family"], row["no"]) == (copy, family, str(no))]  # fmt: skip
    start = first(package, copy, family)
    package.drop("spacings", *lines)
    assert package.places() == [("missing-numbers", "spacings", start, "no")]


def test_a_number_that_one_repeat_leaves_out_is_no_finding(package: Checked) -> None:
    package.drop("spacings", package.line("spacings", specimen_id="one-b", family="cross", no=6, repeat=2))
    assert package.places() == []


def test_last_two_missing_are_not_another_count(package: Checked) -> None:
    package.drop("spacings", *(package.line("spacings", specimen_id="one-a", family="main", no=no) for no in (15, 16)))
    assert package.places() == [("missing-numbers", "spacings", 2, "no")]


def test_surplus_number(package: Checked) -> None:
    line = package.line("spacings", specimen_id="one-a", family="cross", no=19)
    package.repeat("spacings", line, no=21)
    assert package.places() == [("surplus-numbers", "spacings", first(package, "one-a", "cross"), "no")]


def test_missing_station(package: Checked) -> None:
    package.every("spacings", "station_mm", 20, specimen_id="one-a", family="main")
    assert package.places() == [("missing-station", "spacings", 2, None)]


def test_crosses_at_another_station(package: Checked) -> None:
    small = package.small
    small.run("one-a", "cross", between_edges(CROSSES, LENGTH), edges=True, station=40, taken_on="2026-03-09")
    package = Checked(package.path.parent / "again", small)
    line = package.line("spacings", specimen_id="one-a", station_mm=40)
    assert package.places() == [("station", "spacings", line, "station_mm")]


def test_gap_not_positive(package: Checked) -> None:
    line = package.line("spacings", specimen_id="one-a", family="main", no=9)
    package.edit("spacings", line, value="0")
    assert package.places() == [("gap-not-positive", "spacings", line, "value")]


@pytest.mark.parametrize(("no", "value", "at"), [(8, "20.0", 8), (8, "190.0", 9)])
def test_marks_not_rising(tmp_path: Path, no: int, value: str, at: int) -> None:
    small = good()
    small.tables["spacings"] = [row for row in small.tables["spacings"] if row["repeat"] == "1"]
    package = Checked(tmp_path / "package", small)
    cells = {"specimen_id": "one-b", "family": "main"}
    package.edit("spacings", package.line("spacings", no=no, **cells), value=value)
    assert package.places() == [("marks-not-rising", "spacings", package.line("spacings", no=at, **cells), "value")]


@pytest.mark.parametrize(("mains", "crosses"), [(18, 19), (14, 19), (16, 20), (16, 18), (18, 20)])
def test_counts_declared_otherwise(package: Checked, mains: int, crosses: int) -> None:
    package.edit("frames", package.line("frames", frame_id="one"), mains=mains, crosses=crosses)
    wrong = [family for family, is_wrong in (("main", mains != 16), ("cross", crosses != 19)) if is_wrong]
    findings = package.findings()
    expected = [("declared-counts", first(package, "one-a", family), "no", "one-a") for family in wrong]
    assert [(one.code, one.line, one.column, one.row_key) for one in findings] == expected


@pytest.mark.parametrize(("mains", "proved"), [(18, True), (15, True), (17, True)])
def test_one_run_from_edge_to_edge_proves_another_count(tmp_path: Path, mains: int, proved: bool) -> None:
    small = good()
    small.tables["spacings"] = [row for row in small.tables["spacings"] if row["specimen_id"] == "one-a"]
    package = Checked(tmp_path / "package", small)
    package.edit("frames", package.line("frames", frame_id="one"), mains=mains)
    assert [place[0] for place in package.places()] == ["declared-counts" if proved else "missing-numbers"]


def test_one_run_without_edges_proves_no_smaller_count(tmp_path: Path) -> None:
    small = Small()
    small.frame("one", 18, 19, 632.3)
    small.copy("one-a", "one")
    small.run("one-a", "main", MAINS)
    small.run("one-a", "cross", CROSSES)
    package = Checked(tmp_path / "package", small)
    assert package.places() == [("missing-numbers", "spacings", 2, "no")]


def alone(tmp_path: Path, copy: str = "one-a") -> tuple[Checked, Small]:
    """One copy, read in one session."""
    small = good()
    for table in ("spacings", "readings"):
        small.tables[table] = [row for row in small.tables[table] if row["specimen_id"] == copy and row["repeat"] == "1"]
    return Checked(tmp_path / "package", small), small


def station(small: Small, y: float) -> None:
    """The mains of one-a once more, at another station, as an ellipse has them there: the frame of `good` is nearly one."""
    part = math.sqrt(1.0 - (2.0 * y / LENGTH) ** 2)
    end = round((WIDTH * part - sum(MAINS)) / 2.0, 2)
    small.run("one-a", "main", [end, *MAINS, end], edges=True, station=y)


@pytest.mark.parametrize("gone", ["0", "16"])
def test_one_edge_left_out_of_every_run_of_a_session_is_missing(tmp_path: Path, gone: str) -> None:
    # Contract 3: both edges or neither; three stations of one session with the same slip prove no other count.
    _, small = alone(tmp_path)
    for y in (-40.0, 40.0):
        station(small, y)
    small.tables["spacings"] = [row for row in small.tables["spacings"] if (row["family"], row["no"]) != ("main", gone)]
    findings = Checked(tmp_path / "without", small).findings()
    assert [(one.code, one.found) for one in findings] == [("missing-numbers", f"missing {gone}")] * 3


@pytest.mark.parametrize("copy", ["one-a", "one-b"])
def test_numbers_from_one_instead_of_from_zero(tmp_path: Path, copy: str) -> None:
    _, small = alone(tmp_path, copy)
    for row in small.tables["spacings"]:
        row["no"] = str(int(row["no"]) + 1)
    findings = Checked(tmp_path / "moved", small).findings()
    assert [(one.code, one.found) for one in findings] == [("missing-numbers", "missing 0")] * 2
    assert all("start at 0" in one.fix and "one less" in one.fix for one in findings)


def test_another_copy_that_is_whole_says_that_the_frame_is_right(tmp_path: Path) -> None:
    # Gaps 1 to 14 in two sessions; the frame declares 16, and another copy has them.
    small = good()
    small.copy("one-c", "one")
    for day in ("2026-03-01", "2026-03-02"):
        small.run("one-c", "main", MAINS[:-1], taken_on=day)
        small.run("one-c", "cross", CROSSES, taken_on=day)
    findings = Checked(tmp_path / "package", small).findings()
    assert [(one.code, one.found) for one in findings] == [("missing-numbers", "missing 15")] * 2


def test_mains_and_crosses_swapped(tmp_path: Path) -> None:
    _, small = alone(tmp_path)
    for y in (-40.0, 40.0):
        station(small, y)
    for row in small.tables["spacings"]:
        row["family"] = {"main": "cross", "cross": "main"}[row["family"]]
    (finding,) = Checked(tmp_path / "swapped", small).findings()
    assert (finding.code, finding.line, finding.column) == ("declared-counts", 2, "family")
    assert "swapped" in finding.found
    assert "Exchange" in finding.fix
    assert causes(finding) == {"station"}


@pytest.mark.parametrize(("copy", "written", "meant"), [("one-a", "mark", "gap"), ("one-b", "gap", "mark")])
def test_one_kind_written_as_the_other(tmp_path: Path, copy: str, written: str, meant: str) -> None:
    _, small = alone(tmp_path, copy)
    for row in small.tables["spacings"]:
        row["kind"] = written
    (finding,) = Checked(tmp_path / "wrong", small).findings()
    assert (finding.code, finding.line, finding.column) == ("wrong-kind", 2, "kind")
    assert f"write {meant}" in finding.fix


# From edge to edge ---------------------------------------------------------------------------------------------------


def bound_mm(gaps: int) -> float:
    """What misclosure is allowed, by hand, after JCGM 100:2008, 5.1.2: gaps of 0.1 mm each (nothing was repeated) and a
    step of 0.01 mm, with a calliper of largest error 0.05 mm and a person who may add 0.05 mm to each, against a rule of
    0.5 mm repeatability and largest error 0.5 mm; two tests at 1 % in
    all, so 2.81 standard deviations (normal, two-sided 0.5 %).
    """
    reading = gaps * (0.1**2 + 0.01**2 / 12) + 0.5**2 + 0.5**2 / 12
    instrument = (gaps * 0.05) ** 2 / 3.0 + 0.5**2 / 3.0
    return 2.807 * math.sqrt(reading + instrument + (gaps * 0.05) ** 2)


@pytest.mark.parametrize(
    ("quantity", "family", "gaps", "value"), [("head_width", "main", 17, WIDTH), ("head_length", "cross", 20, LENGTH)]
)
@pytest.mark.parametrize("sign", [-1, 1])
def test_misclosure(package: Checked, quantity: str, family: str, gaps: int, value: float, sign: int) -> None:
    line = package.line("readings", quantity=quantity)
    package.edit("readings", line, value=f"{value + sign * (bound_mm(gaps) - 0.1):.2f}")
    assert package.places() == []
    package.edit("readings", line, value=f"{value + sign * (bound_mm(gaps) + 0.1):.2f}")
    (finding,) = package.findings()
    assert (finding.code, finding.table, finding.line) == ("misclosure", "spacings", first(package, "one-a", family))
    assert finding.row_key == f"one-a/{family}"


def test_misclosure_is_accepted_by_its_row_key(package: Checked) -> None:
    package.edit("readings", package.line("readings", quantity="head_width"), value="250")
    with package.table("exceptions").open("a", encoding="utf-8") as file:
        file.write("misclosure,one-a/main,The hoop is out of true,ole,2026-11-01\n")  # it was read by ida
    (finding,) = package.findings()
    assert (finding.code, str(finding.severity)) == ("misclosure", "note")


def test_outermost_gap_misread_is_misclosure(package: Checked) -> None:
    line = package.line("spacings", specimen_id="one-a", family="cross", no=19)
    value = float(package.small.tables["spacings"][line - 2]["value"])
    package.edit("spacings", line, value=f"{value + 9.0:.2f}")
    assert package.places() == [("misclosure", "spacings", first(package, "one-a", "cross"), None)]


# Left and right ------------------------------------------------------------------------------------------------------


def test_half_of_the_gaps_in_the_wrong_rows(package: Checked) -> None:
    lines = [package.line("spacings", specimen_id="one-a", family="main", no=no) for no in range(9, 16)]
    values = [package.small.tables["spacings"][line - 2]["value"] for line in lines]
    for line, value in zip(lines, reversed(values), strict=True):
        package.edit("spacings", line, value=value)
    (finding,) = package.findings()
    assert (finding.code, finding.line, finding.row_key) == ("mirror", 2, "one-a/main")


def test_half_of_the_marks_of_one_repeat_off(package: Checked) -> None:
    for no in range(9, 18):
        line = package.line("spacings", specimen_id="one-b", family="main", no=no, repeat=2)
        value = float(package.small.tables["spacings"][line - 2]["value"])
        package.edit("spacings", line, value=f"{value + 1.2 * (no - 8):.1f}")
    start = package.line("spacings", specimen_id="one-b", family="main", repeat=2)
    assert ("mirror", start) in [(one.code, one.line) for one in package.findings()]


def test_a_bed_to_one_side_is_no_finding(package: Checked) -> None:
    for no, add in ((0, 2.0), (16, -2.0)):
        line = package.line("spacings", specimen_id="one-a", family="main", no=no)
        value = float(package.small.tables["spacings"][line - 2]["value"])
        package.edit("spacings", line, value=f"{value + add:.2f}")
    assert package.places() == []


# The head ------------------------------------------------------------------------------------------------------------


def superellipse_cm2(exponent: float) -> float:
    """Area of the superellipse as wide and long as the head (scipy.special.gamma)."""
    factor = gamma(1.0 + 1.0 / exponent) ** 2 / gamma(1.0 + 2.0 / exponent)
    return WIDTH * LENGTH * factor / 100.0


@pytest.mark.parametrize(("exponent", "inside", "outside"), [(1.7, 1.0, -1.0), (2.7, -1.0, 1.0)])
def test_head_area(tmp_path: Path, exponent: float, inside: float, outside: float) -> None:
    small = good()
    small.tables["readings"] = [row for row in small.tables["readings"] if row["quantity"] != "head_area"]
    small.tables["spacings"] = [row for row in small.tables["spacings"] if row["specimen_id"] == "one-a"]
    package = Checked(tmp_path / "package", small)
    line = package.line("frames", frame_id="one")
    package.edit("frames", line, head_area_cm2=f"{superellipse_cm2(exponent) + inside:.1f}")
    assert package.places() == []
    package.edit("frames", line, head_area_cm2=f"{superellipse_cm2(exponent) + outside:.1f}")
    assert package.places() == [("head-area", "spacings", 2, None)]


def test_head_area_of_a_copy_with_no_bed(tmp_path: Path) -> None:
    small = Small()
    small.frame("one", 16, 19, 632.3)
    small.copy("one-a", "one")
    small.reading("one-a", "head_width", 243.0)
    small.reading("one-a", "head_length", 270.0)
    assert Checked(tmp_path / "package", small).places() == [("head-area", "readings", 2, "value")]


@pytest.mark.parametrize(("off", "found"), [(17.0, False), (18.5, True), (-17.0, False), (-18.5, True)])
def test_declared_area(package: Checked, off: float, found: bool) -> None:
    """By hand: 1 % of 632.3 cm², a planimeter of largest error 2 cm², repeatability 2 cm²: u = 6.73 cm²; one test, two-sided
    1 %: 2.576 u = 17.3 cm².
    """
    line = package.line("readings", quantity="head_area")
    package.edit("readings", line, value=f"{632.3 + off:.1f}")
    assert package.places() == ([("declared-area", "readings", line, "value")] if found else [])


# Causes and layers ---------------------------------------------------------------------------------------------------


def test_width_in_inches_brings_its_consequences_under_it(package: Checked) -> None:
    package.edit("readings", package.line("readings", quantity="head_width"), value="9.57")
    (finding,) = package.findings()
    assert finding.code == "likely-unit"
    assert causes(finding) == {"misclosure", "head-area"}
