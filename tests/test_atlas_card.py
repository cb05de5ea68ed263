"""What happens where the eye is: names that can be pressed, the card beside the line, a bed shaded against the reference, a bed
of one's own, and a phone on which the answer comes first.
"""

from __future__ import annotations

import json

import numpy as np
import pytest

from browsing import change, opened
from demo_rows import ROOT
from gapbook.questions.bed_data import drawn_bed
from gapbook.science.bed_geometry import differences
from gapbook.tables.opening import open_package
from gapbook.tables.store import Store

DESKTOP = {"viewport": {"width": 1280, "height": 800}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}
FINGER = 44
"""A target's least size [CSS px]: WCAG 2.2, success criterion 2.5.5."""
OWN = {"own_mains": "2 13.5 24.5 35 44.5 54 64.5 75.5", "own_crosses": "0 12 23 34.5 45.5 57 69"}
"""The first case of cases/own_beds.json: mesh 10.947 mm, U 0.153 mm."""


@pytest.fixture
def page(chromium, atlas):
    with opened(chromium, atlas, "against=fern-98", **DESKTOP) as shown:
        yield shown


def pick(page, frame: str) -> None:
    page.locator("#rows").get_by_role("button", name=frame, exact=True).click()


def name_on_line(page, frame: str):
    return page.locator("#line .names text").filter(has_text=frame).first


def boxes(page, *selectors: str) -> dict[str, dict[str, float]]:
    return {selector: page.locator(selector).first.bounding_box() for selector in selectors}


def test_a_name_on_the_line_reacts_as_its_mark_does(page):
    box = name_on_line(page, "burdock-90").bounding_box()
    at = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(*at)
    assert page.locator("#tip span").first.text_content() == "Sundrel Burdock 90"
    assert page.locator("#line .again").text_content() == "burdock-90"
    page.mouse.click(*at)
    assert page.locator("#card h3").text_content() == "Sundrel Burdock 90"


def test_a_pick_shows_the_bed_beside_the_line_and_moves_nothing(page):
    still = ("#told", "#line", "#rows", "#line-box figcaption", "footer")
    before = boxes(page, *still)
    box = name_on_line(page, "moraine-98").bounding_box()
    page.mouse.click(box["x"] + 5, box["y"] + 5)
    assert {one: boxes(page, one)[one]["y"] for one in still[:-1]} == {one: before[one]["y"] for one in still[:-1]}
    assert boxes(page, "#line")["#line"] == before["#line"]
    assert page.evaluate("() => scrollY") == 0
    picture, window = page.locator("#card .bed svg").first.bounding_box(), page.viewport_size
    assert picture["y"] > page.locator("#card h3").bounding_box()["y"]
    assert picture["y"] + picture["height"] <= window["height"]
    zones = page.locator("#card .zones").bounding_box()
    assert zones["x"] >= picture["x"] + picture["width"]
    assert zones["x"] + zones["width"] <= window["width"]
    assert page.locator("#card .zones tbody th").all_text_contents() == [
        "centre", "left", "right", "sides", "tip", "throat", "even"
    ]  # fmt: skip


def test_the_card_says_the_verdict_with_its_uncertainty_and_that_of_each_zone(page, catalogue):
    pick(page, "moraine-98")
    told = {one.where: one for one in catalogue.compare("fern-98", "moraine-98").contrasts}
    said = page.locator("#card .said").text_content().replace("−", "-")
    centre = told["centre"]
    assert f"{centre.difference_percent:.1f} ± {2 * centre.u_difference_percent:.1f} %" in said
    assert centre.verdict in said
    rows = {row[0]: row[1] for row in page.evaluate(
        """() => [...document.querySelectorAll("#card .zones tbody tr")].map((row) =>
            [row.querySelector("th").textContent, row.querySelector("td:last-child").textContent])"""
    )}  # fmt: skip
    assert set(rows) == set(told)
    for zone, one in told.items():
        assert rows[zone].startswith(one.verdict)
        assert float(rows[zone].split()[-1].replace("−", "-")) == pytest.approx(one.difference_percent, abs=0.0500001)


def test_the_page_gets_its_zones_from_the_data(page):
    from gapbook.questions.traits import ZONES

    assert page.evaluate("() => Object.keys(gapbook.catalogue.words.zones)") == list(ZONES)


@pytest.mark.parametrize(("name", "other"), [("moraine-98", "fern-98"), ("burdock-89", "yarrow-105"), ("rowan-97", "fern-98")])
@pytest.mark.slow_after(2)
def test_meshes_are_shaded_against_the_reference_as_draw_does(page, name, other):
    """The page's beds are coded to 0.01 mm and slopes to 1e-5, so that a gap is off by 0.01 mm or so at most."""
    store = Store(open_package(ROOT))
    bed, second = drawn_bed(store, name), drawn_bed(store, other)
    wanted = differences(bed.strings, second.strings, bed.u_gap, second.u_gap)
    code = """([a, b]) => JSON.stringify(gapbook.differencesOf(...[a, b].map((id) =>
        gapbook.bedOf(gapbook.catalogue, gapbook.catalogue.places.get(id)))).map((one) => [one.difference, one.u]))"""
    found = np.array(json.loads(page.evaluate(code, [name, other])), dtype=float).reshape(*wanted.size.shape, 2)
    np.testing.assert_allclose(found[..., 0], wanted.size, atol=0.03)
    np.testing.assert_allclose(found[..., 1], wanted.u, atol=0.003)
    change(page, reference=other)
    pick(page, name)
    decided = np.abs(found[..., 0]) > 2.0 * found[..., 1]
    assert page.locator("#card .bed g[clip-path] > path[fill]").count() == decided.sum()
    assert page.locator("#card .bed .not-known").count() == np.isnan(found[..., 0]).sum()
    assert page.locator("#card .bed .other-strings").count() == 1


@pytest.mark.parametrize("screen", [DESKTOP, PHONE], ids=["desktop", "phone"])
@pytest.mark.slow
def test_no_name_lies_over_the_reference_line_or_another_name(chromium, atlas, screen):
    with opened(chromium, atlas, "against=fern-98", **screen) as page:
        post = page.locator("#line .post path").bounding_box()
        names = [one.bounding_box() for one in page.locator("#line .names text").all()]
        assert len(names) == 72
        middle = post["x"] + post["width"] / 2
        assert [one for one in names if one["x"] < middle < one["x"] + one["width"]] == []
        for number, a in enumerate(names):
            for b in names[:number]:
                apart = a["x"] + a["width"] <= b["x"] + 1 or b["x"] + b["width"] <= a["x"] + 1
                assert apart or abs(a["y"] - b["y"]) > 6


def test_an_own_bed_stands_on_the_line_with_a_verdict_against_all(chromium, atlas, page):
    change(page, reference="", **OWN)
    assert "mesh 10.95 ± 0.15 mm" in page.locator("#own-said").text_content()
    assert page.locator("#line .post text").text_content() == "your bed  10.95 ± 0.15 mm"
    assert page.locator("#told").text_content().startswith("Against your bed in the centre")
    line = page.evaluate("() => gapbook.line().placed.map((one) => [one.id, one.said])")
    assert len(line) == 73
    assert {said for _, said in line} == {"tighter", "too close to call", "more open"}
    change(page, reference="fern-98")
    pick(page, "your bed")
    assert page.locator("#card h3").text_content() == "Your bed"
    assert "as you typed it" in page.locator("#card .what").text_content()
    assert "of one ball width" in page.locator("#card figcaption").text_content().replace("across one", "of one")
    page.wait_for_function("() => location.hash.includes('own_mains') && location.hash.includes('look=your')")
    with opened(chromium, atlas, page.evaluate("() => location.hash.slice(1)"), **DESKTOP) as again:
        assert again.locator("#card h3").text_content() == "Your bed"
        assert again.locator("#own-said").text_content() == page.locator("#own-said").text_content()
    change(page, own_mains="")
    assert page.locator("#own-said").text_content() == "Now the mains."
    assert len(page.evaluate("() => gapbook.line().placed")) == 72


@pytest.mark.parametrize(
    ("mains", "crosses", "said"),
    [
        ("ten", "", "Mains: “ten” is no plain number."),
        ("10 10 10", "10 10 10", "These strings cover 30 mm of the ball's 67 mm; at least 54 mm are needed."),
        ("", "11 11 11 11 11 11 11", "Now the mains."),
    ],
)
@pytest.mark.slow_after(2)
def test_an_own_bed_that_cannot_be_scored_is_said_to_be(page, mains, crosses, said):
    change(page, own_mains=mains, own_crosses=crosses)
    assert page.locator("#own-said").text_content() == said
    assert page.evaluate("() => gapbook.catalogue.hasOwn") is False


def test_on_a_phone_the_answer_comes_first_and_the_form_is_one_line(chromium, atlas):
    with opened(chromium, atlas, "against=fern-98&head_low=95&head_high=98", **PHONE) as page:
        said = page.locator("#one-line").text_content()
        assert said == "Against fern-98 in the centre: all three ways, sure at 95 %, head 95 to 98 sq in"
        assert not page.locator("#question").is_visible()
        assert page.locator("#told").bounding_box()["y"] < 300
        assert page.locator("#line").bounding_box()["y"] < 844 / 2
        page.locator("#asked > summary").tap()
        assert page.locator("#question").is_visible()


def test_on_a_phone_targets_are_a_finger_wide_and_figures_stay_whole(chromium, atlas):
    asked = "against=fern-98&look=moraine-98&own_mains=11+11+11+11+11+11+11"
    with opened(chromium, atlas, asked, **PHONE) as page:
        page.locator("#asked > summary").tap()
        small = page.evaluate(
            """(least) => [...document.querySelectorAll("button, select, summary, input:not([type=checkbox]), .chip, .fit")]
                .filter((one) => one.offsetParent)
                .map((one) => [one.tagName, one.id || one.name || one.textContent.trim(), one.getBoundingClientRect()])
                .filter(([, , box]) => box.height < least - 0.5 || box.width < least - 0.5)
                .map(([tag, name, box]) => `${tag} ${name} ${box.width} x ${box.height}`)""",
            FINGER,
        )
        assert small == []
        wrapped = page.evaluate(
            """() => [...document.querySelectorAll("td, .whole")]
                .filter((one) => one.offsetParent && one.textContent && getComputedStyle(one).whiteSpace !== "nowrap")
                .map((one) => one.textContent)"""
        )
        assert wrapped == []
        assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


def test_on_a_phone_a_tap_shows_the_bed_and_leaves_the_mark_in_sight(chromium, atlas):
    with opened(chromium, atlas, "against=fern-98", reduced_motion="reduce", **PHONE) as page:
        box = name_on_line(page, "drizzle-100-club").bounding_box()
        page.touchscreen.tap(box["x"] + 20, box["y"] + 6)
        assert page.locator("#card h3").is_visible()
        card = page.locator("#card").bounding_box()
        mark = page.locator("#line .laid circle").bounding_box()
        assert mark["y"] + mark["height"] < card["y"]
        assert card["y"] + card["height"] <= 844
        page.get_by_role("button", name="Put away drizzle-100-club").tap()
        assert not page.locator("#card").is_visible()
