"""Clauses put together: references that other clauses lend, frames that are only mentioned, words that need a figure beside."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from gapbook.errors import GapbookError, Problem, fail
from gapbook.questions.comparatives import Comparing, again_of, equal_of, likeness_of, relation_of
from gapbook.questions.grammar import Clause, Reader
from gapbook.questions.meaning import (
    ORDERED,
    Mention,
    Tone,
    alternatives_of,
    chain_of,
    excluded_of,
    halves_of,
    lean_of,
    of_kind,
    only,
    patterns_of,
    range_of,
    tone_of,
)
from gapbook.questions.names import Unheard
from gapbook.questions.ordering import confidence_of, limit_of, order_of
from gapbook.questions.question import Either, NoneOf, Order, Part, Relation, Setting, TraitRelation, Without, reference_text
from gapbook.questions.ranges import Range
from gapbook.questions.synonyms import NEAREST_TO
from gapbook.questions.token import Token
from gapbook.questions.traits import plain
from gapbook.questions.vocabulary import OPENNESS

READERS: dict[str, Reader] = {
    "relation": relation_of,
    "equal": equal_of,
    "likeness": lambda tokens: likeness_of(tokens),
    "without": lambda tokens: Mention(tuple(of_kind(tokens, "REF"))),
    "excluded": excluded_of,
    "range": range_of,
    "chain": chain_of,
    "halves": halves_of,
    "alternatives": alternatives_of,
    "lean": lean_of,
    "patterns": patterns_of,
    "order": order_of,
    "limit": limit_of,
    "again": again_of,
    "basis": lambda tokens: Setting("measured_only", bool(only(tokens, "BASIS"))),
    "confidence": confidence_of,
    "mention": lambda tokens: Mention(tuple(of_kind(tokens, "REF"))),
    "tone": tone_of,
}
"""By rule of the grammar, what makes a clause of its tokens."""

_OPENNESS_KINDS = {
    "less": "tighter",
    "more": "more_open",
    "not_less": "not_tighter",
    "not_more": "not_more_open",
    "like": "like",
}
_AXES = {"mesh": OPENNESS, "density": OPENNESS, "main_pitch": OPENNESS, "cross_pitch": OPENNESS, "uniformity": "evenness"}
"""The axis of a trait, if it has another name."""


class Said(NamedTuple):
    """What one clause of a question adds to it, or what is wrong with it."""

    clause: Clause
    parts: tuple[Part, ...] = ()
    problem: Problem | None = None


Holds = Callable[[Token], bool]


def put_together(clauses: Sequence[Clause], holds: Holds) -> list[Said]:
    """The parts that each clause adds.

    clauses: the clauses of a question, in their order.
    holds: whether a frame that is mentioned is one that somebody says to have, so that nothing needs to be asked of it.
    """
    lenders = [(place, said) for place, clause in enumerate(clauses) if (said := _lent(clause)) is not None]
    used: set[str] = set()
    found = []
    for place, clause in enumerate(clauses):
        if clause.rule == "again":
            clause = _again(clause, clauses[:place])
        if isinstance(clause.said, Comparing):
            found.append(_compared(clause, clause.said, place, lenders, used))
        else:
            found.append(_plain(clause))
    compared = {one.clause.said.axis for one in found if isinstance(one.clause.said, Comparing)}
    beside = [None, *found, None]
    plain = _plain_ones(clauses, lenders)
    found = [_guarded(one, beside[place], beside[place + 2], compared, place < plain) for place, one in enumerate(found)]
    found = _nearest_first(found)
    axes = {axis for one in found for part in one.parts for axis in _axes(part)}
    return [_checked(one, axes, used, holds) for one in found]


def _nearest_first(found: list[Said]) -> list[Said]:
    """The clauses; one that says `closest to` gives the order, if no other clause does."""
    if any(isinstance(part, Setting) and part.name == "order" for one in found for part in one.parts):
        return found
    for place, one in enumerate(found):
        if one.parts and any(token.kind == "LIKE" and token.text in NEAREST_TO for token in one.clause.tokens):
            parts = (*one.parts, Setting("order", Order(by="closest")))
            return [*found[:place], one._replace(parts=parts), *found[place + 1 :]]
    return found


def _plain_ones(clauses: Sequence[Clause], lenders: Sequence[tuple[int, _Lender]]) -> int:
    """How many clauses at the beginning stand before any frame is named and without a word that is skipped."""
    if any(lender.comparing is None for _, lender in lenders):
        return 0
    count = min((where for where, _ in lenders), default=len(clauses))
    end = 0
    for place in range(count):
        for token in clauses[place].tokens:
            if token.start - end > len(", "):
                return place
            end = token.end
    return count


def _guarded(one: Said, before: Said | None, after: Said | None, compared: set[str], plain: bool) -> Said:
    """The clause; with a problem if it is a figure that is no bound of what is asked for.

    It may be a difference (`10 g lighter than fern-98`), or of the frame that was named (`my fern-98 weighs 324 g`).
    compared: the axes on which frames are compared.
    plain: whether it is one of `_plain_ones`: a figure with its trait is then asked for (`mass 320 g, lighter than fern-98`).
    """
    if before is not None and before.clause.rule == "excluded" and one.clause.rule in ("patterns", "range"):
        denied = [part.item for part in before.parts if isinstance(part, NoneOf)]
        patterns = one.clause.rule == "patterns" and not any(isinstance(item, Range) for item in denied)
        axes_denied = [_axes(item) for item in denied if isinstance(item, Range)]
        if patterns or any(_axes(part) in axes_denied for part in one.parts):
            message = "it is not clear whether this is left out too"
            return one._replace(problem=Problem("unclear-denial", message, fix="Write not A or B, or name what you want first"))
    if one.clause.rule != "range" or len(one.parts) != 1 or not isinstance(one.parts[0], Range):
        return one
    asked = one.parts[0]
    named = bool(of_kind(one.clause.tokens, "TRAIT", "HOLES"))
    axes = _axes(asked)
    said = after.clause.said if after is not None else None
    if after is not None and isinstance(said, Comparing) and not named and _touch(one, after) and said.axis in axes:
        fix = "Ask without the figure, or give the figure itself: mass under 300 g"
        return one._replace(problem=Problem("no-difference", "how much less or more than a frame cannot be asked", fix=fix))
    of_a_frame = before is not None and before.clause.rule == "mention" and _touch(before, one)
    unclear = asked.is_wide and asked.trait != "head_area" and axes & compared
    if of_a_frame or (unclear and not (plain and named)):
        message = "it is not clear whether this is asked for, or is so of the frame that is named"
        fix = "Leave it out, or write it as a bound: mass under 300 g"
        return one._replace(problem=Problem("figure-of-a-frame", message, fix=fix))
    return one


def _touch(first: Said, second: Said) -> bool:
    """Whether nothing stands between two clauses, not even a comma."""
    return second.clause.place == first.clause.place + len(first.clause.tokens)


def _again(clause: Clause, before: Sequence[Clause]) -> Clause:
    """`right side too`: the comparison before, in other zones."""
    last = before[-1].said if before else None
    if clause.problem is None and isinstance(last, Comparing) and last.axis == OPENNESS and isinstance(clause.said, Comparing):
        return clause._replace(said=last._replace(zones=clause.said.zones))
    return clause._replace(rule="unknown", said=None)


class _Lender(NamedTuple):
    """A clause that names frames or a class, which clauses without a reference can borrow."""

    comparing: Comparing | None
    references: tuple[Token, ...]


def _lent(clause: Clause) -> _Lender | None:
    said = clause.said
    if isinstance(said, Comparing) and not said.pending:
        return _Lender(said, said.references or ())
    if clause.rule == "mention" and isinstance(said, Mention):
        return _Lender(None, said.references)
    return None


def _compared(clause: Clause, said: Comparing, place: int, lenders: list[tuple[int, _Lender]], used: set[str]) -> Said:
    try:
        if said.pending:
            said = _borrowing(said, place, lenders)
        references = [reference_of(token) for token in said.references or ()]
        used.update(references)
        if said.peers is not None:
            references = [said.peers.reference]
        return Said(clause, tuple(_relations(said, references)))
    except GapbookError as error:
        return Said(clause, problem=error.problems[0])


def _borrowing(said: Comparing, place: int, lenders: list[tuple[int, _Lender]]) -> Comparing:
    """The relation with the reference of the clauses before it, or else of the next one after it that has one."""
    before = [lender for where, lender in lenders if where < place]
    after = [lender for where, lender in lenders if where > place and lender.comparing is not None]
    later = [lender for where, lender in lenders if where > place]
    nearest = before[-1:] or after[:1] or later[:1]
    if said.pronoun and before:
        every = dict.fromkeys(token for lender in before for token in lender.references)
        return said._replace(references=tuple(every) if len(before) > 1 else before[0].references)
    if not nearest:
        raise fail("no-reference", "it is not said what to compare with", fix="Name a frame: than fern-98")
    (lender,) = nearest
    if before and after and _texts(before[-1]) != _texts(after[0]):
        raise fail("no-reference", "it is not clear which frame this is compared with", fix="Name it again: than fern-98")
    if lender.comparing is not None and lender.comparing.peers is not None:
        if said.axis != OPENNESS:
            raise fail("no-reference", "it is not said what to compare with", fix="Name a frame: than fern-98")
        return said._replace(peers=lender.comparing.peers)
    if lender.comparing is None and len(lender.references) > 1:
        raise fail("no-reference", "several frames were named: with which is this compared?", fix="Name it: than fern-98")
    return said._replace(references=lender.references)


def _texts(lender: _Lender) -> set[str]:
    try:
        return {reference_of(token) for token in lender.references}
    except GapbookError:
        return set()


def reference_of(token: Token) -> str:
    """The reference a token names: an id in lower case, a quotation or folder as it stands [GapbookError which-frame]."""
    if isinstance(token.meaning, tuple):
        if len(token.meaning) > 1:
            listed = ", ".join(token.meaning[:6]) + (", ..." if len(token.meaning) > 6 else "")
            raise fail("which-frame", f"several frames are called that: {listed}", found=token.text, fix="Name one of them")
        return str(token.meaning[0])
    if isinstance(token.meaning, Unheard):
        fix = f"Nearest: {', '.join(token.meaning.near)}" if token.meaning.near else None
        raise fail("unknown-frame", "no frame, specimen or folder of this name", found=token.text, fix=fix)
    text = token.text
    quoted = len(text) > 1 and plain(text[0]) in "\"'" and plain(text[-1]) == plain(text[0])
    return text[1:-1] if quoted else text if _is_quotation(token) else reference_text(text)


def _is_quotation(token: Token) -> bool:
    """Whether the token was quoted: its text is shorter than its place."""
    return token.end - token.start == len(token.text) + 2


def _relations(said: Comparing, references: Iterable[str]) -> Iterable[Part]:
    for reference in references:
        if said.axis != OPENNESS:
            for kind in ("not_less", "not_more") if said.kind == "same" else (said.kind,):
                yield TraitRelation(trait=said.axis, kind=kind, reference=reference)
            continue
        for zone in said.zones or ("centre",):
            kind = _OPENNESS_KINDS[said.kind]
            yield Relation(kind=kind, zone=zone, reference=reference, within_percent=said.percent)  # type: ignore[arg-type]


def _plain(clause: Clause) -> Said:
    said = clause.said
    if clause.problem is not None or clause.rule in ("unknown", "mention", "tone"):
        return Said(clause, problem=clause.problem)
    try:
        if isinstance(said, Mention):
            return Said(clause, tuple(Without(reference_of(token)) for token in said.references))
        is_one = isinstance(said, Range | Setting | Either | NoneOf) or (clause.rule == "patterns")
        return Said(clause, (said,) if is_one else tuple(said))  # type: ignore[arg-type]
    except GapbookError as error:
        return Said(clause, problem=error.problems[0])


def _axes(part: Part) -> set[str]:
    """What a part speaks of."""
    if isinstance(part, Relation):
        return {OPENNESS}
    if isinstance(part, TraitRelation):
        return {part.trait}
    if isinstance(part, Setting):
        return {ORDERED, _AXES.get(part.value.by, part.value.by)} if isinstance(part.value, Order) else set()
    ranges = part.ranges if isinstance(part, Either) else (part,) if isinstance(part, Range) else ()
    return {_AXES.get(one.trait, one.trait).replace("balance_mm", "balance") for one in ranges}


def _checked(one: Said, axes: set[str], used: set[str], holds: Holds) -> Said:
    """The clause, with a problem if it only mentions a frame that nothing is asked of, or is a word without a figure."""
    said = one.clause.said
    if one.clause.rule == "mention" and isinstance(said, Mention):
        for token in said.references:
            try:
                reference = reference_of(token)
            except GapbookError as error:
                return one._replace(problem=error.problems[0])
            if reference not in used and not (holds(token) and axes):
                fix = f"Ask: tighter than {reference}, like {reference}; or gapbook show {reference}"
                return one._replace(problem=Problem("unused-frame", f"it is not said what is asked of {reference}", fix=fix))
    if isinstance(said, Tone) and said.axis not in axes:
        fix = "Give a figure (mass under 300 g), an order (lightest first) or a frame (lighter than fern-98)"
        return one._replace(problem=Problem("no-figure", "it is not said how much, or than what", fix=fix))
    return one
