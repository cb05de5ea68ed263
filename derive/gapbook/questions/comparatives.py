"""What people say with a comparative and the language says otherwise: `lighter than 320 g` is `mass under 320 g`."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator

from gapbook.questions.tokens import tokens
from gapbook.questions.vocabulary import phrases, words

NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
"""A number of a clause, without its sign."""

_REFERENCE = re.compile(r"[a-z0-9]*[a-z][a-z0-9]*-[a-z0-9-]+|[./].+")
_COMPARING: dict[str, tuple[str, str, str]] = {
    **dict.fromkeys(("tighter", "denser", "less open"), ("mesh", "under", "")),
    **dict.fromkeys(("looser", "opener", "more open"), ("mesh", "over", "")),
    "lighter": ("mass", "under", "lightest first"),
    "heavier": ("mass", "over", "heaviest first"),
    "shorter": ("length", "under", "shortest first"),
    "longer": ("length", "over", "longest first"),
    "thinner": ("beam", "under", "thinnest first"),
    "thicker": ("beam", "over", "thickest first"),
    "smaller": ("head", "under", "smallest head first"),
    **dict.fromkeys(("larger", "bigger"), ("head", "over", "largest head first")),
    **dict.fromkeys(("older", "earlier"), ("released", "before", "oldest first")),
    **dict.fromkeys(("newer", "later"), ("released", "after", "newest first")),
    "lower": ("", "under", ""),
    "higher": ("", "over", ""),
}
"""Comparatives: the trait and the side they mean before a number, and the order that is nearest before a frame's name."""
_DENIED = {"under": "at least", "over": "at most", "before": "since", "after": "until"}
_BETWEEN = re.compile(r"\bbetween (.+?) ?(?:to|-|\.\.) ?(?=[0-9])")


def is_reference(word: str) -> bool:
    """Whether a word looks like the id or the folder of a frame, whose digits are no numbers."""
    return _REFERENCE.fullmatch(word) is not None and word not in phrases()


def otherwise(line: str) -> Iterator[str]:
    """The clause as the language might say it; before a frame's name, which knows tightness only, an order."""
    if _BETWEEN.search(line):
        yield _BETWEEN.sub(r"\1 to ", line)
    if {"COMPARATIVE"} == {token.kind for token in tokens(line)} & {"COMPARATIVE", "THAN", "SUPERLATIVE"}:
        yield f"{line} than FRAME"
    before, than, after = line.replace(" then ", " than ").partition(" than ")
    typed, comparative = _comparative(before)
    if not than or not comparative:
        return
    trait, side, order = _COMPARING[comparative]
    others = before.replace(typed, "", 1).split()
    denied = others[:1] == ["not"]
    if NUMBER.match(after) and not is_reference(after):
        yield from _ranges(" ".join(others[denied:]), trait, _DENIED[side] if denied else side, after)
    elif denied and trait == "mesh":
        yield " ".join(("more open" if side == "under" else "tighter", *others[1:], "than", after))
    elif order and not denied:
        yield order


def _ranges(others: str, trait: str, side: str, after: str) -> Iterator[str]:
    """The trait the comparative means on one side of a number, or the trait that the other words name."""
    kinds = {token.kind for token in tokens(others)}
    if "TRAIT" in kinds:
        yield f"{others} {side} {after}"
        return
    yield " ".join(f"{others} {trait} {side} {after}".split())
    if "ZONE" not in kinds:
        yield f"{trait} {side} {after}".strip()


def _comparative(before: str) -> tuple[str, str]:
    """The comparative among words as it is typed and as it is spelt; two empty texts without one."""
    for known in _COMPARING:
        if re.search(rf"\b{known}\b", before):
            return known, known
    for word in before.split(" "):
        near = [] if word in words() else difflib.get_close_matches(word, _COMPARING, n=1, cutoff=0.75)
        if near:
            return word, near[0]
    return "", ""
