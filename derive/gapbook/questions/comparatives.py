"""What clauses say that compare: their tokens made into relations, which may wait for their reference."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from gapbook.errors import fail
from gapbook.questions.grammar import UnfitError
from gapbook.questions.meaning import class_of, not_understood, of_kind, only
from gapbook.questions.ranges import Side
from gapbook.questions.relations import COMPARED, LIKE_PERCENT, Peers
from gapbook.questions.token import Token
from gapbook.questions.traits import Trait
from gapbook.questions.vocabulary import OPENNESS, Way

EVERY_ZONE = ("centre", "left", "right", "tip", "throat")
"""The zones that `everywhere` means; `sides` is left and right together."""
_NOUN_AXES = {
    "mesh": (OPENNESS, 1),
    "openness": (OPENNESS, 1),
    "density": (OPENNESS, -1),
    "uniformity": ("evenness", 1),
    "balance": ("balance", 1),
    "balance_mm": ("balance", 1),
}
"""What a comparative of a trait compares, and which way, if that is not the trait itself."""
_CENTRED = ("drilling", "stiffness")
"""These are known in the centre only, and may be said to be of it."""
_TURNED = {"less": "not_more", "more": "not_less"}


class Comparing(NamedTuple):
    """A relation as it was said.

    axis: `openness`, or a key of `relations.COMPARED`.
    kind: less, more, not_less, not_more, like, or same (neither less nor more, as far as that is sure).
    zones: the zones it is about; none if none was named.
    references: the frames it names; None if it names none.
    peers: the class it names; None if it names none.
    pronoun: whether it speaks of a frame named before: `than it`.
    percent: how near `like` is.
    """

    axis: str
    kind: str
    zones: tuple[str, ...] = ()
    references: tuple[Token, ...] | None = None
    peers: Peers | None = None
    pronoun: bool = False
    percent: Decimal = LIKE_PERCENT

    @property
    def pending(self) -> bool:
        """Whether its reference has to be found in other clauses."""
        return self.references is None and self.peers is None


def again_of(tokens: list[Token]) -> Comparing:
    """`on the sides too`: zones that take their comparison from the clause before."""
    return Comparing(OPENNESS, "like", _zones(tokens, OPENNESS))


def relation_of(tokens: list[Token]) -> Comparing:
    """`tighter centre than fern-98`, `lighter`, `lower swingweight than fern-98`, `mesh < fern-98`."""
    own, named = _apart(tokens)
    if not own:  # than fern-98 tighter
        last = max(place for place, token in enumerate(tokens) if token.kind in ("REF", "PRONOUN", "UNIT", "NUMBER"))
        own, named = tokens[last + 1 :], tokens[: last + 1]
    if [token.kind for token in named] == ["THAN"]:
        raise fail("no-reference", "it is not said what to compare with", fix="Name a frame: than fern-98")
    way = _compared(own)
    if way.axis is None:
        raise UnfitError
    kind = "less" if way.sign < 0 else "more"
    if of_kind(own, "NOT"):
        kind = f"not_{kind}"
    return _referring(Comparing(way.axis, kind, _zones(tokens, way.axis)), named)


def equal_of(tokens: list[Token]) -> Comparing:
    """`as tight as an 18x20`, `at least as open as fern-98`; `not as heavy` is lighter."""
    own, named = _apart(tokens)
    if of_kind(own, "SAME"):
        return _referring(_same(own, tokens), named)
    compare = of_kind(own, "COMPARE")
    if any(token.meaning not in (Side("low"), Side("high")) for token in compare):
        raise UnfitError
    words = of_kind(own, "ADJECTIVE", "COMPARATIVE", "LEAN", "SIZE")
    way = words[0].meaning
    if words[0].kind == "LEAN":
        way = Way("balance", int(words[0].meaning))  # type: ignore[call-overload]
    if not isinstance(way, Way) or any(word.meaning != words[0].meaning for word in words[1:] if word.kind != "COMPARATIVE"):
        raise UnfitError
    for word in words[1:]:
        if word.meaning != way:
            raise UnfitError
    way = _with_a_noun(way, own, sized=words[0].kind == "SIZE")
    if way.axis is None:
        raise UnfitError
    at_most = any(token.meaning == Side("high") for token in compare)
    strict = "more" if (way.sign < 0) != at_most else "less"
    kind = strict if of_kind(own, "NOT") else f"not_{strict}"
    if of_kind(own, "ABOUT"):
        if way.axis != OPENNESS:
            raise UnfitError
        kind = "like"
    return _referring(Comparing(way.axis, kind, _zones(tokens, way.axis)), named)


def _same(own: list[Token], tokens: list[Token]) -> Comparing:
    """`the same head size as fern-98`, `the same head or bigger`."""
    way = _with_a_noun(Way(None, 1), own, sized=True)
    if way.axis is None:
        raise UnfitError
    kind = "like" if way.axis == OPENNESS else "same"
    if (more := of_kind(own, "COMPARATIVE", "SIZER")) and isinstance(more[0].meaning, Way):
        if more[0].meaning.axis not in (None, way.axis):
            raise UnfitError
        kind = "not_less" if more[0].meaning.sign > 0 else "not_more"
    return Comparing(way.axis, kind, _zones(tokens, way.axis))


def likeness_of(tokens: list[Token]) -> Comparing:
    """`like fern-98 in the sides`, `within 2.5% of fern-98`; `the same` waits for its reference."""
    percent = LIKE_PERCENT
    if of_kind(tokens, "WITHIN", "PLUS_MINUS"):
        if only(tokens, "UNIT") != "%":
            raise fail("wrong-unit", "within takes a percentage", found=of_kind(tokens, "UNIT")[0].text, expected="%")
        percent = Decimal(of_kind(tokens, "NUMBER")[0].text)
    made = Comparing(OPENNESS, "like", _zones(tokens, OPENNESS), percent=percent)
    named = [token for token in tokens if token.kind in ("REF", "PRONOUN", "MOST", "BY")]
    if of_kind(tokens, "BY") or (
        of_kind(tokens, "MOST", "NUMBER") and not of_kind(tokens, "WITHIN", "PLUS_MINUS", "REF", "PRONOUN")
    ):
        named = [token for token in tokens if token.kind not in ("ZONE", "EVERYWHERE", "LIKE")]
    return _referring(made, named)


def _apart(tokens: list[Token]) -> tuple[list[Token], list[Token]]:
    """The tokens before the reference, and from it on."""
    for place, token in enumerate(tokens):
        second = token.kind == "AS" and any(one.kind in ("ADJECTIVE", "COMPARATIVE", "LEAN", "SIZE") for one in tokens[:place])
        if token.kind in ("THAN", "LIKE", "REF", "PRONOUN") or second:
            return tokens[:place], tokens[place:]
    return tokens, []


def _referring(made: Comparing, named: list[Token]) -> Comparing:
    references = tuple(of_kind(named, "REF"))
    peers = None if references else class_of([token for token in named if token.kind not in ("ZONE", "EVERYWHERE")])
    if peers is not None and made.axis != OPENNESS:
        raise fail("wrong-reference", "frames are compared with a pattern in openness only", expected="tighter than most 16x19")
    return made._replace(references=references or None, peers=peers, pronoun=bool(of_kind(named, "PRONOUN")))


def _compared(tokens: list[Token]) -> Way:
    """What is compared, and which way."""
    comparative, sizer, lean = (only(tokens, kind) for kind in ("COMPARATIVE", "SIZER", "LEAN"))
    adjective, size = only(tokens, "ADJECTIVE"), only(tokens, "SIZE")
    sign = sizer.sign if sizer is not None else 1
    if comparative is not None:
        if sign < 0 or (adjective is not None and adjective != comparative):
            raise UnfitError
        return _with_a_noun(comparative, tokens, sized=False)
    if adjective is not None:
        return _with_a_noun(Way(adjective.axis, adjective.sign * sign), tokens, sized=False)
    if lean is not None:
        if not lean:
            raise UnfitError
        return _with_a_noun(Way("balance", lean * sign), tokens, sized=False)
    if size is not None:
        turns = sizer is None or sizer.axis is None
        if not turns and sizer.sign != size.sign:
            raise UnfitError
        return _with_a_noun(Way(size.axis, size.sign * (sign if turns else 1)), tokens, sized=True)
    if sizer is not None:
        return _with_a_noun(sizer, tokens, sized=True)
    side = only(tokens, "COMPARE")
    if not isinstance(side, Side) or side.end == "both":
        raise UnfitError
    return _with_a_noun(Way(None, -1 if side.end == "high" else 1), tokens, sized=True)


def _with_a_noun(way: Way, tokens: list[Token], *, sized: bool) -> Way:
    """What is compared if a noun stands beside: of a size word the noun decides, with another word it has to agree."""
    if of_kind(tokens, "HOLES"):
        if sized or way.axis in (OPENNESS, "drilling"):
            return Way(OPENNESS if sized else way.axis, way.sign)
        raise UnfitError
    traits: tuple[Trait, ...] | None = only(tokens, "TRAIT")
    if traits is None:
        return way
    key = traits[0].key
    axis, sign = _NOUN_AXES.get(key, (key, 1))
    if not sized:
        if axis != way.axis:
            raise not_understood()
        return way
    if axis != OPENNESS and axis not in COMPARED:
        raise not_understood()
    return Way(axis, sign * way.sign)


def _zones(tokens: list[Token], axis: str) -> tuple[str, ...]:
    zones = tuple(dict.fromkeys(str(token.meaning) for token in of_kind(tokens, "ZONE")))
    if of_kind(tokens, "EVERYWHERE"):
        zones = tuple(dict.fromkeys((*EVERY_ZONE, *zones)))
    if axis == OPENNESS or not zones:
        return zones
    if axis == "evenness" and not of_kind(tokens, "ZONE"):
        return ()
    if axis in _CENTRED and zones == ("centre",):
        return ()
    raise UnfitError
