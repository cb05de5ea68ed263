"""The question language: what is understood, what is refused and how, and the words a question is repeated in."""

import re
import subprocess
import sys
import time
from decimal import Decimal
from importlib import resources

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from gapbook.errors import GapbookError
from gapbook.questions.language import EXAMPLES, ClauseProblem, QuestionError, parse
from gapbook.questions.nearest import TEMPLATES
from gapbook.questions.question import Bound, Order, Pattern, Question, Range, Relation, from_options
from gapbook.questions.traits import TRAITS, ZONES
from gapbook.questions.vocabulary import listed, phrases
from gapbook.questions.wording import clauses, describe


def bound(text: str | None, inclusive: bool = True) -> Bound | None:
    return None if text is None else Bound(value=Decimal(text), inclusive=inclusive)


def from_to(trait: str, low: str | None, high: str | None, unit: str = "", zone: str | None = None) -> Range:
    return Range(trait=trait, zone=zone, unit=unit, low=bound(low), high=bound(high))


def under(trait: str, high: str, unit: str = "", zone: str | None = None) -> Range:
    return Range(trait=trait, zone=zone, unit=unit, high=bound(high, False))


def over(trait: str, low: str, unit: str = "", zone: str | None = None) -> Range:
    return Range(trait=trait, zone=zone, unit=unit, low=bound(low, False))


def points(low: str | None, high: str | None) -> Range:
    """A balance in points, head light negative."""
    return from_to("balance", low, high, "points")


def relation(kind: str, zone: str = "centre", reference: str = "fern-98", **more: object) -> Relation:
    return Relation(kind=kind, zone=zone, reference=reference, **more)


HEAD = from_to("head_area", "95", "98", "[sin_i]")
SIXTEEN = from_to("mains", "16", "16")

# Clause, and the one part of a question it stands for. By hand, from the question language.
RANGES = [
    ("95-98 sq in", HEAD),
    ("95 to 98 in2", HEAD),
    ("95 – 98 in²", HEAD),
    ("95..98 square inches", HEAD),
    ("from 95 to 98 sq. in.", HEAD),
    ("between 95 and 98 sq in", HEAD),
    ("head 95-98", HEAD),
    ("head size 95-98 sq in", HEAD),
    ("head range: 95-98 sq in", HEAD),
    ("95 sq in to 98 sq in", HEAD),
    ("under 100 sq in", under("head_area", "100", "[sin_i]")),
    ("612..632 cm2", from_to("head_area", "612", "632", "cm2")),
    ("612-632 cm²", from_to("head_area", "612", "632", "cm2")),
    ("over 98.5 sq in", over("head_area", "98.5", "[sin_i]")),
    ("at least 95 sq in", from_to("head_area", "95", None, "[sin_i]")),
    ("at most 98 sq in", from_to("head_area", None, "98", "[sin_i]")),
    ("95 sq in or more", from_to("head_area", "95", None, "[sin_i]")),
    ("below 98 sq in", under("head_area", "98", "[sin_i]")),
    ("above 98 sq in", over("head_area", "98", "[sin_i]")),
    ("97 sq in", from_to("head_area", "97", "97", "[sin_i]")),
    ("16 mains", SIXTEEN),
    ("16 main strings", SIXTEEN),
    ("mains = 16", SIXTEEN),
    ("18-20 crosses", from_to("crosses", "18", "20")),
    ("fewer than 20 crosses", under("crosses", "20")),
    ("centre mesh under 11 mm", under("mesh", "11", "mm", "centre")),
    ("center mesh < 11 mm", under("mesh", "11", "mm", "centre")),
    ("mesh under 11", under("mesh", "11", "mm", "centre")),
    ("mesh in the sides over 11.5 mm", over("mesh", "11.5", "mm", "sides")),
    ("mesh over 11.5 mm at the tip", over("mesh", "11.5", "mm", "tip")),
    ("main pitch 9-10 mm", from_to("main_pitch", "9", "10", "mm", "centre")),
    ("main pitch between 9 and 10 mm", from_to("main_pitch", "9", "10", "mm", "centre")),
    ("cross pitch at most 0.4 in", from_to("cross_pitch", None, "0.4", "[in_i]", "centre")),
    ("openness 105-115", from_to("openness", "105", "115", "", "centre")),
    ("throat openness 105-115", from_to("openness", "105", "115", "", "throat")),
    ("density over 0.8", over("density", "0.8", "/cm2", "centre")),
    ("density over 0.8 per cm²", over("density", "0.8", "/cm2", "centre")),
    ("side opening over 8%", over("side_opening", "8", "%")),
    ("side opening -2 to 5 percent", from_to("side_opening", "-2", "5", "%")),
    ("uniformity under 1.05", under("uniformity", "1.05")),
    ("uniformity under 105%", under("uniformity", "105", "%")),
    ("main drilling under 1", under("drilling_main", "1")),
    ("drilling of the crosses over 0.95", over("drilling_cross", "0.95")),
    ("mass under 320 g", under("mass", "320", "g")),
    ("under 320 g", under("mass", "320", "g")),
    ("weight at most 11.3 oz", from_to("mass", None, "11.3", "[oz_av]")),
    ("swingweight 315-330", from_to("swingweight", "315", "330", "kg.cm2")),
    ("swing weight 315-330 kg·cm²", from_to("swingweight", "315", "330", "kg.cm2")),
    ("315-330 kg cm2", from_to("swingweight", "315", "330", "kg.cm2")),
    ("balance at least 4 points head light", points(None, "-4")),
    ("balance at most 4 points head light", points("-4", None)),
    ("balance 2-4 points head light", points("-4", "-2")),
    ("between 2 and 4 points head light", points("-4", "-2")),
    ("balance at least 1 point head heavy", points("1", None)),
    ("balance under 4 points head light", over("balance", "-4", "points")),
    ("balance 4 points head light to 2 points head heavy", points("-4", "2")),
    ("balance -8 to -4 points", points("-8", "-4")),
    ("even balance", points("0", "0")),
    ("head light", under("balance", "0", "points")),
    ("balance head-heavy", over("balance", "0", "points")),
    ("balance 310-320 mm", from_to("balance_mm", "310", "320", "mm")),
    ("length 27 in", from_to("length", "27", "27", "[in_i]")),
    ('length 27"', from_to("length", "27", "27", "[in_i]")),
    ("length 27 to 27.5 inches", from_to("length", "27", "27.5", "[in_i]")),
    ("length 685 mm", from_to("length", "685", "685", "mm")),
    ("beam under 23 mm", under("beam", "23", "mm")),
    ("released after 2020", over("release_year", "2020")),
]

RELATIONS = [
    ("tighter centre than fern-98", relation("tighter")),
    ("tighter center than Fern-98", relation("tighter")),
    ("tighter in the centre than fern-98", relation("tighter")),
    ("tighter in centre than fern-98", relation("tighter")),
    ("tighter than fern-98", relation("tighter")),
    ("tighter bed than fern-98", relation("tighter")),
    ("tighter mesh than fern-98", relation("tighter")),
    ("more open sides than fern-98", relation("more_open", "sides")),
    ("more open side than fern-98", relation("more_open", "sides")),
    ("sides more open than fern-98", relation("more_open", "sides")),
    ("more open than fern-98", relation("more_open")),
    ("more open than fern-98 at the throat", relation("more_open", "throat")),
    ("tighter if drilled evenly than fern-98", relation("tighter", "even")),
    ("tighter left than fern-98", relation("tighter", "left")),
    ("like fern-98", relation("like")),
    ("like fern-98 in the sides", relation("like", "sides")),
    ("within 3% of fern-98", relation("like")),
    ("within 2.5% of fern-98 at the tip", relation("like", "tip", within_percent=Decimal("2.5"))),
    ("tighter than ./My-Copy", relation("tighter", reference="./My-Copy")),
    ("tighter than Loans/My.Copy", relation("tighter", reference="Loans/My.Copy")),
    ('tighter than "My Copy, and more"', relation("tighter", reference="My Copy, and more")),
    ("like 'Old \"98\"' in the sides", relation("like", "sides", 'Old "98"')),
    ("tighter than with", relation("tighter", reference="with")),
]

SETTINGS = [
    ("tightest first", {"order": Order(by="openness")}),
    ("tightest sides first", {"order": Order(by="openness", zone="sides")}),
    ("most open first", {"order": Order(by="openness", descending=True)}),
    ("lightest first", {"order": Order(by="mass")}),
    ("heaviest first", {"order": Order(by="mass", descending=True)}),
    ("lowest swingweight first", {"order": Order(by="swingweight")}),
    ("highest swingweight first", {"order": Order(by="swingweight", descending=True)}),
    ("smallest head first", {"order": Order(by="head_area")}),
    ("sorted by mass descending", {"order": Order(by="mass", descending=True)}),
    ("by name", {"order": Order(by="name")}),
    ("top 5", {"limit": 5}),
    ("first 5", {"limit": 5}),
    ("top 5 frames", {"limit": 5}),
    ("measured only", {"measured_only": True}),
    ("counted too", {}),
    ("any basis", {}),
    ("90% confidence", {"confidence": 0.9}),
    ("confidence 0.975", {"confidence": 0.975}),
    ("16x19", {"ranges": (SIXTEEN, from_to("crosses", "19", "19"))}),
    ("16 × 19", {"ranges": (SIXTEEN, from_to("crosses", "19", "19"))}),
    ("16 by 19 pattern", {"ranges": (SIXTEEN, from_to("crosses", "19", "19"))}),
    ("18x20 or 16x19", {"patterns": (Pattern(mains=16, crosses=19), Pattern(mains=18, crosses=20))}),
    ("show me all frames", {}),
]


class TestUnderstood:
    @pytest.mark.parametrize(("text", "expected"), RANGES)
    def test_ranges(self, text: str, expected: Range) -> None:
        found = parse(text)
        assert found == Question(ranges=(expected,))
        assert found.model_dump_json() == Question(ranges=(expected,)).model_dump_json()

    @pytest.mark.parametrize(("text", "expected"), RELATIONS)
    def test_relations(self, text: str, expected: Relation) -> None:
        assert parse(text) == Question(relations=(expected,))

    @pytest.mark.parametrize(("text", "expected"), SETTINGS)
    def test_settings(self, text: str, expected: dict[str, object]) -> None:
        assert parse(text) == Question(**expected)

    def test_a_whole_question(self) -> None:
        text = "95-98 sq in, 16 mains and tighter centre than fern-98; more open sides than fern-98, closest first, top 5"
        assert parse(text) == Question(
            ranges=(HEAD, SIXTEEN),
            relations=(relation("tighter"), relation("more_open", "sides")),
            order=Order(by="closest"),
            limit=5,
        )

    @pytest.mark.parametrize(
        "text",
        [
            "95-98 sq in, 16 mains, tighter than fern-98",
            "tighter than fern-98, 16 mains and 95-98 sq in",
            "16 MAINS; Tighter Than FERN-98; 95-98 SQ IN",
            "Show me frames with 16 mains, 95-98 sq in and a tighter centre than fern-98?",
            "racquets: 16 mains, and 95-98 sq in, and tighter than fern-98.",
            "  16   mains ,95  -  98   sq   in,tighter   than   fern-98  ",
            "16 mains, 16 mains, 95-98 sq in, under 120 sq in, tighter than fern-98",
        ],
    )
    def test_order_case_and_padding_do_not_matter(self, text: str) -> None:
        assert parse(text) == Question(ranges=(HEAD, SIXTEEN), relations=(relation("tighter"),))

    def test_and_inside_between_is_no_separator(self) -> None:
        expected = Question(ranges=(SIXTEEN, from_to("main_pitch", "9", "10", "mm")))
        assert parse("main pitch between 9 and 10 mm and 16 mains") == expected
        assert parse("16 mains and main pitch between 9 mm and 10 mm") == expected

    def test_two_halves_of_a_range(self) -> None:
        expected = Range(trait="mass", unit="g", low=bound("300", False), high=bound("320", False))
        assert parse("mass over 300 and under 320 g").ranges == (expected,)

    @pytest.mark.parametrize(
        ("text", "options"),
        [
            ("95-98 sq in, 16 mains", {"head": "95..98", "mains": "16"}),
            ("at most 98 sq in", {"head": "..98"}),
            ("612..632 cm2, 18-20 crosses", {"head": "612..632 cm2", "crosses": "18..20"}),
            ("16x19", {"pattern": ["16×19"]}),
            ("16x19 or 18x20", {"pattern": ["16x19", "18x20"]}),
            ("tighter centre than fern-98", {"tighter_than": "Fern-98"}),
            ("more open sides than fern-98", {"more_open_than": "fern-98", "where": "sides"}),
            ("like ./Loan-1 at the tip", {"like": "./Loan-1", "where": "tip"}),
            ("mass at most 320 g, swingweight 315-330", {"mass": "..320", "swingweight": "315..330"}),
            ("balance 4-8 points head light", {"balance": "-8..-4"}),
            ("balance 310-320 mm", {"balance": "310..320 mm"}),
            ("length 27 in", {"length": "27"}),
            ("measured only, lightest first, top 5", {"basis": "measured", "sort": "mass", "limit": 5}),
            ("most open first", {"sort": "open"}),
            ("tightest sides first", {"where": "sides"}),
            ("like fern-98, closest first, 99% confidence", {"like": "fern-98", "sort": "closest", "confidence": 0.99}),
        ],
    )
    def test_find_asks_the_same(self, text: str, options: dict[str, object]) -> None:
        assert parse(text) == from_options(**options)


# Question, code, the text pointed at, and a clause that must be offered (None: none need be).
REFUSED = [
    ("95-98", "no-unit", "95-98", "95-98 sq in"),
    ("16 mains, 95-98", "no-unit", "95-98", "95-98 sq in"),
    ("16", "no-unit", "16", "16 mains"),
    ("tigter center then fern-98", "unknown-clause", "tigter center then fern-98", "tighter centre than fern-98"),
    ("top 5, 16 mians", "unknown-clause", "16 mians", "16 mains"),
    ("swingwieght 315-330", "unknown-clause", "swingwieght 315-330", "swingweight 315 to 330 kg·cm²"),
    ("pitch 9-10 mm", "unknown-clause", "pitch 9-10 mm", "main pitch 9-10 mm"),
    ("98 sq in 16x19", "unknown-clause", "98 sq in 16x19", "head 98 sq in, 16x19"),
    ("tighter than Fern 98", "unknown-clause", "tighter than Fern 98", "tighter centre than fern-98"),
    ("like ./My Copy", "unknown-clause", "like ./My Copy", None),
    ("not tighter than fern-98", "unknown-clause", "not tighter than fern-98", "tighter than fern-98"),
    ("tighter head than fern-98", "unknown-clause", "tighter head than fern-98", "tighter than fern-98"),
    ("tighter than", "unknown-clause", "tighter than", "tighter than FRAME"),
    ("mass between 300 to 320 g", "unknown-clause", "mass between 300 to 320 g", None),
    ("mass under 1,000 g", "unknown-clause", "000 g", None),
    ("quux", "unknown-clause", "quux", "95-98 sq in"),
    ("98-95 sq in", "empty-range", "98-95 sq in", "head 95 to 98 sq in"),
    (
        "balance 4-2 points head light",
        "empty-range",
        "balance 4-2 points head light",
        "balance 2 to 4 points head light",
    ),
    ("head 240-260 mm", "wrong-unit", "head 240-260 mm", None),
    ("16 mm mains", "wrong-unit", "16 mm mains", "16 mains"),
    ("mass under 50 N", "wrong-unit", "mass under 50 N", "mass under 50 g"),
    ("within 3 g of fern-98", "wrong-unit", "within 3 g of fern-98", None),
    ("head 95-98 acres", "unknown-unit", "acres", "head 95 to 98 sq in"),
    ("16 mains, 95-98 acres", "unknown-unit", "acres", "head 95 to 98 sq in"),
    ("95 sq in to 620 cm2", "mixed-units", "95 sq in to 620 cm2", None),
    ("9-10 mm", "no-trait", "9-10 mm", "mesh 9-10 mm"),
    ("27 in", "no-trait", "27 in", "length 27 in"),
    ("balance 4", "no-unit", "balance 4", "balance 4 points head light"),
    ("balance 310", "no-unit", "balance 310", "balance 310 mm"),
    ("balance 4 points", "no-side", "balance 4 points", "balance 4 points head light"),
    ("tip density over 0.8", "wrong-zone", "tip density over 0.8", "density over 0.8 per cm²"),
    ("16.5 mains", "not-whole", "16.5 mains", "16 mains"),
    ("mass -320 g", "negative", "mass -320 g", "mass 320 g"),
    ("16 mains, 18x20", "contradiction", "18x20", None),
    ("mass under 290 g, at least 11 oz, top 3", "contradiction", "at least 11 oz", None),
    ("tighter than fern-98, more open centre than fern-98", "contradiction", "more open centre than fern-98", None),
    ("top 5, top 6", "contradiction", "top 6", None),
    ("measured only, any basis", "contradiction", "any basis", None),
    ("16x19 or 16x20, 18x20 or 18x19", "contradiction", "18x20 or 18x19", None),
    ("closest first", "no-reference", "closest first", None),
    ("top 0", "bad-limit", "top 0", None),
    ("100% confidence", "bad-confidence", "100% confidence", None),
    ("within 0% of fern-98", "bad-percent", "within 0% of fern-98", None),
    ("0x19", "bad-pattern", "0x19", None),
    ('16 mains, like "fern', "open-quotation", 'like "fern', None),
    ("mass under " + "9" * 50 + " g", "number-out-of-range", "mass under " + "9" * 50 + " g", None),
]
REFUSED_IDS = [text[:40] for text, *_ in REFUSED]


def refusal(text: str) -> QuestionError:
    with pytest.raises(QuestionError) as error:
        parse(text)
    assert error.value.text == text
    return error.value


class TestRefused:
    @pytest.mark.parametrize(("text", "code", "pointed_at", "offer"), REFUSED, ids=REFUSED_IDS)
    def test_points_and_offers(self, text: str, code: str, pointed_at: str, offer: str | None) -> None:
        (problem,) = refusal(text).problems
        assert isinstance(problem, ClauseProblem)
        assert problem.code == code
        assert text[problem.start : problem.end] == pointed_at
        if offer is not None:
            assert offer in problem.offers
            assert offer in str(problem)

    @pytest.mark.parametrize("text", [text for text, *_ in REFUSED], ids=REFUSED_IDS)
    def test_what_is_offered_is_understood(self, text: str) -> None:
        for problem in refusal(text).problems:
            assert len(problem.offers) <= 3
            for offer in problem.offers:
                assert parse(offer) != Question()

    def test_every_bad_clause_is_reported(self) -> None:
        text = "quux, 16 mains, 98-95 sq in and head 5 mm; tighter than fern-98"
        problems = refusal(text).problems
        assert [(one.code, text[one.start : one.end]) for one in problems] == [
            ("unknown-clause", "quux"),
            ("empty-range", "98-95 sq in"),
            ("wrong-unit", "head 5 mm"),
        ]
        assert "quux" in str(refusal(text))

    @pytest.mark.parametrize("text", ["", "   ", "?", ",;,", "and", "with the", '""'])
    def test_asking_nothing(self, text: str) -> None:
        (problem,) = refusal(text).problems
        if text == '""':
            assert problem.code == "unknown-clause"
        else:
            assert problem.code == "empty-question"
            assert problem.offers == EXAMPLES
            assert len(EXAMPLES) == 3

    @pytest.mark.parametrize("example", [*EXAMPLES, *TEMPLATES])
    def test_examples_are_understood(self, example: str) -> None:
        assert parse(f"{example}, like FRAME" if example == "closest first" else example) != Question()

    @pytest.mark.parametrize("sign", ["\n", "\t", "\x1b", "\x00", "\x7f", "\x9b", "\u202e", "\u200b", "\u2028", "\ud800"])
    def test_control_characters(self, sign: str) -> None:
        (problem,) = refusal(f"16 mains,{sign} top 5").problems
        assert (problem.code, problem.start, problem.end) == ("control-character", 9, 10)
        assert sign not in str(problem)

    def test_length(self) -> None:
        assert parse("16 mains" + " " * 1992) == Question(ranges=(SIXTEEN,))
        (problem,) = refusal("16 mains" + " " * 1993).problems
        assert problem.code == "too-long"

    @pytest.mark.parametrize(
        "piece",
        [
            "a,",
            "x ",
            "and ",
            "between 1 ",
            "between 1 and ",
            '"',
            "' ",
            "1",
            "16x19 or ",
            "tighter than ",
            "- ",
            "quux,",
        ],
    )
    def test_long_nonsense_is_quickly_refused(self, piece: str) -> None:
        start = time.perf_counter()
        refusal((piece * 2000)[:2000])
        assert time.perf_counter() - start < 3.0


@st.composite
def ranges(draw: st.DrawFn) -> Range:
    """Any range there can be, or the strategy gives up."""
    trait = TRAITS[draw(st.sampled_from(sorted(TRAITS)))]
    places = 0 if trait.whole else draw(st.integers(0, 3))
    least = -50 if trait.signed else 0
    ends = draw(st.lists(st.decimals(least, 3000, places=places), min_size=1, max_size=2))
    names = ("low", "high") if len(ends) == 2 else (draw(st.sampled_from(("low", "high"))),)
    bounds = {name: Bound(value=value, inclusive=draw(st.booleans())) for name, value in zip(names, sorted(ends), strict=True)}
    try:
        zone = draw(st.sampled_from(trait.zones)) if trait.zones else None
        return Range(trait=trait.key, zone=zone, unit=draw(st.sampled_from(trait.units)), **bounds)
    except GapbookError:
        return Range(trait=trait.key, unit=trait.units[0], low=bounds.get("low"), high=None if "low" in bounds else ends[0])


references = st.one_of(
    st.from_regex(r"[a-z0-9][a-z0-9-]{0,12}", fullmatch=True),
    st.text(st.characters(exclude_categories=("C", "Zl", "Zp"), exclude_characters='"“”„″'), min_size=1, max_size=20).filter(
        str.strip
    ),
)
relations = st.builds(
    Relation,
    kind=st.sampled_from(("tighter", "more_open", "like")),
    zone=st.sampled_from(ZONES),
    reference=references,
    within_percent=st.decimals("0.1", 50, places=1),
)


@st.composite
def orders(draw: st.DrawFn) -> Order:
    by = draw(st.sampled_from(["name", *TRAITS]))
    zones = TRAITS[by].zones if by in TRAITS else ()
    return Order(by=by, zone=draw(st.sampled_from([None, *zones])), descending=draw(st.booleans()))


@st.composite
def questions(draw: st.DrawFn) -> Question:
    """Any question without a contradiction."""
    patterns = st.builds(Pattern, mains=st.integers(10, 30), crosses=st.integers(10, 30))
    parts = {
        "ranges": draw(st.lists(ranges(), max_size=4)),
        "patterns": draw(st.lists(patterns, max_size=3)),
        "relations": draw(st.lists(relations, max_size=3)),
    }
    settings_ = {
        "measured_only": draw(st.booleans()),
        "order": draw(st.none() | orders()),
        "limit": draw(st.none() | st.integers(1, 10**9)),
        "confidence": draw(st.floats(0.5, 1.0, exclude_min=True, exclude_max=True)),
    }
    try:
        return Question(**{name: tuple(found) for name, found in parts.items()}, **settings_)
    except GapbookError:
        return Question(**settings_)


class TestWording:
    @settings(max_examples=400, deadline=None)
    @given(questions())
    def test_words_mean_the_question_they_say(self, question: Question) -> None:
        words = describe(question)
        assert parse(words) == question
        assert parse(words).model_dump_json() == question.model_dump_json()

    @settings(deadline=None)
    @given(questions())
    def test_each_clause_means_its_part(self, question: Question) -> None:
        said = clauses(question)
        assert len(said) == len(question.ranges) + bool(question.patterns) + len(question.relations)
        for words, part in said:
            again = parse(words)
            assert part in (*again.ranges, again.patterns, *again.relations)

    @pytest.mark.parametrize(
        "question",
        [
            Question(relations=(relation("tighter", reference="and"),)),
            Question(relations=(relation("tighter", reference="Ann’s loan, 98"),)),
            Question(ranges=(from_to("mass", "320", "320.0", "g"),)),
            Question(ranges=(from_to("balance", "-0.0", "0", "points"),)),
        ],
    )
    def test_what_is_easily_lost_is_kept(self, question: Question) -> None:
        assert parse(describe(question)).model_dump_json() == question.model_dump_json()

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("16 mains, 95-98 in2, TIGHTER than Fern-98", "head 95 to 98 sq in, 16 mains, tighter centre than fern-98"),
            ("balance at least 4 points head light", "balance at least 4 points head light"),
            ("head light", "balance over 0 points head light"),
            ("mesh under 11", "centre mesh under 11 mm"),
            ("612..632 cm2", "head 612 to 632 cm²"),
            ("within 3% of fern-98", "like fern-98 in the centre"),
            ("like './A, b'", 'like "./A, b" in the centre'),
            ("mass over 300 and under 320 g", "mass over 300 g, mass under 320 g"),
            ("all frames", "all frames"),
        ],
    )
    def test_canonical_words(self, text: str, words: str) -> None:
        assert describe(parse(text)) == words


class TestAnything:
    @settings(max_examples=300, deadline=None)
    @given(st.text(max_size=80))
    def test_any_text(self, text: str) -> None:
        self.is_answered(text)

    @settings(max_examples=600, deadline=None)
    @given(
        st.lists(
            st.sampled_from([*phrases(), *(str(number) for number in (0, 4, 16, 95.5, -2, 1000)), "fern-98", ",", "and", '"'])
            | st.text(max_size=5),
            max_size=12,
        )
    )
    def test_any_words(self, words: list[str]) -> None:
        self.is_answered(" ".join(words))

    @staticmethod
    def is_answered(text: str) -> None:
        """Either a question whose words mean it, or a QuestionError that points into the text."""
        try:
            question = parse(text)
        except QuestionError as refused:
            error = refused
        else:
            assert parse(describe(question)) == question
            return
        assert error.problems
        for problem in error.problems:
            assert 0 <= problem.start <= problem.end <= len(text)
            assert re.fullmatch(r"[a-z]+(-[a-z]+)*", problem.code)


class TestVocabulary:
    def test_no_phrase_has_two_kinds(self) -> None:
        texts = [phrase.text for phrase in listed()]
        assert len(texts) == len(set(texts))

    def test_the_grammar_knows_every_kind(self) -> None:
        grammar = resources.files("gapbook.questions").joinpath("grammar.lark").read_text(encoding="utf-8")
        declared = set(" ".join(re.findall(r"^%declare (.*)$", grammar, re.MULTILINE)).split())
        assert declared - {"NUMBER", "REF"} == {phrase.kind for phrase in listed()} - {"NOISE"}

    def test_phrases_are_as_plain_leaves_them(self) -> None:
        assert [text for text in phrases() if text != " ".join(text.lower().split())] == []

    def test_lark_is_imported_with_the_first_question_only(self) -> None:
        program = (
            "import sys; from gapbook.questions.language import parse; before = 'lark' in sys.modules;"
            "parse('16 mains'); print(before, 'lark' in sys.modules)"
        )
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
        assert done.stdout.split() == ["False", "True"]
