"""For a clause that is not understood, the nearest ones that would be. Every one is tried before it is offered, and none turns
the meaning round: what says `not` is never offered without it, what says tighter never as more open.
"""

from __future__ import annotations

import difflib
import itertools
import re
from collections.abc import Callable, Iterable, Iterator
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import cache

from gapbook.questions.question import LIKE_PERCENT, MOST_FRAMES
from gapbook.questions.ranges import Side
from gapbook.questions.token import Token
from gapbook.questions.tokens import tokens
from gapbook.questions.traits import TRAITS, plain
from gapbook.questions.vocabulary import Way, phrases, words

OFFERS = 3
"""How many clauses are offered at most."""

TEMPLATES = (
    "95-98 sq in", "under 100 sq in", "16x19", "16 mains", "18-20 crosses", "tighter centre than FRAME",
    "more open sides than FRAME", "tighter than FRAME", "more open than FRAME", "like FRAME",
    "like FRAME in the sides", "within 2% of FRAME", "centre mesh under 11 mm", "mesh 10-11 mm", "main pitch 9-10 mm",
    "cross pitch 9-10 mm", "openness 105-115", "density over 0.8", "side opening over 8%", "uniformity under 1.05",
    "mass under 320 g", "swingweight 315-330", "balance at least 4 points head light", "balance 310-320 mm",
    "length 27 in", "beam under 23 mm", "release year 2020-2024", "tightest first", "most open first",
    "lightest first", "closest first", "lowest swingweight first", "top 5", "measured only",
)  # fmt: skip
"""Clauses of every kind. A clause that is not understood is compared with them."""

Understood = Callable[[str], str | None]
"""Gives the canonical words of clauses, or None if they are not understood."""

_LONGEST_LIKENED = 120
_MOST_TRIES = 48
_MOST_RESPELLINGS = 24
_FRAME = "FRAME"
_USUAL = ("95-98 sq in", "16 mains", "tighter than FRAME")
_YEARS = range(1900, 2101)
_NOT_MENDED = (
    *("contradiction", "which-frame", "unused-frame", "no-figure", "not-in-catalogue", "wrong-reference"),
    *("open-quotation", "number-out-of-range", "bad-reference", "unknown-frame"),
)
_DENYING = ("nor", "neither", "lacking", "skip", "hardly", "barely", "cannot", "unlike", "less")
"""Words that the language does not know and that turn a clause round."""
_BEFORE_A_REFERENCE = ("than", "then", "like", "of")
_NUMBER = re.compile(r"[0-9]+(?:\.[0-9]+)?")
"""A number of a clause, without its sign."""

_REFERENCE = re.compile(r"[a-z0-9]*[a-z][a-z0-9]*-[a-z0-9-]+|[./].+")


def nearest(text: str, code: str, understood: Understood) -> tuple[str, ...]:
    """Up to three clauses near `text`, which was refused with `code`; none if nothing can be guessed."""
    line = " ".join(text.split())
    if code in _NOT_MENDED or len(line) > _LONGEST_LIKENED:
        return ()
    meant = _direction(tokens(line))
    if code in _MENDERS:
        canonical = code not in ("no-unit", "no-side", "no-trait", "bad-percent", "no-reference")
        return _tried(_MENDERS[code](plain(line)), understood, meant, canonical=canonical)
    return (
        _tried(respelt(line), understood, meant)
        or _tried(_likened(plain(line)), understood, meant, canonical=False)
        or (_USUAL if not meant else ())
    )


def _direction(found: list[Token]) -> frozenset[str]:
    """Which way a clause goes: whether it denies something, and the way of each comparative, order and bound."""
    said = set()
    sign = 1
    for token in found:
        if token.kind in ("NOT", "UNKNOWN") and (token.kind == "NOT" or token.text in _DENYING):
            said.add("not")
        elif token.kind in ("SIZER", "COMPARATIVE", "ADJECTIVE", "SIZE", "EXTREME", "SUPERLATIVE", "COMPARE", "OR_MORE"):
            sign *= _sign(token)
            said.add("turned" if sign < 0 else "kept")
    return frozenset(said)


def _sign(token: Token) -> int:
    """Which way a word goes along its axis: -1 towards less, 1 towards more or neither."""
    meaning = token.meaning
    if isinstance(meaning, Way):
        return meaning.sign
    if isinstance(meaning, Side):
        return -1 if meaning.end == "high" else 1
    if isinstance(meaning, tuple):
        return 1 if meaning[1] else -1
    return 1 if meaning else -1


def _tried(
    candidates: Iterable[str], understood: Understood, meant: frozenset[str], *, canonical: bool = True
) -> tuple[str, ...]:
    """The first candidates that are understood and go the way that was meant, in their canonical words or as they are."""
    offers: dict[str, None] = {}
    for candidate in itertools.islice(candidates, _MOST_TRIES):
        words_of_it = understood(candidate)
        if words_of_it is not None and _agrees(meant, _direction(tokens(candidate))):
            offers[words_of_it if canonical else candidate] = None
        if len(offers) == OFFERS:
            break
    return tuple(offers)


def _agrees(meant: frozenset[str], offered: frozenset[str]) -> bool:
    """Whether an offer goes no other way than the clause, as far as the clause says one."""
    if ("not" in meant) != ("not" in offered):
        return False
    ways, others = meant - {"not"}, offered - {"not"}
    return not ways or not others or ways == others


def respelt(line: str) -> Iterator[str]:
    """The clause with its unknown words replaced by the known ones nearest in spelling, or its reference joined."""
    choices: list[list[str]] = []
    before = ""
    for typed in line.split(" "):
        word = plain(typed)
        if before in _BEFORE_A_REFERENCE or not word.isalpha() or word in words():
            choices.append([typed])
        elif word == "then":
            choices.append(["than"])
        else:
            choices.append(difflib.get_close_matches(word, words(meaningful=True), n=3, cutoff=0.7) or [typed])
        before = word
    for choice in itertools.islice(itertools.product(*choices), _MOST_RESPELLINGS):
        yield (respelling := " ".join(choice))
        yield from _with_one_reference(respelling)


def _with_one_reference(line: str) -> Iterator[str]:
    """`tighter than fern 98` as `tighter than fern-98`, and a folder with a space in its name quoted."""
    comparing = plain(line).find(" than ") + len(" than ")
    name = line[comparing:]
    if comparing < len(" than ") or " " not in name or any(mark in name for mark in "\"'"):
        return
    if any(sign in name for sign in "/\\."):
        yield f'{line[:comparing]}"{name}"'
    elif name[0].isalpha() and not any(word in words() for word in plain(name).split(" ")):
        yield line[:comparing] + "-".join(name.split())


def _likened(line: str) -> Iterator[str]:
    """The templates nearest to the clause, with its numbers and its reference put in. They have as many numbers as it has."""
    skeleton = _skeleton(line)
    numbers = _NUMBER.findall(" ".join(word for word in line.split(" ") if not _is_reference(word)))
    fits = [one for one in _skeletons() if not numbers or one.count("0") == len(numbers)]
    reference = next((word for word in reversed(line.split(" ")) if _is_reference(word)), _FRAME)
    for like in difflib.get_close_matches(skeleton, fits, n=OFFERS, cutoff=0.55):
        fitting = iter(numbers or _NUMBER.findall(_skeletons()[like]))
        template = _NUMBER.sub(lambda _: next(fitting), _skeletons()[like])  # noqa: B023
        yield template.replace(_FRAME, reference)


def _skeleton(line: str) -> str:
    """A clause with 0 for every number and `frame` for every reference."""
    return _NUMBER.sub("0", " ".join("frame" if _is_reference(word) else word for word in line.split(" ")))


@cache
def _skeletons() -> dict[str, str]:
    return {_skeleton(template.lower()): template for template in TEMPLATES}


def _without(line: str, kinds: tuple[str, ...]) -> str:
    """The clause without the tokens of some kinds."""
    return " ".join(token.text for token in tokens(line) if token.kind not in kinds)


def _with_another_unit(line: str) -> Iterator[str]:
    """The clause with the usual unit; if it names no trait, also with every unit that fits."""
    if line.startswith("within "):
        yield re.sub(r"^within ([0-9.]+).* of ", r"within \1% of ", line)
    bare = _without(line, ("UNIT", "UNKNOWN"))
    yield bare
    if not any(token.kind == "TRAIT" for token in tokens(bare)):
        yield from _with_a_unit(bare)


def _with_a_unit(line: str) -> Iterator[str]:
    """A bare number with the units and traits that numbers of its size usually have; one that looks like a year is a year."""
    numbers = [Decimal(number) for number in _NUMBER.findall(line)]
    largest = max(numbers, default=Decimal(0))
    named = any(token.kind == "TRAIT" for token in tokens(line))
    if named and largest <= 40:
        yield from (f"{line} points head light", f"{line} points head heavy")
    elif named:
        yield f"{line} mm"
    elif largest <= 40:
        yield from (f"{line} mains", f"{line} crosses", f"{line} points head light")
    elif largest <= 200:
        yield from (f"{line} sq in", f"openness {line}")
    elif all(number in _YEARS for number in numbers):
        yield f"released {line}"
    else:
        yield from (f"{line} g", f"{line} kg cm2", f"{line} cm2")


def _with_a_trait(line: str) -> Iterator[str]:
    """A number and unit with each trait that has the unit, those that usually have it first."""
    unit = next((str(token.meaning) for token in tokens(line) if token.kind == "UNIT"), "")
    having = (trait for trait in TRAITS.values() if unit in trait.units)
    yield from (f"{trait.title} {line}" for trait in sorted(having, key=lambda trait: trait.units[0] != unit))


def _turned(line: str) -> Iterator[str]:
    """A range with its two numbers exchanged."""
    numbers = _NUMBER.findall(line)
    if len(numbers) == 2:
        swapped = iter(reversed(numbers))
        yield _NUMBER.sub(lambda _: next(swapped), line)


def _whole(line: str) -> Iterator[str]:
    for rounding in (ROUND_FLOOR, ROUND_CEILING):
        yield _NUMBER.sub(lambda match: str(Decimal(match[0]).to_integral_value(rounding)), line)  # noqa: B023


def _with_a_limit(line: str) -> Iterator[str]:
    """The whole numbers from 1 on that are nearest to the limit."""
    match = re.search(r"-?[0-9]+(?:\.[0-9]+)?", line)
    number = min(max(Decimal(match[0]) if match else Decimal(1), Decimal(1)), Decimal(MOST_FRAMES))
    yield from (f"top {number.to_integral_value(rounding):f}" for rounding in (ROUND_FLOOR, ROUND_CEILING))


def _with_a_confidence(line: str) -> Iterator[str]:
    """The number as a percentage if it can be a confidence; else 99 % if it was 1 or at least 100, and 95 % otherwise."""
    number = Decimal((_NUMBER.findall(line) or ["0"])[0])
    whole = number == 1 or number >= 100
    yield f"{number if 50 < number < 100 else 99 if whole else 95}% confidence"


def _with_a_percentage(line: str) -> Iterator[str]:
    for percent in (100, LIKE_PERCENT) if max(map(Decimal, _NUMBER.findall(line)[:1])) > 100 else (LIKE_PERCENT,):
        yield re.sub(r"^(.*?within) [-0-9.]+", rf"\1 {percent}", line)


def _with_a_reference(line: str) -> Iterator[str]:
    """The clause with a frame to compare with; `closest first` with one that it is close to."""
    line = line.removesuffix(" than")
    if any(token.kind == "SUPERLATIVE" for token in tokens(line)):
        yield f"like {_FRAME}, {line}"
    offers = (f"{line} than {_FRAME}", f"{line} as {_FRAME}")
    yield from offers[:1] if not line.startswith(("as ", "just as ", "at least as ", "equally ")) else offers[1:]


_MENDERS: dict[str, Callable[[str], Iterable[str]]] = {
    "no-unit": _with_a_unit,
    "no-side": lambda line: [f"{line} head light", f"{line} head heavy"],
    "no-trait": _with_a_trait,
    "unknown-unit": _with_another_unit,
    "wrong-unit": _with_another_unit,
    "mixed-units": _with_another_unit,
    "wrong-zone": lambda line: [_without(line, ("ZONE",))],
    "empty-range": _turned,
    "not-whole": _whole,
    "negative": lambda line: [re.sub(r"(^|[^0-9])-(?=[0-9])", r"\1", line)],
    "bad-limit": _with_a_limit,
    "bad-confidence": _with_a_confidence,
    "bad-percent": _with_a_percentage,
    "bad-pattern": lambda _: ["16x19", "18x20"],
    "no-reference": _with_a_reference,
}


def _is_reference(word: str) -> bool:
    """Whether a word looks like an id or a folder. The digits of these are not numbers of the clause."""
    return _REFERENCE.fullmatch(word) is not None and word not in phrases()
