"""A frame that declares no head area: it is as read on its copies, or follows from their width and length."""

from __future__ import annotations

import csv

import pytest
from scipy.special import gamma

from contributed import package_in
from demo_rows import ROOT
from gapbook import open_catalogue
from gapbook.errors import GapbookError
from running import gapbook
from small import Small, even
from test_sheet import fill, laid, write

FACTOR = gamma(1 + 1 / 2.1) ** 2 / gamma(1 + 2 / 2.1)  # a superellipse of exponent 2.1, the usual one


def undeclared() -> Small:
    small = even()
    small.tables["frames"][0]["head_area_cm2"] = ""
    return small


def with_size() -> Small:
    small = undeclared()
    for quantity, values in (("head_width", (240.0, 242.0)), ("head_length", (331.0,))):
        for day, value in enumerate(values, 1):
            small.reading("one-a", quantity, value, taken_on=f"2026-03-0{day}")
    return small


def test_it_follows_from_width_and_length():
    tables = with_size().derived()
    wanted = 241.0 * 331.0 * FACTOR / 100.0
    assert tables["scores"]["one"]["head_area_cm2"] == pytest.approx(wanted, rel=1e-5)
    assert tables["beds"]["one-a"]["head_area_cm2"] == pytest.approx(wanted, rel=1e-5)
    assert tables["beds"]["one-a"]["head_exponent"] == pytest.approx(2.1, abs=1e-4)


def test_an_area_that_was_read_goes_first():
    small = with_size()
    small.add("instruments", instrument_id="wheel", kind="planimeter", resolution="1", max_error="3", unit="cm2")
    small.reading("one-a", "head_area", 640.0, "cm2", instrument_id="wheel")
    assert small.derived()["scores"]["one"]["head_area_cm2"] == 640.0


def test_a_declared_one_stays():
    small = with_size()
    small.tables["frames"][0]["head_area_cm2"] = "620"
    assert small.derived()["scores"]["one"]["head_area_cm2"] == 620.0


def test_without_any_it_is_said_where(tmp_path):
    with pytest.raises(GapbookError) as raised:
        undeclared().derived()
    (problem,) = raised.value.problems
    assert (problem.code, problem.place.file, problem.place.line) == ("no-head-area", "catalogue/frames.csv", 2)
    assert "one" in problem.message


@pytest.mark.parametrize("command", [("show", "one"), ("ask", "16x19"), ("draw", "one", "--out", "bed.svg"), ("check",)])
@pytest.mark.slow_after(1)
def test_such_a_frame_is_shown_asked_and_drawn(tmp_path, command):
    root = package_in(tmp_path / "package", with_size()).root
    run = gapbook(*command, "--package", str(root), cwd=tmp_path)
    assert run.returncode == 0, run.stderr + run.stdout
    if command[0] == "show":
        assert "from what was read" in run.stdout


def test_a_sheet_for_a_bare_pattern_needs_no_head_area(tmp_path, capsys):
    folder = laid(tmp_path, "16x19", "--contributor", "tam-veldrick")
    fill(folder)
    with (folder / "frames.csv").open(encoding="utf-8") as file:
        (frame,) = csv.DictReader(file)
    write(folder, "frames", [frame | {"maker": "Mine", "model": "Own"}])
    (_, bed) = open_catalogue(ROOT).compare("fern-98", str(folder)).beds
    assert bed.head_area_cm2 == pytest.approx(240.0 * 331.0 * FACTOR / 100.0, rel=1e-4)
    run = gapbook("check", str(folder), "--package", str(ROOT))
    assert "head_area" not in run.stdout, run.stdout
    assert run.returncode == 0
