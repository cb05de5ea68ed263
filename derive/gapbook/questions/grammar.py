"""The grammar: every clause of the question language as a regular expression over kinds of tokens.

A question is cut into clauses so that all its words are used by as few clauses as possible; what stands between clauses
(commas, `and`, `but`) changes nothing, and words that change nothing are left out before. A rule whose words fit but make no
sense can refuse a clause, so that another cut is tried.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from typing import NamedTuple

from gapbook.errors import GapbookError, Problem
from gapbook.questions.token import Token

ITEM = "(?:NUMBER UNIT? LEAN?)"
SPAN = f"(?:{ITEM}(?: TO {ITEM})?)"
LIST = "(?:COMMA? AND|COMMA)"
ZONES = f"(?:EVERYWHERE|BOTH? ZONE(?: {LIST} BOTH? ZONE)*)"
CLASS = "(?:MOST? NUMBER BY NUMBER(?: NUMBER UNIT?)?|MOST NUMBER UNIT?(?: NUMBER BY NUMBER)?)"
REFS = f"(?:BOTH? REF(?: {LIST} REF)*|PRONOUN|{CLASS})"
WAY = "(?:SIZER ADJECTIVE|SIZER LEAN|SIZER SIZE|SIZER? COMPARATIVE|SIZER)"
THAN = "(?:THAN|LIKE|AS)"
HOW = "(?:ADJECTIVE|COMPARATIVE|LEAN|SIZE)"
NOUNS = f"(?:TRAIT|HOLES|{ZONES})"
NAMED = "(?:TRAIT UNIT?|HOLES|ZONE|SIGNED)"
SIDE = "(?:NOT? COMPARE|NOT? COMPARATIVE ZONE? THAN?|NOT? SIZER (?:ADJECTIVE|TRAIT)? ZONE? THAN?)"

GRAMMAR: tuple[tuple[str, str], ...] = (
    # tighter centre than fern-98 / more open sides / not lighter than fern-98 / lower swingweight / tighter than most 16x19
    ("relation", f"(?:ZONE NOT|NOT)? {NOUNS}*{WAY} {NOUNS}*(?:(?:{THAN} {REFS}|REF) {ZONES}?|THAN)?"),
    ("relation", f"(?:ADJECTIVE|SIZE HOLES) {NOUNS}*COMMA? SIZER? THAN {REFS} {ZONES}?"),
    ("relation", f"NOT? {NOUNS}*(?:ADJECTIVE {NOUNS}*)COMPARATIVE? THAN {REFS} {ZONES}?"),
    ("relation", f"{NOUNS}*TRAIT {NOUNS}*COMPARE REF"),
    ("relation", "SIZE TRAIT THAN REF"),
    ("relation", f"THAN {REFS} {NOUNS}*{WAY} {NOUNS}*"),
    # as tight as an 18x20 / at least as open as fern-98 / just as tight or tighter / not as heavy / the same head as fern-98
    ("equal", f"SAME {NOUNS}+(?:AS {REFS} {ZONES}?|OR (?:COMPARATIVE|SIZER) (?:AS|THAN) {REFS})?"),
    (
        "equal",
        f"{NOUNS}*(?:COMPARE|NOT|ABOUT)? AS {HOW} {NOUNS}*(?:OR COMPARATIVE )?(?:{THAN} {REFS} {ZONES}?)?",
    ),
    ("equal", f"(?:COMPARE|NOT)? ADJECTIVE {NOUNS}*AS {REFS} {ZONES}?"),
    # like fern-98 in the sides / within 2.5% of fern-98 / the same
    ("likeness", f"{ZONES}? MOST? (?:LIKE|(?:WITHIN PLUS_MINUS?|PLUS_MINUS) NUMBER UNIT OF?) REF {ZONES}?"),
    ("likeness", f"{ZONES}? LIKE {CLASS} {ZONES}?"),
    ("likeness", f"{ZONES}? LIKE REF COMMA? WITHIN PLUS_MINUS? NUMBER UNIT {ZONES}?"),
    ("likeness", "SAME"),
    ("again", ZONES),
    ("likeness", f"{ZONES}? LIKE PRONOUN {ZONES}?"),
    # without fern-98 and moraine-98 / not 16x19 / not 18 mains
    ("without", f"NOT BOTH? REF(?: (?:{LIST}|OR) REF)*"),
    ("excluded", "NOT BOTH? NUMBER BY NUMBER(?: (?:COMMA? OR|COMMA? AND|COMMA) NUMBER BY NUMBER)*"),
    ("excluded", f"NOT {NAMED}*{SPAN} {NAMED}*"),
    ("excluded", f"{NAMED}+NOT {SPAN} {NAMED}*"),
    # 95-98 sq in / 95.. sq in / head ..98 / 16 mains / centre mesh under 11 mm / balance between 2 and 4 points head light
    ("range", f"{NAMED}*{SIDE}? ABOUT? (?:NUMBER ABOUT UNIT|{ITEM}) (?:OR_MORE|ABOUT)? {NAMED}*"),
    ("range", "NUMBER TRAIT OR_MORE"),
    ("range", f"{NAMED}*NUMBER OR_MORE UNIT LEAN? {NAMED}*"),
    ("range", f"{NAMED}*COMPARE? {ITEM} (?:TO|AND) {ITEM} {NAMED}*"),
    ("range", f"{NAMED}*(?:TO {ITEM}|NUMBER TO UNIT? LEAN?|NUMBER UNIT TO) {NAMED}*"),
    ("range", f"{NAMED}*{ITEM} PLUS_MINUS {ITEM} {NAMED}*"),
    ("range", f"{NAMED}*LEAN COMPARE? {SPAN} OR_MORE?"),
    ("chain", f"NUMBER UNIT? COMPARE {NAMED}+COMPARE {ITEM}"),
    ("halves", f"{NAMED}*{SIDE} {ITEM} (?:AND|COMMA)? {SIDE} {ITEM} {NAMED}*"),
    ("alternatives", f"{NAMED}*BOTH? {SPAN}(?: (?:COMMA|COMMA? OR|COMMA? AND) {SPAN})+ {NAMED}*"),
    ("lean", "TRAIT? LEAN"),
    # 16x19 / 16-19 / 16x19 or 18x20
    ("patterns", "BOTH? NUMBER (?:BY|TO) NUMBER(?: (?:COMMA? OR|COMMA? AND|COMMA) NUMBER BY NUMBER)*"),
    # tightest first / five lightest / the most tight, 5 / lowest swingweight first / light ones first / by mass descending
    ("order", "NUMBER? ZONE? (?:SUPERLATIVE|MOST ADJECTIVE|MOST LEAN) ZONE? HOLES? FIRST?(?: COMMA? NUMBER)?"),
    ("order", "NUMBER? (?:EXTREME|SIZE|MOST) ZONE? (?:TRAIT|HOLES) ZONE? FIRST?"),
    ("order", "(?:ADJECTIVE|LEAN|COMPARATIVE) FIRST"),
    ("order", "ZONE? TRAIT ZONE? DIRECTION"),
    ("order", "SORT ZONE? TRAIT ZONE? COMMA? (?:EXTREME FIRST|EXTREME EXTREME|SUPERLATIVE SUPERLATIVE?) FIRST?"),
    ("order", "SORT? (?:SUPERLATIVE SUPERLATIVE|MOST ADJECTIVE MOST? SUPERLATIVE)"),
    ("order", "SORT ZONE? (?:TRAIT ZONE?|NAME|ADJECTIVE|COMPARATIVE|SUPERLATIVE) DIRECTION?"),
    # top 5 / first 5 / give me 4 / two frames
    ("limit", "(?:TOP|FIRST|GIVE) NUMBER"),
    ("limit", "COMPARE? NUMBER NOUN"),
    ("basis", "BASIS"),
    ("confidence", "CONFIDENCE NUMBER UNIT?|NUMBER UNIT? CONFIDENCE"),
    # I play with a fern-98 / between fern-98 and moraine-98
    ("mention", f"(?:COMPARE BOTH? )?REF(?: {LIST} REF)*"),
    # too heavy / not too heavy / an open pattern
    ("tone", "NOT? TOO? (?:ADJECTIVE|SIZE HOLES|SIZE TRAIT|LEAN)|FIRST"),
)
"""Every rule: the name of its reader in `meaning`, and the tokens it takes."""

_SKIPPED = {"COMMA": 0.0, "AND": 0.0, "NOUN": 0.02, "GIVE": 0.01, "BOTH": 0.5}
"""What may stand between clauses, and how much that counts beside a clause, which counts 1."""
_PROBLEM, _UNKNOWN = 50.0, 1000.0
_LONGEST = 400
"""A question of more tokens is refused: nobody writes one."""
_KINDS = sorted({*re.findall(r"[A-Z_]{2,}", " ".join(rule for _, rule in GRAMMAR)), *_SKIPPED, "UNKNOWN"})
_SIGNS = {kind: chr(0x100 + place) for place, kind in enumerate(_KINDS)}


class Clause(NamedTuple):
    """A clause of a question.

    rule: the name of the rule that took it.
    tokens: its tokens.
    said: what its reader made of them.
    problem: what is wrong with it; None if nothing is.
    place: which of the question's tokens is its first.
    """

    rule: str
    tokens: tuple[Token, ...]
    said: object
    problem: Problem | None = None
    place: int = 0


class UnfitError(Exception):
    """A rule's words fit, but they make no such clause."""


Reader = Callable[[list[Token]], object]


@cache
def _rules() -> tuple[tuple[str, re.Pattern[str]], ...]:
    made = []
    for name, rule in GRAMMAR:
        signs = re.sub(r"[A-Z_]{2,}", lambda match: _SIGNS[match[0]], rule).replace(" ", "")
        made.append((name, re.compile(signs)))
    return tuple(made)


def clauses(words: list[Token], readers: dict[str, Reader]) -> list[Clause]:
    """The clauses of a question's significant tokens, in their order. Tokens no rule takes are clauses of their own, named
    `unknown`; a clause that its reader refuses has a problem.
    """
    kinds = "".join(_SIGNS.get(token.kind, _SIGNS["UNKNOWN"]) for token in words)
    count = len(words)
    best: list[tuple[float, int, Clause | None]] = [(0.0, 0, None), *[(float("inf"), 0, None)] * count]
    clause: Clause | None
    for start in range(count):
        cost = best[start][0]
        kind = words[start].kind
        step = _SKIPPED.get(kind, _UNKNOWN)
        skipped = None if kind in _SKIPPED else Clause("unknown", (words[start],), None, place=start)
        if cost + step < best[start + 1][0]:
            best[start + 1] = (cost + step, start, skipped)
        for end, weight, clause in _edges(words, kinds, start, readers, [entry[0] - cost for entry in best]):
            if cost + weight < best[end][0]:
                best[end] = (cost + weight, start, clause)
    found: list[Clause] = []
    place = count
    while place:
        _, place, clause = best[place]
        if clause is not None:
            found.append(clause)
    return found[::-1]


def _edges(
    words: list[Token], kinds: str, start: int, readers: dict[str, Reader], worth: list[float]
) -> list[tuple[int, float, Clause]]:
    """The clauses that begin at a token: where each ends, how much it counts, and the clause."""
    edges = []
    for name, rule in _rules():
        match = rule.match(kinds, start)
        if match is None:
            continue
        for end in range(match.end(), start, -1):
            if worth[end] <= 1.0 or (end != match.end() and not rule.fullmatch(kinds, start, end)):
                continue
            if (name == "range" and _breaks_a_range(words, start, end)) or _is_cut_wrongly(name, words, start, end):
                continue
            taken = tuple(words[start:end])
            try:
                said = readers[name](list(taken))
            except UnfitError:
                continue
            except GapbookError as error:
                edges.append((end, _PROBLEM + 0.1 * len(taken), Clause(name, taken, None, error.problems[0], start)))
                continue
            edges.append((end, _weight(name, taken), Clause(name, taken, said, place=start)))
    return edges


def _breaks_a_range(words: list[Token], start: int, end: int) -> bool:
    """Whether `98..` or `..98` would be cut out of a range with two ends."""
    if words[end - 1].kind == "TO" and end < len(words) and words[end].kind == "NUMBER":
        return True
    return words[start].kind == "TO" and start > 0 and words[start - 1].kind in ("NUMBER", "UNIT", "LEAN")


def _is_cut_wrongly(name: str, words: list[Token], start: int, end: int) -> bool:
    """Whether `same` would be cut off what it is said of (`the same 16 mains` is not `the same bed`), or a count of frames
    taken for a figure (`over 108, at most 5 frames`).
    """
    if name == "again":
        return any(token.kind not in ("COMMA", "AND") for token in (*words[:start][-1:], *words[end : end + 1]))
    if words[end - 1].kind == "NUMBER" and [token.kind for token in words[end : end + 1]] == ["NOUN"]:
        return any(token.kind == "COMMA" for token in words[start:end])
    alone = words[start].kind == "SAME" and end == start + 1 < len(words)
    return alone and words[end].kind not in ("COMMA", "AND", "ZONE", "EVERYWHERE", "COMPARATIVE", "SIZER", "NOT")


def _weight(name: str, taken: tuple[Token, ...]) -> float:
    """How much a clause counts: 1, and a little more if it is the less likely of two readings."""
    weight = 1.0
    if name == "range" and taken[-1].kind == "TRAIT" and taken[0].kind == "NUMBER" and not _counts(taken[-1]):
        weight += 0.1
    if name == "relation" and [token.kind for token in taken[:2]] == ["ZONE", "NOT"]:
        weight += 0.01
    if taken[-1].kind == "ZONE" and name in ("relation", "range", "likeness"):
        weight += 0.001
    return weight + (0.2 if name in ("mention", "tone", "again") else 0.0)


def _counts(token: Token) -> bool:
    return any(trait.whole for trait in token.meaning)  # type: ignore[attr-defined]
