"""A bed of one's own across one ball width by one file of cases: in Python by the pitch that derives, and on the atlas page.

The cases come from `cases/make_own_beds.py` (mpmath, 40 digits, differentiated numerically), not from gapbook.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from browsing import browser, opened
from demo_rows import ROOT
from gapbook.pictures.atlas import write
from gapbook.pictures.atlas.data import own_rules
from gapbook.science.pitches import pitch
from gapbook.science.zones import LEAST_COVERAGE
from gapbook.tables.opening import open_package

CASES = json.loads((Path(__file__).parent / "cases" / "own_beds.json").read_text(encoding="utf-8"))["cases"]


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    out = write(open_package(ROOT), tmp_path_factory.mktemp("atlas"))["out"]
    with browser() as chromium, opened(chromium, out) as shown:
        yield shown


def family(text: str, kind: str, origin_mm: float) -> dict[str, float]:
    """ln pitch, coverage and parts of the uncertainty, from `science.pitches.pitch` and its gradient; contract, section 4."""
    rules = own_rules()
    values = np.array([float(word) for word in text.split()])
    points = values if kind == "mark" else np.concatenate([[0.0], np.cumsum(values)])
    places = points - (points[0] + points[-1]) / 2.0
    padded = np.concatenate([[0.0], places, [0.0]])[None]  # strings are in columns 1 … n, inner edges beside them
    found = pitch(padded, np.array([len(places)]), 0.0)
    gradient = found.gradient[0, 1:-1].copy()
    pull = gradient.sum()
    gradient[[0, -1]] -= pull / 2.0
    number = np.arange(len(places))
    by_reading = gradient if kind == "mark" else np.cumsum(gradient)[:-1]
    moved = places / (places[-1] - places[0]) if kind == "mark" else number
    person = moved * (len(places) - 1) if kind == "mark" else number
    variance = rules[kind]["variance"] * np.sum(by_reading**2) + rules["placement"] ** 2 * np.sum(gradient**2)
    return {
        "log": math.log(found.pitch[0]),
        "coverage": found.coverage[0],
        "variance": variance + (origin_mm * pull) ** 2,
        "instrument": gradient @ moved * rules[kind]["instrument"],
        "person": gradient @ person * rules["person"],
    }


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["name"])
def test_in_python(case):
    main, cross = (family(case[name], kind, origin) for name, kind, origin in zip(
        ("mains", "crosses"), case["kinds"], own_rules()["origin"], strict=True
    ))  # fmt: skip
    assert min(main["coverage"], cross["coverage"]) == pytest.approx(case["coverage"], rel=1e-12)
    if case["openness"] is None:
        assert case["coverage"] < LEAST_COVERAGE
        return
    alike = case["kinds"][0] == case["kinds"][1]
    instrument = [main["instrument"], cross["instrument"]]
    shared = sum(instrument) ** 2 if alike else sum(one**2 for one in instrument)
    variance = main["variance"] + cross["variance"] + shared + (main["person"] + cross["person"]) ** 2
    openness = 10.0 * math.exp((main["log"] + cross["log"]) / 2.0)
    assert openness == pytest.approx(case["openness"], rel=1e-12)
    assert openness * math.sqrt(variance) / 2.0 == pytest.approx(case["u_openness"], rel=1e-9)


@pytest.mark.slow
def test_the_page_says_the_same(page):
    code = """(cases) => cases.map(({ mains, crosses }) => {
        const [one, other] = [mains, crosses].map(gapbook.readingsOf);
        return [one.kind, other.kind, gapbook.ownOpenness(one, other, gapbook.catalogue.own.rules)];
    })"""
    for case, (main, cross, found) in zip(CASES, page.evaluate(code, CASES), strict=True):
        assert [main, cross] == case["kinds"]
        assert found["coverage"] == pytest.approx(case["coverage"], rel=1e-9)
        if case["openness"] is None:
            assert "value" not in found
            continue
        assert found["value"] == pytest.approx(case["openness"], rel=1e-9)
        assert found["u"] == pytest.approx(case["u_openness"], rel=1e-9)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("10 ten", "“ten” is no plain number"),
        ("10 -3", "“-3” is no plain number"),
        ("10 9 31", "gaps lie between 4 and 30 mm, and marks rise by as much"),
        ("10 10 9", None),
        ("10,5 9.5", None),
        ("0 10 19 18", "gaps lie between 4 and 30 mm, and marks rise by as much"),
        (" ".join(["10"] * 41), "more than 40 numbers"),
        ("1e1 10", "“1e1” is no plain number"),
    ],
)
def test_what_was_typed_is_read_or_refused(page, text, problem):
    found = page.evaluate("(text) => gapbook.readingsOf(text)", text)
    assert found.get("problem") == problem
    assert page.evaluate("() => gapbook.readingsOf('  ')") is None
