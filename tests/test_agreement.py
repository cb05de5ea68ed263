"""`gapbook agreement`: the AIAG example as readings of frames, pitches by hand, and the keys that programs rely on."""

from __future__ import annotations

import itertools
import json
import re
from collections import Counter, defaultdict

import numpy as np
import pytest
from scipy import stats
from typer.testing import CliRunner

from gapbook.commands import agreement as command
from gapbook.commands.app import build
from gapbook.intake.agreement import agreement_of
from gapbook.screens import page
from gapbook.screens.agreement import screen
from gauge_example import AIAG
from read_beds import good
from small import Small

STUDY = [
    "quantity", "unit", "instrument_kind", "readings", "parts", "shared_parts", "people", "repeatability",
    "repeatability_freedom", "reproducibility", "reproducibility_freedom", "interaction", "grr", "part_variation",
    "total_variation", "grr_percent", "distinct_categories",
]  # fmt: skip
OF_PERSON = [
    "contributor_id", "quantity", "unit", "instrument_kind", "repeatability", "freedom", "readings", "others",
]  # fmt: skip
PEOPLE = ["instrument_kind", "seen", "freedom", "used"]
AGAINST = ["instrument_kind", "against", "quantity", "unit", "difference", "low", "high", "scatter", "shared_parts"]
BIAS = ["contributor_id", "quantity", "unit", "bias", "low", "high", "freedom", "shared_parts", "against"]


def _aiag(unit: str = "mm", factor: float = 1.0) -> Small:
    """The example as balances of ten frames, read thrice each by three people, 320 mm up."""
    small = Small()
    small.add("contributors", contributor_id="una", name="Una", since="2020-01-01")
    small.add("instruments", instrument_id="board", kind="balance_board", resolution="0.01", max_error="0.5", unit="mm")
    small.frame("one")
    for part in range(10):
        small.copy(f"one-{part}", "one")
    for (person, trial, part), value in np.ndenumerate(AIAG):
        who = ("ida", "ole", "una")[person]
        more = {"contributor_id": who, "instrument_id": "board", "repeat": trial + 1}
        small.reading(f"one-{part}", "balance", repr((320 + float(value)) / factor), unit, **more)
    return small


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1.0), ("cm", 10.0), ("in", 25.4)])
def test_the_aiag_example_through_the_package(unit, factor):
    agreement = _aiag(unit, factor).inspect(lambda package: agreement_of(package).to_json())
    (row,) = agreement["studies"]
    assert (row["quantity"], row["unit"], row["instrument_kind"]) == ("balance", "mm", "balance_board")
    assert (row["readings"], row["parts"], row["shared_parts"], row["people"]) == (90, 10, 10, 3)
    figures = [row[name] for name in ("repeatability", "reproducibility", "grr", "part_variation", "total_variation")]
    # AIAG MSA manual, worked example, analysis of variance with the interaction pooled.
    assert [f"{figure:.5f}" for figure in figures] == ["0.19993", "0.22684", "0.30237", "1.04233", "1.08530"]
    # 100·0.30237/1.08530 and 1.41·1.04233/0.30237 = 4.86 (hand arithmetic).
    assert row["grr_percent"] == pytest.approx(27.86, abs=0.005)
    assert row["distinct_categories"] == 4
    means = AIAG.mean(axis=(1, 2)) - AIAG.mean()
    assert [one["bias"] for one in agreement["biases"]] == pytest.approx(means.tolist(), abs=1e-4)


def test_the_repeatability_of_each_person_of_the_aiag_example():
    rows = _aiag().inspect(lambda package: agreement_of(package).to_json())["repeatability"]
    assert [row["contributor_id"] for row in rows] == ["ida", "ole", "una"]
    for place, row in enumerate(rows):
        # Mean of the variances of three readings of each of ten parts (numpy), with 10·(3 - 1) degrees of freedom.
        within = [float(np.var(AIAG[person], axis=0, ddof=1).mean()) for person in range(3)]
        assert row["repeatability"] == pytest.approx(within[place] ** 0.5, rel=1e-5)
        rest = [one for person, one in enumerate(within) if person != place]
        assert row["others"] == pytest.approx(np.mean(rest) ** 0.5, rel=1e-5)
        assert (row["freedom"], row["readings"]) == (20.0, 30)


def _pitch(gaps: list[float]) -> float:
    """67 mm about the middle of the outer strings, over the gaps that fit in, part by part."""
    strings = [0.0, *itertools.accumulate(gaps)]
    low, high = strings[-1] / 2 - 33.5, strings[-1] / 2 + 33.5
    count = 0.0
    for one, other in itertools.pairwise(strings):
        count += max(0.0, min(other, high) - max(one, low)) / (other - one)
    return 67.0 / count


def _pitches() -> dict[tuple[str, str], dict[str, list[float]]]:
    """By specimen and family and then person, the pitch of each pass, straight from the rows."""
    passes = defaultdict(list)
    for row in good().tables["spacings"]:
        key = row["specimen_id"], row["family"], row["contributor_id"], row["taken_on"], row["repeat"], row["kind"]
        passes[key].append(float(row["value"]))
    pitches: dict[tuple[str, str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for (specimen, family, person, _, _, kind), values in passes.items():
        gaps = list(np.diff(values)) if kind == "mark" else values
        pitches[specimen, family][person].append(_pitch(gaps))
    return pitches


@pytest.fixture(scope="module")
def beds():
    return good().inspect(lambda package: agreement_of(package).to_json())


def _row(agreement, quantity, kind):
    return next(row for row in agreement["studies"] if (row["quantity"], row["instrument_kind"]) == (quantity, kind))


def test_what_the_studies_rest_on(beds):
    # Ten copies of 16x19 read twice by ida, five of them once by ole with a calliper: 15 + 18 gaps each; three thrice by rule.
    calliper, rule = _row(beds, "gap", "calliper"), _row(beds, "gap", "rule")
    assert (calliper["readings"], calliper["parts"]) == (10 * 2 * 33 + 5 * 33, 330)
    assert (calliper["shared_parts"], calliper["people"]) == (165, 2)
    assert (rule["readings"], rule["parts"], rule["shared_parts"], rule["people"]) == (3 * 3 * 33, 99, 0, 1)
    pitch = _row(beds, "pitch", "calliper")
    assert (pitch["readings"], pitch["parts"], pitch["shared_parts"]) == (50, 20, 10)
    assert rule["reproducibility"] is None
    assert rule["distinct_categories"] is None


def test_repeatability_is_what_people_were_given(beds):
    # A calliper's 0.1 mm; a rule's 0.2 mm and rounding to 0.5 mm, twice for a gap: √(2·(0.04 + 0.25/12)) = 0.349 mm.
    assert _row(beds, "gap", "calliper")["repeatability"] == pytest.approx(0.1, rel=0.08)
    assert _row(beds, "gap", "rule")["repeatability"] == pytest.approx(0.349, rel=0.12)
    # Three repeats of 99 gaps leave 198 degrees of freedom, two thirds of which count.
    assert _row(beds, "gap", "rule")["repeatability_freedom"] == 132.0


def test_repeatability_of_a_pitch_is_that_of_its_passes(beds):
    # ida alone read copies f to j with a calliper, and rule and photo are other kinds: one-person cells pooled by hand.
    row = _row(beds, "pitch", "rule")
    cells = [people["ole"] for (specimen, _), people in _pitches().items() if specimen in ("one-h", "one-i", "one-j")]
    squares = sum(np.var(cell, ddof=1) * 2 for cell in cells)
    assert row["repeatability_freedom"] == 12
    assert row["repeatability"] == pytest.approx(np.sqrt(squares / 12), rel=1e-4)


def test_bias_of_two_people_is_half_the_paired_difference(beds):
    both = [people for people in _pitches().values() if len(people) == 2]
    difference = np.array([np.mean(people["ida"]) - np.mean(people["ole"]) for people in both])
    assert len(difference) == 16
    interval = stats.ttest_1samp(difference, 0.0).confidence_interval(0.95)
    ida, ole = (one for one in beds["biases"] if one["quantity"] == "pitch")
    assert (ida["contributor_id"], ida["against"], ida["shared_parts"], ida["freedom"]) == ("ida", ["ole"], 16, 15)
    assert ida["bias"] == pytest.approx(difference.mean() / 2, rel=1e-3)
    assert (ida["low"], ida["high"]) == pytest.approx((interval.low / 2, interval.high / 2), rel=1e-3)
    assert ole["bias"] == pytest.approx(-ida["bias"])


def test_one_person_alone_has_no_bias(beds):
    (one,) = (one for one in beds["biases"] if one["quantity"] == "mass")
    assert (one["bias"], one["low"], one["against"], one["freedom"]) == (None, None, [], 0)


def test_photographs_beside_a_calliper_are_paired_differences(capsys):
    # Five copies whose gaps a calliper read; a photograph of each shows all gaps 1 % wider.
    small, rng = Small(), np.random.default_rng(3)
    small.add("instruments", instrument_id="snap", kind="photo", resolution="0.01", max_error="1", unit="mm")
    small.frame("one", 16, 19)
    pairs = []
    for copy in "abcde":
        small.copy(f"one-{copy}", "one")
        for family, strings in (("main", 16), ("cross", 19)):
            gaps = (12.0 + rng.normal(0.0, 0.3, strings - 1)).round(2)
            marks = np.cumsum([0.0, *(1.01 * gaps + rng.normal(0.0, 0.02, strings - 1)).round(2)]).round(2)
            small.run(f"one-{copy}", family, gaps.tolist())
            small.run(f"one-{copy}", family, marks.tolist(), kind="mark", instrument_id="snap")
            pairs += list(zip(np.diff(marks).tolist(), gaps.tolist(), strict=True))
    agreement = small.inspect(agreement_of)
    gap, pitch = agreement.against
    away = np.array([photo - calliper for photo, calliper in pairs])
    interval = stats.ttest_1samp(away, 0.0).confidence_interval(0.95)
    assert (gap.instrument_kind, gap.against, gap.quantity, gap.shared_parts) == ("photo", "calliper", "gap", 165)
    assert [gap.difference, gap.low, gap.high] == pytest.approx([away.mean(), interval.low, interval.high], rel=1e-3)
    assert gap.scatter == pytest.approx(away.std(ddof=1), rel=1e-3)
    assert (pitch.quantity, pitch.shared_parts) == ("pitch", 10)
    assert pitch.difference == pytest.approx(0.12, abs=0.03)  # 1 % of 12 mm
    assert [list(one.to_json()) for one in agreement.against] == [AGAINST] * 2
    page.show(*screen(agreement))
    assert "photo against calliper, pitch: +0.11" in " ".join(capsys.readouterr().out.split())


def test_a_biased_hand_is_told():
    small = good()
    for row in small.tables["spacings"]:
        if row["instrument_id"] == "cal-2":
            row["value"] = f"{float(row['value']) + 0.3:.2f}"
    agreement = small.inspect(lambda package: agreement_of(package).to_json())
    ole = next(one for one in agreement["biases"] if (one["quantity"], one["contributor_id"]) == ("pitch", "ole"))
    # 0.3 mm on ten of the sixteen parts that both read; half of it, because the mean of the two is the yardstick.
    assert ole["bias"] == pytest.approx(0.3 * 10 / 16 / 2, abs=0.02)
    assert ole["low"] > 0.0


def test_keys_are_those_of_the_help(beds):
    assert [list(row) for row in beds["studies"]] == [STUDY] * len(beds["studies"])
    assert [list(row) for row in beds["biases"]] == [BIAS] * len(beds["biases"])
    named = set(re.findall(r'"(\w+)"', command.HELP))
    assert [list(row) for row in beds["people"]] == [PEOPLE] * len(beds["people"])
    assert [list(row) for row in beds["repeatability"]] == [OF_PERSON] * len(beds["repeatability"])
    assert named == {*STUDY, *OF_PERSON, *BIAS, *PEOPLE, *AGAINST, *beds, "package"}


def test_the_command_prints_one_document(tmp_path):
    folder = good().write(tmp_path / "package")
    run = CliRunner().invoke(build(["agreement", "sql"]), ["agreement", "--json", "--package", str(folder)])
    assert run.exit_code == 0, run.output
    document = json.loads(run.stdout)
    assert list(document) == [
        "confidence", "studies", "repeatability", "people", "placement", "biases", "against", "faults", "package",
    ]  # fmt: skip
    assert document["faults"] == 0
    assert document["package"]["name"] == "gapbook"


def _shown(small: Small, capsys: pytest.CaptureFixture[str]) -> str:
    small.inspect(lambda package: page.show(*screen(agreement_of(package))))
    return capsys.readouterr().out


def test_the_screen_says_what_it_rests_on_and_what_is_not_known(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    text = _shown(good(), capsys)
    assert max(map(len, text.splitlines())) <= 80
    assert re.search(r"pitch, mm +rule +0\.0\d+ +– +– +– +18 +6 +1\n", text)
    assert re.search(r"ida +pitch, mm +[+−]?0\.0\d+ +[+−]0\.\d+ to [+−]?0\.\d+ +16 ole\n", text)
    assert "ida: mass" in text


@pytest.mark.parametrize("columns", [30, 50, 60, 80])
def test_no_figure_or_heading_is_cut_in_a_narrow_window(columns, capsys, monkeypatch):
    shown = {}
    for width in (columns, 120):
        monkeypatch.setenv("COLUMNS", str(width))
        shown[width] = Counter(_shown(good(), capsys).split())
    whole = [word for word in shown[120] if re.fullmatch(r"[+−]?\d[\d.,]*", word)]
    assert len(whole) > 30
    headings = ["quantity", "read", "repeat", "people", "GRR", "classes", "readings", "parts", "person", "bias", "interval"]
    assert [word for word in (*whole, *headings, "beside") if shown[columns][word] < shown[120][word]] == []


def test_faulty_rows_are_left_out_and_counted(capsys):
    small = good()
    small.tables["spacings"][4]["value"] = "ten"
    agreement = small.inspect(lambda package: agreement_of(package).to_json())
    assert agreement["faults"] == 1
    assert _row(agreement, "gap", "calliper")["parts"] == 297  # the first copy's bed is left out
    assert "1 fault kept rows out of this: `gapbook check` names it." in _shown(small, capsys).replace("\n", " ")


def test_a_package_without_readings_has_nothing_to_say(capsys):
    assert "Nothing was read" in _shown(Small(), capsys)
