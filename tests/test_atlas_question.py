"""The question the page puts in words is the one it answers: it parses, says itself again, and `ask` finds the same frames."""

from __future__ import annotations

import random
import re

import pytest

from browsing import change, opened
from demo_rows import demo, derived
from gapbook.questions.language import parse
from gapbook.questions.traits import ZONES
from gapbook.questions.wording import describe

BLANK = {
    "reference": "", "zone": "centre", "relation": "all", "within": "3", "confidence": "95", "head_low": "", "head_high": "",
    "headUnit": "[sin_i]", "mass_low": "", "mass_high": "", "swing_low": "", "swing_high": "", "basis": "any",
    "sort": "tightest",
}  # fmt: skip
PATTERNS = ["14×18", "16×15", "16×18", "16×19", "16×20", "18×19", "18×20", "20×21"]
CHECK = """(wanted) => {
    for (const box of document.querySelectorAll("[name=pattern]")) {
        if (box.checked !== wanted.includes(box.value)) box.click();
    }
}"""
ROWS = """() => {
    const { rows, unknown } = gapbook.judge();
    const ids = (list) => list.map((row) => gapbook.catalogue.ids[row.frame]);
    return { ...Object.fromEntries(Object.entries(rows).map(([key, list]) => [key, ids(list)])), unknown: ids(unknown) };
}"""


@pytest.fixture(scope="module")
def page(chromium, atlas):
    with opened(chromium, atlas) as shown:
        yield shown


def ask(page, patterns=(), **fields) -> str:
    """The question in words after everything else was cleared."""
    change(page, **BLANK | fields)
    page.evaluate(CHECK, list(patterns))
    return page.locator("#typed").text_content()


def matches_of(page, fields) -> tuple[list[str], list[str]]:
    """Ids of what matches and what is too close to call, as the page has it."""
    rows = page.evaluate(ROWS)
    relation = fields.get("relation", "all") if fields.get("reference") else "all"
    if relation == "all":
        groups = (
            [rows["every"]] if not fields.get("reference") else [rows["tighter"], rows["too close to call"], rows["more open"]]
        )
        return [name for group in groups for name in group] + rows["unknown"], []
    if relation == "like":
        return rows["like"], []
    return rows[relation.replace("_", " ")], rows["too close to call"]


WORDS = [
    ({}, [], "all frames"),
    ({"head_low": "95", "head_high": "98"}, [], "head 95 to 98 sq in"),
    ({"head_low": "097", "head_high": "97"}, [], "head 97 sq in"),
    ({"head_low": "97", "head_high": "97.0"}, [], "head at least 97 sq in, head at most 97.0 sq in"),
    ({"head_low": "612.5", "headUnit": "cm2"}, [], "head at least 612.5 cm²"),
    ({"head_high": ".5"}, [], "head at most 0.5 sq in"),
    ({"mass_high": "320"}, [], "mass at most 320 g"),
    ({"swing_low": "315", "swing_high": "330"}, [], "swingweight 315 to 330 kg·cm²"),
    ({"mass_low": "300"}, ["16×19"], "16 mains, 19 crosses, mass at least 300 g"),
    ({"mass_low": "300", "swing_low": "315"}, [], "mass at least 300 g, swingweight at least 315 kg·cm²"),
    ({"head_low": "95"}, ["16×19"], "head at least 95 sq in, 16 mains, 19 crosses"),
    ({"head_low": "95"}, ["18×20", "16×19"], "head at least 95 sq in, 16x19 or 18x20"),
    ({"basis": "measured"}, [], "measured only"),
    ({"zone": "sides"}, [], "tightest sides first"),
    ({"zone": "left", "sort": "most_open"}, [], "most open on the left first"),
    ({"sort": "most_open"}, [], "most open first"),
    ({"confidence": "90"}, [], "90% confidence"),
    ({"reference": "fern-98"}, [], "all frames"),
    ({"reference": "fern-98", "relation": "tighter"}, [], "tighter centre than fern-98"),
    ({"reference": "Fellwright Fern 98", "relation": "tighter"}, [], "tighter centre than fern-98"),
    ({"reference": "fern-98", "relation": "more_open", "zone": "sides"}, [], "more open sides than fern-98"),
    ({"reference": "fern-98", "relation": "tighter", "zone": "right"}, [], "tighter on the right than fern-98"),
    ({"reference": "fern-98", "relation": "tighter", "zone": "even"}, [], "tighter with even drilling than fern-98"),
    ({"reference": "fern-98", "relation": "like", "zone": "tip"}, [], "like fern-98 at the tip"),
    ({"reference": "fern-98", "relation": "like", "within": "2.50"}, [], "within 2.5% of fern-98 in the centre"),
    ({"reference": "fern-98", "relation": "like", "sort": "closest"}, [], "like fern-98 in the centre, closest first"),
    (
        {"reference": "fern-98", "relation": "tighter", "head_low": "95", "head_high": "98", "basis": "measured"},
        ["16×19", "16×20"],
        "head 95 to 98 sq in, 16x19 or 16x20, tighter centre than fern-98, measured only",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("fields", "patterns", "words"), WORDS)
def test_the_question_in_words(page, fields, patterns, words):
    assert ask(page, patterns, **fields) == words


def assert_the_same(page, catalogue, fields, patterns) -> int:
    """The page's words, parsed by the program, say themselves again, and its answer is the page's; how many frames."""
    words = ask(page, patterns, **fields)
    question = parse(words)
    assert describe(question) == words
    answer = catalogue.find(question)
    matches, undecided = [entry.frame_id for entry in answer.matches], [entry.frame_id for entry in answer.undecided]
    mine, unsure = matches_of(page, fields)
    if fields.get("reference") and fields.get("relation", "all") == "all":  # ask has no reference here, so it has that one too
        assert set(mine) == set(matches) - {fields["reference"]}, words
    else:
        assert (mine, unsure) == (matches, undecided), words
    return len(matches) + len(undecided)


@pytest.mark.slow_after(6)
@pytest.mark.parametrize(("fields", "patterns"), [case[:2] for case in WORDS if case[0].get("reference", "").islower()] + [
    (fields, patterns) for fields, patterns, _ in WORDS if "reference" not in fields
])  # fmt: skip
def test_ask_finds_what_the_page_shows(page, catalogue, fields, patterns):
    assert_the_same(page, catalogue, fields, patterns)


def drawn(source: random.Random) -> tuple[dict[str, str], list[str]]:
    """A question at random, from bounds that lie among the demo's."""
    fields = {"zone": source.choice(ZONES), "confidence": source.choice(["75", "80", "90", "95", "99"])}
    measured = sorted(row["frame_id"] for row in derived("scores").values() if row["basis"] == "measured")
    if source.random() < 0.8:
        fields |= {"reference": source.choice(measured), "relation": source.choice(["tighter", "more_open", "like", "all"])}
    if fields.get("relation") == "like":
        fields["within"] = source.choice(["1", "3", "4.5", "10"])
    for name, low, high in (("head", 89, 110), ("mass", 285, 340), ("swing", 300, 345)):
        ends = sorted(source.choices(range(low, high), k=2))
        for end, value in zip(("low", "high"), ends, strict=True):
            if source.random() < 0.3:
                fields[f"{name}_{end}"] = source.choice([str(value), f"{value}.0", f"{value + 0.5}"])
    if fields.get("head_low", "0") == fields.get("head_high") or any(
        float(fields.get(f"{name}_low", "0")) > float(fields.get(f"{name}_high", "inf")) for name in ("head", "mass", "swing")
    ):
        fields = {name: value for name, value in fields.items() if not name.endswith("_low")}
    fields["basis"] = source.choice(["any", "any", "measured"])
    sorts = ["tightest", "most_open"] + (["closest"] if fields.get("relation", "all") != "all" else [])
    fields["sort"] = source.choice(sorts)
    return fields, source.sample(PATTERNS, source.choice([0, 0, 1, 2, 3]))


@pytest.mark.slow
def test_eighty_questions_at_random_find_what_the_page_shows(page, catalogue):
    source = random.Random(20)
    found = [assert_the_same(page, catalogue, *drawn(source)) for _ in range(80)]
    assert sum(1 for count in found if count > 3) > 30


@pytest.mark.parametrize(
    ("fields", "wrong"),
    [
        ({"head_low": "ninety"}, ["head_low"]),
        ({"head_low": "98", "head_high": "95"}, ["head_low", "head_high"]),
        ({"mass_high": "-3"}, ["mass_high"]),
        ({"swing_low": "3e2"}, ["swing_low"]),
        ({"head_low": "95,5"}, ["head_low"]),
        ({"reference": "fern-98", "relation": "like", "within": "0"}, ["within"]),
        ({"reference": "fern-98", "relation": "like", "within": "101"}, ["within"]),
    ],
)
def test_what_is_not_understood_is_pointed_at_and_no_question_is_offered(page, fields, wrong):
    assert ask(page, **fields) == "…"
    marked = page.evaluate("() => [...document.querySelectorAll('[aria-invalid=true]')].map((field) => field.name)")
    assert marked == wrong
    assert "Not understood" in page.locator("#wrong").text_content()
    assert ask(page) == "all frames"
    assert page.locator("#wrong").text_content() == ""


def test_an_unknown_frame_is_said_with_the_nearest_and_the_reference_stays(page):
    ask(page, reference="fern-98")
    page.locator("[name=reference]").fill("fern-9")
    page.locator("[name=reference]").blur()
    assert page.locator("#wrong").text_content() == "No frame is called “fern-9”. Is it fern-100, fern-95, fern-98?"
    assert "Against fern-98" in page.locator("#told").text_content()
    assert page.locator("#typed").text_content() == "…"
    ask(page, reference="fern-98")
    assert page.locator("#wrong").text_content() == ""


def test_a_reference_that_is_not_known_in_the_zone_is_said_to_be(page):
    assert ask(page, reference="bramble-93", zone="sides", relation="tighter") == "…"
    told = "The mesh of bramble-93 in the sides is not known, so nothing can be set against it there."
    assert page.locator("#told").text_content() == told
    assert page.locator("#rows tr[data-key]").count() == 0


@pytest.mark.parametrize(
    ("fields", "patterns", "parts"),
    [
        ({"reference": "fern-98", "relation": "tighter", "head_low": "95", "head_high": "100"}, [], 3),
        ({"reference": "fern-98", "relation": "tighter"}, [], 3),
        ({"reference": "moraine-98", "relation": "more_open", "zone": "sides"}, ["16×19", "18×20"], 3),
        ({"reference": "fern-98", "relation": "like", "mass_low": "300"}, [], 2),
        ({"reference": "fern-98", "relation": "all", "zone": "tip", "basis": "measured", "head_high": "98"}, [], 4),
    ],
)
def test_the_numbers_told_add_up_to_all_frames_but_the_reference(page, fields, patterns, parts):
    ask(page, patterns, **fields)
    told = page.locator("#told").text_content()
    against, left = re.search(r": (.+?)\. (\d+) frames left out", told).groups()
    numbers = [int(one) for one in re.findall(r"\b(\d+) (?:tighter|too close|more open|within)", against)]
    assert len(numbers) + 1 == parts
    assert sum(numbers) + int(left) == len(demo("frames")) - 1


def test_what_leaves_out_the_most_is_named_where_nothing_is_left(page):
    ask(page, reference="fern-98", relation="like", within="0.0001", head_low="89")
    assert page.locator("#told").text_content().endswith("72 frames left out: most by the relation.")
    ask(page, reference="fern-98", relation="tighter", head_low="120")
    assert page.locator("#told").text_content().endswith("left out: most by “head at least 120 sq in” (72); loosen it.")
