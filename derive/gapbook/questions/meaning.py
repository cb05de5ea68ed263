"""What clauses of figures say: their tokens made into ranges, alternatives, patterns, orders and settings."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any, NamedTuple

from gapbook.errors import GapbookError, fail
from gapbook.questions.grammar import UnfitError
from gapbook.questions.homonyms import PLURAL
from gapbook.questions.question import Either, NoneOf, Part, Pattern, pattern_of
from gapbook.questions.ranges import Ends, Quantity, Range, Side, approximately, leaning, measured_range, one_sided
from gapbook.questions.relations import Peers
from gapbook.questions.token import Token
from gapbook.questions.traits import TRAITS, Trait
from gapbook.questions.vocabulary import OPENNESS, Way

_OPEN = ("..", "…")
"""Only these leave one end of a range open. After a dash or a word, the number was more likely forgotten."""
SQUARE_INCHES, INCHES = "[sin_i]", "[in_i]"
_HEADS = (Decimal(75), Decimal(135))
"""Between these a number alone, or one of inches, is a head area [sq in]."""
_ALIKE = Decimal("1.5")
"""Alternatives lie within this factor, so that a list does not run on into other figures."""
_MAINS, _CROSSES = range(12, 21), range(13, 25)
"""Counts that `16-19` is read as a pattern for."""
ORDERED = "order"
"""The axis of `first`, which needs an order beside."""
AXIS_TRAITS = {OPENNESS: "mesh", "evenness": "uniformity"}
"""The trait that a comparative means beside a number, if it has another key than the axis."""
_MEASURED = ("NUMBER", "UNIT", "LEAN")
_YEARS = (Decimal(1990), Decimal(2040))
_SINCE = ("since", "before", "after", "until", "from", "or later", "or newer", "or earlier", "or older")
"""Beside these a number that looks like a year is one."""
_TURNED = {"low": "high", "high": "low"}


def not_understood() -> GapbookError:
    """The error of a clause that is not in the language."""
    return fail("unknown-clause", "this is not understood")


class Tone(NamedTuple):
    """`heavy`, `an open pattern`: a word without a figure. It needs another clause about the same thing."""

    axis: str | None
    sign: int


class Mention(NamedTuple):
    """Frames that are named, without saying what of them."""

    references: tuple[Token, ...]


def of_kind(tokens: Iterable[Token], *kinds: str) -> list[Token]:
    """The tokens of some kinds."""
    return [token for token in tokens if token.kind in kinds]


def only(tokens: Iterable[Token], *kinds: str) -> Any:
    """What the only token of some kinds means; None if there is none [GapbookError unknown-clause if they mean several]."""
    meanings = list({str(token.meaning): token.meaning for token in of_kind(tokens, *kinds)}.values())
    if len(meanings) > 1:
        raise not_understood()
    return meanings[0] if meanings else None


def quantities(tokens: list[Token]) -> list[Quantity]:
    """The numbers with the units and leans after them."""
    found: list[Quantity] = []
    before: str | None = None
    for token in tokens:
        if token.kind == "NUMBER":
            found.append(Quantity(Decimal(token.text), before))
        elif token.kind == "UNIT" and not found:
            before = str(token.meaning)
        elif token.kind == "UNIT" and (found[-1].unit is None or before):
            found[-1] = found[-1]._replace(unit=str(token.meaning))
        elif token.kind == "LEAN" and found and found[-1].lean is None:
            if not token.meaning:
                raise not_understood()
            found[-1] = found[-1]._replace(lean=int(token.meaning))  # type: ignore[call-overload]
    return found


def range_of(tokens: list[Token]) -> Range:
    """A range of one trait."""
    first = next((place for place, token in enumerate(tokens) if token.kind in ("NUMBER", "LEAN")), 0)
    leans = [token for token in tokens[: first + 1] if token.kind == "LEAN"]
    numbers = quantities(tokens)
    if leans:
        numbers = [one._replace(lean=int(leans[0].meaning)) for one in numbers]  # type: ignore[call-overload]
    ends = _open_ends(tokens, numbers) if len(numbers) == len(of_kind(tokens, "TO")) == 1 else _ends(tokens, numbers)
    if any(token.meaning == PLURAL for token in of_kind(tokens, "NUMBER")):
        ends = _decade(tokens, ends)
    about = bool(of_kind(tokens, "ABOUT"))
    if of_kind(tokens, "PLUS_MINUS"):
        middle, width = numbers
        unit = middle.unit or width.unit
        ends = Ends(
            Quantity(middle.number - width.number, unit, middle.lean), Quantity(middle.number + width.number, unit, middle.lean)
        )
    made = _measured(tokens, ends)
    return approximately(made) if about else made


def _decade(tokens: list[Token], ends: Ends) -> Ends:
    """The ends; `in the 320s` is from 320 to below 330, but `98s` are frames of 98 sq in and `16s` have 16 mains."""
    traits = _candidates(tokens, ends)
    if traits[0].key in ("head_area", "mains", "crosses"):
        if any(one.number in (80, 90) for one in ends.given):
            raise not_understood()
        return ends
    (number,) = quantities(tokens) if len(of_kind(tokens, "NUMBER")) == 1 else (None,)
    if (
        number is None
        or number.number % 10
        or not number.number
        or of_kind(tokens, "COMPARE", "OR_MORE", "SIZER", "COMPARATIVE")
    ):
        raise not_understood()
    return Ends(number, number._replace(number=number.number + (10 if number.number % 100 else 100)), True, False)


def _measured(tokens: list[Token], ends: Ends) -> Range:
    """The range of the trait that is named, or that its unit or its size names."""
    candidates = _candidates(tokens, ends)
    signed = bool(of_kind(tokens, "SIGNED"))
    if signed and TRAITS["balance"] not in candidates:
        raise not_understood()
    return measured_range(candidates, only(tokens, "ZONE"), _in_square_inches(candidates, ends), signed=signed)


def _candidates(tokens: list[Token], ends: Ends) -> tuple[Trait, ...]:
    named: tuple[Trait, ...] | None = only(tokens, "TRAIT")
    way = _way(tokens)
    if of_kind(tokens, "HOLES"):
        if named is not None or (way is not None and not _sizes(tokens)):
            raise UnfitError
        return (TRAITS["mesh"],)
    if named is not None:
        if way is not None and way.axis is not None and not _sizes(tokens) and TRAITS.get(_trait_key(way.axis)) not in named:
            raise not_understood()
        return named
    if way is not None and way.axis is not None and not (_sizes(tokens) and any(one.unit for one in ends.given)):
        trait = TRAITS.get(_trait_key(way.axis))
        if trait is None:
            raise UnfitError
        if trait.key != "head_area" and any(
            one.unit is None and one.lean is None and _is_head(one.number) for one in ends.given
        ):
            raise fail("no-unit", "a number needs a unit, or the trait it is of", expected="lighter than 300 g")
        return (trait,)
    units = {quantity.unit or ("points" if quantity.lean else None) for quantity in ends.given} - {None}
    if not units:
        return _bare(tokens, ends)
    if units == {INCHES}:
        return (TRAITS["head_area"] if all(_is_head(one.number) for one in ends.given) else TRAITS["length"],)
    fitting = tuple(trait for trait in TRAITS.values() if trait.bare and units <= set(trait.units))
    if not fitting:
        raise fail("no-trait", "this could be of several traits", expected="the trait's name before it")
    return fitting


def _trait_key(axis: str) -> str:
    return AXIS_TRAITS.get(axis, axis)


def _sizes(tokens: list[Token]) -> bool:
    return bool(of_kind(tokens, "SIZER")) and not of_kind(tokens, "ADJECTIVE")


def _bare(tokens: list[Token], ends: Ends) -> tuple[Trait, ...]:
    """The trait of numbers without a unit: a head area if they are as large as one, and nothing is compared."""
    dated = any(token.text in _SINCE for token in tokens)
    if dated and all(_YEARS[0] <= one.number <= _YEARS[1] for one in ends.given):
        return (TRAITS["release_year"],)
    compared = [token for token in of_kind(tokens, "COMPARE") if token.text not in ("between", "from", "exactly")]
    one_end = (ends.low is None or ends.high is None) and not of_kind(tokens, "OR_MORE")
    if compared or one_end or _way(tokens) or not all(_is_head(one.number) for one in ends.given):
        raise fail("no-unit", "a number needs a unit, or the trait it is of", expected="95-98 sq in, 16 mains, ...")
    return (TRAITS["head_area"],)


def _is_head(number: Decimal) -> bool:
    return _HEADS[0] <= number <= _HEADS[1]


def _in_square_inches(candidates: tuple[Trait, ...], ends: Ends) -> Ends:
    """The ends; a head in inches is meant in square inches."""
    if candidates != (TRAITS["head_area"],):
        return ends
    low, high = (
        end._replace(unit=SQUARE_INCHES) if end is not None and end.unit == INCHES else end for end in (ends.low, ends.high)
    )
    return ends._replace(low=low, high=high)


def _way(tokens: list[Token]) -> Way | None:
    """Which way a comparative of the clause goes, `not` left aside; None if there is none."""
    comparative, adjective, sizer = (only(tokens, kind) for kind in ("COMPARATIVE", "ADJECTIVE", "SIZER"))
    if comparative is not None:
        return comparative
    if adjective is not None and sizer is not None:
        return Way(adjective.axis, adjective.sign * sizer.sign)
    return sizer


def _open_ends(tokens: list[Token], numbers: list[Quantity]) -> Ends:
    """The ends of a range with dots at one of them: `95..`, `95.. sq in` or `..98 sq in`."""
    (quantity,) = numbers
    (dots,) = of_kind(tokens, "TO")
    if dots.text not in _OPEN:
        raise not_understood()
    kinds = [token.kind for token in tokens]
    return Ends(None, quantity) if kinds.index("TO") < kinds.index("NUMBER") else Ends(quantity, None)


def _ends(tokens: list[Token], numbers: list[Quantity]) -> Ends:
    compare = of_kind(tokens, "COMPARE")
    both = of_kind(tokens, "TO", "AND")
    if any(token.kind == "AND" for token in both) and not (compare and compare[0].text in ("between", "from")):
        raise UnfitError
    if len(numbers) == 2 and both:
        if compare and compare[0].text not in ("between", "from"):
            raise not_understood()
        return Ends(numbers[0], numbers[1])
    if len(numbers) != 1 and not of_kind(tokens, "PLUS_MINUS"):
        raise UnfitError
    if compare and compare[0].text == "between":
        raise not_understood()
    return one_sided(_side(tokens), numbers[0])


def _side(tokens: list[Token]) -> Side:
    """The side that a phrase before or after a number sets."""
    compare, denied = of_kind(tokens, "COMPARE"), bool(of_kind(tokens, "NOT"))
    sides: list[Side] = [token.meaning for token in (*compare, *of_kind(tokens, "OR_MORE"))]  # type: ignore[misc]
    if compare and compare[0].text == "from":
        sides = [Side("low")]
    if (way := _way(tokens)) is not None:
        sides.append(Side("high" if way.sign < 0 else "low", False))
    if len(sides) > 1 or (denied and not sides):
        raise not_understood()
    side = sides[0] if sides else Side("both")
    if denied:
        if side.end == "both":
            raise not_understood()
        return Side(_TURNED[side.end], not side.inclusive)  # type: ignore[arg-type]
    return side


def chain_of(tokens: list[Token]) -> Range:
    """`315 <= SW <= 330`."""
    first, second = (token.meaning for token in of_kind(tokens, "COMPARE"))
    numbers = quantities(tokens)
    if not (isinstance(first, Side) and isinstance(second, Side)) or first.end == "both" or first.end != second.end:
        raise not_understood()
    if first.end == "high":
        ends = Ends(numbers[0], numbers[1], first.inclusive, second.inclusive)
    else:
        ends = Ends(numbers[1], numbers[0], second.inclusive, first.inclusive)
    return _measured([token for token in tokens if token.kind != "COMPARE"], ends)


def halves_of(tokens: list[Token]) -> list[Part]:
    """`mass over 300 and under 320 g`: both ends, each with what it leaves out."""
    second = next(
        place
        for place, token in enumerate(tokens)
        if place and tokens[place - 1].kind in _MEASURED and token.kind not in _MEASURED
    )
    low, high = _side(tokens[:second]), _side(tokens[second:])
    if {low.end, high.end} != {"low", "high"} or ((_way(tokens[:second]) or _way(tokens[second:])) and not _sizes(tokens)):
        raise UnfitError
    numbers = quantities(tokens)
    if len({one.unit or ("points" if one.lean else None) for one in numbers} - {None}) > 1:
        raise UnfitError
    unit, lean = numbers[1].unit or numbers[0].unit, numbers[1].lean or numbers[0].lean
    named = [token for token in tokens if token.kind not in ("COMPARE", "AND", "COMMA", "SIZER", "NOT", "THAN")]
    sided = zip((low, high), numbers, strict=True)
    return [_measured(named, one_sided(side, one._replace(unit=unit, lean=lean))) for side, one in sided]


def alternatives_of(tokens: list[Token]) -> Part:
    """`16 or 18 mains`, `95, 97 or 98 sq in`, `97s and 98s`."""
    plural = all(token.meaning == PLURAL for token in of_kind(tokens, "NUMBER"))
    if not (of_kind(tokens, "OR") or (plural and not of_kind(tokens, "TO"))):
        raise UnfitError
    groups: list[list[Token]] = [[]]
    named = [token for token in tokens if token.kind in ("TRAIT", "ZONE", "SIGNED")]
    for token in tokens:
        if token.kind in ("COMMA", "OR", "AND"):
            groups.append([])
        elif token.kind in ("NUMBER", "UNIT", "LEAN", "TO"):
            groups[-1].append(token)
    numbers = [quantities(group) for group in groups if group]
    if len({str(token.meaning) for token in of_kind(tokens, "TRAIT")}) > 1 or not all(numbers):
        raise UnfitError
    values = [one.number for group in numbers for one in group]
    if min(values) <= 0 or max(values) > _ALIKE * min(values):
        raise UnfitError
    last = numbers[-1][-1]
    ranges = []
    for group in numbers:
        if any(one.unit not in (None, last.unit) or one.lean not in (None, last.lean) for one in group):
            raise UnfitError
        ends = [Quantity(one.number, last.unit, last.lean) for one in group]
        ranges.append(_measured(named, Ends(ends[0], ends[-1])))
    return Either(tuple(ranges))


def excluded_of(tokens: list[Token]) -> list[Part]:
    """`not 16x19`, `no 18 mains`."""
    if of_kind(tokens, "BY"):
        if of_kind(tokens, "COMMA") and not of_kind(tokens, "AND", "OR"):
            raise UnfitError
        numbers = [token.text for token in of_kind(tokens, "NUMBER")]
        return [NoneOf(pattern_of(*pair)) for pair in zip(numbers[::2], numbers[1::2], strict=True)]
    rest = [token for token in tokens if token.kind != "NOT"]
    return [NoneOf(range_of(rest))]


def patterns_of(tokens: list[Token]) -> tuple[Pattern, ...]:
    """`16x19 or 18x20`."""
    numbers = [token.text for token in of_kind(tokens, "NUMBER")]
    plural = all(token.meaning == PLURAL for token in of_kind(tokens, "NUMBER")[1::2])
    if of_kind(tokens, "AND", "COMMA") and not (of_kind(tokens, "OR") or plural):
        raise UnfitError
    if dashes := of_kind(tokens, "TO"):
        counts = all(number.isdigit() for number in numbers)
        if dashes[0].text != "-" or not counts or int(numbers[0]) not in _MAINS or int(numbers[1]) not in _CROSSES:
            raise UnfitError
    return tuple(pattern_of(*pair) for pair in zip(numbers[::2], numbers[1::2], strict=True))


def class_of(tokens: list[Token]) -> Peers | None:
    """The class of frames that is named as a reference: `most 16x19 98 sq in`; None if there is none."""
    numbers = [token.text for token in of_kind(tokens, "NUMBER")]
    if not numbers:
        return None
    if tokens[[token.kind for token in tokens].index("NUMBER") + 1 :][:1] != of_kind(tokens, "BY")[:1]:
        numbers = numbers[1:] + numbers[:1]  # most 98s in 16x19
    pattern = pattern_of(*numbers[:2]) if of_kind(tokens, "BY") else None
    head = numbers[2:] if pattern else numbers
    if head and not (head[0].isdigit() and _is_head(Decimal(head[0]))):
        raise UnfitError
    if any(token.meaning not in (SQUARE_INCHES, INCHES) for token in of_kind(tokens, "UNIT")):
        raise UnfitError
    size = int(head[0]) if head else None
    return Peers(pattern.mains, pattern.crosses, size) if pattern else Peers(None, None, size)


def lean_of(tokens: list[Token]) -> Range:
    """`head light`, `even balance`."""
    trait = only(tokens, "TRAIT")
    if trait is not None and TRAITS["balance"] not in trait:
        raise not_understood()
    return leaning(only(tokens, "LEAN"))


def tone_of(tokens: list[Token]) -> Tone:
    """A word without a figure."""
    if of_kind(tokens, "FIRST"):
        return Tone(ORDERED, 1)
    if of_kind(tokens, "LEAN"):
        if not of_kind(tokens, "TOO"):
            raise UnfitError
        return Tone("balance", int(only(tokens, "LEAN")))
    way = only(tokens, "ADJECTIVE", "SIZE")
    if traits := only(tokens, "TRAIT"):
        way = Way(traits[0].key, way.sign)
    axis = OPENNESS if of_kind(tokens, "HOLES") else way.axis
    turned = bool(of_kind(tokens, "NOT")) != bool(of_kind(tokens, "TOO"))
    return Tone(axis, 0 if turned else way.sign)
