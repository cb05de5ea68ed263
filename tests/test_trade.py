"""Rules of the trade (common practice, no source): patterns, head sizes, and the demo's plain cases."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import pairwise

import numpy as np
import pytest

from demo_rows import derived
from gapbook.science.comparison import Figure, difference
from small import Small

# Common practice, no source: from the most open to the tightest, in one head.
OPEN_TO_TIGHT = [(16, 15), (14, 18), (16, 18), (16, 19), (16, 20), (18, 19), (18, 20), (20, 21)]
SQUARE_INCH = 6.4516  # cm², NIST SP 811


def counted(*frames: tuple[str, int, int, float]) -> dict[str, dict[str, object]]:
    """Scores of frames nobody measured: id, counts, head in square inches."""
    small = Small()
    for name, mains, crosses, inches in frames:
        small.frame(name, mains, crosses, round(inches * SQUARE_INCH, 1))
    return small.derived()["scores"]


@pytest.mark.parametrize("name", ["openness_even", "openness_centre"])
def test_more_strings_in_the_same_head_are_tighter(name):
    rows = counted(*((f"f-{m}x{c}", m, c, 98) for m, c in OPEN_TO_TIGHT))
    found = [rows[f"f-{m}x{c}"][name] for m, c in OPEN_TO_TIGHT]
    # Patterns with the same number of crossings as another or nearly so may be level; those of the trade's rule are not.
    order = dict(zip(OPEN_TO_TIGHT, found, strict=True))
    assert order[16, 18] > order[16, 19] > order[18, 20] > order[20, 21]
    assert order[16, 19] > order[16, 20] > order[18, 20]
    assert order[16, 19] > order[18, 19] > order[18, 20]
    assert order[14, 18] > order[16, 18]
    assert order[16, 15] > order[16, 18]


@pytest.mark.parametrize("name", ["openness_even", "openness_centre"])
def test_the_same_pattern_is_tighter_in_a_smaller_head(name):
    rows = counted(*((f"f-{inches}", 18, 20, inches) for inches in (90, 93, 95, 97, 98, 100, 105)))
    found = [rows[f"f-{inches}"][name] for inches in (90, 93, 95, 97, 98, 100, 105)]
    assert all(small < large for small, large in pairwise(found))
    # With the root of the area: √(100/95) = 1.02598.
    assert rows["f-100"][name] / rows["f-95"][name] == pytest.approx(math.sqrt(100 / 95), rel=2e-4)


def verdict(a: str, b: str, where: str) -> str:
    """What is said of two frames of the demo in a zone."""
    rows = derived("scores")
    a_, b_ = (Figure(float(rows[n][f"openness_{where}"]), float(rows[n][f"u_openness_{where}"])) for n in (a, b))
    return difference(a_, b_).verdict(0.95)


def patterns(*names: str) -> list[str]:
    return [f"{row['mains']}x{row['crosses']}" for row in (derived("scores")[name] for name in names)]


def inches(*names: str) -> list[float]:
    return [round(float(derived("scores")[name]["head_area_cm2"]) / SQUARE_INCH) for name in names]


def test_a_closely_drilled_16x19_sits_as_tight_in_the_centre_as_an_18x20_and_opens_to_the_sides():
    names = ("moraine-98", "drumlin-98")
    assert (patterns(*names), inches(*names)) == (["16x19", "18x20"], [98, 98])
    assert verdict(*names, "centre") == "too close to call"
    assert verdict(*names, "even") == "more open"
    assert verdict(*names, "sides") == "more open"
    opening = [float(derived("scores")[name]["side_opening"]) for name in names]
    assert opening[0] > opening[1] + 0.08


def test_two_frames_of_the_same_size_and_pattern_differ_plainly_in_the_centre():
    names = ("squall-100", "meadow-100")
    assert (patterns(*names), inches(*names)) == (["16x19", "16x19"], [100, 100])
    assert verdict(*names, "centre") == "tighter"
    rows = derived("scores")
    ratio = float(rows[names[0]]["openness_centre"]) / float(rows[names[1]]["openness_centre"])
    assert ratio < 0.93
    even = float(rows[names[0]]["openness_even"]) / float(rows[names[1]]["openness_even"])
    assert even == pytest.approx(1.0, abs=0.02), "size and counts cannot tell them apart"


def test_the_same_18x20_is_tighter_on_95_than_on_100():
    names = ("tarn-95", "tarn-100")
    assert (patterns(*names), inches(*names)) == (["18x20", "18x20"], [95, 100])
    assert verdict(*names, "centre") == "tighter"
    assert verdict(*names, "even") == "tighter"


def test_over_the_demo_18x20_is_the_tighter_pattern():
    by_pattern: dict[str, list[float]] = defaultdict(list)
    for name, row in derived("scores").items():
        if row["basis"] == "measured" and inches(name)[0] in range(95, 101):
            by_pattern[patterns(name)[0]].append(float(row["openness_centre"]))
    mean = {pattern: float(np.mean(found)) for pattern, found in by_pattern.items()}
    assert mean["16x18"] > mean["16x19"] > mean["18x20"]
    assert mean["16x19"] > mean["16x20"] > mean["18x20"]
    assert mean["16x19"] > mean["18x19"] > mean["18x20"]


def test_nowhere_is_a_bed_of_the_demo_denser_than_in_the_centre():
    # ITF Rules of Tennis, Appendix II: not less dense in the centre than in any other area.
    rows = derived("beds")
    assert all(float(row["uniformity"]) < 1.0 for row in rows.values() if row["uniformity"])
    assert sum(bool(row["uniformity"]) for row in rows.values()) > 60
