"""`gapbook drill`: the meshes asked for by the scores of the derivation, limits, symmetry, rounding, and what cannot be had."""

from __future__ import annotations

import csv
import json
from itertools import pairwise
from math import exp, log, sqrt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_rows import ROOT
from gapbook.questions.drilling import ROUNDING_MM, ROUNDING_PERCENT
from gapbook.science.drilling import LIMITS, Drilling, drill, zone_meshes
from gapbook.tables.contribution import own_copy
from gapbook.tables.opening import open_package
from running import gapbook

BALL = 67.0
ASKED = ("--head", "98 sq in", "--pattern", "16x19", "--centre", "10.8", "--sides", "+12%")


def told(*arguments: str) -> dict[str, object]:
    run = gapbook("drill", *arguments, "--json")
    assert (run.returncode, run.stderr) == (0, "")
    return json.loads(run.stdout)


def asked(head: str, pattern: str, centre: str, sides: str, *more: str) -> dict[str, object]:
    return told("--head", head, "--pattern", pattern, "--centre", centre, "--sides", sides, *more)


def counted_pitch(places: list[float], middle: float) -> float:
    """By the definition: the part of the window that gaps cover, over how many gaps fit into it."""
    low, high = middle - BALL / 2, middle + BALL / 2
    covered = number = 0.0
    for left, right in pairwise(places):
        overlap = max(0.0, min(right, high) - max(left, low))
        covered += overlap
        number += overlap / (right - left)
    return covered / number


# Meshes and openings of frames as they are: those of the demo lie from 9.1 to 13.3 mm and from +6 to +26 %.
CASES = [
    ("98 sq in", "16x19", 10.8, 12.0),
    ("98 sq in", "16x19", 11.2, 14.0),
    ("98 sq in", "18x20", 9.5, 10.0),
    ("632 cm2", "16x19", 10.8, 25.0),
    ("110 sq in", "14x16", 13.0, 8.0),
    ("85 sq in", "18x20", 9.2, 0.0),
]


@pytest.mark.parametrize(("head", "pattern", "centre", "sides"), CASES)
def test_the_bed_has_the_meshes_asked_for(head, pattern, centre, sides):
    bed = asked(head, pattern, str(centre), f"{sides:+g}%")
    mains, crosses = bed["mains_x_mm"], sorted(bed["crosses_y_mm"])
    middle = sqrt(counted_pitch(mains, 0.0) * counted_pitch(crosses, 0.0))
    side = sqrt(counted_pitch(mains, 60.0) * counted_pitch(crosses, 0.0))
    assert bed["reached"]
    assert middle == pytest.approx(centre, abs=ROUNDING_MM)
    assert 100.0 * (side / middle - 1.0) == pytest.approx(sides, abs=ROUNDING_PERCENT)
    assert (bed["mesh_mm"]["centre"], bed["mesh_mm"]["right"]) == pytest.approx((middle, side), abs=1e-4)


@pytest.mark.parametrize(("head", "pattern", "centre", "sides"), [CASES[0], CASES[2]])
@pytest.mark.slow_after(1)
def test_the_derivation_finds_the_same_scores_in_the_folder(tmp_path, head, pattern, centre, sides):
    bed = asked(head, pattern, str(centre), f"{sides:+g}%", "--out", str(tmp_path / "bed.svg"))
    scores = own_copy(open_package(ROOT), tmp_path / "bed-csv").scores
    for zone, mesh in bed["mesh_mm"].items():
        assert scores[f"openness_{zone}"] / 10.0 == pytest.approx(mesh, rel=2e-5), zone  # written with six digits
    assert scores["side_opening"] == pytest.approx(bed["side_opening"], abs=2e-5)
    assert scores["openness_centre"] / 10.0 == pytest.approx(centre, abs=ROUNDING_MM)


def test_the_folder_is_read_by_compare_says_that_it_is_a_drawing_and_is_not_admitted(tmp_path, copied):
    written = told(*ASKED, "--out", str(tmp_path / "bed.pdf"))["written"]
    folder = tmp_path / "bed-csv"
    assert {Path(path).name for path in written} == {"bed.pdf", *(path.name for path in folder.iterdir())}
    for column in ("note", "contributor_id"):
        run = gapbook("check", str(folder), "--json")
        assert run.returncode == 1
        (finding,) = json.loads(run.stdout)["findings"]
        assert (finding["code"], finding["severity"], finding["column"]) == ("drawing", "error", column)
        refused = gapbook("admit", str(folder), "--package", str(copied), "--json")
        assert (refused.returncode, json.loads(refused.stdout)["status"]) == (1, "refused")
        specimens = folder / "specimens.csv"
        if column == "note":
            kept = specimens.read_text(encoding="utf-8")
            specimens.write_text(kept.replace("A drawing by gapbook drill: nobody read it off a frame", ""), encoding="utf-8")
    specimens.write_text(kept, encoding="utf-8")
    beds = json.loads(gapbook("compare", "fern-98", str(folder), "--json").stdout)["beds"]
    assert beds[1]["scores"]["openness_centre"] == pytest.approx(108.0, abs=10.0 * ROUNDING_MM)
    with (folder / "specimens.csv").open(encoding="utf-8") as stream:
        assert "drawing" in next(csv.DictReader(stream))["note"]
    again = gapbook("drill", *ASKED, "--out", str(tmp_path / "bed.pdf"))
    assert (again.returncode, again.stdout) == (2, "")
    assert "nothing was written" in again.stderr


def test_even_gaps_are_the_smoothest_if_the_sides_are_to_be_as_open():
    """16 mains whose outer ones lie where they usually do, 0.81 of 123 mm, have even gaps of 13.3 mm."""
    bed = asked("98 sq in", "16x19", "12", "0%")
    gaps = np.diff(bed["mains_x_mm"])
    assert bed["reached"]
    assert np.ptp(gaps) <= 0.4
    assert gaps.mean() == pytest.approx(0.81 * 246.0 / 15, rel=0.03)


# What cannot be had, by arithmetic with a smallest gap of 7 mm: no mesh is below it; 15 gaps of mains that reach 80.1 mm on
# either side (26.5 + 0.8 · 67, so that the windows at the sides are covered) are 10.7 mm in the mean.
BEYOND = [("6", "+50%", {"main-gap", "cross-gap"}), ("7.5", "0%", {"cross-gap", "main-cover"})]


@pytest.mark.parametrize(("centre", "sides", "held"), BEYOND)
@pytest.mark.slow_after(1)
def test_what_cannot_be_had_is_said_and_the_nearest_given(centre, sides, held):
    arguments = ("--head", "98 sq in", "--pattern", "16x19", "--centre", centre, "--sides", sides)
    bed = told(*arguments)
    assert not bed["reached"]
    assert held <= set(bed["held_by"]) <= set(LIMITS)
    assert 7.0 <= bed["mesh_mm"]["centre"] < 9.0
    assert min(np.diff(bed["mains_x_mm"])) >= 7.0 - 1e-6
    run = gapbook("drill", *arguments)
    words = " ".join(run.stdout.split())
    assert run.returncode == 0
    assert f"It cannot be had. The nearest is a centre mesh of {bed['mesh_mm']['centre']:.2f} mm" in words
    assert "Never drill a frame that exists" in words


def test_a_bed_that_is_denser_at_the_sides_is_told_with_the_rule():
    run = gapbook("drill", *ASKED[:-1], "-5%")
    assert "Denser than the centre: left and right. A pattern shall be “generally uniform" in " ".join(run.stdout.split())


@pytest.mark.parametrize("columns", ["40", "80", "200"])
@pytest.mark.slow_after(1)
def test_every_place_is_shown_in_windows_of_any_width(columns):
    places = [f"{place:.1f}" for place in told(*ASKED)["mains_x_mm"] if place > 0]
    shown = gapbook("drill", *ASKED, COLUMNS=columns).stdout
    assert max(map(len, shown.splitlines())) <= int(columns)
    assert all(place in shown for place in places)


BAD = [
    (("wide", "16x19", "10.8", "+12%"), "no bed is named by these"),
    (("400 sq in", "16x19", "10.8", "+12%"), "no head has such an area"),
    (("98 sq in", "16", "10.8", "+12%"), "no bed is named by these"),
    (("98 sq in", "16x19, tightest first", "10.8", "+12%"), "its counts and its head area alone"),
    (("98 sq in", "99x19", "10.8", "+12%"), "no bed has so many mains"),
    (("98 sq in", "16x19", "1.8", "+12%"), "no bed has such a centre"),
    (("98 sq in", "16x19", "wide", "+12%"), "--centre takes a mesh"),
    (("98 sq in", "16x19", "10.8", "12"), "--sides takes how much more open"),
    (("98 sq in", "16x19", "10.8", "+300%"), "no bed has such sides"),
    (("98 sq in", "16x19", "10.8", "+12%", "--least-gap", "7.05"), "--least-gap does not take this"),
    (("98 sq in", "16x19", "10.8", "+12%", "--least-gap", "15"), "have no room in this head"),
    (("98 sq in", "16x19", "10.8", "+12%", "--out", "bed.txt"), "is no picture file"),
]


@pytest.mark.parametrize(("given", "words"), BAD)
@pytest.mark.slow_after(5)
def test_what_is_not_understood_is_refused(given, words):
    head, pattern, centre, sides, *more = given
    run = gapbook("drill", "--head", head, "--pattern", pattern, "--centre", centre, "--sides", sides, *more)
    assert (run.returncode, run.stdout) == (2, "")
    assert words in run.stderr


def test_sides_can_be_asked_for_as_a_mesh():
    by_mesh, by_part = asked("98 sq in", "16x19", "10", "11.5 mm"), asked("98 sq in", "16x19", "10 mm", "+15%")
    assert by_mesh["mains_x_mm"] == by_part["mains_x_mm"]


beds = st.tuples(
    st.tuples(st.integers(12, 20), st.integers(14, 22)),
    st.floats(80.0, 115.0),
    st.floats(7.0, 16.0),
    st.floats(-0.05, 0.3),
    st.integers(60, 85),
)


@settings(max_examples=12, deadline=None)
@given(beds)
@pytest.mark.slow
def test_limits_symmetry_and_rounding_hold_for_any_bed(bed):
    counts, square_inches, mesh, sides, tenths = bed
    width = 0.2 * round(sqrt(4 * square_inches * 645.16 / (np.pi * 1.33)) / 0.2)
    size, least = (width, 0.2 * round(1.33 * width / 0.2)), tenths / 10.0
    found = drill(counts, size, mesh, sides, least)
    for places, number, span in zip(found.drilling, counts, size, strict=True):
        assert len(places) == number
        assert np.array_equal(places, -places[::-1])
        assert np.abs(places * 10.0 - np.round(places * 10.0)).max() < 1e-6
        assert np.diff(places).min() >= least - 1e-6
        assert span / 2.0 - places[-1] >= least - 0.1  # a place at the limit may be rounded outwards by a step at most
    before, after = zone_meshes(found.exact), zone_meshes(found.drilling)
    if not found.held_by:
        assert before["centre"] == pytest.approx(mesh, rel=6e-4)
        assert before["right"] / before["centre"] - 1.0 == pytest.approx(sides, abs=1e-3)
    assert found.is_reached or found.held_by or abs(log(before["centre"] / mesh)) < 0.05
    assert after["centre"] == pytest.approx(before["centre"], abs=ROUNDING_MM)
    opening = [100.0 * (zones["right"] / zones["centre"] - 1.0) for zones in (before, after)]
    assert opening[1] == pytest.approx(opening[0], abs=ROUNDING_PERCENT)


def test_no_bed_made_by_hand_for_the_same_meshes_is_smoother():
    """Gaps that grow as exp(k·number²) have some mesh and side opening; the bed drilled for these is no rougher, nor are its
    outer strings further from where they usually lie, by the sum that is to be least.
    """
    by_hand = Drilling(_grown(16, 10.6, 0.007), _grown(19, 11.0, 0.005))
    aim = zone_meshes(by_hand)
    found = drill((16, 19), (246.0, 327.2), aim["centre"], aim["right"] / aim["centre"] - 1.0, 7.0)
    assert found.is_reached
    assert zone_meshes(found.exact)["centre"] == pytest.approx(aim["centre"], rel=5e-4)
    assert zone_meshes(found.exact)["right"] == pytest.approx(aim["right"], rel=5e-4)
    assert _cost(found.exact) <= _cost(by_hand)


def _cost(bed: Drilling) -> float:
    """Changes between changes of neighbouring gaps, over 0.3 mm, and reaches less 0.81, over 0.02; squared and added."""
    cost = 0.0
    for places, half in zip(bed, (123.0, 163.6), strict=True):
        cost += float((np.diff(places, n=3) ** 2).sum()) / 0.3**2 + ((places[-1] / half - 0.81) / 0.02) ** 2
    return cost


def _grown(strings: int, middle: float, growth: float) -> np.ndarray:
    number = np.arange(strings - 1) - (strings - 2) / 2.0
    places = np.concatenate([[0.0], np.cumsum([middle * exp(growth * one * one) for one in number])])
    return places - places.mean()
