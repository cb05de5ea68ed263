"""The budget of a bed: parts that add up to its u², what they rest on, what is advised; and what two beds share."""

from __future__ import annotations

import json
import math

import pytest

from demo_rows import ROOT
from gapbook import open_catalogue
from gapbook.questions.budget import budget
from gapbook.science.comparison import SHARED_ZONES, shared_effects
from running import gapbook
from small import Small, even
from test_uncertainty import package_of, run

PARTS = ("reading", "placement", "origin", "splay", "instrument", "person", "sessions")


def test_parts_by_hand():
    # Evenly spaced strings 12.5 mm apart, read once as gaps with a calliper, without edges. ± on ln O in the centre, where
    # mains and crosses count half each. Instrument 0.05/√3 and person 0.05 mm on every gap of 12.5 mm.
    row = even().bed()
    u2 = (row["u_openness_centre"] / row["openness_centre"]) ** 2
    shares = {name: row[f"budget_{name}"] for name in PARTS}
    assert sum(shares.values()) == pytest.approx(1.0, abs=5e-6)
    assert shares["instrument"] * u2 == pytest.approx((0.05 / math.sqrt(3) / 12.5) ** 2, rel=2e-5)
    assert shares["person"] * u2 == pytest.approx((0.05 / 12.5) ** 2, rel=2e-5)
    assert (shares["sessions"], shares["splay"], shares["origin"]) == (0.0, 0.0, pytest.approx(0.0, abs=1e-12))
    # Nothing was repeated, nobody else read, nothing was read again: all three are the defaults.
    assert [row[f"assumed_{name}"] for name in ("reading", "placement", "person")] == [1.0, 1.0, 1.0]
    # A string out of place and a mark misread do the same to a run of marks without edges.
    marked = package_of([run("main", "rule"), run("cross", "rule")], {}).bed()
    reading = 0.25**2 + 0.5**2 / 12
    assert marked["budget_placement"] / marked["budget_reading"] == pytest.approx(0.09 / reading, rel=2e-5)


def test_sessions_that_differ_fill_the_rest():
    small = even()
    small.run("one-a", "main", [13.5] * 15, taken_on="2026-03-05")
    small.run("one-a", "cross", [12.5] * 18, taken_on="2026-03-05")
    row = small.bed()
    assert sum(row[f"budget_{name}"] for name in PARTS) == pytest.approx(1.0, abs=5e-6)
    assert row["budget_sessions"] > 0.8
    found = budget(row)
    assert (found.largest, found.parts[0].basis) == ("sessions", "read")
    assert found.advice == "find out why the sessions differ, and read it once more"


def test_two_people_halve_what_one_adds():
    one = even().bed()
    small = even()
    small.run("one-a", "main", [12.5] * 15, contributor_id="ole")
    small.run("one-a", "cross", [12.5] * 18, contributor_id="ole")
    two = small.bed()
    variance = [row["budget_person"] * (row["u_openness_centre"] / row["openness_centre"]) ** 2 for row in (one, two)]
    assert variance[1] == pytest.approx(variance[0] / 2, rel=2e-5)


def test_what_a_bed_shares_is_written_beside_it():
    row = even().bed()
    tool = 0.05 / math.sqrt(3) / 12.5
    for zone in ("centre", "left", "right", "tip", "throat", "sides"):
        told = shared_effects(row["shared"], zone)
        assert told == pytest.approx({"cal": tool, "ida/calliper": 0.05 / 12.5}, abs=1e-6), zone
    assert shared_effects(row["shared"], "even") == {"cal": 0.0, "ida/calliper": 0.0}
    assert shared_effects(None, "centre") == {}
    assert tuple(SHARED_ZONES[:2]) == ("centre", "left")


def two_frames(other_person: str, other_tool: str) -> Small:
    small = Small()
    for number, (frame, person, tool) in enumerate((("frame-one", "ida", "cal"), ("frame-two", other_person, other_tool))):
        small.frame(frame)
        small.copy(f"{frame}-a", frame)
        for family, strings in (("main", 16), ("cross", 19)):
            small.run(f"{frame}-a", family, [12.5 + 0.1 * number] * (strings - 1), contributor_id=person, instrument_id=tool)
    return small


@pytest.mark.parametrize(("person", "tool", "common"), [("ole", "cal-2", 0.0), ("ole", "cal", 0.03), ("ida", "cal", 0.08)])
def test_what_both_beds_share_cancels_in_answers_and_comparisons(tmp_path, person, tool, common):
    # Openness of 125 and 126: the person adds 0.05 mm, the calliper 0.05/√3, to gaps of 12.5 and 12.6 mm of both beds alike.
    from gapbook.tables.derived import derive
    from gapbook.tables.opening import open_package

    path = two_frames(person, tool).write(tmp_path / "package")
    derive(open_package(path), ["beds"])
    cat = open_catalogue(path)
    scores = {row["frame_id"]: row for row in cat.table("scores").to_pylist()}
    relative = [scores[name]["u_openness_centre"] / scores[name]["openness_centre"] for name in ("frame-one", "frame-two")]
    covariance = (0.05**2 / 3 * (common > 0) + 0.05**2 * (common > 0.05)) / (12.5 * 12.6)
    u = math.sqrt(relative[0] ** 2 + relative[1] ** 2 - 2 * covariance)
    (contrast,) = (one for one in cat.compare("frame-two", "frame-one").contrasts if one.where == "centre")
    assert contrast.u_difference_percent == pytest.approx(100 * u * 12.5 / 12.6, rel=2e-4)
    answer = cat.ask("tighter than frame-two")
    (entry,) = [*answer.matches, *answer.undecided]
    assert entry.probability == pytest.approx(0.5 * math.erfc(math.log(12.5 / 12.6) / u / math.sqrt(2)), rel=2e-3)
    assert entry.u_difference_percent == pytest.approx(100 * u * 12.5 / 12.6, rel=2e-4)
    assert entry.probability == pytest.approx(contrast_of(cat), rel=2e-4)


def contrast_of(cat) -> float:
    """How probable `compare` calls it that `one` is tighter than `two`."""
    (found,) = (item for item in cat.compare("frame-two", "frame-one").contrasts if item.where == "centre")
    return 1.0 - found.probability_tighter if found.name == "frame-two" else found.probability_tighter


def test_show_names_the_parts_and_what_would_help():
    told = json.loads(gapbook("show", "fern-98", "--json", "--package", str(ROOT)).stdout)["budgets"]
    assert [one["specimen_id"] for one in told] == ["fern-98-a", "fern-98-b", "fern-98-c"]
    for one in told:
        shares = [part["share"] for part in one["parts"]]
        assert shares == sorted(shares, reverse=True)
        assert sum(shares) == pytest.approx(1.0, abs=5e-5)
        assert {part["basis"] for part in one["parts"]} <= {"read", "stated", "pooled", "assumed"}
        assert one["largest"] == one["parts"][0]["part"]
    text = " ".join(gapbook("show", "fern-98", "--package", str(ROOT)).stdout.split())
    assert "fern-98-a: its ± in the centre comes, in shares of u², from what a person adds to each gap" in text
    assert "To make it more certain, read it once more by somebody else." in text


def test_a_bed_derived_without_a_budget_has_none():
    assert budget({"specimen_id": "one-a", "openness_centre": 110.0}) is None
