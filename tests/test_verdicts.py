"""The verdict of a comparison by one file of cases, in Python on numbers and arrays, and on the atlas page in a browser.

The cases come from `cases/make_verdicts.py` (mpmath, 40 digits), not from gapbook.
"""

from __future__ import annotations

import json
import math
import statistics
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from browsing import browser, opened
from demo_rows import ROOT
from gapbook.pictures.atlas import write
from gapbook.science.comparison import (
    VERDICTS,
    Difference,
    Figure,
    SharedFigure,
    decisive,
    difference,
    shared_effects,
    verdict,
    verdicts,
)
from gapbook.tables.opening import open_package

FILE = json.loads((Path(__file__).parent / "cases" / "verdicts.json").read_text(encoding="utf-8"))
CASES, SHARING = FILE["cases"], FILE["sharing"]
NUMBERS = {"tighter": -1, "too close to call": 0, "more open": 1}


def compared(case) -> Difference:
    return difference(Figure(*case["a"]), Figure(*case["b"]))


def test_there_are_cases_of_every_verdict():
    assert min(Counter(case["verdict"] for case in CASES).values()) > 40
    assert {number: word for word, number in NUMBERS.items()} == VERDICTS


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case['a']} {case['b']} {case['confidence']}")
def test_one_pair_in_python(case):
    found = compared(case)
    assert found.tighter == pytest.approx(case["tighter"], rel=1e-9, abs=1e-300)
    assert found.percent == pytest.approx(case["percent"], rel=1e-9, abs=1e-12)
    assert found.verdict(case["confidence"]) == case["verdict"]
    assert verdict(found.log, found.u, case["confidence"]) == NUMBERS[case["verdict"]]


@pytest.mark.parametrize("case", SHARING, ids=lambda case: case["name"])
def test_what_both_share_cancels(case):
    mine, theirs = (
        SharedFigure.of(Figure(*case[one]), shared_effects(text, case["zone"]))
        for one, text in zip("ab", case["shared"], strict=True)
    )
    found = difference(mine, theirs)
    assert found.u == pytest.approx(case["u"], rel=1e-9)
    assert found.tighter == pytest.approx(case["tighter"], rel=1e-9)
    assert difference(theirs, mine).u == pytest.approx(case["u"], rel=1e-9)


def test_a_bed_beside_itself_is_no_less_certain_than_exact():
    own = SharedFigure.of(Figure(100.0, 0.1), {"ida/calliper": 0.004})
    assert difference(own, own).u == 0.0


@pytest.mark.parametrize("confidence", sorted({case["confidence"] for case in CASES}))
def test_many_pairs_at_once(confidence):
    some = [case for case in CASES if case["confidence"] == confidence]
    wanted = [NUMBERS[case["verdict"]] for case in some]
    log, u = (np.array([getattr(compared(case), name) for case in some]) for name in ("log", "u"))
    assert verdict(log, u, confidence).tolist() == wanted
    assert verdict(log.reshape(3, -1), u.reshape(3, -1), confidence).ravel().tolist() == wanted
    for against in {tuple(case["b"]) for case in some}:
        alike = [case for case in some if tuple(case["b"]) == against]
        said = verdicts([case["a"] for case in alike], Figure(*against), confidence)
        assert said == [NUMBERS[case["verdict"]] for case in alike]


@pytest.mark.slow
def test_the_page_says_the_same(tmp_path):
    out = write(open_package(ROOT), tmp_path)["out"]
    code = """(cases) => cases.map(({ a, b, confidence }) => {
        const [mine, theirs] = [a, b].map(([value, u]) => ({ value, u }));
        const found = gapbook.difference(mine, theirs);
        return [found.tighter, found.percent, gapbook.verdict(found, confidence)];
    })"""
    sharing = """(cases) => cases.map(({ a, b, shared, zone }) => {
        const known = shared.map((text) => gapbook.sharedEffects(text, zone));
        const [mine, theirs] = [a, b].map(([value, u], side) => ({ value, u, shared: known[side] }));
        const found = gapbook.difference(mine, theirs);
        return [found.u, found.tighter];
    })"""
    with browser() as chromium, opened(chromium, out) as page:
        said = page.evaluate(code, CASES)
        less = page.evaluate(sharing, SHARING)
    for case, (u, tighter) in zip(SHARING, less, strict=True):
        assert [u, tighter] == pytest.approx([case["u"], case["tighter"]], rel=1e-9), case
    for case, (tighter, percent, word) in zip(CASES, said, strict=True):
        assert tighter == pytest.approx(case["tighter"], rel=1e-9, abs=1e-300), case
        assert percent == pytest.approx(case["percent"], rel=1e-9, abs=1e-12), case
        assert word == case["verdict"], case


def test_what_is_not_known_is_too_close():
    nan = math.nan
    assert [verdict(*one, 0.95) for one in ((nan, 1.0), (-9.0, nan), (nan, nan))] == [0, 0, 0]
    assert verdict(np.array([nan, -9.0]), np.array([1.0, nan]), 0.95).tolist() == [0, 0]
    assert verdicts([(nan, 1.0), (90.0, nan)], Figure(100.0, 1.0), 0.95) == [0, 0]


@pytest.mark.parametrize("confidence", [0.51, 0.8, 0.95, 0.999999])
def test_a_verdict_takes_so_many_uncertainties(confidence):
    assert decisive(confidence) == pytest.approx(statistics.NormalDist().inv_cdf(confidence), rel=1e-9)


def test_comparing_loads_no_array_library():
    """A question compares: what is imported for it has to load in an instant."""
    code = "import sys, gapbook.science.comparison, gapbook.science.zones; print('numpy' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT / "derive")
    assert told.stdout == "False\n"
