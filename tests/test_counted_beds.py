"""Beds that nobody measured, named by their counts: how they are read, estimated and told; and folders with counts alone."""

from __future__ import annotations

import json
import math
import statistics

import numpy as np
import pytest

from contributed import own, sent
from demo_rows import ROOT, demo, derived
from gapbook import open_catalogue
from gapbook.errors import GapbookError
from gapbook.questions.counted import counts_of
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store
from running import gapbook

SQ_IN = 6.4516  # NIST SP 811 (2008), B.8


@pytest.fixture(scope="module")
def store():
    return Store(open_package(ROOT))


@pytest.mark.parametrize(
    ("text", "name", "area", "half"),
    [
        ("16x19", "16x19", None, 0.0),
        ("16×19", "16x19", None, 0.0),
        ("16 mains, 19 crosses", "16x19", None, 0.0),
        ("16x19 98 sq in", "16x19 98 sq in", 98 * SQ_IN, 0.5 * SQ_IN),
        ("98 sq in, 16x19", "16x19 98 sq in", 98 * SQ_IN, 0.5 * SQ_IN),
        ("16/19", "16x19", None, 0.0),
        ("a 16 by 19 of 98 square inches", "16x19 98 sq in", 98 * SQ_IN, 0.5 * SQ_IN),
        ("16X19, head 98 sq in", "16x19 98 sq in", 98 * SQ_IN, 0.5 * SQ_IN),
        ("18x20 632.3 cm2", "18x20 632.3 cm²", 632.3, 0.05),
    ],
)
def test_a_pattern_is_read_as_a_question_is(store, text, name, area, half):
    counts = counts_of(store, text)
    assert f"{counts.mains}x{counts.crosses}" == name.split()[0]
    assert counts.name == name
    assert counts_of(store, name) == counts  # the name names it again
    assert counts.area == (None if area is None else pytest.approx(area, rel=1e-6))
    # Anything between the ends alike: half the width over √3 (JCGM 100:2008, 4.3.7).
    assert counts.u_area == pytest.approx(0.0 if area is None else half / math.sqrt(3) / area, rel=1e-6)


def test_a_range_of_heads_is_its_middle(store):
    counts = counts_of(store, "16x19, 95-98 sq in")
    low, high = 94.5 * SQ_IN, 98.5 * SQ_IN  # whole square inches as the trade writes them: halves round up
    assert counts.area == pytest.approx((low + high) / 2, rel=1e-6)
    assert counts.u_area == pytest.approx((high - low) / 2 / math.sqrt(3) / counts.area, rel=1e-6)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("16x19, tighter than fern-98", "bad-bed"),
        ("16x19, over 98 sq in", "bad-bed"),
        ("16x19, 0 sq in", "bad-bed"),
        ("16x19, swingweight 320", "bad-bed"),
        ("4x19", "bad-pattern"),
        ("16x19, top 3", "bad-bed"),
    ],
)
def test_more_than_a_bed_is_refused(store, text, code):
    with pytest.raises(GapbookError) as raised:
        counts_of(store, text)
    assert raised.value.problems[0].code == code


@pytest.mark.parametrize("text", ["fern-98", "16 mains", "98 sq in", "16x19 98 mm", "mine", "16-18 mains, 19 crosses", "x", ""])
def test_what_names_no_pattern(store, text):
    assert counts_of(store, text) is None


def counted_frames() -> list[dict[str, str]]:
    return [row for row in derived("scores").values() if row["basis"] == "counted"]


@pytest.mark.parametrize("number", range(4))
def test_it_is_estimated_as_frames_of_the_catalogue_are(number):
    row = counted_frames()[number]
    name = f"{row['mains']}x{row['crosses']}, {float(row['head_area_cm2'])} cm2"
    (_, bed) = open_catalogue(ROOT).compare("fern-98", name).beds
    assert (bed.kind, bed.basis, bed.specimens) == ("pattern", "counted", 0)
    for score in ("openness_centre", "density_centre_per_cm2", "openness_even"):
        assert bed.scores[score] == pytest.approx(float(row[score]), rel=2e-5)
        assert bed.scores["u_" + score] == pytest.approx(float(row["u_" + score]), rel=2e-3)  # an area to 0.1 cm²
    assert bed.scores["openness_sides"] is None
    assert bed.scores["drilling_main"] is None
    assert bed.handling is None


def test_an_area_that_is_not_named_is_assumed_and_its_spread_counts():
    catalogue = open_catalogue(ROOT)
    areas = [float(row["head_area_cm2"]) for row in demo("frames") if (row["mains"], row["crosses"]) == ("16", "19")]
    assumed = catalogue.show("16x19").assumed_head
    assert (assumed.frames, assumed.of_pattern) == (len(areas), True)
    assert assumed.median_cm2 == pytest.approx(statistics.median(areas))
    spread = np.std(np.log(areas), ddof=1)
    assert assumed.spread_percent == pytest.approx(100 * spread)
    middle = statistics.median(areas)
    named = catalogue.show(f"16x19 {middle:.1f} cm2").scores
    bare = catalogue.show("16x19").scores
    assert bare["openness_centre"] == pytest.approx(named["openness_centre"], rel=1e-4)
    # ln O holds ½·ln(area): the spread of the areas counts by half.
    relative = math.hypot(named["u_openness_centre"] / named["openness_centre"], 0.5 * spread)
    assert bare["u_openness_centre"] / bare["openness_centre"] == pytest.approx(relative, rel=1e-3)
    assert bare["u_density_centre_per_cm2"] / bare["density_centre_per_cm2"] == pytest.approx(2 * relative, rel=1e-3)


def test_a_pattern_no_frame_has_takes_all_heads():
    assumed = open_catalogue(ROOT).show("17x21").assumed_head
    assert (assumed.frames, assumed.of_pattern) == (len(demo("frames")), False)


def test_it_is_told_what_was_assumed():
    for command in (("show", "16x19"), ("compare", "fern-98", "16x19")):
        text = " ".join(gapbook(*command).stdout.split())
        assert "16x19 was named without a head area" in text
        assert "98 sq in (632 cm²)" in text
    assert "without a head area" not in gapbook("compare", "fern-98", "16x19 98 sq in").stdout


def test_json_of_a_pattern():
    document = json.loads(gapbook("show", "18x20 98 sq in", "--json").stdout)
    assert (document["name"], document["kind"]) == ("18x20 98 sq in", "pattern")
    assert document["frame"]["maker"] is None
    assert document["scores"]["basis"] == "counted"
    assert (document["handling"], document["mechanics"], document["specimens"], document["beds"]) == (None, None, [], [])


@pytest.mark.parametrize(
    ("command", "code"),
    [
        (("compare", "16x19", "16X19"), "two different beds"),
        (("compare", "fern-98", "16x19", "--where", "sides"), "16x19 in the sides is not known"),
        (("draw", "16x19", "--out", "bed.png"), "nobody measured a bed of 16x19"),
        (("retension", "fern-98", "16x19", "--at", "24kg"), "nobody measured a bed of 16x19"),
        (("compare", "fern-98", "16x19 98 mm"), "16x19 98 sq in"),
        (("compare", "fern-98", "mine/16x19"), "no folder at mine/16x19"),
    ],
)
def test_what_counts_do_not_tell_is_said(tmp_path, command, code):
    run = gapbook(*command, "--package", str(ROOT), cwd=tmp_path)
    assert (run.returncode, run.stdout) == (2, "")
    assert code in run.stderr


def counts_alone(folder, area: object = 625, frames: int = 1):
    small = own()
    for number in range(frames):
        small.frame(f"attic-{97 + number}", 18, 19, area, mass_g=330, strung="true")  # type: ignore[arg-type]
    return sent(small, folder)


def test_a_folder_with_counts_alone(tmp_path):
    folder = counts_alone(tmp_path / "mine")
    catalogue = open_catalogue(ROOT)
    (_, bed) = catalogue.compare("fern-98", str(folder)).beds
    named = catalogue.show("18x19, 625 cm2").scores
    assert (bed.kind, bed.basis, bed.frame_id, bed.specimens) == ("folder", "counted", "attic-97", 0)
    assert bed.scores["openness_centre"] == pytest.approx(named["openness_centre"], rel=1e-5)
    assert bed.scores["u_openness_centre"] == pytest.approx(named["u_openness_centre"], rel=1e-3)
    assert bed.handling["mass_g"] == 330.0
    assert bed.handling["u_mass_g"] == 2.0  # declared: common practice
    run = gapbook("show", "./mine", "--package", str(ROOT), cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    assert "the counts of attic-97" in run.stdout
    assert "Nobody measured a bed" in run.stdout


def test_a_folder_with_counts_and_no_head_area(tmp_path):
    folder = counts_alone(tmp_path / "mine", area="")
    portrait = open_catalogue(ROOT).show(str(folder))
    named = open_catalogue(ROOT).show("18x19")
    assert portrait.assumed_head == named.assumed_head
    for score in ("openness_centre", "u_openness_centre"):
        assert portrait.scores[score] == named.scores[score]


def test_a_folder_with_counts_of_several_frames_is_refused(tmp_path):
    folder = counts_alone(tmp_path / "mine", frames=2)
    with pytest.raises(GapbookError) as raised:
        open_catalogue(ROOT).show(str(folder))
    assert raised.value.problems[0].code == "no-bed"
