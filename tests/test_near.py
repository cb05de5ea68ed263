"""`near`: chances recomputed from the tables, tolerances as people type them, lists, pulls, and the document."""

from __future__ import annotations

import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from contributed import package_in
from demo_rows import ROOT, demo, derived
from gapbook import open_catalogue
from gapbook.errors import GapbookError
from gapbook.questions.neighbours import BED_ZONES
from gapbook.questions.tolerances import tolerances
from running import gapbook
from test_compare_handling import package_with_a_copy

DRAWS = 200_000
KEYS = ["reference", "within", "left_out", "at_n", "searched", "itself", "matches", "partly_known", "counts", "package"]
ENTRY = [
    "frame_id", "maker", "model", "basis", "mains", "crosses", "head_area_cm2", "probability", "probability_bed", "parts",
    "unknown", "pull", "changes", "codes",
]  # fmt: skip


@pytest.fixture(scope="module")
def catalogue():
    return open_catalogue(ROOT)


def number(table: str, frame: str, column: str) -> float:
    text = derived(table)[frame][column]
    return float(text) if text else np.nan


def shared(frame: str) -> dict[str, dict[str, float]]:
    """By cause, what one standard uncertainty of it does to ln openness in a zone: numbers in steps of 1e-6, in this order."""
    zones = ("centre", "left", "right", "tip", "throat", "sides", "even")
    parts = [part.split(" ") for part in derived("scores")[frame]["shared"].split("; ")]
    return {cause: {zone: 1e-6 * int(text) for zone, text in zip(zones, effects, strict=True)} for cause, *effects in parts}


def drawn(frame: str, rng: np.random.Generator, causes: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Openness by zone, mass, balance and swingweight that the copy of a frame may have, drawn from the derived tables; what
    instruments and people do is in `causes`, the same for all frames.
    """
    value = {zone: number("scores", frame, f"openness_{zone}") for zone in BED_ZONES}
    variance = {zone: (number("scores", frame, f"u_openness_{zone}") / value[zone]) ** 2 for zone in BED_ZONES}
    ratio = (number("scores", frame, "u_side_opening") / (1 + number("scores", frame, "side_opening"))) ** 2
    part = (variance["centre"] + variance["sides"] - ratio) / 2 / np.sqrt(variance["centre"] * variance["sides"])
    assert 0 < part < 1
    common = rng.standard_normal(DRAWS)
    made = {}
    for zone in BED_ZONES:
        of_cause = {cause: effects[zone] for cause, effects in shared(frame).items()}
        rest = part * variance[zone] - sum(effect**2 for effect in of_cause.values())
        assert rest > 0
        error = np.sqrt(rest) * common + np.sqrt((1 - part) * variance[zone]) * rng.standard_normal(DRAWS)
        for cause, effect in of_cause.items():
            error += effect * causes.setdefault(cause, rng.standard_normal(DRAWS))
        made[zone] = value[zone] * np.exp(error)
    for column in ("mass_g", "balance_points", "swingweight_kgcm2"):
        u = number("handling", frame, "u_" + column)
        made[column] = number("handling", frame, column) + u * rng.standard_normal(DRAWS)
    return made


@pytest.mark.parametrize(("name", "others"), [("fern-98", 4), ("moraine-98", 2)])
def test_chances_are_those_of_a_simulation(catalogue, name, others):
    rng, causes = np.random.default_rng(11), {}
    known = drawn(name, rng, causes)
    found = catalogue.near(name, {"bed": "4%", "mass": "12 g"}, limit=others, pulls=False)
    assert len(found.matches) == others
    for one in found.matches:
        copy = drawn(one.frame_id, rng, causes)
        bed = np.all([np.abs(copy[zone] / known[zone] - 1) <= 0.04 for zone in BED_ZONES], axis=0)
        near = bed & (np.abs(copy["mass_g"] - known["mass_g"]) <= 12)
        near &= np.abs(copy["balance_points"] - known["balance_points"]) <= 1
        near &= np.abs(copy["swingweight_kgcm2"] - known["swingweight_kgcm2"]) <= 5
        # 4 standard deviations of a count, and that the shared parts of two beds are taken as one variable.
        assert one.probability_bed == pytest.approx(bed.mean(), abs=0.005)
        assert one.probability == pytest.approx(near.mean(), abs=0.005)


def test_what_both_beds_share_counts_as_in_comparisons(catalogue):
    """The uncertainty of each zone's difference is that of `compare`, frame by frame."""
    for one in catalogue.near("fern-98", limit=1000, pulls=False).matches:
        compared = catalogue.compare("fern-98", one.frame_id)
        for part in one.parts[:4]:
            contrast = compared.contrast(one.frame_id, part.name)
            assert part.difference == pytest.approx(contrast.difference_percent, rel=1e-9)
            assert part.u_difference == pytest.approx(contrast.u_difference_percent, rel=1e-9)


def test_the_most_probable_come_first_and_all_are_judged(catalogue):
    found = catalogue.near("fern-98", limit=1000, pulls=False)
    for listed in (found.matches, found.partly_known):
        chances = [one.probability for one in listed]
        assert chances == sorted(chances, reverse=True)
    names = {one.frame_id for one in (*found.matches, *found.partly_known)}
    assert names == {row["frame_id"] for row in demo("frames")} - {"fern-98"}
    assert found.counts == {"matches": len(found.matches), "partly_known": len(found.partly_known)}
    assert found.searched == len(names)
    assert all(not one.unknown for one in found.matches)
    assert all(one.unknown for one in found.partly_known)


@pytest.mark.parametrize("name", ["fern-98", "moraine-98", "drumlin-98", "tarn-95"])
def test_a_frame_is_nearest_to_itself(catalogue, name):
    found = catalogue.near(name, limit=1000, pulls=False)
    assert found.itself.frame_id == name
    assert all(part.difference == 0.0 for part in found.itself.parts)
    assert found.itself.probability >= max(one.probability for one in found.matches)


TYPED = [
    ("mass", "5 g", "0.17636981 oz"),  # NIST SP 811, B.8: 1 oz = 28.34952 g
    ("mass", "5", "0.005 kg"),
    ("balance", "3.175 mm", "0.125 in"),
    ("bed", "3%", "3"),
    ("bed", "3 %", "±3 percent"),
    ("swingweight", "5", "5 kg·cm²"),
    ("length", "2.54 cm", "1 in"),
    ("head", "2", "12.9032 cm2"),
]


@pytest.mark.parametrize(("name", "one", "other"), TYPED)
def test_units_do_not_matter(catalogue, name, one, other):
    first, second = (catalogue.near("fern-98", {name: text}, limit=1000, pulls=False) for text in (one, other))
    chances = [{item.frame_id: item.probability for item in found.matches} for found in (first, second)]
    assert chances[0].keys() == chances[1].keys()
    for frame, chance in chances[0].items():
        assert chances[1][frame] == pytest.approx(chance, rel=1e-5, abs=1e-12)


@given(st.sampled_from(["bed", "mass", "balance", "swingweight", "length", "head"]), st.floats(0.5, 20.0), st.floats(0.1, 1.0))
def test_a_narrower_tolerance_never_raises_a_chance(catalogue, name, value, narrower):
    wide = catalogue.near("fern-98", {name: f"{value:.6f}"}, limit=1000, pulls=False)
    narrow = catalogue.near("fern-98", {name: f"{value * narrower:.6f}"}, limit=1000, pulls=False)
    chances = {one.frame_id: one.probability for one in (*wide.matches, *wide.partly_known)}
    for one in (*narrow.matches, *narrow.partly_known):
        assert one.probability <= chances[one.frame_id] + 1e-12


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("bed", "0"), ("bed", "-3"), ("bed", "3 mm"), ("bed", "100%"), ("bed", ""), ("bed", "near"), ("mass", "5 lb"),
        ("mass", "1e3"), ("balance", "2 g"), ("swingweight", "nan"), ("length", "2 oz"), ("head", "2 in"), ("mass", "5000"),
    ],
)  # fmt: skip
def test_what_is_no_tolerance(name, text):
    with pytest.raises(GapbookError) as raised:
        tolerances({name: text})
    assert raised.value.problems[0].code == "bad-tolerance"
    assert f"--{name}" in raised.value.problems[0].message


def test_any_leaves_one_out_and_something_must_be_left():
    names = {one.name for one in tolerances({"mass": "any", "length": "3 mm"})}
    assert names == {"bed", "balance", "swingweight", "length"}
    with pytest.raises(GapbookError) as raised:
        tolerances(dict.fromkeys(("bed", "mass", "balance", "swingweight"), "any"))
    assert raised.value.problems[0].code == "no-tolerance"


def test_pulls_are_those_of_retension(catalogue):
    found = catalogue.near("fern-98", at="53 lb", limit=1)
    at = 53 * 4.4482216152605  # NIST SP 811, B.8
    assert found.at_n == pytest.approx(at)
    for one in found.matches:
        told = catalogue.retension("fern-98", one.frame_id, "53 lb")
        assert (one.pull.tension_n, one.pull.u_tension_n) == pytest.approx(tuple(told.tension))
        # By hand, strings that do not stretch: stiffness is proportional to tension.
        stiffness = [number("mechanics", frame, "stiffness_centre_n_per_mm") for frame in ("fern-98", one.frame_id)]
        assert abs(one.pull.tension_n - at * stiffness[0] / stiffness[1]) < 2 * one.pull.u_tension_n


def test_no_pull_is_given_outside_the_models_range(catalogue):
    (one,) = catalogue.near("fern-98", at="320N", limit=1).matches
    assert (one.pull.tension_n, one.pull.outside) == (None, "asked")


def test_the_line_on_changes_is_of_the_rules_of_advice(catalogue):
    for one in catalogue.near("fern-98", pulls=False).matches:
        said = [
            item for item in catalogue.advise(one.frame_id, "fern-98").expect if "too close to call" not in item.text.lower()
        ]
        assert one.codes == [item.code for item in said]
        for words in filter(None, one.changes.split("; ")):
            assert any(item.text.startswith(words) for item in said)


def test_a_pattern_is_near_by_its_centre_alone(catalogue):
    found = catalogue.near("16x19 98 sq in", limit=3, pulls=False)
    assert found.left_out == ["sides", "tip", "throat", "mass", "balance", "swingweight"]
    assert [part.name for part in found.matches[0].parts] == ["centre"]
    assert found.itself is None
    assert found.matches[0].pull is None
    text = " ".join(gapbook("near", "16x19").stdout.split())
    assert "Not known of 16x19, and so left out: sides, tip, throat, mass, balance and swingweight." in text
    assert "16x19 was named without a head area" in text


def test_a_folder_of_ones_own(catalogue, tmp_path):
    folder = package_with_a_copy(tmp_path / "mine")
    found = catalogue.near(str(folder), {"mass": "any", "balance": "any", "swingweight": "any"}, limit=1000, pulls=False)
    alone = catalogue.near("fern-98-a", {"mass": "any", "balance": "any", "swingweight": "any"}, limit=1000, pulls=False)
    # The same readings under another name; repeatability is pooled over one bed more.
    chances = {one.frame_id: one.probability for one in alone.matches}
    for one in found.matches:
        assert one.probability == pytest.approx(chances[one.frame_id], abs=0.01)
    assert found.itself.frame_id == "fern-98"
    assert "fern-98" in chances  # the frame of a copy is one of those searched


def test_the_document(catalogue):
    document = json.loads(gapbook("near", "fern-98", "--limit", "2", "--json").stdout)
    assert list(document) == KEYS
    assert len(document["matches"]) == len(document["partly_known"]) == 2
    for one in (document["itself"], *document["matches"], *document["partly_known"]):
        assert list(one) == ENTRY
    assert document["within"][0] == {"name": "bed", "value": 3.0, "unit": "%", "named": False}
    part = document["matches"][0]["parts"][0]
    assert list(part) == ["name", "unit", "difference", "u_difference", "probability"]
    text = gapbook("near", "--help").stdout
    for key in (*KEYS, *ENTRY):
        assert f'"{key}"' in text, key


@pytest.mark.slow_after(1)
@pytest.mark.parametrize("columns", ["50", "80", "130"])
def test_the_screen_fits_and_says_its_tolerances(columns):
    run = gapbook("near", "fern-98", "--bed", "2%", "--limit", "3", COLUMNS=columns)
    assert run.returncode == 0, run.stderr
    assert max(map(len, run.stdout.splitlines())) <= int(columns)
    text = " ".join(run.stdout.split())
    assert (
        "Within 2 % of mesh (centre, sides, tip, throat), 5 g of mass, 1 point of balance and 5 kg·cm² of swingweight." in text
    )
    assert "Usual, because you named no other: mass, balance and swingweight." in text
    for said in (
        "another copy of fern-98 itself: ",
        "Same stiffness at",
        "a qualified stringer",
        "see a physician",
        "independent",
    ):
        assert said in text


def test_imperial_units_are_for_people(catalogue):
    found = catalogue.near("fern-98", limit=1, pulls=False).matches[0]
    grams = next(part for part in found.parts if part.name == "mass").difference
    text = gapbook("near", "fern-98", "--limit", "1", "--units", "imperial").stdout
    (line,) = [line for line in text.splitlines() if line.startswith("mass, oz")]
    assert float(line.split()[2].replace("−", "-").replace("+", "")) == pytest.approx(grams / 28.349523125, abs=0.006)
    assert "lb" in text
    assert "kg " not in text


def test_a_package_with_nothing_but_beds(tmp_path):
    root = package_in(tmp_path / "package").root
    for name in ("handling", "mechanics"):
        (root / "catalogue" / "derived" / f"{name}.csv").unlink(missing_ok=True)
    run = gapbook("near", "one", "--package", str(root))
    assert run.returncode == 0, run.stderr
    assert "left out: mass, balance and swingweight" in " ".join(run.stdout.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("fernn",), "Nearest: fern-"),
        (("fern-98", "--bed", "wide"), "--bed does not take this"),
        (("fern-98", "--at", "24"), "has no unit"),
        (("16x19", "--bed", "any"), "nothing of what was asked is known of 16x19"),
        (("fern-98", "--limit", "0"), "limit"),
    ],
)
def test_what_cannot_be_asked(arguments, said):
    run = gapbook("near", *arguments)
    assert (run.returncode, run.stdout) == (2, "")
    assert said in run.stderr
