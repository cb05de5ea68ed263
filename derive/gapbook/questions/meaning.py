"""What one clause says: its words are parsed by grammar.lark, and the tree is made into a part of a question."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise, takewhile
from typing import Any

from gapbook.errors import GapbookError, Problem, fail
from gapbook.questions.parser import Tree, not_understood, parse_clause
from gapbook.questions.question import (
    LIKE_PERCENT,
    MOST_FRAMES,
    Order,
    Part,
    Pattern,
    Relation,
    Setting,
    pattern_of,
    reference_text,
)
from gapbook.questions.ranges import Ends, Quantity, Range, Side, leaning, measured_range, one_sided
from gapbook.questions.traits import TRAITS, UNIT_WORDS, Trait, Zone, plain
from gapbook.questions.vocabulary import Token, significant

_OPEN = ("..", "…")
"""Only these leave one end of a range open. After a dash or a word, the number was more likely forgotten."""


def part_of(text: str) -> Part | None:
    """What the clause `text` says; None if its words change nothing. Errors: GapbookError."""
    words = significant(text)
    if not words:
        return None
    (clause,) = parse_clause(words).trees
    return _READERS[clause.rule](_Words(clause))


def unknown_unit(text: str) -> Problem | None:
    """The problem of words after a number that are no unit; None if the clause is not understood without them either."""
    unit = _stray_after_number(significant(text))
    if unit is None:
        return None
    start, end = unit
    try:
        part_of(text[:start] + text[end:])
    except GapbookError as error:
        if error.problems[0].code not in ("no-unit", "no-side", "no-trait"):
            return None
    expected = ", ".join(words[0] for words in UNIT_WORDS.values())
    return Problem("unknown-unit", "there is no such unit", found=text[start:end], expected=expected)


def _stray_after_number(words: list[Token]) -> tuple[int, int] | None:
    """Where the first unknown words after a number start and end."""
    for before, token in pairwise(words):
        if before.kind == "NUMBER" and token.kind == "UNKNOWN" and token.text.isalpha():
            later = takewhile(lambda one: one.kind == "UNKNOWN", words[words.index(token) :])
            return token.start, max(one.end for one in later)
    return None


class _Words:
    """The tokens of a rule, asked for by their kind."""

    def __init__(self, tree: Tree) -> None:
        self._tokens = tree.tokens
        self.quantities = [_quantity(one) for one in tree.trees]
        self.kinds = [child.kind if isinstance(child, Token) else child.rule for child in tree.children]

    def all(self, kind: str) -> list[Token]:
        """Every token of a kind."""
        return [token for token in self._tokens if token.kind == kind]

    def meaning(self, kind: str) -> Any:
        """What the only token of a kind means; None if there is none [GapbookError unknown-clause if there are several]."""
        tokens = self.all(kind)
        if len(tokens) > 1:
            raise not_understood()
        return tokens[0].meaning if tokens else None


def _quantity(tree: Tree) -> Quantity:
    """A number with its unit and lean."""
    by_kind = {token.kind: token for token in tree.tokens}
    unit, lean = by_kind.get("UNIT"), by_kind.get("LEAN")
    if lean is not None and not lean.meaning:
        raise not_understood()
    return Quantity(
        Decimal(by_kind["NUMBER"].text),
        None if unit is None else str(unit.meaning),
        None if lean is None else int(lean.meaning),  # type: ignore[call-overload]
    )


def _range(words: _Words) -> Range:
    ends = _open_ends(words) if len(words.quantities) == len(words.all("TO")) == 1 else _ends(words)
    candidates = words.meaning("TRAIT") or _named_by_unit(ends)
    signed = bool(words.all("SIGNED"))
    if signed and TRAITS["balance"] not in candidates:
        raise not_understood()
    return measured_range(candidates, words.meaning("ZONE"), ends, signed=signed)


def _open_ends(words: _Words) -> Ends:
    """The ends of a range with dots at one of them: `95..`, `95.. sq in` or `..98 sq in`."""
    (quantity,) = words.quantities
    (dots,) = words.all("TO")
    if dots.text not in _OPEN:
        raise not_understood()
    if words.kinds.index("TO") < words.kinds.index("quantity"):
        return Ends(None, quantity)
    unit, lean = words.meaning("UNIT"), words.meaning("LEAN")
    if (unit and quantity.unit) or lean == 0 or (lean and quantity.lean):
        raise not_understood()
    return Ends(Quantity(quantity.number, quantity.unit or unit, quantity.lean or lean), None)


def _ends(words: _Words) -> Ends:
    compare, to = words.all("COMPARE"), words.all("TO")
    between = bool(compare) and compare[0].text == "between"
    if any(token.text == "and" for token in to) != between:
        raise not_understood()
    if to:
        if compare and compare[0].text not in ("between", "from"):
            raise not_understood()
        low, high = words.quantities
        return Ends(low, high)
    sides: list[Side] = [token.meaning for token in (*compare, *words.all("OR_MORE"))]  # type: ignore[misc]
    if len(sides) > 1:
        raise not_understood()
    if compare and compare[0].text == "from":
        sides = [Side("low")]
    return one_sided(sides[0] if sides else Side("both"), words.quantities[0])


def _named_by_unit(ends: Ends) -> tuple[Trait, ...]:
    """The traits that can be meant if a unit is named and no trait [GapbookError no-unit, no-trait]."""
    units = {quantity.unit or ("points" if quantity.lean else None) for quantity in ends.given} - {None}
    if not units:
        raise fail("no-unit", "a number needs a unit, or the trait it is of", expected="95-98 sq in, 16 mains, ...")
    named = tuple(trait for trait in TRAITS.values() if trait.bare and units <= set(trait.units))
    if not named:
        raise fail("no-trait", "this could be of several traits", expected="the trait's name before it")
    return named


def _lean(words: _Words) -> Range:
    trait = words.meaning("TRAIT")
    if trait is not None and TRAITS["balance"] not in trait:
        raise not_understood()
    return leaning(words.meaning("LEAN"))


def _patterns(words: _Words) -> tuple[Pattern, ...]:
    numbers = [token.text for token in words.all("NUMBER")]
    return tuple(pattern_of(*pair) for pair in zip(numbers[::2], numbers[1::2], strict=True))


def _comparison(words: _Words) -> Relation:
    trait = words.meaning("TRAIT")
    if trait is not None and TRAITS["mesh"] not in trait:
        raise not_understood()
    return Relation(kind=words.meaning("COMPARATIVE"), zone=words.meaning("ZONE") or "centre", reference=_reference(words))


def _likeness(words: _Words) -> Relation:
    percent = LIKE_PERCENT
    if words.all("WITHIN"):
        if words.meaning("UNIT") != "%":
            raise fail("wrong-unit", "within takes a percentage", found=words.all("UNIT")[0].text, expected="%")
        percent = Decimal(words.all("NUMBER")[0].text)
    zone: Zone = words.meaning("ZONE") or "centre"
    return Relation(kind="like", zone=zone, reference=_reference(words), within_percent=percent)


def _reference(words: _Words) -> str:
    """The reference: ids in lower case, quoted texts and folders as they stand."""
    text = words.all("REF")[0].text
    return text[1:-1] if len(text) > 1 and plain(text[0]) in "\"'" else reference_text(text)


def _order(words: _Words) -> Setting:
    zone = words.meaning("ZONE")
    if (superlative := words.meaning("SUPERLATIVE")) is not None:
        by, descending = superlative
    else:
        by = "name" if words.all("NAME") else words.meaning("TRAIT")[0].key
        descending = bool(words.meaning("EXTREME") or words.meaning("DIRECTION"))
    return Setting("order", Order(by=by, zone=zone, descending=descending))


def _limit(words: _Words) -> Setting:
    text = words.all("NUMBER")[0].text
    if not text.isdecimal() or len(text) > len(str(MOST_FRAMES)) or not 1 <= int(text) <= MOST_FRAMES:
        raise fail("bad-limit", f"a limit is a whole number from 1 to {MOST_FRAMES}", found=text[:40])
    return Setting("limit", int(text))


def _confidence(words: _Words) -> Setting:
    quantity = words.quantities[0]
    share = quantity.number / 100 if quantity.unit == "%" else quantity.number
    named = quantity.unit in ("%", None) and quantity.lean is None
    if not named or not 0.5 < float(share) < 1.0:
        raise fail("bad-confidence", "confidence is above 50% and below 100%", found=f"{quantity.number:f}"[:40])
    return Setting("confidence", float(share))


_READERS: dict[str, Callable[[_Words], Part]] = {
    "range": _range,
    "lean": _lean,
    "patterns": _patterns,
    "comparison": _comparison,
    "likeness": _likeness,
    "order": _order,
    "limit": _limit,
    "basis": lambda words: Setting("measured_only", bool(words.meaning("BASIS"))),
    "confidence": _confidence,
}
