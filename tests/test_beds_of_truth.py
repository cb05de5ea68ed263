"""The beds whose truth is known: their definitions by another way, and that faultless hands find what is true of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Polygon

import definitions
from beds_of_truth import PATTERNS, PLACES, Heads, Rack, Way, away, copy_of, derived, inside, new_bed, truth, window_pitch

FAULTLESS = Way(resolution=0.0001, limit=0.0, hand=0.0, repeats=1, bias=0.0, placement=0.0, stations=(-80.0, 0.0, 80.0))
SCORES = (
    *(f"openness_{zone}" for zone in PLACES), "openness_sides", "side_opening", "uniformity", "openness_even",
    "drilling_main", "drilling_cross", "density_centre_per_cm2",
)  # fmt: skip


def drawn(count: int, seed: int = 5):
    rng = np.random.default_rng(seed)
    return [new_bed(rng, Heads()) for _ in range(count)]


@pytest.mark.parametrize("zone", PLACES)
def test_pitches_are_those_of_the_definition_gap_by_gap(zone):
    x, y = PLACES[zone]
    for bed in drawn(40):
        for strings, middle in ((bed.mains + bed.slopes * y, x), (bed.crosses, -y)):
            expected, _ = definitions.pitch(strings.tolist(), middle)
            assert window_pitch(strings, middle) == pytest.approx(expected, rel=1e-12)


def test_the_area_is_that_of_a_polygon_along_the_outline():
    for bed in drawn(8):
        angle = np.linspace(0.0, 2 * np.pi, 20_001)
        x, y = (np.sign(part) * np.abs(part) ** (2 / bed.exponent) for part in (np.cos(angle), np.sin(angle)))
        outline = Polygon(zip(bed.width / 2 * x, bed.length / 2 * y, strict=True))
        assert bed.area == pytest.approx(outline.area / 100.0, rel=1e-5)
        assert bed.half_width(0.0) == pytest.approx(bed.width / 2)
        assert outline.exterior.distance(Polygon([(0, 80), (bed.half_width(80.0), 80), (0, 79)])) < 0.02


def read_by(way: Way, beds: int = 12, seed: int = 3):
    rack = Rack(seed)
    for number in range(beds):
        bed = new_bed(rack.rng, Heads(), PATTERNS[number % len(PATTERNS)])
        rack.frame(f"f{number}", bed)
        rack.specimen(f"f{number}-a", f"f{number}", bed)
        rack.read(f"f{number}-a", way)
    return rack


@pytest.mark.parametrize("tool", ["calliper", "rule"])
def test_faultless_hands_find_the_truth(tool, tmp_path):
    rack = read_by(FAULTLESS._replace(tool=tool))
    rows = derived(rack.write(tmp_path / "package"))["beds"]
    for name, bed in rack.true.items():
        true = truth(bed)
        found = {score: float(str(rows[name][score])) for score in SCORES}
        # Steps of 0.0001 mm and six digits; side_opening is a difference of two numbers near 1.
        assert found == pytest.approx({score: true[score] for score in SCORES}, rel=2e-4, abs=2e-5)


def gaps_read(rack: Rack) -> dict[str, np.ndarray]:
    """Gaps of the mains as they were read, by specimen, first repeats only."""
    rows: dict[str, list[float]] = {}
    for specimen, family, _, kind, _, _, _, _, repeat, value, _ in rack.rows["spacings"]:
        if family == "main" and repeat == 1:
            rows.setdefault(str(specimen), []).append(float(str(value)))
            is_mark = kind == "mark"
    return {name: np.diff(values) if is_mark else np.array(values) for name, values in rows.items()}


@pytest.mark.parametrize("tool", ["calliper", "rule"])
def test_a_person_is_off_by_as_much_a_gap_with_either_kind_of_instrument(tool):
    rack = read_by(FAULTLESS._replace(tool=tool, edges=False, stations=(0.0,), people=(1,), bias=0.1))
    off = [gaps.mean() - np.diff(rack.true[name].mains).mean() for name, gaps in gaps_read(rack).items()]
    assert np.ptp(off) < 1e-4
    assert 1e-3 < abs(off[0]) < 0.4


@pytest.mark.parametrize("seed", [8, 9, 10])
def test_copies_spread_as_said(seed):
    rng = np.random.default_rng(seed)
    design = new_bed(rng, Heads())
    logs = [math.log(truth(copy_of(rng, design, 0.01))["openness_centre"]) for _ in range(1_000)]
    assert np.std(logs) == pytest.approx(0.01, rel=0.07)  # three standard errors of a standard deviation of 1,000


def test_what_lies_inside_is_counted():
    row = {"a": 11.0, "u_a": 0.5, "b": None, "u_b": None}
    found = away(row, {"a": 10.0, "b": 3.0}, ("a", "b"))
    assert found[0] == pytest.approx(2.0)
    assert math.isnan(found[1])
    assert inside([-2.1, -1.9, 0.0, math.nan]) == 0.5
