"""A player's own measured copy, in a folder: what `show` and `compare` say of it."""

from __future__ import annotations

import json
import math

import pytest

from contributed import own, sent
from demo_rows import ROOT, derived
from drawn import drawn_lines
from gapbook import open_catalogue
from gapbook.tables.contribution import own_copy
from gapbook.tables.opening import open_package
from running import gapbook
from test_compare_handling import package_with_a_copy

READ = (("mass", (331.2, 331.6), "g", "scale"), ("balance", (316.0,), "mm", "board"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A copy of fern-98 with its mass read twice, on two days, and its balance once."""
    made = package_with_a_copy(tmp_path_factory.mktemp("own") / "mine")
    small = own()
    small.add("instruments", instrument_id="scale-own", kind="scale", resolution="0.1", max_error="0.6", unit="g")
    small.add("instruments", instrument_id="board-own", kind="balance_board", resolution="1", max_error="1.5", unit="mm")
    for quantity, values, unit, tool in READ:
        for day, value in enumerate(values, 1):
            taken = {"contributor_id": "tam-veldrick", "taken_on": f"2026-05-0{day}", "instrument_id": f"{tool}-own"}
            small.reading("mine", quantity, value, unit, **taken)
    return sent(small, made)


def test_show_tells_the_scores_of_the_copy(folder):
    portrait = open_catalogue(ROOT).show(str(folder))
    bed = own_copy(open_package(ROOT), folder).scores
    assert (portrait.kind, portrait.frame["frame_id"], portrait.scores["specimens"]) == ("folder", "fern-98", 1)
    for name, value in portrait.scores.items():
        if name.startswith(("openness", "u_openness", "drilling", "side_opening")):
            assert value == bed[name]
    # It is fern-98-a, read again from its rows: the same positions, with repeatability pooled over one bed more.
    there = next(row for row in derived("beds").values() if row["specimen_id"] == "fern-98-a")
    assert portrait.scores["openness_tip"] == pytest.approx(float(there["openness_tip"]), rel=1e-5)


@pytest.mark.slow
def test_its_mechanics_are_those_of_the_copy(folder):
    catalogue = open_catalogue(ROOT)
    mechanics = catalogue.show(str(folder)).mechanics
    told = catalogue.retension(str(folder), "fern-98", "245N").stiffness[0]
    assert mechanics["stiffness_centre_n_per_mm"] == pytest.approx(told.value, rel=1e-6)
    assert mechanics["u_stiffness_centre_n_per_mm"] == pytest.approx(told.u, rel=1e-6)
    assert set(mechanics) == set(derived("mechanics")["fern-98"])


def test_what_was_read_on_the_copy_comes_first(folder):
    (_, bed) = open_catalogue(ROOT).compare("fern-98", str(folder)).beds
    assert bed.handling_own == ("mass", "balance")
    assert bed.handling["mass_g"] == pytest.approx((331.2 + 331.6) / 2)
    assert bed.handling["balance_mm"] == 316.0
    # By hand: the instrument's 0.6/√3 in both sessions; reading at least resolution²/12, and its repeatability.
    assert math.hypot(0.6 / math.sqrt(3), 0.1 / math.sqrt(24)) < bed.handling["u_mass_g"] < 0.6
    assert bed.handling["u_balance_mm"] >= math.hypot(1.5 / math.sqrt(3), 1 / math.sqrt(12)) * (1 - 1e-9)
    # The swingweight was not read: it is the frame's, with its spread of copies.
    frame = derived("handling")["fern-98"]
    assert bed.handling["swingweight_kgcm2"] == pytest.approx(float(frame["swingweight_kgcm2"]), rel=1e-5)
    assert bed.handling["u_swingweight_kgcm2"] == pytest.approx(float(frame["u_swingweight_kgcm2"]), rel=1e-5)
    # Points follow: an eighth of an inch each, from the middle of a frame of about 685 mm (common practice).
    assert bed.handling["balance_points"] == pytest.approx((316.0 - 342.5) / 3.175, abs=0.1)


def test_an_unstrung_reading_is_converted(folder, tmp_path):
    small = own()
    small.add("instruments", instrument_id="scale-own", kind="scale", resolution="0.1", max_error="0.6", unit="g")
    taken = {"contributor_id": "tam-veldrick", "taken_on": "2026-05-01", "instrument_id": "scale-own", "strung": "false"}
    small.reading("mine", "mass", 312.0, "g", **taken)
    bare = sent(small, package_with_a_copy(tmp_path / "bare"))
    row = open_catalogue(ROOT).compare("fern-98", str(bare)).beds[1].handling
    assert row["mass_g"] == pytest.approx(312.0 + 16.0)  # a string bed of 16 ± 2 g
    assert row["u_mass_g"] == pytest.approx(2.0, abs=0.15)
    assert row["basis"] in ("converted", "declared")


def test_the_screens_say_what_was_read(folder):
    run = gapbook("show", "./mine", "--package", str(ROOT), cwd=folder.parent)
    assert run.returncode == 0, run.stderr
    text = " ".join(run.stdout.split())
    assert text.startswith("./mine, your own copy of fern-98: ")
    for said in (
        "from this copy",
        "The bed of mine",
        "mass and balance were read on the copy itself; swingweight is the frame's",
    ):
        assert said in text
    assert len(drawn_lines(run.stdout)) > 30
    run = gapbook("compare", "fern-98", "./mine", "--package", str(ROOT), cwd=folder.parent)
    text = " ".join(run.stdout.split())
    assert "own copy measured" in text
    assert "./mine: mass and balance were read on the copy itself; swingweight is the frame's." in text
    drawn = drawn_lines(run.stdout)
    # Two beds in 80 columns, four apart: 38 columns each. They are the same bed, so every line has a part of both.
    assert len(drawn) > 20
    assert all(line[:38].strip() and not line[38:42].strip() and line[42:].strip() for line in drawn)


def test_weight_can_be_added_to_it(folder):
    document = json.loads(gapbook("show", str(folder), "--add", "5 g at the tip", "--json").stdout)
    added = document["with_additions"]["handling"]
    assert added["mass_g"] == pytest.approx(document["handling"]["mass_g"] + 5.0)
    assert document["handling_own"] == ["mass", "balance"]
