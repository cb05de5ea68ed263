"""Uncertainty of a bed: the array code against the `uncertainties` package, and repeatability worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from by_ufloats import Head, Read, expected
from gapbook.science import repeats
from gapbook.tables import derivation
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.reader import read_table
from small import Small, even, marks

MAIN = [12.9, 12.1, 11.6, 11.2, 10.9, 10.4, 10.2, 9.9, 10.1, 10.6, 10.8, 11.1, 11.9, 12.4, 12.7]
CROSS = [14.2, 13.6, 13.1, 12.7, 12.2, 12.0, 11.7, 11.4, 11.3, 11.5, 11.6, 11.9, 12.3, 12.6, 13.0, 13.4, 14.1, 14.9]
ERRORS = {"cal": 0.05, "cal-2": 0.03, "rule": 0.5, "rule-in": 0.02 * 25.4}
# One reading [mm]: where no repeats tell, by definition 0.1 with a calliper and 0.25 with a rule, and beside it the rounding,
# resolution/√12: 0.01 and 0.02 mm for the callipers, 0.5 mm for the rule, 1/32 in = 0.79375 mm for the other one.
STEPS = {"cal": 0.01, "cal-2": 0.02, "rule": 0.5, "rule-in": 0.79375}
ONCE = {tool: math.hypot(0.25 if "rule" in tool else 0.1, step / math.sqrt(12)) for tool, step in STEPS.items()}
AREA, COUNTS = 620.0, (16, 19)


DAYS = {"first": "2026-03-01", "later": "2026-03-09"}


def run(family: str, tool: str = "cal", edges: bool = False, scale: float = 1.0, **more: object) -> Read:
    """The bed's gaps times `scale`, or their running marks, as the tool reads them."""
    gaps = [round(gap * scale, 4) for gap in (MAIN if family == "main" else CROSS)]
    gaps = [29.3, *gaps, 28.1] if edges else gaps
    kind = "mark" if tool.startswith("rule") else "gap"
    return Read(family, kind, tuple(gaps if kind == "gap" else marks(gaps)), edges, ONCE[tool], tool, **more)


def both(tool: str, edges: bool, stations: tuple[float, ...] = (0.0,), scale: float = 1.0, **more: object) -> list[Read]:
    """Mains at their stations, a little closer towards the throat, and crosses."""
    mains = [run("main", tool, edges, scale * (1.0 + y / 4000), station=y, **more) for y in stations]
    return [*mains, run("cross", tool, edges, scale, **more)]


HEAD = {tool: math.hypot(0.5, STEPS[tool] / math.sqrt(12)) for tool in ("rule", "rule-in")}
LONG = {
    "main": [Head(246.5, HEAD["rule"], "rule")],
    "cross": [Head(331.0, HEAD["rule"], "rule"), Head(332.0, HEAD["rule-in"], "rule-in")],
}
THREE = (-90.0, 0.0, 85.0)
CASES: dict[str, tuple[list[Read], dict[str, list[Head]]]] = {
    "gaps with edges": (both("cal", True), {}),
    "gaps without edges": (both("cal", False), {}),
    "marks with edges": (both("rule", True), {}),
    "marks without edges": (both("rule", False), {}),
    "marks in inches": (both("rule-in", True), {}),
    "gaps at three stations": (both("cal", True, THREE), {}),
    "gaps at three stations without edges": (both("cal", False, THREE), {}),
    "marks at three stations": (both("rule", True, THREE), {}),
    "marks at two stations without edges": (both("rule", False, (0.0, 80.0)), {}),
    "stations that tell no slope": (both("cal", True, (0.0, 5.0)), {}),
    "stations just too close": (both("rule", False, (0.0, 59.9)), {}),
    "stations just far enough": (both("cal", True, (-20.0, 0.0, 40.0)), {}),
    "two people": (both("cal", True) + both("cal", True, person="ole"), {}),
    "two people, two callipers": (both("cal", True, THREE) + both("cal-2", True, person="ole"), LONG),
    "edges at station 0 only": ([run("main", edges=True), run("main", station=75.0), run("cross", edges=True)], {}),
    "head read with the rule of the marks": (both("rule", True), LONG),
    "head read, gaps without edges": (both("cal", False), LONG),
    "mains with one tool, crosses with another": ([run("main", "cal", True), run("cross", "rule", False)], {}),
    "two days, one calliper": (both("cal", True) + both("cal", True, scale=1.0005, session="later"), {}),
    "calliper and rule": (both("cal", True) + both("rule", False), {}),
    "three stations read twice": (both("cal", True, THREE) + both("cal-2", False, THREE), {}),
    "sessions that disagree": (both("cal", True, THREE) + both("cal-2", True, THREE, 1.02), LONG),
    "sessions of different stations": (both("cal", True, (0.0, 80.0)) + both("cal-2", True, scale=1.05), {}),
    "a session of mains alone": ([*both("cal", True), run("main", "cal-2", True, 1.06)], {}),
}


def package_of(runs: list[Read], heads: dict[str, list[Head]]) -> Small:
    """A package with the one bed these readings were taken from."""
    small = Small()
    small.frame("one", *COUNTS, AREA)
    small.copy("one-a", "one")
    for one in runs:
        inches = one.tool == "rule-in"
        values = [value / 25.4 for value in one.values] if inches else one.values
        more = {
            "instrument_id": one.tool,
            "unit": "in" if inches else "mm",
            "taken_on": DAYS[one.session],
            "contributor_id": one.person,
        }
        small.run("one-a", one.family, values, one.edges, one.kind, one.station, **more)
    for family, quantity in (("main", "head_width"), ("cross", "head_length")):
        for head in heads.get(family, []):
            small.reading("one-a", quantity, head.value, instrument_id=head.tool)
    return small


@pytest.mark.slow_after(5)
@pytest.mark.parametrize("case", CASES)
def test_propagation_is_that_of_the_uncertainties_package(case):
    row = package_of(*CASES[case]).bed()
    wanted = expected(*CASES[case], ERRORS, AREA, COUNTS)
    assert {name for name in row if f"u_{name}" in row} == set(wanted)
    for name, (value, u) in wanted.items():
        # Figures have six significant digits: 5e-6; a side opening near nothing, its own last digit.
        assert row[name] == pytest.approx(value, rel=6e-6, abs=1e-9), name
        assert row[f"u_{name}"] == pytest.approx(u, rel=6e-6, abs=1e-9), name


def test_sessions_that_disagree_by_hand():
    # Three days, mains of 12.5, 15.5 and 14.0 mm, crosses of 12.5 mm: the sessions' ln openness differs by half of ln
    # mains, 1.262864, 1.370420, 1.319529: standard deviation 0.053804, over √3 0.031063, far above what propagates.
    small = even()
    for day, gap in (("2026-03-02", 15.5), ("2026-03-03", 14.0)):
        small.run("one-a", "main", [gap] * 15, taken_on=day)
        small.run("one-a", "cross", [12.5] * 18, taken_on=day)
    row = small.bed()
    assert row["sessions"] == 3
    assert row["openness_centre"] == pytest.approx(10 * math.sqrt(14.0 * 12.5), rel=6e-6)
    assert row["u_openness_centre"] / row["openness_centre"] == pytest.approx(0.031063, rel=2e-5)
    assert row["u_main_pitch_centre_mm"] / 14.0 == pytest.approx(2 * 0.031063, rel=2e-5)


# Repeatability


def test_pooling_by_hand():
    # Pool 0: gap 1 read 10.0, 10.2, 10.4 (mean 10.2, squares 0.08, 2 degrees of freedom), gap 2 read 11.0, 11.6
    # (squares 0.18, 1), gap 3 once (0, 0); pool 1, another run: 9.0, 9.4 (squares 0.08, 1).
    rows = [(0, 1, 1, 10.0), (0, 1, 2, 10.2), (0, 1, 3, 10.4), (0, 2, 1, 11.0), (0, 2, 2, 11.6), (0, 3, 1, 12.5),
            (1, 1, 1, 9.0), (1, 1, 2, 9.4)]  # fmt: skip
    run_, number, repeat, value = (np.array(column) for column in zip(*rows, strict=True))
    found = repeats.average(run_, number, repeat, value, np.array([False, False]))
    assert found.averages.value == pytest.approx([10.2, 11.3, 12.5, 9.2])
    assert list(found.averages.repeats) == [3, 2, 1, 2]
    assert found.averages.squares == pytest.approx([0.08, 0.18, 0.0, 0.08])
    assert list(found.shifts) == [0, 0]
    freedom = found.averages.repeats - 1
    pooled = repeats.pooled_repeatability(found.averages.squares, freedom, found.averages.run, np.array([0.5, 0.1]))
    # 0.26 over 3 degrees of freedom with 10 of 0.5² = 2.5: 2.76 over 13; 0.08 over 1 with 10 of 0.1² = 0.1: 0.18 over 11.
    assert pooled.deviation == pytest.approx([math.sqrt(2.76 / 13), math.sqrt(0.18 / 11)])
    assert pooled.assumed == pytest.approx([10 / 13, 10 / 11])


def test_repeats_of_marks_are_laid_onto_the_first_by_hand():
    # A rule laid twice: 10, 20, 31 and then 15.1, 25.3, 35.9, on average 5.1 further: 10.0, 20.2, 30.8. Squares
    # 0, 0.02, 0.02; three numbers read twice, less one shift, leave 2 degrees of freedom. Gaps would not be shifted.
    value = np.array([10.0, 15.1, 20.0, 25.3, 31.0, 35.9])
    number, repeat, run_ = np.array([1, 1, 2, 2, 3, 3]), np.array([1, 2] * 3), np.zeros(6, dtype=np.int64)
    found = repeats.average(run_, number, repeat, value, np.array([True]))
    assert found.averages.value == pytest.approx([10.0, 20.1, 30.9])
    assert found.averages.squares == pytest.approx([0.0, 0.02, 0.02], abs=1e-12)
    assert (list(found.averages.repeats), list(found.shifts)) == ([2, 2, 2], [1])
    unshifted = repeats.average(run_, number, repeat, value, np.array([False]))
    assert unshifted.averages.value == pytest.approx([12.55, 22.65, 33.45])


def test_rows_given_twice_are_told():
    at = np.array([0, 0, 0])
    found = repeats.average(at, np.array([1, 2, 1]), np.array([1, 1, 1]), np.array([9.0, 9.5, 9.1]), np.array([False]))
    assert list(found.twice) == [2]


@pytest.mark.parametrize(
    ("deviation", "assumed", "count", "resolution", "variance"),
    [
        (0.2, 0.0, 1, 0.01, 0.04),
        (0.2, 0.0, 4, 0.01, 0.01),
        (0.1, 0.0, 1, 0.5, 0.25 / 12),  # rounding to a step: JCGM 100:2008, F.2.2.1
        (0.3, 0.0, 9, 0.5, 0.25 / 12),  # 0.3²/9 = 0.01 is less
        (0.3, 0.0, 3, 0.5, 0.03),
        (0.3, 1.0, 1, 0.6, 0.09 + 0.03),  # assumed, so not seen through rounding: 0.6²/12 = 0.03 is added
        (0.3, 0.5, 1, 0.6, 0.09 + 0.015),
        (0.3, 1.0, 3, 0.6, 0.04),
        (0.3, 1.0, 12, 0.6, 0.03),  # 0.12/12 is less than the rounding
    ],
)
def test_a_mean_is_no_better_than_its_rounding(deviation, assumed, count, resolution, variance):
    known = repeats.Repeatability(np.array([deviation]), np.array([assumed]))
    found = known.variance(np.array([0]), np.array([count]), np.array([resolution]))
    assert found[0] == pytest.approx(variance)


def test_repeatability_is_pooled_by_kind_of_instrument_and_of_reading():
    # Callipers: pairs 0.3 mm apart with one, 0.1 with the other: squares 15·0.045 + 18·0.005 over 33. Rules: the second
    # pass is off by 7 mm and ±0.4 in turn: 16 pairs of squares 0.08 over 16 - 1. Crosses marked once tell nothing.
    small = even()
    small.run("one-a", "main", [12.8] * 15, repeat=2)
    small.frame("two")
    for name in ("two-a", "two-b"):
        small.copy(name, "two")
    small.run("two-a", "main", [12.5] * 15)
    for repeat, gap in ((1, 12.5), (2, 12.6)):
        small.run("two-a", "cross", [gap] * 18, instrument_id="cal-2", repeat=repeat)
    laid = marks([12.5] * 15)
    small.run("two-b", "main", laid, kind="mark")
    small.run("two-b", "main", [7.0 + m + (0.4 if k % 2 else -0.4) for k, m in enumerate(laid)], kind="mark", repeat=2)
    small.run("two-b", "cross", marks([12.5] * 18), kind="mark")

    def pooled(package):
        catalogue = read_catalogue(package)
        return list(derivation.gather(package, catalogue, read_table(package, "spacings")).pooled.repeatability.deviation)

    # Kinds in the schema's order: calliper, rule, photo, scale …; of each gaps, then marks. Drawn to 0.1 and 0.25 mm, which
    # count for 10 degrees of freedom, and those (0.03 by photo, else 0.25) where nothing tells.
    found = small.inspect(pooled)
    gaps, laid = (15 * 0.045 + 18 * 0.005 + 10 * 0.1**2) / 43, (1.28 + 10 * 0.25**2) / 25
    assert found[:4] == pytest.approx([math.sqrt(gaps), 0.1, 0.25, math.sqrt(laid)])
    assert found[4:] == pytest.approx([0.03, 0.03] + [0.25] * (len(found) - 6))
