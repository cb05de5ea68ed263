"""`relate`: the effects planted in invented packages are found, and no sentence says more than its interval allows."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from scipy.stats import binom

from demo_rows import TO_N, demo, derived
from gapbook import GapbookError, open_catalogue
from gapbook.questions.relating_words import figures, percent_of
from gapbook.science.relation import Relation, Sample, relate
from inventing import play
from inventing.world import make_world
from running import gapbook
from small import ROOT, Small

SEEDS = range(20261125, 20261145)
PLANTED = {
    "launch": ("percent", play.LAUNCH_DEG_PER_PERCENT),
    "spin": ("percent", play.SPIN_RPM_PER_PERCENT),
    "comfort": ("tension", play.COMFORT_PER_N),
    "speed": ("percent", play.SPEED_KMH_PER_PERCENT),
}


@pytest.fixture(scope="module")
def demo_catalogue():
    return open_catalogue(ROOT)


@pytest.fixture(scope="module")
def by_seed():
    """For each seed what relates its playtests' outcomes to the true openness [%] and the mean tension [N]."""
    found = []
    for seed in SEEDS:
        world = make_world(seed=seed)
        tests = play.draw_playtests(world)
        force = np.array([TO_N[unit] for unit in tests.unit])
        traits = {
            "percent": 100.0 * np.log(world.scores()["openness_centre"][tests.copy]),
            "tension": (tests.main_tension + tests.cross_tension) / 2 * force,
        }
        one = {}
        for outcome, (trait, _) in PLANTED.items():
            y = getattr(tests, outcome)
            known = ~np.isnan(y)
            given = np.zeros((int(known.sum()), 0))
            one[outcome] = relate(
                Sample(y[known], traits[trait][known], given, tests.tester[known], world.frame_of[tests.copy][known])
            )
        found.append(one)
    return found


@pytest.mark.parametrize("outcome", PLANTED)
def test_planted_effects_lie_in_their_intervals(by_seed, outcome):
    """Twenty seeds: misses of a 95 % interval are binomial; more than its 99.9 % point is no chance."""
    planted = PLANTED[outcome][1]
    missed = sum(not one[outcome].players.low <= planted <= one[outcome].players.high for one in by_seed)
    assert missed <= binom.ppf(0.999, len(SEEDS), 0.05)
    if planted:  # an interval as wide as the world would hold everything
        assert all(abs(one[outcome].slope) > 3 * one[outcome].players.u_slope for one in by_seed)


def test_planted_effects_all_together(by_seed):
    missed = sum(not one[name].players.low <= PLANTED[name][1] <= one[name].players.high for one in by_seed for name in PLANTED)
    assert missed <= binom.ppf(0.999, len(SEEDS) * len(PLANTED), 0.05)


def by_hand(trait, outcome):
    """The demo's rows straight from its files, as a sample."""
    copies = {row["specimen_id"]: row["frame_id"] for row in demo("specimens")}
    rows = [row for row in demo("playtests") if row["specimen_id"] in derived("beds") and row[outcome]]
    tension = [(float(r["main_tension"]) + float(r["cross_tension"])) / 2 * TO_N[r["tension_unit"]] for r in rows]
    x = tension if trait == "mean_tension_n" else [float(derived("beds")[row["specimen_id"]][trait]) for row in rows]
    numbers = [np.unique(words, return_inverse=True)[1] for words in (
        [row["tester_id"] for row in rows], [copies[row["specimen_id"]] for row in rows],
    )]  # fmt: skip
    return Sample(np.array([float(row[outcome]) for row in rows]), np.array(x), np.zeros((len(rows), 0)), *numbers)


CASES = [
    ("openness_centre", "launch_angle_deg", "rises"),
    ("openness_centre", "spin_rpm", "rises"),
    ("openness_centre", "lift_vs_own", "rises"),
    ("openness_centre", "control_vs_own", "falls"),
    ("mean_tension_n", "comfort_vs_own", "falls"),
    ("openness_centre", "ball_speed_kmh", "cannot tell"),
]


@pytest.mark.parametrize(("trait", "outcome", "verdict"), CASES)
def test_the_demo(demo_catalogue, trait, outcome, verdict):
    (found,) = demo_catalogue.relate(trait, outcome).associations
    sample = by_hand(trait, outcome)
    expected = relate(sample)
    assert isinstance(expected, Relation)
    assert [found.slope, found.low, found.high] == pytest.approx(list(expected.players[:1] + expected.players[2:4]), rel=1e-9)
    counts = len(np.unique(sample.frame)), len(np.unique(sample.tester)), len(sample.outcome)
    assert (found.frames, found.testers, found.playtests) == counts
    assert found.verdict == verdict
    assert (found.low <= 0 <= found.high) == (verdict == "cannot tell")
    assert found.leave_one_out.low <= found.slope <= found.leave_one_out.high


def test_json_has_the_documented_keys():
    run = gapbook("relate", "openness_centre,mean_tension_n", "comfort_vs_own", "--given", "mass_g,string_material", "--json")
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    keys = ["given", "confidence", "associations", "caution", "package"]
    assert list(document) == keys
    assert document["given"] == ["mass_g", "string_material"]
    assert document["caution"] == "Association, not cause."
    for one in document["associations"]:
        assert list(one) == [
            "outcome", "outcome_unit", "trait", "trait_unit", "slope", "u_slope", "low", "high", "degrees_of_freedom", "p",
            "p_holm", "partial_correlation", "these_testers", "corrected", "between_testers", "odds", "curvature_p",
            "leave_one_out", "leave_one_tester_out", "attenuation_percent", "frames", "testers", "playtests", "not_used",
            "verdict", "sentence",
        ]  # fmt: skip
        assert set(one["leave_one_out"]) == {"low", "high", "low_without", "high_without"}
        assert one["these_testers"]["degrees_of_freedom"] == one["frames"] - 1
        assert one["these_testers"]["slope"] == one["slope"]
    assert [one["trait_unit"] for one in document["associations"]] == ["1", "N"]
    help_text = " ".join(gapbook("relate", "--help", COLUMNS="200").stdout.split())
    assert all(f'"{key}"' in help_text for key in [*keys, *document["associations"][0]])


def test_the_screen_says_what_it_rests_on():
    run = gapbook("relate", "openness_centre", "launch_angle_deg", "--given", "head_area_cm2")
    assert run.returncode == 0
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    text = " ".join(run.stdout.split())
    for words in ("With head_area_cm2 held, launch_angle_deg rises", "Association, not cause.", "95 % interval", "testers",
                  "leaving one frame out", "leaving one tester out", "partial correlation", "56 frames", "12 testers",
                  "Each tester has their own baseline", "for frames and players like these", "21 blank"):  # fmt: skip
        assert words in text


def test_one_of_several_by_chance_is_not_called_an_effect(demo_catalogue):
    """Three traits nobody planted anything in, at a confidence where one alone would pass."""
    traits = ["side_opening", "uniformity", "beam_mm"]
    alone = {trait: demo_catalogue.relate(trait, "comfort_vs_own").associations[0] for trait in traits}
    together = demo_catalogue.relate(traits, "comfort_vs_own").associations
    smallest = min(alone.values(), key=lambda one: one.p)
    confidence = 1 - 2 * smallest.p  # its p passes alone, and Holm's, three times that, does not
    judged = demo_catalogue.relate(traits, "comfort_vs_own", (), confidence).associations
    one = next(item for item in judged if item.trait == smallest.trait)
    assert one.p_holm == pytest.approx(3 * smallest.p)
    assert one.low > 0 or one.high < 0
    assert one.verdict == "cannot tell"
    assert "may do so by chance" in one.sentence
    assert [item.p for item in together] == pytest.approx([alone[trait].p for trait in traits])


NUMBER = re.compile(r"−?[0-9]+(?:\.[0-9]+)?")


@pytest.mark.parametrize(
    ("low", "slope", "high", "shown"),
    [
        (0.0772, 0.09997, 0.1228, ("0.077", "0.100", "0.123")),
        (-12.3, 45.6, 103.4, ("−12", "46", "103")),
        (0.0004, 0.05, 0.0996, ("0.0004", "0.0500", "0.0996")),
        (-0.2, -0.1, -0.00001, ("−0.20000", "−0.10000", "−0.00001")),
        (3.0, 3.0, 3.0, ("3.00", "3.00", "3.00")),
    ],
)
def test_figures_never_round_a_bound_to_zero(low, slope, high, shown):
    """By hand: two figures of the width, more where a bound would else read 0."""
    assert figures(low, slope, high) == shown


def tiny(tmp_path, frames=3, testers=4):
    """A derived package with few frames, played by everybody."""
    small = Small()
    for number in range(frames):
        small.frame(f"f{number}")
        small.copy(f"f{number}-a", f"f{number}")
        small.run(f"f{number}-a", "main", [12.0 + 0.1 * number] * 15)
        small.run(f"f{number}-a", "cross", [12.5] * 18)
    for tester in range(testers):
        small.add("testers", tester_id=f"t{tester}", style="mixed", own_frame="none")
        for number in range(frames):
            row = {"played_on": "2026-05-01", "string_material": "polyester", "main_tension": 50, "cross_tension": 50}
            row |= {"tension_unit": "lb", "launch_angle_deg": 10 + number + 0.1 * tester * number}
            small.add("playtests", playtest_id=f"p{tester}-{number}", specimen_id=f"f{number}-a", tester_id=f"t{tester}", **row)
    folder = small.write(tmp_path / "package")
    from gapbook.tables.derived import derive
    from gapbook.tables.opening import open_package

    derive(open_package(folder), ["beds", "handling"])
    return folder


@pytest.mark.parametrize(
    ("frames", "testers", "told"),
    [(3, 4, "too few frames: 3, and at least 8"), (9, 2, "too few testers: 2, and at least 3"), (0, 0, "no playtests")],
)
def test_too_few_gives_no_figure_and_says_so(tmp_path, frames, testers, told):
    catalogue = open_catalogue(tiny(tmp_path, frames, testers))
    found = catalogue.relate("openness_centre", "launch_angle_deg")
    (one,) = json.loads(found.model_dump_json())["associations"]
    assert one["verdict"] == "no figure"
    assert told in one["sentence"]
    figures_of = ("slope", "u_slope", "low", "high", "p", "p_holm", "partial_correlation", "leave_one_out")
    assert [one[name] for name in figures_of] == [None] * len(figures_of)
    assert (one["frames"], one["testers"], one["playtests"]) == (frames, testers, frames * testers)


def test_the_screen_of_no_figure(tmp_path):
    run = gapbook("relate", "openness_centre", "launch_angle_deg", "--package", str(tiny(tmp_path)))
    assert "No figure for launch_angle_deg on openness_centre: too few frames" in " ".join(run.stdout.split())
    assert run.returncode == 0
    assert "slope" not in run.stdout


UNUSABLE = [
    (("opennes_center", "spin_rpm"), "unknown-column", "openness_centre"),
    (("openness_centre", "spin"), "unknown-column", "spin_rpm"),
    (("maker", "spin_rpm"), "not-a-figure", "maker"),
    (("spin_rpm", "spin_rpm"), "named-twice", "spin_rpm"),
    (("openness_centre", "spin_rpm", ["openness_centre"]), "named-twice", "openness_centre"),
    (("openness_centre", "spin_rpm", ["played_on"]), "not-a-figure", "played_on"),
    (('openness_centre" FROM beds; --', "spin_rpm"), "unknown-column", "--"),
    (([], "spin_rpm"), "usage", "trait"),
    (("main_tension", "comfort_vs_own"), "mixed-units", "Use main_tension_n"),
    (("cross_tension", "comfort_vs_own"), "mixed-units", "Use cross_tension_n"),
    (("openness_centre", "main_tension"), "mixed-units", "Use main_tension_n"),
    (("openness_centre", "spin_rpm", ["cross_tension"]), "mixed-units", "Use cross_tension_n"),
    (("openness_centre", "spin_rpm", (), 95), "bad-confidence", "found 95; expected above 0.5 and below 1"),
    (("openness_centre", "spin_rpm", (), 0.5), "bad-confidence", "found 0.5"),
    (("openness_centre", "spin_rpm", (), float("nan")), "bad-confidence", "found nan"),
]


@pytest.mark.parametrize(("arguments", "code", "told"), UNUSABLE, ids=[str(case[0]) for case in UNUSABLE])
def test_what_cannot_be_related(demo_catalogue, arguments, code, told):
    with pytest.raises(GapbookError) as raised:
        demo_catalogue.relate(*arguments)
    assert raised.value.problems[0].code == code
    assert told in str(raised.value)


@pytest.mark.parametrize("confidence", [0.5, 1.0, 2, 95, float("nan")])
@pytest.mark.parametrize("ask", ["compare", "advise"])
def test_no_verdict_has_an_impossible_confidence(demo_catalogue, ask, confidence):
    with pytest.raises(GapbookError) as raised:
        getattr(demo_catalogue, ask)("fern-98", "moraine-98", confidence=confidence)
    assert raised.value.problems[0].code == "bad-confidence"


def test_a_column_in_the_stringers_own_unit_is_not_offered(demo_catalogue):
    with pytest.raises(GapbookError) as raised:
        demo_catalogue.relate("main_tensio", "spin_rpm")
    assert "main_tension" not in raised.value.problems[0].fix.removeprefix("Nearest: ").split(", ")


@pytest.mark.parametrize(("held", "why"), [("tester_id", "follows from the testers"), ("frame_id", "too few frames")])
def test_the_ids_held_are_refused_in_words(demo_catalogue, held, why):
    found = demo_catalogue.relate("openness_centre", "launch_angle_deg", held)
    assert found.given == [held]
    assert why in found.associations[0].sentence
    assert found.associations[0].verdict == "no figure"


@pytest.mark.parametrize(
    ("confidence", "shown"),
    [(0.95, "95"), (0.9, "90"), (0.995, "99.5"), (0.9999999999, "99.99999999"), (0.99999999999999, "99.999999999999")],
)
def test_no_interval_is_one_of_100_percent(confidence, shown):
    """By hand: the confidence times 100."""
    assert percent_of(confidence) == shown


def test_what_is_held_by_the_testers_cannot_be_held_again(demo_catalogue):
    (one,) = demo_catalogue.relate("openness_centre", "spin_rpm", ["style"]).associations
    assert one.verdict == "no figure"
    assert "follows from the testers" in one.sentence


def test_attenuation_by_hand(demo_catalogue):
    """The errors' part of the trait's variance within testers (Fuller 1987, 1.1), from the demo's files: each tester's
    playtests of one copy share its error, so that what is left of it within testers is counted cell by cell.
    """
    sample = by_hand("openness_centre", "spin_rpm")
    rows = [row for row in demo("playtests") if row["specimen_id"] in derived("beds") and row["spin_rpm"]]
    u = {copy: float(row["u_openness_centre"]) for copy, row in derived("beds").items()}
    left, error = sample.trait.copy(), 0.0
    for tester in set(sample.tester.tolist()):
        left[sample.tester == tester] -= left[sample.tester == tester].mean()
        copies = [row["specimen_id"] for row, one in zip(rows, sample.tester, strict=True) if one == tester]
        error += sum(u[copy] ** 2 * (1 - copies.count(copy) / len(copies)) for copy in copies)
    (one,) = demo_catalogue.relate("openness_centre", "spin_rpm").associations
    assert one.attenuation_percent == pytest.approx(100 * error / (left @ left), rel=1e-9)
    assert one.corrected.slope == pytest.approx(one.slope / (1 - error / (left @ left)), rel=1e-9)
    (tension,) = demo_catalogue.relate("mean_tension_n", "spin_rpm").associations
    assert (tension.attenuation_percent, tension.corrected) == (None, None)
