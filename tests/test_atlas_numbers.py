"""The page's arithmetic against Python's: every pair of the demo in every zone, and what the page shows of it."""

from __future__ import annotations

import itertools
import json
import math
from math import isclose
from typing import NamedTuple

import pytest
from scipy.special import ndtr

from browsing import change, opened
from demo_rows import ROOT
from gapbook import open_catalogue
from gapbook.questions.subjects import all_score_columns, subject
from gapbook.questions.traits import ZONES
from gapbook.science.comparison import Difference, difference, why
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store

SAME_PROBABILITY = 1e-12
SAME_PART = 1e-9
TITLES = {"tighter": "Tighter", "too close to call": "Too close to call", "more open": "More open"}


@pytest.fixture(scope="module")
def page(chromium, atlas):
    with opened(chromium, atlas) as shown:
        yield shown


class Pair(NamedTuple):
    """What Python says of one frame against another in one zone; parts as (percent, u) or None."""

    difference: Difference
    parts: dict[str, tuple[float, float] | None] | None

    @property
    def verdict(self) -> str:
        return self.difference.verdict(0.95)


@pytest.fixture(scope="module")
def pairs():
    """Every frame against every other, in every zone both are known in, by the functions `compare` and `ask` use."""
    store = Store(open_package(ROOT))
    ids = [row[0] for row in store.rows(f"SELECT frame_id FROM {store.load('scores')}")]
    frames = [subject(store, name, all_score_columns()) for name in ids]
    found = {}
    for a, b in itertools.permutations(frames, 2):
        for zone in ZONES:
            mine, theirs = a.openness(zone), b.openness(zone)
            if mine is None or theirs is None:
                continue
            builds = a.build(zone), b.build(zone)
            parts = why(*builds)._asdict() if all(builds) else None
            found[a.name, b.name, zone] = Pair(difference(mine, theirs), parts)
    return found


def test_normal_probabilities_are_those_of_scipy(page):
    places = [step / 8 for step in range(-296, 297)] + [1e-9, -1e-9, 3.5355339, -3.5355340]
    found = page.evaluate("(places) => places.map((z) => gapbook.phi(z))", places)
    for z, probability in zip(places, found, strict=True):
        assert probability == pytest.approx(float(ndtr(z)), rel=5e-12 if z > -6 else 1e-9, abs=1e-300), z


ALL_PAIRS = """(zones) => {
    const { catalogue, contrast, verdict, why } = gapbook;
    const all = [];
    for (const zone of zones) for (const a of catalogue.ids.keys()) for (const b of catalogue.ids.keys()) {
        const one = a === b ? null : contrast(catalogue, a, b, zone);
        if (one) all.push([catalogue.ids[a], catalogue.ids[b], zone, verdict(one, 0.95), one.tighter, one.percent,
            one.uPercent, why(catalogue, a, b, zone)]);
    }
    return JSON.stringify(all);
}"""
PARTS = {"size": "size", "count": "strings", "drilling": "drilling", "zone": "zone"}


@pytest.mark.slow
def test_every_pair_in_every_zone_agrees_with_python(page, pairs):
    found = json.loads(page.evaluate(ALL_PAIRS, list(ZONES)))
    assert {tuple(row[:3]) for row in found} == set(pairs)
    assert len(found) > 20_000
    for name, against, zone, verdict, tighter, percent, u_percent, parts in found:
        at = (name, against, zone)
        one = pairs[at]
        assert verdict == one.verdict, at
        assert isclose(tighter, one.difference.tighter, rel_tol=0, abs_tol=SAME_PROBABILITY), at
        assert isclose(percent, one.difference.percent, rel_tol=SAME_PART, abs_tol=1e-12), at
        assert isclose(u_percent, one.difference.u_percent, rel_tol=SAME_PART), at
        assert (parts is None) == (one.parts is None), at
        for mine, theirs in ((parts[key], one.parts[name]) for key, name in PARTS.items()) if one.parts else ():
            assert (mine is None) == (theirs is None), at
            assert mine is None or isclose(mine["percent"], theirs[0], rel_tol=SAME_PART, abs_tol=1e-12), at
            assert mine is None or isclose(mine["u"], theirs[1], rel_tol=SAME_PART, abs_tol=1e-12), at


@pytest.mark.parametrize("against", ["fern-98", "bramble-90", "burdock-89"])
@pytest.mark.slow_after(1)
def test_these_pairs_are_what_compare_says(pairs, against):
    catalogue = open_catalogue(ROOT)
    others = sorted({name for name, other, _ in pairs if other == against})
    told = catalogue.compare(against, *others).contrasts
    assert {(one.name, against, one.where) for one in told} == {key for key in pairs if key[1] == against}
    for one in told:
        pair = pairs[one.name, against, one.where]
        assert (one.verdict, one.probability_tighter) == (pair.verdict, pair.difference.tighter)
        assert (one.why is None) == (pair.parts is None)
        if one.why is not None:
            assert one.why.size.percent == pair.parts["size"][0]


def sure_words(probability: float) -> str:
    """How sure a verdict is shown to be: the likelier way, in percent with one decimal, never 0 or 100."""
    likelier = max(probability, 1.0 - probability)
    number = ">99.9" if likelier > 0.999 else f"{100.0 * likelier:.1f}"
    return f"{number} % {'tighter' if probability >= 0.5 else 'more open'}"


SHOWN = """() => [...document.querySelectorAll("#rows tbody")].flatMap((body) => {
    const title = body.querySelector(".group th").childNodes[1].textContent.trim();
    return [...body.querySelectorAll("tr[data-key]")].map((row) => [
        title,
        row.querySelector("button").childNodes[0].textContent,
        row.querySelector(".c3")?.textContent ?? "",
        row.querySelector(".c4")?.textContent.replace(/^[←→] /, "") ?? "",
    ]);
})"""


@pytest.mark.slow
@pytest.mark.parametrize("zone", ["centre", "sides"])
def test_what_the_table_shows_is_what_compare_says_for_every_reference(page, pairs, zone):
    change(page, zone=zone)
    ids = sorted({name for name, _, where in pairs if where == zone})
    for against in ids:
        change(page, reference=against)
        shown = page.evaluate(SHOWN)
        assert {row[1] for row in shown if row[2]} == set(ids) - {against}
        for title, name, differs, sure in shown:
            if not differs:
                continue
            one = pairs[name, against, zone]
            assert title == TITLES[one.verdict], (name, against)
            assert sure == sure_words(one.difference.tighter), (name, against)
            assert float(differs.replace("−", "-")) == pytest.approx(one.difference.percent, abs=0.0500001), (name, against)


@pytest.mark.parametrize("confidence", ["75", "80", "90", "99"])
def test_verdicts_follow_the_confidence(page, pairs, confidence):
    change(page, zone="centre", reference="fern-98", confidence=confidence)
    sure = float(confidence) / 100
    wanted = {}
    for (name, against, where), one in pairs.items():
        if (against, where) == ("fern-98", "centre"):
            p = one.difference.tighter
            wanted[name] = "Tighter" if p >= sure else "More open" if p <= 1 - sure else "Too close to call"
    assert {row[1]: row[0] for row in page.evaluate(SHOWN)} == wanted
    change(page, confidence="95")


def test_marks_stand_at_their_mesh_with_their_uncertainty(page):
    """A frame's x on the line grows with its mesh in proportion, and its bar is 4 u wide (± at k = 2)."""
    change(page, zone="centre", reference="fern-98", relation="all")
    line = page.evaluate("() => gapbook.line().placed.map((one) => [one.id, one.x, one.from, one.to, one.hangs])")
    scores = {row["frame_id"]: row for row in open_catalogue(ROOT).table("scores").to_pylist()}
    assert len(line) == 72
    (_, x0, *_), (_, x1, *_) = low, high = min(line, key=lambda one: one[1]), max(line, key=lambda one: one[1])
    least, most = (scores[one[0]]["openness_centre"] for one in (low, high))
    pixels = (x1 - x0) / (most - least)
    for name, x, left, right, _ in line:
        assert x == pytest.approx(x0 + pixels * (scores[name]["openness_centre"] - least), abs=1e-6)
        assert right - left == pytest.approx(pixels * 4 * scores[name]["u_openness_centre"], rel=1e-9)


def test_what_is_too_close_hangs_below_the_rule_and_nothing_overlaps_in_its_lane(page, pairs):
    change(page, zone="centre", reference="fern-98", relation="all")
    placed = page.evaluate("() => gapbook.line().placed.map((one) => [one.id, one.from, one.to, one.hangs, one.lane, one.y])")
    top = page.evaluate("() => gapbook.line().top")
    for name, _, _, hangs, _, y in placed:
        close = pairs[name, "fern-98", "centre"].verdict == "too close to call"
        assert hangs == close
        assert (y > top) == close
    for (_, f1, t1, h1, l1, _), (_, f2, t2, h2, l2, _) in itertools.combinations(placed, 2):
        if (h1, l1) == (h2, l2):
            assert t1 <= f2 + 1e-9 or t2 <= f1 + 1e-9
    assert not any(math.isnan(one[5]) for one in placed)
