"""The question language: what is understood."""

from decimal import Decimal

import pytest

from asked import HEAD, SIXTEEN, bound, from_to, over, points, relation, under
from gapbook.questions.language import parse
from gapbook.questions.options import from_options
from gapbook.questions.question import Order, Pattern, Question, Relation
from gapbook.questions.ranges import Range

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
    ("95.. sq in", from_to("head_area", "95", None, "[sin_i]")),
    ("612 cm2..", from_to("head_area", "612", None, "cm2")),
    ("..98 sq in", from_to("head_area", None, "98", "[sin_i]")),
    ("head ..98", from_to("head_area", None, "98", "[sin_i]")),
    ("16.. mains", from_to("mains", "16", None)),
    ("mesh in the sides 11.5…", from_to("mesh", "11.5", None, "mm", "sides")),
    ("balance 4.. points head light", points(None, "-4")),
    ("balance ..-4", points(None, "-4")),
    ("signed balance 4", points("4", "4")),
    ("signed balance -8..4", points("-8", "4")),
    ("signed balance 2..", points("2", None)),
    ("signed balance at most 3 points", points(None, "3")),
    ("signed balance 310-320 mm", from_to("balance_mm", "310", "320", "mm")),
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
    ("95-98", HEAD),
    ("mass up to 320 g", from_to("mass", None, "320", "g")),
    ("300 g up to 320 g", from_to("mass", "300", "320", "g")),
    ("head up to 100", from_to("head_area", None, "100", "[sin_i]")),
    ("98s", from_to("head_area", "98", "98", "[sin_i]")),
    ("100+", from_to("head_area", "100", None, "[sin_i]")),
    ('98"', from_to("head_area", "98", "98", "[sin_i]")),
    ("27 in", from_to("length", "27", "27", "[in_i]")),
    ("swingwieght 315-330", from_to("swingweight", "315", "330", "kg.cm2")),
    ("315 <= SW <= 330", from_to("swingweight", "315", "330", "kg.cm2")),
    ("sw 320 ± 5", from_to("swingweight", "315", "325", "kg.cm2")),
    ("mass between 300 to 320 g", from_to("mass", "300", "320", "g")),
    ("lihgter then 320 g", under("mass", "320", "g")),
    ("not lighter than 320 g", from_to("mass", "320", None, "g")),
    ("more open sides than 11 mm", over("mesh", "11", "mm", "sides")),
    ("bigger than 100 sq in", over("head_area", "100", "[sin_i]")),
    ("smaller swingweight than 320", under("swingweight", "320", "kg.cm2")),
    ("sixteen mains", SIXTEEN),
    ("less than ten and a half ounces", under("mass", "10.5", "[oz_av]")),
    ("HL 4pts+", points(None, "-4")),
    ("about 305 g", from_to("mass", "300", "310", "g")),
    ("head about 98", from_to("head_area", "97", "99", "[sin_i]")),
    ("openness ~ 100", from_to("openness", "97", "103", "", "centre")),
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
    ('tighter than "with"', relation("tighter", reference="with")),
    ("tigter center then fern-98", relation("tighter")),
    ("tighter fern-98", relation("tighter")),
    ("not tighter than fern-98", relation("not_tighter")),
    ("cannot be tighter than fern-98", relation("not_tighter")),
    ("about as tight as fern-98", relation("like")),
    ("not only tighter than fern-98", relation("tighter")),
    ("even tighter than fern-98", relation("tighter")),
    ("at least as open as fern-98", relation("not_tighter")),
    ("as tight at the tip as fern-98", relation("not_more_open", "tip")),
    ("mesh < fern-98", relation("tighter")),
    ("density higher than fern-98", relation("tighter")),
    ("bigger holes in the sides than fern-98", relation("more_open", "sides")),
    ("tighter than most 16x19", relation("tighter", reference="most 16x19")),
    ("more open than a 16x19 98 sq in", relation("more_open", reference="most 16x19 98 sq in")),
    ("denser than most 98s", relation("tighter", reference="most 98 sq in")),
    ("as tight as an 18x20", relation("not_more_open", reference="most 18x20")),
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


SENTENCES = [
    ("I play with a fern-98 and want something tighter", "tighter than fern-98"),
    ("tighter and more open sides than fern-98", "tighter than fern-98, more open sides than fern-98"),
    ("tighter than fern-98 but lighter", "tighter than fern-98, lighter than fern-98"),
    ("16x19, mass 300 g, lighter than fern-98", "16x19, mass 300 g, lighter than fern-98"),
    ("tighter than both fern-98 and moraine-98", "tighter than fern-98, tighter than moraine-98"),
    ("tighter in the centre and at the tip than fern-98", "tighter than fern-98, tighter tip than fern-98"),
    ("tighter everywhere than fern-98", "tighter than fern-98, tighter left than fern-98, tighter right than fern-98, "
     "tighter tip than fern-98, tighter throat than fern-98"),
    ("like fern-98 but more open on the sides", "like fern-98, more open sides than fern-98"),
    ("my racquet is a fern-98, is there one not as heavy", "lighter than fern-98"),
    ("fern-98 feels too dense, what's more open than that?", "more open than fern-98"),
    ("98 sq in 16x19 tightest first", "head 98 sq in, 16x19, tightest first"),
    ("five tightest 98s", "head 98 sq in, tightest first, top 5"),
    ("top 3 tightest 16x19", "16x19, tightest first, top 3"),
    ("16 or 18 mains", "18 or 16 mains"),
    ("95, 97 or 98 sq in", "head 95 or 97 or 98 sq in"),
    ("97s and 98s", "97 or 98 sq in"),
    ("18x20, 18x19 or 16x20", "16x20 or 18x19 or 18x20"),
    ("16x19 or 16x20, 18x20 or 18x19", "16x19 or 16x20 or 18x20 or 18x19"),
    ("16x19, no 100s, excluding fern-98 and fern-98-club", "16x19, not head 100 sq in, without fern-98, without fern-98-club"),
    ("16 mains, 95 or 97", "16 mains, 95 or 97 sq in"),
    ("the bed of a fern-98 in a bigger head", "like fern-98, bigger head than fern-98"),
    ("same openness as fern-98 in the sides", "like fern-98 in the sides"),
    ("tighter as fern-98, mass desc", "tighter than fern-98, heaviest first"),
    ("300-ish grams, 320 g max", "mass about 300 g, mass at most 320 g"),
    ("excluding 18x20 and 18x19", "not 18x20, not 18x19"),
    ("98/16x19/305g", "98 sq in, 16x19, 305 g"),
    ("plays like an 18x20 but is a 16x19", "16x19, like most 18x20"),
    ("tighter centre than fern-98, sides at least as open", "tighter than fern-98, not tighter sides than fern-98"),
]  # fmt: skip
"""A sentence, and clauses that say the same. By hand."""


class TestUnderstood:
    @pytest.mark.parametrize(("text", "plainly"), SENTENCES)
    def test_sentences(self, text: str, plainly: str) -> None:
        assert parse(text) == parse(plainly)

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
