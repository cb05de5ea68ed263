"""Every order, range and relation there is, in words and back: nothing left to the luck of drawn examples."""

from __future__ import annotations

from decimal import Decimal

import pytest

from gapbook.questions.language import parse
from gapbook.questions.question import Order, Question, Relation
from gapbook.questions.ranges import Bound, Range
from gapbook.questions.traits import TRAITS, ZONES
from gapbook.questions.wording import describe

ORDERS = [
    Order(by=by, zone=zone, descending=descending)
    for by in (*TRAITS, "name")
    for zone in (None, *(TRAITS[by].zones if by in TRAITS else ()))
    for descending in (False, True)
]
ENDS = [(True, None), (False, None), (None, True), (None, False), (True, True), (False, False), (True, False)]
"""Whether the low and the high bound include their end; None for no bound."""


def bounded(trait, zone, unit, low, high):
    """A range from 12 to 14 with such ends."""
    return Range(
        trait=trait,
        zone=zone,
        unit=unit,
        low=None if low is None else Bound(value=Decimal(12), inclusive=low),
        high=None if high is None else Bound(value=Decimal(14), inclusive=high),
    )


RANGES = [
    bounded(trait.key, zone, unit, *ends)
    for trait in TRAITS.values()
    for zone in (trait.zones or (None,))
    for unit in trait.units
    for ends in ENDS
]
RELATIONS = [Relation(kind=kind, zone=zone, reference="fern-98") for kind in ("tighter", "more_open", "like") for zone in ZONES]


@pytest.mark.parametrize(
    "questions",
    [
        [Question(order=one) for one in ORDERS],
        [Question(ranges=(one,)) for one in RANGES],
        [Question(relations=(one,)) for one in RELATIONS],
    ],
    ids=["orders", "ranges", "relations"],
)
def test_words_mean_what_they_say(questions):
    wrong = []
    for question in questions:
        words = describe(question)
        try:
            if parse(words) != question:
                wrong.append(words)
        except Exception as error:
            wrong.append(f"{words}: {error}")
    assert not wrong, f"{len(wrong)} of {len(questions)}: {wrong[:8]}"
    assert len(questions) >= 21
