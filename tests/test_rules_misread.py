"""One reading out of line: one value broken in a good package, and exactly that finding at that line."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checked import CROSSES, LENGTH, MAINS, WIDTH, Checked, between_edges, causes, good
from effort import examples
from gapbook.science.misread import explained

CODE = "gap-out-of-line"
FOLLOW = {"misclosure", "mirror", "head-area", "outer-density"}


@pytest.fixture
def package(tmp_path: Path) -> Checked:
    return Checked(tmp_path / "package")


def broken(package: Checked, add: float | None = None, times: float | None = None, **cells: object) -> int:
    """Change the value of the one row with these cells; its line."""
    line = package.line("spacings", **cells)
    value = float(package.small.tables["spacings"][line - 2]["value"])
    package.edit("spacings", line, value=f"{value * times if times else value + add:.2f}")
    return line


GAPS = [("main", no) for no in (2, 5, 8, 13)] + [("cross", no) for no in (2, 6, 9, 14, 17)]


@pytest.mark.parametrize(("family", "no"), GAPS)
@pytest.mark.parametrize("add", [-4.0, 4.0])
def test_gap_off(package: Checked, family: str, no: int, add: float) -> None:
    line = broken(package, add, specimen_id="one-a", family=family, no=no)
    (finding,) = package.findings()
    assert (finding.code, finding.table, finding.line, finding.column) == (CODE, "spacings", line, "value")
    assert causes(finding) <= FOLLOW


@pytest.mark.parametrize(("family", "no"), [("main", 3), ("main", 8), ("cross", 4), ("cross", 12), ("cross", 18)])
@pytest.mark.parametrize("repeat", [1, 2])
@pytest.mark.parametrize("add", [-5.0, 5.0])
def test_mark_off_in_one_of_two_repeats(package: Checked, family: str, no: int, repeat: int, add: float) -> None:
    line = broken(package, add, specimen_id="one-b", family=family, no=no, repeat=repeat)
    (finding,) = package.findings()
    assert (finding.code, finding.line, finding.column) == (CODE, line, "value")


@pytest.mark.parametrize(
    ("family", "no", "written", "meant"),
    [
        ("main", 6, "19.03", "10.93"),  # 10.9 mm · 1.003, digits changed about
        ("cross", 5, "31.24", "13.24"),
        ("main", 4, "1.234", "12.34"),  # the point slipped
        ("cross", 7, "119.4", "11.94"),
        ("main", 10, "0.430", "10.922"),  # 0.430 in, written among millimetres
    ],
)
def test_likely_true_value_is_named(package: Checked, family: str, no: int, written: str, meant: str) -> None:
    line = package.line("spacings", specimen_id="one-a", family=family, no=no)
    package.edit("spacings", line, value=written)
    (finding,) = package.findings()
    assert (finding.code, finding.line) == (CODE, line)
    assert f"{float(meant):g} mm" in finding.fix


@pytest.mark.parametrize(("family", "no"), [("main", 7), ("cross", 10)])
def test_skipped_string_is_named(package: Checked, family: str, no: int) -> None:
    line = broken(package, times=2.0, specimen_id="one-a", family=family, no=no)
    (finding,) = package.findings()
    assert (finding.code, finding.line) == (CODE, line)
    assert "two gaps" in finding.fix


def test_two_bad_gaps_are_two_findings(package: Checked) -> None:
    lines = [broken(package, 6.0, specimen_id="one-a", family="cross", no=no) for no in (4, 13)]
    findings = package.findings()
    assert [(one.code, one.line) for one in findings] == [(CODE, line) for line in lines]


STEPPED = (16.0, 16.0, 14.0, 14.0, 12.0, 12.0, 10.0, 10.0, 10.0, 12.0, 12.0, 14.0, 14.0, 16.0, 16.0)
STAGGERED = (16.0, 13.0, 14.5, 11.0, 12.5, 9.5, 11.0, 9.5, 11.0, 9.5, 12.5, 11.0, 14.5, 13.0, 16.0)
PAIRED = (17.0, 17.0, 17.0, 14.5, 14.5, 14.5, 12.0, 12.0, 12.0, 12.0, 12.0, 12.0, 14.0, 14.0, 14.0, 16.0, 16.0, 16.0)


@pytest.mark.parametrize(("mains", "crosses"), [(STEPPED, CROSSES), (STAGGERED, CROSSES), (MAINS, PAIRED), (STEPPED, PAIRED)])
def test_drilling_in_steps_is_no_finding(tmp_path: Path, mains: tuple[float, ...], crosses: tuple[float, ...]) -> None:
    assert Checked(tmp_path / "package", good(mains, crosses)).places() == []


def test_what_another_session_bears_out_is_no_finding(tmp_path: Path) -> None:
    wide = tuple(gap + (4.0 if number == 9 else 0.0) for number, gap in enumerate(CROSSES))
    small = good(crosses=wide)
    for row in [row for row in small.tables["spacings"] if row["specimen_id"] == "one-a"]:
        again = {"contributor_id": "ole", "instrument_id": "cal-2", "taken_on": "2026-03-02"}
        small.tables["spacings"].append(row | again | {"value": f"{float(row['value']) + 0.02:.2f}"})
    package = Checked(tmp_path / "package", small)
    assert not [place for place in package.places() if package.small.tables["spacings"][place[2] - 2]["specimen_id"] == "one-a"]


def test_of_two_sessions_the_bad_one_is_named(tmp_path: Path) -> None:
    small = good()
    for row in [row for row in small.tables["spacings"] if row["specimen_id"] == "one-a"]:
        again = {"contributor_id": "ole", "instrument_id": "cal-2", "taken_on": "2026-03-02"}
        small.tables["spacings"].append(row | again)
    package = Checked(tmp_path / "package", small)
    line = broken(package, -3.0, specimen_id="one-a", family="cross", no=7, contributor_id="ole")
    assert package.places() == [(CODE, "spacings", line, "value")]


@pytest.mark.parametrize(("family", "one", "other"), [("main", 3, 9), ("cross", 3, 9)])
def test_two_readings_exchanged_are_named_together(package: Checked, family: str, one: int, other: int) -> None:
    lines = [package.line("spacings", specimen_id="one-a", family=family, no=no) for no in (one, other)]
    values = [package.small.tables["spacings"][line - 2]["value"] for line in lines]
    for line, value in zip(lines, reversed(values), strict=True):
        package.edit("spacings", line, value=value)
    fixes = {item.line: item.fix for item in package.findings() if item.code == CODE}
    assert set(fixes) == set(lines)
    assert all(fix.startswith(f"Gaps {one} and {other} look exchanged") for fix in fixes.values())


# written, expected, u; what is offered. The interval shown reaches 2 u to both sides (JCGM 100:2008, 6.2, k = 2).
OFFERED = [(13.05, 9.5, 0.35, None), (19.03, 10.9, 0.3, 10.93), (31.24, 12.7, 0.3, 13.24), (31.24, 12.6, 0.3, None)]


@pytest.mark.parametrize(("written", "expected", "u", "offered"), OFFERED)
def test_no_figure_is_offered_outside_the_interval_shown(
    written: float, expected: float, u: float, offered: float | None
) -> None:
    slip = explained(written, expected, u, False)
    assert (slip and slip.value) == offered


@examples(12)
@given(no=st.integers(2, 14), add=st.sampled_from([-4.5, 4.5, 7.0]))
def test_mirror_image_of_a_bed_gives_the_mirrored_finding(no: int, add: float) -> None:
    places = []
    for flip in (False, True):
        gaps = between_edges(MAINS, WIDTH)
        gaps[no] += add
        small = good()
        at = [row for row in small.tables["spacings"] if row["specimen_id"] == "one-a" and row["family"] == "main"]
        for row, gap in zip(at, reversed(gaps) if flip else gaps, strict=True):
            row["value"] = f"{gap:.2f}"
        with TemporaryDirectory() as scratch:
            places.append(Checked(Path(scratch) / "package", small).places())
    first = 2
    assert places[0] == [(CODE, "spacings", first + no, "value")]
    assert places[1] == [(CODE, "spacings", first + 16 - no, "value")]


@examples(12)
@given(family=st.sampled_from(["main", "cross"]), no=st.integers(2, 14), add=st.sampled_from([-4.5, 0.0, 0.3, 5.0]))
def test_inches_and_millimetres_give_the_same_findings(family: str, no: int, add: float) -> None:
    places = []
    for inches in (False, True):
        small = good()
        gaps = {"main": between_edges(MAINS, WIDTH), "cross": between_edges(CROSSES, LENGTH)}
        gaps[family][no] += add
        for row in small.tables["spacings"]:
            if row["specimen_id"] == "one-a":
                value = gaps[row["family"]][int(row["no"])]
                row |= {"value": f"{value / 25.4:.6f}", "unit": "in"} if inches else {"value": f"{value:.2f}"}
        with TemporaryDirectory() as scratch:
            places.append(Checked(Path(scratch) / "package", small).places())
    assert places[0] == places[1]
    assert bool(places[0]) == (abs(add) > 1.0)
