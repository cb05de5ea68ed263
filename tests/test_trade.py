"""Rules of the trade (common practice, no source): patterns, head sizes, and drilling.

What the trade says is tried on beds whose geometry is built here, string by string, and read. Two other kinds of test are
weaker, and say so: counted frames follow a formula, and the demo was invented so that the trade's cases are in it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import pairwise

import numpy as np
import pytest

from beds_of_truth import Bed, Rack, Way, drilled, truth
from beds_of_truth import derived as derived_from
from demo_rows import derived
from gapbook.science.comparison import Figure, difference
from small import Small

# Common practice, no source: from the most open to the tightest, in one head.
OPEN_TO_TIGHT = [(16, 15), (14, 18), (16, 18), (16, 19), (16, 20), (18, 19), (18, 20), (20, 21)]
SQUARE_INCH = 6.4516  # cm², NIST SP 811


CALLIPER = Way(resolution=0.01, limit=0.03, hand=0.1, repeats=2)


def built(pattern: tuple[int, int], inches: float, deep: float = 0.25, slender: float = 1.33) -> Bed:
    """A head of so many square inches with the pattern spread over three quarters of its width and four fifths of its length,
    gaps `deep` wider outside than in the middle.
    """
    exponent = 2.1
    size = inches * SQUARE_INCH * 100 * math.gamma(1 + 2 / exponent) / math.gamma(1 + 1 / exponent) ** 2
    width = math.sqrt(size / slender)
    across = drilled(pattern[0], 0.75 * width, deep)
    return Bed(across, 0 * across, drilled(pattern[1], 0.8 * slender * width, deep), width, slender * width, exponent)


def read(folder, **beds: Bed) -> dict[str, dict[str, object]]:
    """The rows of beds.csv of built beds, each read with a calliper of its own, by name."""
    rack = Rack(98)
    for name, bed in beds.items():
        rack.frame(name, bed)
        rack.specimen(name, name, bed)
        rack.read(name, CALLIPER)
    return derived_from(rack.write(folder / "package"))["beds"]


def judged(rows: dict[str, dict[str, object]], a: str, b: str, where: str) -> str:
    """What is said of two read beds in a zone."""
    a_, b_ = (Figure(*(float(str(rows[name][prefix + "openness_" + where])) for prefix in ("", "u_"))) for name in (a, b))
    return difference(a_, b_).verdict(0.95)


@pytest.mark.parametrize(("inches", "deep", "slender"), [(95, 0.1, 1.33), (98, 0.25, 1.28), (100, 0.5, 1.36), (105, 0.3, 1.33)])
def test_built_into_one_head_more_strings_are_tighter(tmp_path, inches, deep, slender):
    rows = read(tmp_path, **{f"f{m}x{c}": built((m, c), inches, deep, slender) for m, c in OPEN_TO_TIGHT})
    # The trade's pairs that differ by 4 % or more of openness: √(m·c) of the one over that of the other is 1.04 or more.
    for a, b in [((16, 18), (16, 20)), ((16, 19), (18, 19)), ((16, 19), (18, 20)), ((18, 20), (20, 21)), ((14, 18), (16, 18)),
                 ((16, 15), (16, 18))]:  # fmt: skip
        for where in ("centre", "even"):
            assert judged(rows, f"f{b[0]}x{b[1]}", f"f{a[0]}x{a[1]}", where) == "tighter", (a, b, where)
    assert float(str(rows["f16x18"]["openness_centre"])) > float(str(rows["f16x19"]["openness_centre"]))


def test_built_alike_a_larger_head_is_more_open_with_the_root_of_its_area(tmp_path):
    rows = read(tmp_path, **{f"f{inches}": built((16, 19), inches) for inches in (90, 95, 100, 105)})
    openness = [float(str(rows[f"f{inches}"]["openness_centre"])) for inches in (90, 95, 100, 105)]
    # √(105/90) = 1.0801 if everything were to scale; the window is a ball wide in every head, so a little less or more.
    assert openness[3] / openness[0] == pytest.approx(math.sqrt(105 / 90), rel=0.015)
    assert openness == sorted(openness)
    assert judged(rows, "f90", "f95", "centre") == "tighter"


def test_a_16x19_built_close_in_the_middle_sits_like_an_18x20_there_and_opens_to_the_sides(tmp_path):
    level = built((18, 20), 98, deep=0.1)
    low, high = 0.1, 3.0  # how deep a 16x19 must be drilled to be as tight in the centre, by halving
    for _ in range(50):
        middle = (low + high) / 2
        tighter = truth(built((16, 19), 98, middle))["openness_centre"] < truth(level)["openness_centre"]
        low, high = (low, middle) if tighter else (middle, high)
    rows = read(tmp_path, close=built((16, 19), 98, low), even=level, plain=built((16, 19), 98, deep=0.1))
    assert judged(rows, "close", "even", "centre") == "too close to call"
    assert judged(rows, "close", "even", "sides") == "more open"
    assert judged(rows, "close", "even", "even") == "more open"
    assert judged(rows, "close", "plain", "centre") == "tighter"
    assert judged(rows, "close", "plain", "even") == "too close to call", "size and counts cannot tell them apart"


# Frames nobody measured


def counted(*frames: tuple[str, int, int, float]) -> dict[str, dict[str, object]]:
    """Scores of frames nobody measured: id, counts, head in square inches."""
    small = Small()
    for name, mains, crosses, inches in frames:
        small.frame(name, mains, crosses, round(inches * SQUARE_INCH, 1))
    return small.derived()["scores"]


@pytest.mark.parametrize("name", ["openness_even", "openness_centre"])
def test_more_strings_in_the_same_head_are_tighter(name):
    # By definition a counted frame follows the root of its counts: this holds the formula to the trade, and no more.
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


# The demo. It was invented with these cases in it: that they come out shows that scores and verdicts give back what was put
# in through invented hands, not that the trade is right.


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
