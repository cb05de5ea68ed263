"""`design`: schedules are balanced and random, and a layout has the power that it is said to have."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter

import numpy as np
import pytest
from scipy.stats import binom

from contributed import package_in
from gapbook import GapbookError, open_catalogue
from gapbook.science.relation import Relation, Sample, relate
from gapbook.science.trial import Layout, Spreads, Wanted, layouts, schedule, simulated_power, spread_out, spreads
from inventing import play
from running import gapbook
from small import ROOT

LAYOUTS = [Layout(8, 3, 8), Layout(20, 6, 7), Layout(8, 12, 6), Layout(9, 20, 4), Layout(30, 30, 5)]


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_schedule_is_balanced(layout):
    rounds = schedule(layout, np.random.default_rng(4))
    assert rounds.shape == (layout.testers, layout.each)
    assert all(len(set(row)) == layout.each for row in rounds.tolist())  # nobody plays a copy twice
    count = np.bincount(rounds.ravel(), minlength=layout.frames)
    assert count.max() - count.min() <= 1
    most = -(-layout.testers // layout.frames)
    assert all(max(Counter(column).values()) <= most for column in rounds.T.tolist())  # copies are not in two hands


def test_a_schedule_follows_its_seed_and_nothing_else():
    one, same, other = (schedule(Layout(12, 6, 8), np.random.default_rng(seed)).tolist() for seed in (1, 1, 2))
    assert one == same
    assert one != other


def test_every_copy_comes_to_every_round_alike():
    """Random: over 400 schedules a copy is in the first round of a tester in 1 of 8 cases (binomial, 99.99 %)."""
    rng = np.random.default_rng(9)
    first = [int(schedule(Layout(8, 4, 4), rng)[0, 0]) for _ in range(400)]
    low, high = binom.ppf([0.00005, 0.99995], 400, 1 / 8)
    assert all(low <= number <= high for number in np.bincount(first, minlength=8))


TOLD = Spreads(noise=0.6, frames=0.2, slopes=0.02)
TRAIT = 110 + 8 * np.random.default_rng(0).standard_normal(56)


@pytest.mark.parametrize("layout", [Layout(12, 6, 9), Layout(20, 8, 6)])
def test_the_power_is_that_of_relate_itself(layout):
    """The same trial, simulated here row by row and judged by `relate`; both shares are binomial (99.9 %)."""
    trait = TRAIT[spread_out(TRAIT, layout.frames)]
    said = simulated_power(layout, 0.05, TOLD, trait, 0.95, seed=1)
    rng, seen, trials = np.random.default_rng(8), 0, 150
    for _ in range(trials):
        rounds = schedule(layout, rng)
        tester, frame = np.repeat(np.arange(layout.testers), layout.each), rounds.ravel()
        x = trait[frame]
        slope = 0.05 + 0.02 * rng.standard_normal(layout.testers)
        y = (
            slope[tester] * (x - 110)
            + 0.2 * rng.standard_normal(layout.frames)[frame]
            + rng.standard_normal(layout.testers)[tester]
        )
        found = relate(Sample(y + 0.6 * rng.standard_normal(len(x)), x, np.zeros((len(x), 0)), tester, frame))
        seen += found.players.low > 0
    assert abs(seen / trials - said) < 3.29 * np.sqrt(said * (1 - said) * (1 / trials + 1 / 400))


def test_nothing_is_seen_where_nothing_is():
    for layout in (Layout(12, 4, 12), Layout(30, 6, 15)):
        trait = TRAIT[spread_out(TRAIT, layout.frames)]
        assert simulated_power(layout, 1e-9, TOLD, trait, 0.95, 1) <= binom.ppf(0.999, 400, 0.025) / 400


def test_a_smaller_effect_takes_more_playtests():
    sizes = []
    for effect in (0.2, 0.05, 0.03):
        found = layouts(effect, TOLD, TRAIT, 0.95, 0.8, 1, Wanted(testers=8))
        assert all(one.power >= 0.8 for one in found)
        sizes.append(found[0].layout.playtests)
    assert sizes == sorted(sizes)
    assert sizes[0] < sizes[2]
    assert layouts(0.0001, TOLD, TRAIT, 0.95, 0.8, 1, Wanted(testers=8)) == []


def test_spreads_are_those_planted():
    """Means over ten invented samples of 60 frames and 10 testers."""
    rng = np.random.default_rng(2)
    seen = []
    for _ in range(10):
        frame, tester = rng.integers(0, 60, 600), rng.integers(0, 10, 600)
        x = 8 * rng.standard_normal(60)[frame]
        y = (0.1 + 0.05 * rng.standard_normal(10))[tester] * x + 0.4 * rng.standard_normal(60)[frame]
        sample = Sample(y + 0.6 * rng.standard_normal(600), x, np.zeros((600, 0)), tester, frame)
        found = relate(sample)
        assert isinstance(found, Relation)
        seen.append(spreads(sample, found))
    noise, frames, slopes = np.mean(seen, axis=0)
    assert noise == pytest.approx(0.6, rel=0.05)
    assert frames == pytest.approx(0.4, rel=0.15)
    assert slopes == pytest.approx(0.05, rel=0.25)


def test_the_demo_shows_the_spreads_it_was_invented_with():
    found = open_catalogue(ROOT).design("openness_centre", "launch_angle_deg", 0.1, testers=6)
    assert found.noise == pytest.approx(play.NOISE_SD["launch"], rel=0.1)
    assert found.between_frames == pytest.approx(play.FRAME_SD["launch"], abs=0.1)
    assert found.chosen.testers == 6
    assert len(found.schedule) == found.chosen.playtests
    assert len({turn.specimen_id for turn in found.schedule}) == found.chosen.frames


def test_the_command_writes_the_schedule(tmp_path):
    out = tmp_path / "schedule.csv"
    called = (
        "design",
        "openness_centre",
        "launch_angle_deg",
        "--effect",
        "0.1",
        "--testers",
        "5",
        "--from",
        "2027-03-01",
        "--days",
        "3",
    )
    run = gapbook(*called, "--out", str(out))
    assert run.returncode == 0, run.stderr
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8"))))
    assert list(rows[0]) == ["round", "played_on", "tester_id", "specimen_id", "frame_id"]
    assert {row["played_on"] for row in rows if row["round"] == "2"} == {"2027-03-04"}
    document = json.loads(gapbook(*called, "--json").stdout)
    assert [turn["specimen_id"] for turn in document["schedule"]] == [row["specimen_id"] for row in rows]
    assert "assigns frames at random" in " ".join(run.stdout.split())
    assert max(len(line) for line in run.stdout.splitlines() if not line.startswith("Wrote ")) <= 80
    help_text = " ".join(gapbook("design", "--help", COLUMNS="200").stdout.split())
    assert all(f'"{key}"' in help_text for key in document)


def test_too_few_frames_is_an_answer(tmp_path):
    package = package_in(tmp_path / "package")
    out = tmp_path / "schedule.csv"
    called = ("design", "openness_centre", "launch_angle_deg", "--effect", "1", "--package", str(package.root))
    run = gapbook(*called, "--out", str(out))
    assert run.returncode == 0
    assert "too few measured frames" in " ".join(run.stdout.split())
    assert "no schedule" in run.stderr
    assert not out.exists()


REFUSED = [
    (("mean_tension_n", "comfort_vs_own", 0.1), {}, "not-a-trait"),
    (("openness_centre", "launch_angle", 0.1), {}, "unknown-column"),
    (("openness_centre", "launch_angle_deg", 0.0), {}, "usage"),
    (("openness_centre", "launch_angle_deg", float("nan")), {}, "usage"),
    (("openness_centre", "launch_angle_deg", 0.1), {"frames": 7}, "usage"),
    (("openness_centre", "launch_angle_deg", 0.1), {"frames": 57}, "usage"),
    (("openness_centre", "launch_angle_deg", 0.1), {"testers": 2}, "usage"),
    (("openness_centre", "launch_angle_deg", 0.1), {"frames": 9, "each": 10}, "usage"),
    (("openness_centre", "launch_angle_deg", 0.1), {"power": 1.0}, "usage"),
    (("openness_centre", "launch_angle_deg", 0.1), {"noise": -1.0}, "usage"),
]


@pytest.mark.parametrize(("asked", "wishes", "code"), REFUSED)
def test_what_cannot_be_planned(asked, wishes, code):
    with pytest.raises(GapbookError) as raised:
        open_catalogue(ROOT).design(*asked, **wishes)
    assert raised.value.problems[0].code == code
