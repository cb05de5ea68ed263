"""Carrying a stiffness over to another frame: arithmetic by hand, the range, words, and what always has to be said."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from bench import plain_net
from demo_rows import demo, derived, rows_of
from gapbook.errors import GapbookError
from gapbook.questions.retensioning import Retension, pull_of
from gapbook.science.comparison import Figure
from gapbook.science.tension import Pull, covering, interval, matching, within
from nets_made import demo_bed
from running import gapbook
from small import ROOT

KEYS = [
    "from", "to", "at_n", "tension_n", "u_tension_n", "least_n", "most_n", "linear_n", "u_linear_n", "stretching_least_n",
    "stretching_most_n", "stiffness_from_n_per_mm", "stiffness_to_n_per_mm", "dwell_percent", "u_dwell_percent",
    "crosses_at_n", "crosses_tension_n", "outside", "cautions",
]  # fmt: skip
KG = 9.80665  # N in a kgf, exact (NIST SP 811, B.8)
LB = 4.4482216152605  # N in a lbf (NIST SP 811, B.8)


def centre(frame: str) -> tuple[float, float]:
    row = derived("mechanics")[frame]
    return float(row["stiffness_centre_n_per_mm"]), float(row["u_stiffness_centre_n_per_mm"])


def test_matching_by_hand():
    # 40 ± 0.4 and 50 ± 0.3 N/mm at 250 N: 200 N; relative 0.01 and 0.006, together √(0.0001 + 0.000036) = 0.0116619.
    found = matching(Pull(250.0), Figure(40.0, 0.4), Figure(50.0, 0.3))
    assert found.value == pytest.approx(200.0)
    assert found.u == pytest.approx(200.0 * 0.0116619, rel=1e-5)
    assert matching(Pull(250.0), Figure(40.0, 0.4), Figure(40.0, 0.4), same=True) == (250.0, 0.0)


def test_models_are_covered_by_hand():
    # 206.8 ± 2.0, 197 ± 3.0 and 201 ± 1.0 N at k = 2: from 194.0 to 208.8, so 201.4 ± 7.4.
    found = covering([Figure(206.8, 1.0), Figure(197.0, 1.5), Figure(201.0, 0.5)])
    assert found == (pytest.approx(201.4), pytest.approx(3.7))


@pytest.mark.parametrize(
    ("tension", "ratio", "least", "most"),
    # The models cover 180 to 300 N, by definition, in mains and crosses: crosses of 0.9 times the mains reach 180 N at 200.
    [((240.0, 5.0), 1.0, 230.0, 250.0), ((295.0, 5.0), 1.0, 285.0, 300.0), ((184.0, 5.0), 1.0, 180.0, 194.0),
     ((205.0, 5.0), 0.9, 200.0, 215.0), ((245.0, 5.0), 1.2, 235.0, 250.0), ((300.3, 0.0), 1.0, 300.3, 300.3)],
)  # fmt: skip
def test_an_interval_ends_where_the_models_do(tension, ratio, least, most):
    assert interval(Figure(*tension), ratio) == (pytest.approx(least), pytest.approx(most))


def test_dwell_by_hand():
    # 40 and 48.4 N/mm: half a period π·√(m/k) is √(40/48.4) = 1/1.1 as long, 9.0909 % shorter. Relative u of the ratio 3 %
    # and 4 %, together 5 %, halved by the root: 2.5 % of 90.909.
    stiffness = Figure(40.0, 1.2), Figure(48.4, 1.936)
    found = Retension("a", "b", Pull(245.0), Figure(202.0, 5.0), (), stiffness, None).dwell_percent
    assert found == (pytest.approx(-9.0909, abs=1e-4), pytest.approx(2.27273, abs=1e-4))


PAIRS = [("fern-98", "moraine-98", "24kg"), ("willow-104", "hoarfrost-96", "240N"), ("meadow-105", "nettle-97", "250N")]


@pytest.mark.parametrize(("source", "target", "at"), PAIRS)
@pytest.mark.slow_after(1)
def test_the_answer_covers_every_model_and_never_passes_the_range(catalogue, source, target, at):
    found = catalogue.retension(source, target, at)
    document = found.document()
    assert len(found.models) == 7
    assert document["linear_n"] == found.models[0].value
    ends = [one.value + sign * 2 * one.u for one in found.models for sign in (-1, 1)]
    assert document["tension_n"] - 2 * document["u_tension_n"] == pytest.approx(min(ends))
    assert document["tension_n"] + 2 * document["u_tension_n"] == pytest.approx(max(ends))
    assert document["least_n"] == pytest.approx(max(min(ends), 180.0))
    assert document["most_n"] == pytest.approx(min(max(ends), 300.0))
    assert document["stretching_least_n"] == min(one.value for one in found.models[1:])
    assert document["stretching_most_n"] == max(one.value for one in found.models[1:])


def test_stretching_strings_take_a_pull_at_which_the_forces_are_the_same(catalogue):
    # Both beds pressed in by 15 mm with strings of 3.5 kN: the target at the pull given for it, the source at its own.
    from gapbook.science.cable_net import net_of
    from gapbook.science.mechanics import patch
    from gapbook.science.stretching import press
    from gapbook.tables.copies import copies_of

    found = catalogue.retension("willow-104-a", "hoarfrost-96-a", "240N", "230N")
    forces = []
    for name, mains in (("willow-104-a", 240.0), ("hoarfrost-96-a", found.models[2].value)):
        bed = copies_of(catalogue.package, [name]).strings()
        share = patch(net_of(bed), np.zeros((1, 2))).shared[:, 0]
        forces.append(press(bed, share, [15.0], (0.7 * mains, 0.7 * mains * 23 / 24), (3500.0, 3500.0))[0].force[0])
    assert forces[0] == pytest.approx(forces[1], rel=1e-6)
    assert found.models[2].value < found.models[0].value - 1.0


@pytest.mark.parametrize(
    ("at", "crosses", "above"),
    # 220 to 270 N are in common use (Cross 2000); a pull up to which the answer reaches counts too.
    [("240N", None, False), ("266N", None, True), ("275N", None, True), ("255N", "272N", True), ("280N", "270N", True)],
)
@pytest.mark.slow_after(2)
def test_a_pull_above_common_use_is_told(catalogue, at, crosses, above):
    found = catalogue.retension("fern-98", "fern-98", at, crosses)
    codes = [one["code"] for one in found.document()["cautions"]]
    assert ("above-common-use" in codes) is above
    assert set(codes) >= {"model", "printed-range", "arm-physician", "arm-tension-matters", "cut-ends"}
    for one in found.cautions:
        assert one.text
        assert one.source
        assert "{" not in one.text


@pytest.mark.parametrize(
    ("mains", "ratio", "said"),
    # By definition 180 to 300 N, both ends included, in mains and crosses, judged in whole N as they are shown.
    [(180.0, 1.0, True), (300.0, 1.0, True), (179.4, 1.0, False), (300.6, 1.0, False), (200.0, 0.89, False),
     (200.0, 0.91, True), (280.0, 1.08, False), (280.0, 1.07, True), (179.6, 1.0, True), (300.4, 1.0, True)],
)  # fmt: skip
def test_the_range(mains, ratio, said):
    assert within(Pull(mains, ratio)) is said


@pytest.mark.parametrize(
    ("text", "newtons"), [("24kg", 24 * KG), ("24 kg", 24 * KG), ("53lb", 53 * LB), ("53 lbs", 53 * LB), ("235.5N", 235.5)]
)
def test_tensions_in_words(text, newtons):
    assert pull_of(text, None) == Pull(pytest.approx(newtons), 1.0)


def test_another_pull_for_the_crosses():
    assert pull_of("24kg", "23kg") == Pull(pytest.approx(24 * KG), pytest.approx(23 / 24))


# 102 kgf = 1000.3 N, 225 lbf = 1000.8 N: no bed is strung beyond 1000 N (common practice, no source).
@pytest.mark.parametrize(
    "text", ["24", "24 g", "-24kg", "heavy", "", "0kg", "nan kg", "9" * 400 + "kg", "1001 N", "102kg", "225 lb"]
)
def test_what_is_no_tension(text):
    with pytest.raises(GapbookError):
        pull_of(text, None)
    with pytest.raises(GapbookError):
        pull_of("24kg", text)


@pytest.mark.parametrize(
    ("source", "target"), [("fern-98", "moraine-98"), ("moraine-98", "fern-98"), ("bracken-98", "fern-98")]
)
def test_frames_by_the_table(catalogue, source, target):
    # Linear in the tension: at · S_from/S_to, both from mechanics.csv at 245 N.
    (first, u_first), (second, u_second) = centre(source), centre(target)
    found = catalogue.retension(source, target, "24kg").document()
    assert found["at_n"] == pytest.approx(24 * KG)
    assert found["stiffness_from_n_per_mm"] == pytest.approx(first * 24 * KG / 245)
    assert found["stiffness_to_n_per_mm"] == pytest.approx(second * 24 * KG / 245)
    assert found["linear_n"] == pytest.approx(24 * KG * first / second)
    assert found["u_linear_n"] == pytest.approx(found["linear_n"] * math.hypot(u_first / first, u_second / second))


@pytest.mark.slow
def test_there_and_back_again(catalogue):
    # Each model on its own leads back; a range of models does not, but holds where one began.
    there = catalogue.retension("fern-98", "moraine-98", "240N")
    for number, model in enumerate(there.models):
        back = catalogue.retension("moraine-98", "fern-98", f"{model.value:.6f}N")
        assert back.models[number].value == pytest.approx(240.0, rel=1e-6)
        assert back.interval[0] < 240.0 < back.interval[1]


def test_a_frame_and_itself(catalogue):
    # Two copies of one model: the same pull, good to what copies differ by; one copy and itself: exactly the same pull.
    frame = catalogue.retension("fern-98", "fern-98", "250N").document()
    assert frame["tension_n"] == pytest.approx(250.0)
    assert frame["u_tension_n"] > 1.0
    copy = catalogue.retension("fern-98-a", "fern-98-a", "250N").document()
    assert (copy["tension_n"], copy["u_tension_n"]) == (pytest.approx(250.0), 0.0)


def test_mains_and_crosses_apart(catalogue):
    # A plain loop at 0.7 of 250 N and 0.7 of 235 N; copies by geometric mean.
    found = catalogue.retension("fern-98", "moraine-98-a", "250N", "235N").document()

    def stiffness(names: list[str]) -> float:
        logs = [math.log(plain_net.stiffness(demo_bed(name), 175.0, 164.5)[0]) for name in names]
        return math.exp(math.fsum(logs) / len(logs))

    copies = [name for name, bed in derived("beds").items() if bed["frame_id"] == "fern-98"]
    first, second = stiffness(copies), stiffness(["moraine-98-a"])
    assert found["stiffness_from_n_per_mm"] == pytest.approx(first, rel=3e-5)
    assert found["stiffness_to_n_per_mm"] == pytest.approx(second, rel=3e-5)
    assert found["linear_n"] == pytest.approx(250 * first / second, rel=6e-5)
    assert found["linear_n"] != pytest.approx(catalogue.retension("fern-98", "moraine-98-a", "250N").document()["linear_n"])


def test_the_same_pull_said_twice_is_said_once(catalogue):
    once = catalogue.retension("fern-98", "moraine-98", "24kg").document()
    assert catalogue.retension("fern-98", "moraine-98", "24kg", "24kg").document() == once


def test_a_folder_of_ones_own(catalogue, tmp_path):
    # A copy's own rows, given as a contribution under another name, are as stiff as the copy.
    folder = tmp_path / "mine"
    folder.mkdir()
    for table in ("specimens", "spacings", "readings"):
        lines = (ROOT / "catalogue" / f"{table}.csv").read_text(encoding="utf-8").splitlines()
        own = [line.replace("fern-98-a", "mine-a") for line in lines[1:] if line.startswith("fern-98-a,")]
        (folder / f"{table}.csv").write_text("\n".join([lines[0], *own]) + "\n", encoding="utf-8")
    assert len(rows_of(folder, "spacings")) > 30
    found = catalogue.retension(str(folder), "moraine-98", "24kg").document()
    copy = catalogue.retension("fern-98-a", "moraine-98", "24kg").document()
    assert found["from"] == str(folder)
    assert found["tension_n"] == pytest.approx(copy["tension_n"], rel=1e-9)
    assert found["u_linear_n"] == pytest.approx(copy["u_linear_n"], rel=0.05)
    # The same folder by another path is the same bed: exactly the same pull.
    found = catalogue.retension(str(folder), f"{folder}/../mine/", "240N").document()
    assert (found["tension_n"], found["u_tension_n"]) == (pytest.approx(240.0), 0.0)


COUNTED = next(row["frame_id"] for row in demo("frames") if derived("scores")[row["frame_id"]]["basis"] == "counted")


@pytest.mark.parametrize(
    ("source", "target", "code"),
    [("fern-98", COUNTED, "not-measured"), (COUNTED, "fern-98", "not-measured"), ("ferm-98", "fern-98", "unknown-frame")],
)
def test_beds_nobody_measured(catalogue, source, target, code):
    with pytest.raises(GapbookError) as stop:
        catalogue.retension(source, target, "24kg")
    assert [problem.code for problem in stop.value.problems] == [code]


@pytest.mark.parametrize(
    ("source", "target", "options", "why"),
    [
        ("fern-98", "moraine-98", ("--at", "40kg"), "392 N (40.0 kg, 88.2 lb) is not within 180 to 300 N"),
        ("fern-98", "moraine-98", ("--at", "179N"), "179 N"),
        ("fern-98", "moraine-98", ("--at", "200N", "--crosses", "170N"), "170 N"),
    ],
)
def test_outside_the_range_there_is_no_figure_only_why(source, target, options, why):
    run = gapbook("retension", source, target, *options)
    assert (run.returncode, run.stderr) == (0, "")
    told = " ".join(run.stdout.split())
    assert told.startswith("No tension is given: ")
    assert why in told
    assert "±" not in told
    assert "qualified stringer" in told
    document = json.loads(gapbook("retension", source, target, *options, "--json").stdout)
    assert list(document) == KEYS
    assert document["tension_n"] is None
    assert document["u_tension_n"] is None
    assert document["outside"] == "asked"


def test_the_screen_tells_all_and_json_has_its_keys():
    run = gapbook("retension", "fern-98", "moraine-98", "--at", "53lb", "--crosses", "51 lb")
    assert (run.returncode, run.stderr) == (0, "")
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    told = " ".join(run.stdout.split())
    for words in (
        "236 N (24.0 kg, 53.0 lb) in the mains and 227 N (23.1 kg, 51.0 lb) in the crosses, pull the mains at",
        "Crosses at the same ratio to the mains as you asked about, 0.962:",
        "If nothing is changed, moraine-98 differs by +",
        "If strings do not stretch: ",
        "Two models of geometry and tension",
        "axial stiffness 3.5 to 6 kN: common practice, no source",
        "Pain is for a physician",
        "Cut string ends and tensioned strings can injure",
        "not a reading of any machine",
        "range printed on the frame and a qualified stringer decide",
        "Mains and crosses pulled far apart can distort a hoop",
    ):
        assert words in told, words
    document = json.loads(gapbook("retension", "fern-98", "moraine-98", "--at", "53lb", "--json").stdout)
    assert list(document) == KEYS
    assert (document["from"], document["to"], document["at_n"]) == ("fern-98", "moraine-98", pytest.approx(53 * LB))


def test_close_beds_are_told_so():
    told = " ".join(gapbook("retension", "fern-98-a", "fern-98", "--at", "24kg").stdout.split())
    assert "within what the readings can tell" in told
    assert "kg" not in " ".join(
        gapbook("retension", "fern-98", "moraine-98", "--at", "24kg", "--units", "imperial").stdout.split()
    )


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("fern-98", "moraine-98", "--at", "24"), "24kg"),
        (("fern-98", "moraine-98", "--at", "24 stone"), "kg, lb or N"),
        (("fern-98", COUNTED, "--at", "24kg"), "nobody measured a bed of " + COUNTED),
        (("fern-98", "moraine-98"), "--at"),
    ],
)
def test_bad_usage_exits_2(arguments, told):
    run = gapbook("retension", *arguments)
    assert run.returncode == 2
    assert told in run.stderr
    assert "Traceback" not in run.stderr
    assert run.stdout == ""
