"""Questions answered over the demo: who matches, who is too close to call, why, and what is said when nothing does."""

from __future__ import annotations

import math
import statistics
from pathlib import Path

import pytest

from demo_rows import covariance
from gapbook.errors import GapbookError
from gapbook.questions.options import from_options
from gapbook.questions.wording import describe

ROOT = Path(__file__).resolve().parents[1]


def by_hand(scores, reference, zone, confidence):
    """Verdicts of tighter-than over the whole demo by the rule of comparison, with the standard library's normal."""
    normal = statistics.NormalDist()
    found = {}
    for name, row in scores.items():
        if name == reference or row[f"openness_{zone}"] is None:
            continue
        a, b = (
            (row[f"openness_{zone}"], row[f"u_openness_{zone}"]),
            (
                scores[reference][f"openness_{zone}"],
                scores[reference][f"u_openness_{zone}"],
            ),
        )
        u = math.sqrt((a[1] / a[0]) ** 2 + (b[1] / b[0]) ** 2 - 2 * covariance(row, scores[reference], zone))
        p = normal.cdf(-math.log(a[0] / b[0]) / u)
        found[name] = "match" if p >= confidence else "undecided" if p > 1 - confidence else "no"
    return found


@pytest.mark.parametrize("zone", ["centre", "left", "right", "sides", "tip", "throat", "even"])
@pytest.mark.parametrize("confidence", [0.95, 0.8])
def test_verdicts_over_the_demo(catalogue, scores, zone, confidence):
    asked = from_options(tighter_than="fern-98", where=zone, confidence=confidence)
    answer = catalogue.find(asked)
    wanted = by_hand(scores, "fern-98", zone, confidence)
    assert {one.frame_id for one in answer.matches} == {name for name, said in wanted.items() if said == "match"}
    assert {one.frame_id for one in answer.undecided} == {name for name, said in wanted.items() if said == "undecided"}
    assert answer.matches
    assert answer.searched == len(scores) - 1


def test_the_question_of_the_readme(catalogue):
    answer = catalogue.ask("95-98 sq in, 16 mains, tighter centre than fern-98")
    assert [one.openness for one in answer.matches] == sorted(one.openness for one in answer.matches)
    assert {"moraine-98", "thistle-95", "hoarfrost-96"} <= {one.frame_id for one in answer.matches}
    assert {"rowan-97", "bracken-98"} <= {one.frame_id for one in answer.undecided}
    for one in answer.matches:
        assert one.mains == 16
        assert 94.5 * 6.4516 <= one.head_area_cm2 < 98.5 * 6.4516
        assert one.probability >= 0.95
        assert one.verdict == "tighter"
        if one.basis == "measured":
            parts = one.why.size + one.why.count + one.why.drilling
            assert parts == pytest.approx(100 * math.log(one.openness / answer.reference.openness), abs=0.02)
    counted = [one for one in answer.undecided if one.basis == "counted"]
    assert counted
    assert all(one.why.drilling is None for one in counted)


CASES = [
    ("632.3 cm2 is 98 sq in", "98 sq in", lambda row: round(row["head_area_cm2"] / 6.4516) == 98),
    ("an open end", "under 95 sq in", lambda row: math.floor(row["head_area_cm2"] / 6.4516 + 0.5) < 95),
    ("a pattern", "18x20", lambda row: (row["mains"], row["crosses"]) == (18, 20)),
    ("mesh in mm", "centre mesh under 10.5 mm", lambda row: row["openness_centre"] < 105),
    ("openness", "openness 105-115", lambda row: 105 <= row["openness_centre"] <= 115),
    ("a trait of measured beds only", "side opening over 20 %", lambda row: (row["side_opening"] or 0) > 0.2),
    ("measured only", "measured only", lambda row: row["basis"] == "measured"),
]


@pytest.mark.parametrize(("text", "holds"), [case[1:] for case in CASES], ids=[case[0] for case in CASES])
def test_ranges_over_the_demo(catalogue, scores, text, holds):
    answer = catalogue.ask(text)
    assert {one.frame_id for one in answer.matches} == {name for name, row in scores.items() if holds(row)}
    assert answer.matches
    assert answer.reference is None
    assert all(one.probability is None and one.why is None for one in answer.matches)


def test_handling_is_of_strung_frames(catalogue):
    within = "swingweight_kgcm2 >= 315 and swingweight_kgcm2 <= 330"
    rows = catalogue.sql(f"select frame_id from handling where strung and {within}")
    found = catalogue.ask("swingweight 315-330")
    assert {one.frame_id for one in found.matches} == set(rows["frame_id"].to_pylist())


def test_like_is_within_three_percent(catalogue, scores):
    answer = catalogue.ask("like fern-98")
    own = scores["fern-98"]["openness_centre"]
    near = {name for name, row in scores.items() if name != "fern-98" and abs(row["openness_centre"] / own - 1) <= 0.03}
    assert {one.frame_id for one in answer.matches} == near
    assert answer.undecided == []


def test_two_relations_hold_together(catalogue):
    both = catalogue.ask("tighter centre than fern-98, more open sides than fern-98")
    centre = {one.frame_id for one in catalogue.ask("tighter centre than fern-98").matches}
    sides = {one.frame_id for one in catalogue.ask("more open sides than fern-98").matches}
    assert {one.frame_id for one in both.matches} == centre & sides
    assert "moraine-98" in centre & sides


LIMITED = [
    ("tighter centre than fern-98, more open sides than fern-98", [("centre", 1), ("sides", -1)]),
    ("more open sides than fern-98, tighter centre than fern-98", [("centre", 1), ("sides", -1)]),
    ("like fern-98, more open sides than fern-98", [("sides", -1)]),
    ("more open tip than fern-98, like fern-98, 80% confidence", [("tip", -1)]),
]


@pytest.mark.parametrize(("text", "asked"), LIMITED)
def test_the_least_sure_relation_gives_probability_and_verdict(catalogue, scores, text, asked):
    normal, own = statistics.NormalDist(), scores["fern-98"]
    answer = catalogue.ask(text)
    confidence = answer.question.confidence
    for one in answer.matches + answer.undecided:
        sure = []
        for zone, sign in asked:
            a, u_a, b, u_b = (row[f"{u}openness_{zone}"] for row in (scores[one.frame_id], own) for u in ("", "u_"))
            both = covariance(scores[one.frame_id], own, zone)
            u_both = math.sqrt((u_a / a) ** 2 + (u_b / b) ** 2 - 2 * both)
            sure.append((normal.cdf(-sign * math.log(a / b) / u_both), sign))
        assert one.probability == pytest.approx(min(sure)[0], abs=1e-12)
        decided = "tighter" if min(sure)[1] > 0 else "more open"
        assert one.verdict == (decided if min(sure)[0] >= confidence else "too close to call")
        unsure = {zone for (zone, _), (p, _) in zip(asked, sure, strict=True) if 1 - confidence < p < confidence}
        assert {relation.zone for relation in one.unsure} == unsure
    assert answer.undecided


def test_the_first_relation_named_is_the_reference(catalogue):
    answer = catalogue.ask("more open sides than fern-98, tighter than bracken-102")
    assert (answer.reference.frame_id, answer.question.zone) == ("fern-98", "sides")


def test_nothing_matches_says_what_to_loosen(catalogue):
    answer = catalogue.ask("16x19, 89 sq in, tighter than burdock-89")
    assert answer.matches == []
    # No other head measures 89 sq in and none is tighter than burdock-89: dropping either leaves the other in the way.
    frames = {one.clause: one.frames for one in answer.left_out.clauses}
    assert frames["head 89 sq in"] == frames["tighter centre than burdock-89"] == answer.searched
    assert [one.gains for one in answer.left_out.clauses] == [0, 0, 0, 0]
    assert answer.left_out.near_misses == ()


def test_a_copy_is_a_reference(catalogue):
    answer = catalogue.ask("like fern-98-a")
    (bed,) = [row for row in catalogue.table("beds").to_pylist() if row["specimen_id"] == "fern-98-a"]
    assert answer.reference.frame_id == "fern-98"
    assert answer.reference.openness == bed["openness_centre"]
    assert "fern-98" in {one.frame_id for one in answer.matches}


def test_a_folder_is_a_reference(catalogue, tmp_path):
    """A contribution that repeats a copy of the demo under a name of its own has that copy's bed."""
    for table in ("specimens", "spacings", "readings"):
        lines = (ROOT / "catalogue" / f"{table}.csv").read_text().splitlines()
        own = [line.replace("drumlin-98-a", "my-own", 1) for line in lines if line.startswith("drumlin-98-a,")]
        (tmp_path / f"{table}.csv").write_text("\n".join([lines[0], *own]) + "\n")
    found = catalogue.compare("fern-98", str(tmp_path))
    (bed,) = [row for row in catalogue.table("beds").to_pylist() if row["specimen_id"] == "drumlin-98-a"]
    assert found.beds[1].frame_id == "drumlin-98"
    assert found.beds[1].scores["openness_centre"] == pytest.approx(bed["openness_centre"], rel=1e-4)
    broken = (tmp_path / "spacings.csv").read_text().splitlines()
    del broken[5]
    (tmp_path / "spacings.csv").write_text("\n".join(broken) + "\n")
    with pytest.raises(GapbookError) as caught:
        catalogue.compare("fern-98", str(tmp_path))
    assert caught.value.problems[0].code == "missing-numbers"
    assert caught.value.problems[0].place.file == str(tmp_path / "spacings.csv")


ERRORS = [
    ("tighter than ferm-98", "unknown-frame"),
    ("16 mains, 18x20", "contradiction"),
    ("98-95 sq in", "empty-range"),
    ("more open sides than clover-98", "reference-blank"),
]


@pytest.mark.parametrize(("text", "code"), ERRORS)
def test_what_cannot_be_answered(catalogue, text, code):
    with pytest.raises(GapbookError) as caught:
        catalogue.ask(text)
    assert caught.value.problems[0].code == code


def test_words_say_what_was_understood(catalogue):
    answer = catalogue.ask("TIGHTER CENTER than fern-98 and 16×19")
    assert describe(answer.question) == "16 mains, 19 crosses, tighter centre than fern-98"


def test_the_readme_by_hand(catalogue):
    """Pitches of fern-98-a worked with pencil and rule in README.md."""
    (bed,) = [row for row in catalogue.table("beds").to_pylist() if row["specimen_id"] == "fern-98-a"]
    assert bed["main_pitch_centre_mm"] == pytest.approx(67 / (7.39 / 11.73 + 5 + 7.43 / 12.10), abs=0.005)
    assert bed["cross_pitch_centre_mm"] == pytest.approx(67 / (10.35 / 12.54 + 4 + 11.62 / 12.54), abs=0.005)
    assert bed["openness_centre"] == pytest.approx(10 * math.sqrt(10.73 * 11.65), abs=0.05)
