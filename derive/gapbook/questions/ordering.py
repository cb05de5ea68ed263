"""What clauses say of the answer itself: its order, how many frames, and how sure a verdict must be."""

from __future__ import annotations

from typing import Any

from gapbook.errors import fail
from gapbook.questions.grammar import UnfitError
from gapbook.questions.homonyms import PLURAL
from gapbook.questions.meaning import of_kind, only, quantities
from gapbook.questions.question import MOST_FRAMES, Order, Setting
from gapbook.questions.ranges import Side
from gapbook.questions.token import Token
from gapbook.questions.traits import TRAITS
from gapbook.questions.vocabulary import OPENNESS, Way

_FEW = 50
"""At most so many frames are asked for by a number without `top`."""
_ORDERED = {OPENNESS: "openness", "evenness": "uniformity"}


def order_of(tokens: list[Token]) -> list[Setting]:
    """What is sorted by, and how many are wanted if a small number stands beside."""
    zone = only(tokens, "ZONE")
    kinds = {token.kind for token in tokens}
    if superlatives := of_kind(tokens, "SUPERLATIVE"):
        by, descending = _first_of([token.meaning for token in superlatives], tokens)
    elif (word := only(tokens, "ADJECTIVE", "COMPARATIVE")) is not None:
        by, descending = _ORDERED.get(word.axis, word.axis), word.sign > 0
    elif "LEAN" in kinds:
        by, descending = "balance", only(tokens, "LEAN") > 0
    elif "NAME" in kinds:
        by, descending = "name", False
    else:
        by, descending = _by_trait(tokens, kinds)
    if by not in (*TRAITS, "name", "closest"):
        raise UnfitError
    settings = [Setting("order", Order(by=by, zone=zone, descending=descending or bool(only(tokens, "DIRECTION"))))]
    numbers = of_kind(tokens, "NUMBER")
    return [*settings, *(Setting("limit", _small(number)) for number in numbers)]


def _first_of(superlatives: list[Any], tokens: list[Token]) -> tuple[str, bool]:
    """The first of one superlative, or of two that are opposites (`from most open to tightest`), which agrees with a trait."""
    words = [token.meaning for token in of_kind(tokens, "ADJECTIVE")]
    ways = [(_ORDERED.get(way.axis, way.axis), way.sign > 0) for way in words if isinstance(way, Way) and way.axis]
    (by, descending), *others = ways + list(superlatives)
    traits = only(tokens, "TRAIT")
    named = by if traits is None else {"mesh": "openness"}.get(traits[0].key, traits[0].key)
    if named != by or any(one != (by, not descending) for one in others):
        raise UnfitError
    return by, descending


def _by_trait(tokens: list[Token], kinds: set[str]) -> tuple[str, bool]:
    by = "openness" if "HOLES" in kinds else only(tokens, "TRAIT")[0].key
    if "SIZE" in kinds:
        size = only(tokens, "SIZE")
        if "FIRST" not in kinds:
            raise UnfitError
        return by, size.sign > 0
    extremes = [bool(token.meaning) for token in of_kind(tokens, "EXTREME")]
    if len(extremes) == 2 and extremes[0] == extremes[1]:
        raise UnfitError
    return by, any(extremes[:1]) or "MOST" in kinds


def _small(number: Token) -> int:
    if not number.text.isdecimal() or len(number.text) > 3 or not 1 <= int(number.text) <= _FEW or number.meaning == PLURAL:
        raise UnfitError
    return int(number.text)


def limit_of(tokens: list[Token]) -> Setting:
    """How many frames are wanted."""
    number = of_kind(tokens, "NUMBER")[0]
    if any(token.meaning != Side("high") for token in of_kind(tokens, "COMPARE")):
        raise UnfitError
    if not of_kind(tokens, "TOP", "FIRST"):
        return Setting("limit", _small(number))
    text = number.text
    if not text.isdecimal() or len(text) > len(str(MOST_FRAMES)) or not 1 <= int(text) <= MOST_FRAMES:
        raise fail("bad-limit", f"a limit is a whole number from 1 to {MOST_FRAMES}", found=text[:40])
    return Setting("limit", int(text))


def confidence_of(tokens: list[Token]) -> Setting:
    """How sure a verdict must be."""
    quantity = quantities(tokens)[0]
    share = quantity.number / 100 if quantity.unit == "%" else quantity.number
    named = quantity.unit in ("%", None) and quantity.lean is None
    if not named or not 0.5 < float(share) < 1.0:
        raise fail("bad-confidence", "confidence is above 50% and below 100%", found=f"{quantity.number:f}"[:40])
    return Setting("confidence", float(share))
