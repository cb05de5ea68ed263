"""What is offered for a clause that is not understood: what was meant, and nothing that would not be understood."""

from __future__ import annotations

import pytest

from gapbook.questions.language import QuestionError, parse

# Question, and every offer made for it. By hand: what a person who writes this most likely means, in the language's
# own words; numbers, units and frames are those typed. None: whatever is offered is understood.
WRONG = [
    ("since 2020", ("released since 2020",)),
    ("2021", ("released 2021",)),
    ("2020-2024", ("released 2020-2024",)),
    ("before 2020, 16 mains", ("released before 2020",)),
    ("300", ("300 g", "300 kg cm2", "300 cm2")),
    ("lighter than 320 g", ("mass under 320 g",)),
    ("heavier than 300 g", ("mass over 300 g",)),
    ("not lighter than 320 g", ("mass at least 320 g",)),
    ("lihgter then 320 g", ("mass under 320 g",)),
    ("mass lower than 320 g", ("mass under 320 g",)),
    ("longer than 27 in", ("length over 27 in",)),
    ("newer than 2020", ("released after 2020",)),
    ("thinner than 23 mm", ("beam under 23 mm",)),
    ("bigger than 100 sq in", ("head over 100 sq in",)),
    ("smaller swingweight than 320", ("swingweight under 320",)),
    ("tighter than 11 mm", ("mesh under 11 mm",)),
    ("more open sides than 11 mm", ("sides mesh over 11 mm",)),
    ("lighter than fern-98", ("lightest first",)),
    ("older than fern-98", ("oldest first",)),
    ("mass between 300 to 320 g", ("mass 300 to 320 g",)),
    ("top 0", ("top 1",)),
    ("top -1", ("top 1",)),
    ("top 2.5", ("top 2", "top 3")),
    ("top 99999999999", ("top 1000000000",)),
    ("50% sure", ("95% confidence",)),
    ("confidence 95", ("95% confidence",)),
    ("confidence 97.5", ("97.5% confidence",)),
    ("100% confidence", ("99% confidence",)),
    ("within 0% of fern-98", ("within 3% of fern-98",)),
    ("within 300% of fern-98", ("within 100% of fern-98", "within 3% of fern-98")),
    ("within 5 g of fern-98", ("within 5% of fern-98 in the centre",)),
    ("0x19", ("16x19", "18x20")),
    ("closset first", ("like FRAME, closest first",)),
    ("like fern-98, closset first", ("closest first",)),
    ("tighter in the sides", ("tighter in the sides than FRAME",)),
    ("not tighter than fern-98", ("more open than fern-98",)),
    ("not more open sides than fern-98", ("tighter sides than fern-98",)),
    ("than fern-98", None),
    ("more head-light fern-98", None),
    ("quux 12 34", None),
    ("swingwieght 315-330 and lengt 27 in", None),
    ("98 sq in 16x19 tightest first", None),
    ("mass under 50 N, head 95-98 acres, 16.5 mains", None),
]
BOTH = "tighter centre than fern-98, more open sides than fern-98"


def offers(text: str) -> tuple[str, ...]:
    with pytest.raises(QuestionError) as error:
        parse(text)
    return tuple(offer for problem in error.value.problems for offer in problem.offers)


@pytest.mark.parametrize(("text", "expected"), [(text, offered) for text, offered in WRONG if offered is not None])
def test_what_is_offered_is_what_was_meant(text: str, expected: tuple[str, ...]) -> None:
    assert offers(text) == expected


@pytest.mark.parametrize("text", [text for text, _ in WRONG])
def test_every_offer_is_understood(text: str) -> None:
    """In the place of the clause, that is with the frame that another clause of the question names."""
    found = offers(text)
    assert found
    for offer in found:
        parse(f"{offer}, like fern-98" if offer == "closest first" and "like" in text else offer)


@pytest.mark.parametrize("text", ["than fern-98", "tighter fern-98", "like then fern-98"])
def test_the_digits_of_an_id_are_no_number(text: str) -> None:
    assert not any("98" in offer.replace("fern-98", "") for offer in offers(text))


@pytest.mark.parametrize(
    ("text", "pointed_at", "expected"),
    [
        ("tighter in the centre and more open in the sides than fern-98", None, BOTH),
        ("tigter in the centre, more open in the sides than fern-98", None, BOTH),
        ("tighter than fern-98 and more open in the sides", None, BOTH),
        (
            "16 mains, tighter at the tip and like fern-98, top 5",
            "tighter at the tip and like fern-98",
            "tighter tip than fern-98, like fern-98 in the centre",
        ),
    ],
)
def test_a_reference_said_once_for_two_clauses(text: str, pointed_at: str | None, expected: str) -> None:
    with pytest.raises(QuestionError) as error:
        parse(text)
    (problem,) = error.value.problems
    assert problem.offers == (expected,)
    assert text[problem.start : problem.end] == problem.found == (pointed_at or text)
    parse(expected)


def test_a_reference_is_not_lent_where_the_two_would_contradict() -> None:
    found = offers("tighter and more open than fern-98")
    assert found == ("tighter than FRAME",)
    assert not any("fern-98" in offer for offer in found)
