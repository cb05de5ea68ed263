"""What a contribution changes: openness of beds by hand, verdicts against the comparison that questions use."""

from __future__ import annotations

from itertools import combinations

import pyarrow as pa
import pytest

from contributed import even_bed, own, package_in, sent, session
from gapbook.intake.admit import Terms, admit
from gapbook.intake.changes import ZONES, Value, VerdictChange, change
from gapbook.science.comparison import Figure, SharedFigure, difference, shared_effects
from gapbook.tables.derived import compute
from generated import rack_of, written

DRY = Terms(rules=(), dry_run=True)


def scores(**openness: tuple[float, float]) -> pa.Table:
    """A small scores table: openness and u in the centre by frame."""
    value, u = zip(*openness.values(), strict=True)
    return pa.table({"frame_id": list(openness), "openness_centre": list(value), "u_openness_centre": list(u)})


def no_beds() -> pa.Table:
    """A beds table without rows."""
    figures = {f"{u}openness_{zone}": pa.array([], pa.float64()) for zone in ZONES for u in ("", "u_")}
    return pa.table({"specimen_id": pa.array([], pa.string()), "frame_id": pa.array([], pa.string()), **figures})


def test_a_second_reading_moves_the_bed_by_half_its_difference(tmp_path):
    """12.5 and 12.6 mm average to 12.55 mm: openness 125 becomes 125.5, by 0.4 %, in every zone."""
    package = package_in(tmp_path / "package")
    changes = admit(package, sent(session(gap=12.6), tmp_path / "sent"), DRY).change
    (bed,) = changes.beds
    assert (bed.specimen_id, bed.frame_id, bed.new) == ("one-a", "one", False)
    assert [zone.zone for zone in bed.zones] == list(ZONES)
    for zone in bed.zones:
        assert zone.before.openness == pytest.approx(125.0, abs=1e-3)
        assert zone.after.openness == pytest.approx(125.5, abs=1e-3)
        assert zone.percent == pytest.approx(0.4, abs=1e-4)
        assert zone.after.u > 0.0
    assert changes.new_frames == ()


def test_a_new_bed_is_new(tmp_path):
    package = package_in(tmp_path / "package")
    changes = admit(package, sent(even_bed("three", "three-a"), tmp_path / "sent"), DRY).change
    bed = changes.beds[0]
    assert (bed.specimen_id, bed.new, bed.zones[0].before) == ("three-a", True, None)
    assert bed.zones[0].after.openness == 125.0  # 10·√(12.5 mm · 12.5 mm)
    assert changes.new_frames == ("three",)


def test_a_new_tester_changes_nothing(tmp_path):
    small = own()
    small.add("testers", tester_id="bo", style="flat", own_frame="none")
    changes = admit(package_in(tmp_path / "package"), sent(small, tmp_path / "sent"), DRY).change
    assert (changes.beds, changes.uncertainty_only, changes.new_frames, changes.verdicts.changed) == ((), 0, (), 0)


def test_verdicts_by_hand():
    """ln(100/103) = -0.0296 at u = 0.01·√2 is 2.09 u: tighter at 95 % (1.645 u). ln(100/102) = -0.0198 is 1.40 u: too
    close. c lies far off and stays; a new frame d is no change.
    """
    before = {"beds": no_beds(), "scores": scores(a=(100.0, 1.0), b=(103.0, 1.03), c=(140.0, 1.4))}
    after = {"beds": no_beds(), "scores": scores(a=(100.0, 1.0), b=(102.0, 1.02), c=(140.0, 1.4), d=(100.0, 1.0))}
    changes = change(before, after, (), 0.95)
    assert changes.new_frames == ("d",)
    assert (changes.verdicts.changed, changes.verdicts.pairs) == (1, 2)
    ours = {frame.frame_id: frame.against for frame in changes.verdicts.frames}
    assert ours == {
        "a": (VerdictChange("b", "tighter", "too close to call"),),
        "b": (VerdictChange("a", "more open", "too close to call"),),
    }


@pytest.mark.parametrize("confidence", [0.8, 0.95])
@pytest.mark.parametrize("seed", [3, 8])
@pytest.mark.slow_after(1)
def test_verdicts_are_those_of_the_comparison(tmp_path, seed, confidence):
    """Every pair before and after, one by one, by `difference(...).verdict` of science.comparison."""
    package = package_in(tmp_path / "package", written(rack_of(seed, frames=12)))
    copy = compute(package, ["beds"])["beds"]["specimen_id"][0].as_py()
    mains, crosses = next((row[1], row[2]) for row in rack_of(seed, frames=12).frames if copy.startswith(row[0] + "-"))
    small = own()
    row = {"contributor_id": "ole", "instrument_id": "cal-2", "taken_on": "2026-03-29"}
    small.run(copy, "main", [12.9] * (mains - 1), **row)
    small.run(copy, "cross", [12.9] * (crosses - 1), **row)
    folder = sent(small, tmp_path / "sent")
    then = _said(compute(package, ["beds"])["scores"], confidence)
    changes = admit(package, folder, Terms(rules=(), confidence=confidence)).change
    now = _said(compute(package, ["beds"])["scores"], confidence)
    changed = {pair for pair in then if then[pair] != now[pair]}
    assert changes.verdicts.changed == len(changed)
    counts = {name: sum(name in pair for pair in changed) for name in {name for pair in changed for name in pair}}
    assert {frame.frame_id: frame.changed for frame in changes.verdicts.frames} == counts
    for frame in changes.verdicts.frames:
        for one in frame.against:
            if (frame.frame_id, one.frame_id) in then:
                pair = frame.frame_id, one.frame_id
                assert (one.before, one.after) == (then[pair], now[pair])


def _said(table: pa.Table, confidence: float) -> dict[tuple[str, str], str]:
    figures = {}
    for row in table.to_pylist():
        figure = Figure(row["openness_centre"], row["u_openness_centre"])
        figures[row["frame_id"]] = SharedFigure.of(figure, shared_effects(row["shared"], "centre"))
    return {(a, b): difference(figures[a], figures[b]).verdict(confidence) for a, b in combinations(figures, 2)}


def test_only_touched_frames_are_compared_where_pairs_are_too_many(monkeypatch):
    monkeypatch.setattr("gapbook.intake.changes.PAIRS", 4)
    before = {"beds": no_beds(), "scores": scores(a=(100.0, 1.0), b=(103.0, 1.03), c=(103.0, 1.03))}
    beds = pa.table({"specimen_id": ["b-1"], "frame_id": ["b"], **{
        f"{u}openness_{zone}": [1.0] for zone in ZONES for u in ("", "u_")}})  # fmt: skip
    after = {"beds": beds, "scores": scores(a=(100.1, 1.0), b=(102.0, 1.02), c=(102.0, 1.02))}
    changes = change(before, after, ("b-1",), 0.95)
    assert (changes.verdicts.pairs, changes.verdicts.changed) == (2, 1)  # b against a and c; a against c is left out


def test_a_zone_that_was_blank_and_becomes_known():
    figures = {f"{u}openness_{zone}": [100.0 if not u else 1.0] for zone in ZONES for u in ("", "u_")}
    row = {"specimen_id": ["x"], "frame_id": ["f"], **figures}
    blank = {**row, "openness_tip": pa.array([None], pa.float64()), "u_openness_tip": pa.array([None], pa.float64())}
    both = [{"beds": pa.table(one), "scores": scores(f=(100.0, 1.0))} for one in (blank, row)]
    (bed,) = change(*both, (), 0.95).beds
    (zone,) = bed.zones
    assert (zone.zone, zone.before, zone.after, zone.percent) == ("tip", None, Value(100.0, 1.0), None)
