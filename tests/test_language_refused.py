"""The question language: what is refused, and how."""

import time

import pytest

from asked import SIXTEEN
from gapbook.questions.language import EXAMPLES, ClauseProblem, QuestionError, parse
from gapbook.questions.nearest import TEMPLATES
from gapbook.questions.question import Question

# Question, code, the text pointed at, and a clause that must be offered (None: none need be).
REFUSED = [
    ("16", "no-unit", "16", "16 mains"),
    ("under 98", "no-unit", "under 98", "under 98 sq in"),
    ("320", "no-unit", "320", None),
    ("95 and 98", "contradiction", "98", None),
    ("16 mains and 18 mains", "contradiction", "18 mains", None),
    ("16x19 but not 16x19", "contradiction", "but not 16x19", None),
    ("heavier and lighter than fern-98", "contradiction", "lighter than fern-98", None),
    ("tighter and more open than fern-98", "contradiction", "more open than fern-98", None),
    ("tighter", "no-reference", "tighter", "tighter than FRAME"),
    ("not too heavy", "no-figure", "not too heavy", None),
    ("tight 98s", "no-figure", "tight", None),
    ("fern-98, 16x19", "unused-frame", "fern-98", None),
    ("lighter than most 16x19", "wrong-reference", "lighter than most 16x19", None),
    ("tighter than fern-98 or lighter than fern-98", "unknown-clause", "tighter than fern-98 or lighter than fern-98", None),
    ("stiffer than fern-98", "not-in-catalogue", "stiffer than fern-98", None),
    ("10 g lighter than fern-98", "no-difference", "10 g", None),
    ("my fern-98 weighs 324 g, I want it lighter", "figure-of-a-frame", "weighs 324 g", None),
    ("my frame weighs 324 g, lighter than fern-98", "figure-of-a-frame", "weighs 324 g", None),
    ("324 g, lighter than fern-98", "figure-of-a-frame", "324 g", None),
    ("lighter than fern-98, mass 300 g", "figure-of-a-frame", "mass 300 g", None),
    ("not 18x20, 16x20", "unclear-denial", "16x20", None),
    ("is fern-98 tighter than most 16x19?", "unused-frame", "fern-98", None),
    ("my fern-98 but in 100", "unused-frame", "fern-98", None),
    ("unmeasured frames", "unknown-clause", "unmeasured", None),
    ("the best 98s", "not-in-catalogue", "best", None),
    ("pitch 9-10 mm", "unknown-clause", "pitch 9-10 mm", "main pitch 9-10 mm"),
    ("tighter than Fern 98", "unknown-clause", "tighter than Fern 98", "tighter centre than fern-98"),
    ("like ./My Copy", "unknown-clause", "like ./My Copy", None),
    ("tighter head than fern-98", "unknown-clause", "tighter head than fern-98", "tighter than fern-98"),
    ("tighter than", "no-reference", "tighter than", "tighter than FRAME"),
    ("mass under 1,000 g", "unknown-clause", "000 g", None),
    ("quux", "unknown-clause", "quux", "95-98 sq in"),
    ("..98", "no-unit", "..98", "..98 sq in"),
    ("mass 300 g to", "unknown-clause", "mass 300 g to", None),
    ("mass 300 g-", "unknown-clause", "mass 300 g-", None),
    ("mass - 300 g", "unknown-clause", "mass - 300 g", None),
    ("signed mass 300 g", "unknown-clause", "signed mass 300 g", None),
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
    ("closest first", "no-reference", "closest first", None),
    ("top 0", "bad-limit", "top 0", None),
    ("100% confidence", "bad-confidence", "100% confidence", None),
    ("within 0% of fern-98", "bad-percent", "within 0% of fern-98", None),
    ("0x19", "bad-pattern", "0x19", None),
    ('16 mains, like "fern', "open-quotation", '"fern', None),
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
