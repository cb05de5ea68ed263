"""What the words beside a clause change in it: a bed, somebody who has a frame, `too`."""

from __future__ import annotations

import re
from functools import cache

from gapbook.errors import Problem
from gapbook.questions.comparatives import likeness_of
from gapbook.questions.fillers import PEOPLE
from gapbook.questions.grammar import Clause
from gapbook.questions.synonyms import HOLDING
from gapbook.questions.token import Token
from gapbook.questions.topics import TOPICS

_NEAR_BED = 4
"""So many words beside `softer` are looked at for the bed."""
_ALSO = ("too", "also", "as well", "likewise", "same")


@cache
def _theirs() -> re.Pattern[str]:
    """What stands before a figure of something that somebody has."""
    return re.compile(
        rf"(?:^| )(?:{'|'.join(sorted((*PEOPLE, 'i', 'he', 'she', 'they', 'we', 'guy', 'lad', 'cust', 'opponent')))})"
        r"(?: (?:now|currently|already|also))?"
        r" (?:plays?|uses?|has|have|had|played|used|hits?|owns?|play with|plays with)(?: (?:with|a|an|the|now|currently))*$"
    )


def beside(clause: Clause, found: list[Token]) -> Clause:
    """The clause as it is with the words beside it in `found`, all tokens of the question."""
    for change in (_of_a_bed, _beside_a_bed, _also_there, _of_somebody):
        clause = change(clause, found)
    return clause


def is_held(token: Token, found: list[Token]) -> bool:
    """Whether a frame is one that somebody has: `I play with a fern-98`, but not `is fern-98 ...` or `my fern-98 but ...`."""
    place = found.index(token)
    after = next((one.text for one in found[place + 1 :] if one.kind != "NOISE"), "")
    before = found[max(place - 6, 1) : place]
    opening = [] if found[0].text in ("is", "with") else found[:1]
    return after != "but" and any(word in HOLDING for one in (*opening, *before) for word in one.text.split(" "))


def _of_a_bed(clause: Clause, found: list[Token]) -> Clause:
    """The clause; `the bed of a fern-98` with something else asked is a bed like it."""
    if clause.rule != "mention":
        return clause
    first = found.index(clause.tokens[0])
    before = [token for token in found[max(first - 3, 0) : first] if token.text not in ("a", "an", "the", "my")]
    if [token.text for token in before[-1:]] != ["of"] or [token.kind for token in before[-2:-1]] != ["BED"]:
        return clause
    return clause._replace(rule="likeness", said=likeness_of(list(clause.tokens)))


def _also_there(clause: Clause, found: list[Token]) -> Clause:
    """The clause; zones alone say something only if words beside say so: `right side too`, `and also on the sides`."""
    if clause.rule != "again":
        return clause
    first, last = found.index(clause.tokens[0]), found.index(clause.tokens[-1])
    beside = [token.text for token in found[max(first - _NEAR_BED, 0) : last + 3]]
    whole = clause.tokens[0].kind == "EVERYWHERE"
    return (
        clause
        if whole or any(text in _ALSO for text in beside)
        else clause._replace(problem=Problem("unknown-clause", "this is not understood"))
    )


def _of_somebody(clause: Clause, found: list[Token]) -> Clause:
    """The clause; with a problem if it is a pattern or a figure of what somebody has: `my mate plays 18x20`."""
    if clause.rule not in ("patterns", "range", "alternatives"):
        return clause
    before = " ".join(token.text for token in found[: found.index(clause.tokens[0])])
    if not _theirs().search(before[-60:]):
        return clause
    message = "it is not clear whether this is asked for, or is so of what somebody has"
    problem = Problem("figure-of-a-frame", message, fix="Leave it out, or say what you want: 16x19, 98 sq in")
    return clause._replace(problem=problem, said=None)


def _beside_a_bed(clause: Clause, found: list[Token]) -> Clause:
    """The clause; `stiffer` and `softer` are of a bed only if words beside say so: a frame's stiffness is not known."""
    if getattr(clause.said, "axis", None) != "stiffness" or clause.rule == "tone":
        return clause
    first, last = found.index(clause.tokens[0]), found.index(clause.tokens[-1])
    beside = found[max(first - _NEAR_BED, 0) : last + _NEAR_BED + 1]
    if any(token.kind == "BED" or token.text.startswith("string") for token in beside):
        return clause
    topic = TOPICS["frame stiffness"]
    return clause._replace(problem=Problem("not-in-catalogue", topic.missing, fix=topic.nearest), said=None)
