"""What is offered for a clause that is not understood: what was meant, and nothing that would not be understood."""

from __future__ import annotations

import pytest

from gapbook.questions.language import QuestionError, parse

# Question, and every offer made for it. By hand: what a person who writes this most likely means, in the language's
# own words; numbers, units and frames are those typed. None: whatever is offered is understood.
WRONG = [
    ("2021", ("released 2021",)),
    ("2020-2024", ("released 2020-2024",)),
    ("300", ("300 g", "300 kg cm2", "300 cm2")),
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
    ("closset first", ("like FRAME, closset first",)),
    ("tighter in the sides", ("tighter in the sides than FRAME",)),
    ("than fern-98", None),
    ("quux 12 34", None),
    ("mass under 50 N, head 95-98 acres, 16.5 mains", None),
]


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


@pytest.mark.parametrize("text", ["than fern-98", "quux than fern-98", "close fern-98 quux"])
def test_the_digits_of_an_id_are_no_number(text: str) -> None:
    assert not any("98" in offer.replace("fern-98", "") for offer in offers(text))


TURNED = [
    "nor tighter than fern-98 quux", "not tighter quux than fern-98", "unlike 18x20", "scarcely not tighter quux",
    "not quux 18x20", "no quux than 98 sq in", "looser quux than fern-98", "hardly tighter than fern-98",
]  # fmt: skip


@pytest.mark.parametrize("text", TURNED)
def test_no_offer_turns_the_meaning_round(text: str) -> None:
    """What denies is offered as a denial or not at all, what says looser never as tighter."""
    denies = any(word in text.split() for word in ("not", "no", "nor", "unlike", "cannot", "hardly"))
    for offer in offers(text):
        assert ("not" in offer.split() or "without" in offer.split()) is denies
        assert not ("looser" in text and "tighter" in offer)
