"""`gapbook advise` as a user runs it: screens, JSON keys, exit statuses, and packages that cannot say everything."""

from __future__ import annotations

import csv
import json
import os
import re
import shutil
from functools import cache

import pytest

from demo_rows import ROOT, demo, derived
from gapbook import open_catalogue
from gapbook.commands.advise import HELP
from running import gapbook
from small import Small

KEYS = [
    "frame", "against", "style", "string", "arm", "tension_n", "confidence", "figures", "expect", "cautions", "unknown",
    "package",
]  # fmt: skip
WHOLE = ("--against", "fern-98", "--style", "flat", "--string", "polyester", "--arm", "sore", "--tension", "24kg")
BED_KEYS = {"name", "kind", "basis", "frames", "mains", "crosses", "head_area_cm2"}
STATEMENT_KEYS = {"code", "topic", "text", "on", "source"}
FIGURE_KEYS = {
    "unit", "value", "u", "against", "u_against", "difference_percent", "u_difference_percent", "probability_lower", "verdict",
}  # fmt: skip


@cache
def asked(*arguments: str) -> dict:
    run = gapbook("advise", *arguments, "--json")
    assert run.returncode == 0, run.stderr
    assert run.stderr == ""
    return json.loads(run.stdout)


def codes(document: dict) -> set[str]:
    return {one["code"] for kind in ("expect", "cautions", "unknown") for one in document[kind]}


def test_json_has_the_documented_keys():
    document = asked("sorrel-98-club", *WHOLE)
    assert list(document) == KEYS
    assert set(document["frame"]) == set(document["against"]) == BED_KEYS
    assert document["package"] == {"name": "gapbook", "version": "0.1.0"}
    assert (document["style"], document["string"], document["arm"]) == ("flat", "polyester", "sore")
    assert document["tension_n"] == pytest.approx(24 * 9.80665)  # 1 kgf = 9.80665 N exactly [NIST SP 811]
    for kind in ("expect", "cautions", "unknown"):
        assert all(set(one) == STATEMENT_KEYS for one in document[kind])
    assert all(set(one) == FIGURE_KEYS for one in document["figures"].values())
    for key in (*KEYS, *STATEMENT_KEYS, *FIGURE_KEYS):
        assert f'"{key}"' in HELP, key


def test_it_rests_on_the_derived_tables():
    document = asked("sorrel-98-club", "--against", "fern-98")
    new, known = derived("scores")["sorrel-98-club"], derived("scores")["fern-98"]
    figure = document["figures"]["centre"]
    a, b = float(new["openness_centre"]), float(known["openness_centre"])
    assert (figure["value"], figure["against"]) == (a, b)
    assert figure["difference_percent"] == pytest.approx(100 * (a / b - 1))
    assert figure["verdict"] == "tighter"
    assert document["figures"]["side_opening"]["value"] == float(new["side_opening"])
    assert {"lift-less", "direction-surer", "crosses-more"} <= codes(document)
    stiffness = document["figures"]["stiffness"]
    there = derived("mechanics")
    assert stiffness["value"] == float(there["sorrel-98-club"]["stiffness_centre_n_per_mm"])
    assert stiffness["u_against"] == float(there["fern-98"]["u_stiffness_centre_n_per_mm"])


def test_the_middle_is_the_median_of_the_measured_frames():
    document = asked("fern-98")
    measured = [row for row in derived("scores").values() if row["basis"] == "measured"]
    values = sorted(float(row["openness_centre"]) for row in measured)
    half = len(values) // 2
    median = values[half] if len(values) % 2 else (values[half - 1] + values[half]) / 2
    assert document["against"]["kind"] == "middle"
    assert document["against"]["frames"] == len(measured)
    assert document["figures"]["centre"]["against"] == pytest.approx(median)
    assert document["figures"]["centre"]["u_against"] == 0.0


@pytest.mark.parametrize("text", ["24kg", "24 kg", "24 kgf", "235.3596 N", "52.9109428 lb", "52.9109428lbs"])
def test_tensions(text):
    # 24 kgf = 235.3596 N; 1 lbf = 4.4482216152605 N [NIST SP 811].
    assert asked("fern-98", "--tension", text)["tension_n"] == pytest.approx(235.3596, rel=1e-7)


@pytest.mark.parametrize("text", ["18 kg", "40 lb", "31 kg"])
def test_tensions_outside_are_refused(text):
    # 18 kgf = 176.5 N, 40 lbf = 177.9 N, 31 kgf = 304.0 N.
    assert "tension-refused" in codes(asked("fern-98", "--tension", text))


@pytest.mark.parametrize("text", ["41 lb", "30.6kg", "18.35 kg", "40.4lb", "67.5lb"])
def test_tensions_that_round_to_the_limits_are_not(text):
    # 41 lbf = 182.4 N; 30.6 kgf = 300.08, 18.35 kgf = 179.95, 40.4 lbf = 179.71, 67.5 lbf = 300.25 N: 180 or 300 in whole N.
    assert "tension-refused" not in codes(asked("fern-98", "--tension", text))


USAGE = [
    (("fern-98", "--tension", "24 mm"), "'mm'"),
    (("fern-98", "--tension", "24"), "no unit"),
    (("fern-98", "--tension", "tight"), "kg, lb or N"),
    (("fern-98", "--tension", "nan N"), "nan"),
    (("fern-98", "--tension=-24kg"), "-24kg"),
    (("fern-98", "--tension", "0 N"), "0 N"),
    (("fern-98", "--tension", "1001 N"), "at most 1000 N"),
    (("fern-98", "--tension", "102kg"), "at most 1000 N"),  # 1000.3 N
    (("fern-98", "--tension", "9" * 400 + " N"), "not understood"),
    (("fern-98", "--arm", "broken"), "sore"),
    (("fern-98", "--style", "lob"), "topspin"),
    (("fern-98", "--string", "wire"), "multifilament"),
    (("fern-98", "--against", "fern-98"), "itself"),
    (("Fern-98", "--against", "fern-98"), "itself"),
    (("fern-98", "--against", "ferm-98"), "fern-98"),
    (("ferm-98",), "fern-98"),
    (("fern-98", "--confidence", "1"), "confidence"),
    ((), "FRAME"),
]


@pytest.mark.parametrize(("arguments", "told"), USAGE, ids=[" ".join(case[0])[:40] or "nothing" for case in USAGE])
def test_bad_usage_exits_2(arguments, told):
    run = gapbook("advise", *arguments)
    assert (run.returncode, run.stdout) == (2, "")
    assert told.lower() in run.stderr.lower()
    assert "Traceback" not in run.stderr


SCREENS = [
    ("sorrel-98-club", *WHOLE),
    ("fern-98",),
    ("clover-98", "--against", "bramble-90", "--string", "multifilament"),
    ("fern-98-a", "--against", "moraine-98", "--units", "imperial"),
]


@pytest.mark.parametrize("columns", ["50", "80"])
@pytest.mark.parametrize("arguments", SCREENS, ids=" ".join)
def test_screens_fit_and_lose_no_words(arguments, columns):
    run = gapbook("advise", *arguments, COLUMNS=columns, NO_COLOR="1")
    assert (run.returncode, run.stderr) == (0, "")
    assert max(len(line) for line in run.stdout.splitlines()) <= int(columns)
    assert "\x1b" not in run.stdout
    text = " ".join(run.stdout.split())
    document = asked(*arguments)
    for kind in ("expect", "cautions", "unknown"):
        for one in document[kind]:
            assert one["text"] in text
            assert f"[{one['source']}]" in text


def test_a_screen_gives_each_figure_with_its_uncertainty_and_verdict():
    text = " ".join(gapbook("advise", "sorrel-98-club", "--against", "fern-98", "--tension", "24kg").stdout.split())
    row, known = derived("scores")["sorrel-98-club"], derived("scores")["fern-98"]
    mesh = f"{float(row['openness_centre']) / 10:.2f} ± {float(row['u_openness_centre']) / 5:.2f} mm"
    other = f"{float(known['openness_centre']) / 10:.2f} ± {float(known['u_openness_centre']) / 5:.2f} mm"
    assert f"Mesh in the centre: {mesh} against {other}; −" in text
    assert "tighter, >99.9 % sure" in text
    # 98 sq in of both: 632.26 cm² (6.4516 cm² each, NIST SP 811).
    assert "sorrel-98-club (16×20, 98 sq in, 632 cm²), for a player who knows fern-98 (16×19, 98 sq in, 632 cm²)" in text


def test_too_close_to_call_is_said_with_the_figure():
    document = asked("fern-98", "--against", "bracken-98")
    figure = document["figures"]["centre"]
    assert figure["verdict"] == "too close to call"
    assert 0.05 < figure["probability_lower"] < 0.95
    assert "centre-too-close" in codes(document)
    assert not {"lift-less", "lift-more", "direction-surer"} & codes(document)


def test_a_lower_confidence_decides_more():
    document = asked("fern-98", "--against", "bracken-98", "--confidence", "0.501")
    assert document["confidence"] == 0.501
    assert "centre-too-close" not in codes(document)


def test_a_counted_frame_says_what_cannot_be_said():
    name = next(name for name, row in derived("scores").items() if row["basis"] == "counted")
    document = asked(name, "--against", "fern-98", "--arm", "sore")
    assert {"frame-counted", "arm-bed-not-measured"} <= codes(document)
    assert not {"side_opening", "sides", "stiffness"} & set(document["figures"])


def test_a_single_copy():
    document = asked("fern-98-a", "--against", "sorrel-98-club")
    assert document["frame"]["kind"] == "specimen"
    assert {"lift-more", "bed-softer"} <= codes(document)


def test_the_stiffness_of_a_single_copy_is_its_own():
    """By retension's own two stiffnesses, both at the 245 N of mechanics.csv."""
    advised = asked("fern-98-a", "--against", "sorrel-98-club")["figures"]["stiffness"]
    struck = json.loads(gapbook("retension", "sorrel-98-club", "fern-98-a", "--at", "245N", "--json").stdout)
    percent = 100.0 * (struck["stiffness_to_n_per_mm"] / struck["stiffness_from_n_per_mm"] - 1.0)
    assert advised["difference_percent"] == pytest.approx(percent, abs=0.06)


def without_mechanics(folder):
    """The demo without its table of stiffness."""
    for name in ("catalogue", "schema"):
        shutil.copytree(ROOT / name, folder / name)
    descriptor = json.loads((ROOT / "datapackage.json").read_text(encoding="utf-8"))
    descriptor["resources"] = [item for item in descriptor["resources"] if item["name"] != "mechanics"]
    (folder / "datapackage.json").write_text(json.dumps(descriptor), encoding="utf-8")
    return folder


def test_a_package_without_stiffness_leaves_it_out_and_says_so(tmp_path):
    package = without_mechanics(tmp_path)
    document = asked("sorrel-98-club", "--against", "fern-98", "--arm", "sore", "--package", str(package))
    whole = asked("sorrel-98-club", "--against", "fern-98", "--arm", "sore")
    assert "stiffness-not-known" in codes(document)
    assert not any(name.startswith("stiffness") for name in document["figures"])
    assert codes(whole) - codes(document) == {"bed-stiffer", "arm-stiff-bed"}


def test_stiffness_not_derived_yet_is_left_out_too(copied):
    (copied / "catalogue" / "derived" / "mechanics.csv").unlink()
    assert "stiffness-not-known" in codes(asked("sorrel-98-club", "--against", "fern-98", "--package", str(copied)))


def small_package(folder):
    """Two measured frames of even strings: too few for a middle."""
    small = Small()
    for name, pitch in (("wide", 12.5), ("close", 10.5)):
        small.frame(name)
        small.copy(f"{name}-a", name)
        small.run(f"{name}-a", "main", [pitch] * 15)
        small.run(f"{name}-a", "cross", [pitch] * 18)
    package = small.write(folder / "package")
    assert gapbook("derive", "--package", str(package)).returncode == 0
    return package


def test_too_few_frames_for_a_middle(tmp_path):
    package = str(small_package(tmp_path))
    alone = asked("close", "--package", package, "--style", "flat")
    assert alone["against"] is None
    assert alone["expect"] == []
    assert "nothing-to-compare" in codes(alone)
    assert "on its own" in gapbook("advise", "close", "--package", package).stdout
    both = asked("close", "--against", "wide", "--package", package, "--style", "flat")
    assert {"lift-less", "flat-towards"} <= codes(both)


def test_from_python():
    found = open_catalogue(ROOT).advise("sorrel-98-club", "fern-98", style="flat", tension="53 lb")
    assert "lift-less" in [one.code for one in found.expect]
    assert found.tension_n == pytest.approx(53 * 4.4482216152605)  # NIST SP 811


def test_a_folder_of_readings_can_be_the_bed_known(tmp_path):
    rows = [row for row in demo("spacings") if row["specimen_id"] == "sorrel-98-club-a"]
    assert rows
    copies = [row for row in demo("specimens") if row["specimen_id"] == "sorrel-98-club-a"]
    for name, data in (("spacings", rows), ("specimens", copies)):
        with (tmp_path / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, list(data[0]), lineterminator="\n")
            out.writeheader()
            out.writerows([{**row, "specimen_id": "my-own"} for row in data])
    document = asked("fern-98", "--against", str(tmp_path))
    assert document["against"]["kind"] == "folder"
    assert {"lift-more", "bed-softer"} <= codes(document)
    run = gapbook("advise", str(tmp_path), "--against", f"{tmp_path}/../{tmp_path.name}/")
    assert (run.returncode, run.stdout) == (2, "")
    assert "itself" in run.stderr


def test_help_names_every_choice():
    text = re.sub(r"\s+", " ", gapbook("advise", "--help", COLUMNS="100", TERM=os.environ.get("TERM", "dumb")).stdout)
    for word in ("--against", "flat", "topspin", "multifilament", "natural", "hybrid", "sore", "--tension", "--package"):
        assert word in text
