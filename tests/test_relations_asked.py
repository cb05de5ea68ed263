"""What relations of traits, classes, alternatives and denials find in the demo, computed here from the tables alone."""

from __future__ import annotations

import json
import math
import statistics

import pytest

from demo_rows import demo
from gapbook.errors import GapbookError
from gapbook.questions.language import QuestionError, read
from gapbook.screens.about import document, sentences
from running import gapbook

NORMAL = statistics.NormalDist()


@pytest.fixture(scope="module")
def handling(catalogue):
    return {row["frame_id"]: row for row in catalogue.table("handling").to_pylist() if row["strung"]}


@pytest.fixture(scope="module")
def frames(catalogue):
    return {row["frame_id"]: row for row in catalogue.table("frames").to_pylist()}


def names(entries) -> set[str]:
    return {entry.frame_id for entry in entries}


def less(rows, one: str, other: str, column: str) -> float | None:
    """How probable it is that a figure is below another's, by the standard library's normal; None if one is not known."""
    a, u_a, b, u_b = (rows.get(name, {}).get(prefix + column) for name in (one, other) for prefix in ("", "u_"))
    return None if None in (a, u_a, b, u_b) else NORMAL.cdf((b - a) / math.hypot(u_a, u_b))


@pytest.mark.parametrize(
    ("text", "column", "sign"),
    [
        ("lighter than fern-98", "mass_g", 1),
        ("heavier than moraine-98", "mass_g", -1),
        ("lower swingweight than fern-98", "swingweight_kgcm2", 1),
        ("more head light than gorse-100", "balance_points", 1),
        ("more head heavy than fern-98", "balance_points", -1),
    ],
)
def test_handling_is_decided_by_both_uncertainties(catalogue, handling, text, column, sign):
    answer = catalogue.ask(text)
    reference = answer.question.trait_relations[0].reference
    known = {name: less(handling, name, reference, column) for name in handling if name != reference}
    holds = {name: p if sign > 0 else 1 - p for name, p in known.items() if p is not None}
    assert names(answer.matches) == {name for name, p in holds.items() if p >= 0.95}
    assert names(answer.undecided) == {name for name, p in holds.items() if 0.05 < p < 0.95}
    assert answer.matches
    for entry in answer.matches:
        assert entry.probability == pytest.approx(holds[entry.frame_id], abs=1e-9)


@pytest.mark.parametrize(
    ("text", "table", "column", "sign", "reference"),
    [
        ("bigger head than fern-98", "scores", "head_area_cm2", 1, "fern-98"),
        ("fewer crosses than drizzle-97", "scores", "crosses", -1, "drizzle-97"),
        ("longer than combe-100", "frames", "length_mm", 1, "combe-100"),
        ("newer than fern-98", "frames", "release_year", 1, "fern-98"),
    ],
)
def test_declared_figures_are_taken_as_they_are(catalogue, text, table, column, sign, reference):
    rows = {row["frame_id"]: row[column] for row in catalogue.table(table).to_pylist()}
    answer = catalogue.ask(text)
    assert names(answer.matches) == {name for name, value in rows.items() if value and sign * (value - rows[reference]) > 0}
    assert answer.undecided == []
    assert any("as declared" in note for note in answer.notes)


def test_evenness_is_how_near_uniformity_is_to_one(catalogue, scores):
    answer = catalogue.ask("more even than fern-98, 60% confidence")
    own = scores["fern-98"]
    expected = set()
    for name, row in scores.items():
        if name != "fern-98" and row["uniformity"]:
            apart = abs(math.log(own["uniformity"])) - abs(math.log(row["uniformity"]))
            u = math.hypot(own["u_uniformity"] / own["uniformity"], row["u_uniformity"] / row["uniformity"])
            expected |= {name} if NORMAL.cdf(apart / u) >= 0.6 else set()
    assert names(answer.matches) == expected != set()


def test_drilling_is_that_of_both_families(catalogue, scores):
    answer = catalogue.ask("drilled closer than sorrel-98")
    own = scores["sorrel-98"]

    def product(row):
        return row["drilling_main"] * row["drilling_cross"]

    closer = {name for name, row in scores.items() if row["drilling_main"] and product(row) < product(own)}
    assert names(answer.matches) < closer
    assert answer.matches


def test_a_stiffer_bed_is_stiffer_in_the_centre(catalogue):
    rows = {row["frame_id"]: row["stiffness_centre_n_per_mm"] for row in catalogue.table("mechanics").to_pylist()}
    answer = catalogue.ask("stiffer bed than sorrel-98")
    assert answer.matches
    assert all(rows[entry.frame_id] > rows["sorrel-98"] for entry in answer.matches)


def peers(scores, mains, crosses, square_inches=None):
    rows = [row for row in scores.values() if (row["mains"], row["crosses"]) == (mains, crosses) and row["basis"] == "measured"]
    return [
        row["openness_centre"]
        for row in rows
        if square_inches is None or math.floor(row["head_area_cm2"] / 6.4516 + 0.5) == square_inches
    ]


@pytest.mark.parametrize(("words", "head"), [("most 16x19", None), ("most 16x19 98 sq in", 98)])
def test_a_class_is_the_median_of_its_measured_frames(catalogue, scores, words, head):
    answer = catalogue.ask(f"tighter than {words}")
    values = peers(scores, 16, 19, head)
    assert answer.reference.openness == pytest.approx(statistics.median(values))
    assert answer.reference.frames == len(values)
    spread = statistics.stdev(math.log(value) for value in values)
    assert answer.reference.spread_percent == pytest.approx(100 * spread)
    assert all(entry.openness < answer.reference.openness for entry in answer.matches)
    assert any(f"{len(values)} measured frames" in note for note in answer.notes)


def test_as_tight_as_a_class_leaves_out_what_is_surely_more_open(catalogue, scores):
    answer = catalogue.ask("a 16x19 that is as tight as an 18x20")
    assert answer.undecided == []
    median = statistics.median(peers(scores, 18, 20))
    tight = {
        name for name, row in scores.items() if (row["mains"], row["crosses"]) == (16, 19) and row["openness_centre"] < median
    }
    assert tight <= names(answer.matches)
    left = catalogue.ask("16x19, more open than most 18x20")
    assert not names(answer.matches) & names(left.matches)


def test_a_class_that_nobody_measured_is_refused(catalogue):
    with pytest.raises(GapbookError) as error:
        catalogue.ask("tighter than most 13x24")
    assert error.value.problems[0].code == "no-class"


def test_a_denial_is_the_rest(catalogue):
    """Not tighter: all that is not surely tighter, so that both together are every frame."""
    tighter, rest = catalogue.ask("tighter than fern-98"), catalogue.ask("not tighter than fern-98")
    assert names(tighter.matches) | names(rest.matches) == names(tighter.matches) ^ names(rest.matches)
    assert len(tighter.matches) + len(rest.matches) == tighter.searched
    assert names(tighter.undecided) <= names(rest.matches)
    assert any("too close to call" in note for note in rest.notes)


def test_alternatives_and_what_is_left_out(catalogue, scores):
    heads = {name: math.floor(row["head_area_cm2"] / 6.4516 + 0.5) for name, row in scores.items()}
    assert names(catalogue.ask("95, 97 or 98 sq in").matches) == {name for name, head in heads.items() if head in (95, 97, 98)}
    mains = {name for name, row in scores.items() if row["mains"] in (14, 18)}
    assert names(catalogue.ask("14 or 18 mains").matches) == mains
    rest = {name for name, row in scores.items() if (row["mains"], row["crosses"]) != (16, 19)} - {"tarn-95"}
    assert names(catalogue.ask("not 16x19, without tarn-95").matches) == rest
    assert names(catalogue.ask("no 98s").matches) == {name for name, head in heads.items() if head != 98}


@pytest.mark.parametrize(
    ("text", "key", "turned"),
    [("more open than fern-98, top 3", "openness_centre", True), ("tighter than fern-98, top 3", "openness_centre", False)],
)
def test_with_a_limit_the_strongest_come_first(catalogue, scores, text, key, turned):
    answer, whole = catalogue.ask(text), catalogue.ask(text.removesuffix(", top 3"))
    best = sorted(names(whole.matches), key=lambda name: scores[name][key], reverse=turned)[:3]
    assert [entry.frame_id for entry in answer.matches] == best
    assert any(note.startswith("Strongest first") for note in answer.notes)


def test_the_lightest_come_first_of_those_that_are_lighter(catalogue, handling):
    found = [handling[entry.frame_id]["mass_g"] for entry in catalogue.ask("lighter than fern-98, top 4").matches]
    assert found == sorted(found)


ABOUT = [
    ("how open is the fern 98", "show", "gapbook show fern-98", "Mesh in the centre: "),
    ("fern-98 vs moraine-98", "compare", "gapbook compare fern-98 moraine-98", "against"),
    ("why is moraine 98 tighter than fern 98", "why", "gapbook compare moraine-98 fern-98", "Why: "),
    ("what is side opening", "explain", "gapbook ask --phrases", "Openness of the sides over that of the centre"),
]


@pytest.mark.parametrize(("text", "intent", "command", "said"), ABOUT)
def test_questions_about_frames_are_answered_shortly(catalogue, text, intent, command, said):
    told = catalogue.tell(read(text, catalogue.names).asked)
    assert (told.about.intent, told.about.command) == (intent, command)
    assert any(said in sentence for sentence in sentences(told))
    made = document(told)
    assert list(made)[:4] == ["about", "sentences", "command", "notes"]
    assert json.loads(json.dumps(made, allow_nan=False))["about"]["intent"] == intent


def test_a_comparison_says_what_compare_says(catalogue):
    told = catalogue.tell(read("is moraine-98 tighter than fern-98", catalogue.names).asked)
    contrast = catalogue.compare("fern-98", "moraine-98").contrasts[0]
    assert told.comparison.contrasts[0] == contrast
    assert sentences(told)[0].startswith(f"moraine-98 is {contrast.verdict} than fern-98 in the centre")


def test_the_command_line_answers_about_frames_and_shows_phrases():
    run = gapbook("ask", "tell me about the Willow 98", "--json")
    assert run.returncode == 0
    assert set(json.loads(run.stdout)) == {"about", "sentences", "command", "notes", "scores", "handling"}
    shown = gapbook("ask", "--phrases").stdout.splitlines()
    assert len(shown) <= 40
    assert max(map(len, shown)) <= 80


@pytest.mark.parametrize("text", ["cheapest 98", "which 98 gives most spin", "softer than fern-98", "something arm friendly"])
def test_what_no_catalogue_knows_is_said_with_what_comes_nearest(catalogue, text):
    with pytest.raises(QuestionError) as error:
        read(text, catalogue.names)
    (problem,) = error.value.problems
    assert problem.code == "not-in-catalogue"
    assert "not in the catalogue" in problem.message
    assert problem.fix


@pytest.mark.parametrize("text", ["smaller head than fern-98, longer than fern-98", "fewer crosses than willow-98 and shorter"])
def test_two_traits_without_uncertainty_are_compared_as_they_stand(catalogue, text):
    found = catalogue.ask(text)
    known = {row["frame_id"]: row for row in demo("frames")}
    kind = {
        "smaller head": ("head_area_cm2", -1),
        "longer": ("length_mm", 1),
        "fewer crosses": ("crosses", -1),
        "shorter": ("length_mm", -1),
    }
    reference = known["fern-98" if "fern" in text else "willow-98"]
    wanted = [way for words, way in kind.items() if words in text]
    expected = {
        name
        for name, row in known.items()
        if all(sign * (float(row[column]) - float(reference[column])) > 0 for column, sign in wanted if row[column])
        and all(row[column] for column, _ in wanted)
    }
    assert {entry.frame_id for entry in found.matches} == expected


def test_a_pattern_is_said_to_be_a_median_in_ask_and_one_bed_in_compare():
    asked = " ".join(gapbook("ask", "tighter than 16x19, top 1").stdout.split())
    assert "stands for the median of the" in asked
    assert "gapbook compare takes “16x19” for one bed, estimated from its counts" in asked
    for command in (("compare", "fern-98", "16x19"), ("near", "16x19")):
        said = " ".join(gapbook(*command).stdout.split())
        assert "16x19 is one bed here, estimated from its counts; ask sets frames against the median of the measured" in said
