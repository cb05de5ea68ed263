"""The page as people use it: picking, keeping, keyboard, screen reader, phone, paper, dark, and hostile or many data."""

from __future__ import annotations

import csv
import shutil

import pytest

from browsing import change, opened
from demo_rows import ROOT
from gapbook.pictures.atlas import write
from gapbook.tables.opening import open_package

PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
SCREENS = {
    "desktop": {},
    "dark": {"color_scheme": "dark"},
    "phone": PHONE,
    "narrowest": {"viewport": {"width": 320, "height": 640}},
}
ASKED = {
    "three beds": "against=fern-98&zone=sides&kept=fern-98+moraine-98&look=willow-98",
    "nothing": "",
    "a reference and a bed": "against=fern-98&look=moraine-98",
    "nothing left": "against=fern-98&relation=tighter&head_low=120",
    "wrong": "against=fern-98&head_low=x",
}


@pytest.fixture
def page(chromium, atlas):
    with opened(chromium, atlas, "against=fern-98") as shown:
        yield shown


def row(page, frame: str):
    return page.locator("#rows tr[data-key]").filter(has=page.get_by_role("button", name=frame, exact=True))


def letters(page) -> list[str]:
    """Ids of the beds laid out, in order."""
    return page.locator("#figures thead .id").all_text_contents()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("screen", "asked"),
    [("desktop", asked) for asked in ASKED]
    + [("dark", "three beds"), ("dark", "wrong"), ("phone", "three beds"), ("phone", "nothing left")],
)
def test_axe_finds_nothing(chromium, atlas, screen, asked):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed").Axe()
    with opened(chromium, atlas, ASKED[asked], bypass_csp=True, reduced_motion="reduce", **SCREENS[screen]) as page:
        found = axe.run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]})
        assert len(found.response["passes"]) > 15
        bad = [
            (one["id"], one["impact"], [node["html"][:120] for node in one["nodes"]]) for one in found.response["violations"]
        ]
        assert bad == []


@pytest.mark.slow_after(1)
@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize("asked", ASKED)
def test_nothing_is_wider_than_the_window(chromium, atlas, screen, asked):
    with opened(chromium, atlas, ASKED[asked], **SCREENS[screen]) as page:
        assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")


def test_a_click_lays_a_bed_out_and_up_to_three_are_kept(page):
    row(page, "moraine-98").click()
    assert letters(page) == ["moraine-98"]
    page.get_by_role("button", name="Keep moraine-98").click()
    row(page, "willow-98").click()
    page.get_by_role("button", name="Keep willow-98").click()
    row(page, "burdock-89").click()
    assert letters(page) == ["moraine-98", "willow-98", "burdock-89"]
    assert page.get_by_role("button", name="Keep burdock-89").is_disabled()
    row(page, "thistle-95").click()
    assert letters(page) == ["moraine-98", "willow-98", "thistle-95"]
    assert page.locator(".bed .strings").count() == 3 + 3  # three beds and their key
    assert page.locator(".bed .hoop").count() == 3
    assert page.locator("#line .letter").all_text_contents() == ["A", "B", "C"]
    page.get_by_role("button", name="Put away willow-98").click()
    assert letters(page) == ["moraine-98", "thistle-95"]


def test_one_bed_is_drawn_with_every_mesh_and_string(page):
    """moraine-98 is 16x19: 15 x 18 meshes; its strings are paths with a move for each main and each cross."""
    change(page, reference="")
    row(page, "moraine-98").click()
    assert page.locator(".bed svg.one g[clip-path] > path[fill]").count() == 15 * 18
    paths = [path.get_attribute("d") for path in page.locator(".bed .core").all()]
    assert sorted(path.count("M") for path in paths) == [16, 19]


@pytest.mark.slow
def test_a_counted_frame_has_no_bed_and_that_is_said(page):
    row(page, "bramble-93* counted only").click()
    assert page.locator(".bed svg").count() == 0
    assert "Nobody measured this bed" in page.locator(".bed figcaption").text_content()
    assert "counted: an estimate" in page.locator("#figures").text_content()


@pytest.mark.slow
def test_why_is_drawn_and_told(page):
    """moraine-98 against fern-98: heads and counts alike, so drilling makes nearly all of it (inventing: drilled closer)."""
    row(page, "moraine-98").click()
    titles = page.locator(".why text:not(.quiet)").all_text_contents()
    assert titles == ["head size", "string count", "drilling", "all together"]
    widths = {}
    for part, number in (("size", 0), ("count", 1), ("drilling", 2), ("all", 3)):
        widths[part] = float(page.locator(".why .part").nth(number).get_attribute("width"))
    assert widths["drilling"] > 0.9 * widths["all"] > 20 * widths["count"]


@pytest.mark.slow
def test_the_line_can_be_pressed(page):
    place = page.evaluate("""() => {
        const { placed, scale } = gapbook.line();
        const one = placed.find((each) => each.id === "willow-98");
        const box = document.getElementById("line").getBoundingClientRect();
        return [box.left + one.x * box.width / scale.width, box.top + one.y * box.width / scale.width];
    }""")
    page.mouse.move(*place)
    assert "Hollin Works Willow 98" in page.locator("#tip").text_content()
    page.mouse.click(*place)
    assert letters(page) == ["willow-98"]


def test_the_table_is_walked_with_the_keyboard(page):
    tabbable = page.locator("#rows button[tabindex='0']")
    assert tabbable.count() == 1
    tabbable.focus()
    first = page.evaluate("() => document.activeElement.textContent")
    page.keyboard.press("ArrowDown")
    second = page.evaluate("() => document.activeElement.textContent")
    assert second != first
    assert letters(page) == [second]
    page.keyboard.press("End")
    assert letters(page) == ["yarrow-105"]
    page.keyboard.press("Home")
    assert letters(page) == [first]
    page.keyboard.press("Tab")
    assert page.evaluate("() => document.activeElement.closest('#rows')") is None


@pytest.mark.slow
def test_focus_stays_where_it_was_after_keeping(page):
    row(page, "moraine-98").click()
    page.get_by_role("button", name="Keep moraine-98").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("() => document.activeElement.textContent") == "Kept moraine-98"
    page.get_by_role("button", name="Put away moraine-98").focus()
    page.keyboard.press("Enter")
    assert page.evaluate("() => document.activeElement.id") == "card"


@pytest.mark.slow
def test_a_change_is_spoken_once_typing_has_stopped(page):
    change(page, head_low="95", head_high="98")
    page.wait_for_function("() => document.getElementById('spoken').textContent.includes('left out')")
    assert page.locator("#spoken").text_content() == page.locator("#told").text_content()
    assert page.locator("#spoken").get_attribute("aria-live") == "polite"


@pytest.mark.slow
def test_the_address_brings_everything_back(chromium, atlas, page):
    change(page, zone="tip", relation="tighter", head_low="95", mass_high="330", confidence="90")
    page.locator("[name=pattern][value='16×19']").check(force=True)
    row(page, "moraine-98").click()
    page.wait_for_function("() => location.hash.includes('moraine-98') && location.hash.includes('patterns')")
    with opened(chromium, atlas, page.evaluate("() => location.hash.slice(1)")) as again:
        for part in ("#typed", "#told", "#rows", "#figures"):
            assert again.locator(part).text_content() == page.locator(part).text_content()


@pytest.mark.slow_after(1)
@pytest.mark.parametrize(
    "asked", ["against=nobody&zone=nowhere&look=%00&kept=x+y", "zone=__proto__&sort=constructor", "%%%", "&&&="]
)
def test_a_spoilt_address_asks_nothing(chromium, atlas, asked):
    with opened(chromium, atlas, asked) as page:
        assert page.locator("#typed").text_content() == "all frames"
        assert page.locator("#rows tr[data-key]").count() == 73


@pytest.mark.slow
def test_asking_anew_clears_the_question_and_leaves_the_beds(page):
    row(page, "moraine-98").click()
    change(page, head_low="120")
    page.get_by_role("button", name="Ask anew").click()
    assert page.locator("#typed").text_content() == "all frames"
    assert page.locator("[name=head_low]").input_value() == ""
    assert letters(page) == ["moraine-98"]


@pytest.mark.slow_after(1)
@pytest.mark.parametrize("kind", ["tight", "close", "wide"])
def test_verdicts_differ_in_form_and_place_and_not_only_in_colour(page, kind):
    """Filled square, lozenge, hollow square: of the three marks' outline and filling, no two are the same."""
    looks = {}
    for each in ("tight", "close", "wide"):
        looks[each] = page.evaluate(
            """(kind) => {
                const icon = document.querySelector(`#key .mark.${kind}`);
                return icon.getAttribute("d") + (getComputedStyle(icon).fill === getComputedStyle(icon).stroke);
            }""",
            each,
        )
    assert [each for each, look in looks.items() if look == looks[kind]] == [kind]


@pytest.mark.slow
def test_paper_is_light_and_holds_every_row_and_the_question_but_no_controls(chromium, atlas):
    with opened(chromium, atlas, "against=fern-98&look=moraine-98", color_scheme="dark") as page:
        page.emulate_media(media="print")
        assert page.evaluate("() => getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        assert page.locator("#rows tr[data-key]").count() == 72
        assert not page.locator("[name=head_low]").is_visible()
        assert page.locator("#typed").is_visible()
        assert page.locator(".invented").first.is_visible()
        assert page.pdf().startswith(b"%PDF")


@pytest.mark.slow
def test_motion_is_only_for_those_who_have_not_asked_for_less(chromium, atlas):
    for motion, behaviour in (("reduce", "auto"), ("no-preference", "smooth")):
        with opened(chromium, atlas, reduced_motion=motion) as page:
            assert page.evaluate("() => getComputedStyle(document.documentElement).scrollBehavior") == behaviour


@pytest.mark.slow
def test_cautions_and_invented_data_are_on_the_page(page):
    text = page.locator("body").inner_text()
    for said in (
        "Invented data: no frame in this package is real.",
        "Sore arm: see a physician.",
        "qualified stringer",
        "printed",
    ):
        assert said in text


@pytest.fixture(scope="module")
def copied(tmp_path_factory):
    """A copy of the demo package to change, and to make an atlas of."""
    copy = tmp_path_factory.mktemp("copied") / "package"
    shutil.copytree(ROOT / "catalogue", copy / "catalogue")
    shutil.copytree(ROOT / "schema", copy / "schema")
    shutil.copyfile(ROOT / "datapackage.json", copy / "datapackage.json")
    return copy


def test_hostile_names_are_shown_as_they_are(chromium, copied, tmp_path):
    hostile = '</script><img src=x onerror="document.title=1">'
    file = copied / "catalogue" / "frames.csv"
    kept = file.read_text(encoding="utf-8")
    rows = list(csv.reader(kept.splitlines()))
    rows[1][2] = hostile
    with file.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)
    out = write(open_package(copied), tmp_path)["out"]
    file.write_text(kept, encoding="utf-8")
    with opened(chromium, out, f"look={rows[1][0]}") as page:
        assert page.locator("#figures .full").text_content() == f"{rows[1][1]} {hostile}"
        assert page.locator("img").count() == 0


@pytest.mark.slow
def test_of_many_frames_only_the_rows_in_view_are_made(chromium, copied, tmp_path):
    file = copied / "catalogue" / "derived" / "scores.csv"
    head, *lines = file.read_text(encoding="utf-8").splitlines()
    kept = [head, *lines]
    many = [f"{line.split(',', 1)[0]}-{number:02d},{line.split(',', 1)[1]}" for number in range(30) for line in lines]
    file.write_text("\n".join([head, *many]) + "\n", encoding="utf-8")
    out = write(open_package(copied), tmp_path)["out"]
    file.write_text("\n".join(kept) + "\n", encoding="utf-8")
    with opened(chromium, out, "against=fern-98-00") as page:
        made = page.locator("#rows tr[data-key]")
        assert 10 < made.count() < 80
        assert page.locator("#rows").get_attribute("aria-rowcount") == str(30 * 73 - 1 + 3 + 1)
        page.locator("#rows button[tabindex='0']").focus()
        page.keyboard.press("End")
        assert page.evaluate("() => document.activeElement.textContent").startswith("yarrow-105-")
        assert page.evaluate("() => document.activeElement.closest('tr').getAttribute('aria-rowindex')") == str(30 * 73 + 3)
        page.keyboard.press("ArrowUp")
        assert page.evaluate("() => document.activeElement.closest('tr').getAttribute('aria-rowindex')") == str(30 * 73 + 2)
        assert 10 < made.count() < 80
        assert "marks only" in page.locator("#detail").text_content()
        change(page, head_low="89", head_high="89")
        assert page.locator("#detail").text_content() == ""
