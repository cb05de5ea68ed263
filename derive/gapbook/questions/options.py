"""The texts of `find`'s options, read into the parts of a question; every one that is not understood is reported."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal

from pydantic import ValidationError

from gapbook.errors import GapbookError, Problem, fail
from gapbook.questions.measures import Ends, Quantity, measured_range
from gapbook.questions.ranges import Range
from gapbook.questions.relations import Order, Pattern, Relation, reference_text
from gapbook.questions.tokens import Token, tokens
from gapbook.questions.traits import TRAITS, UNIT_WORDS, ZONES, trait_names, zone_names

_SORTED_BY = {"head": "head_area", "mass": "mass", "swingweight": "swingweight", "balance": "balance"} | {
    "length": "length",
    "name": "name",
}
SORTS: dict[str, tuple[str, bool]] = (
    {"tightest": ("openness", False), "open": ("openness", True), "closest": ("closest", False)}
    | {word: (by, False) for word, by in _SORTED_BY.items()}
    | {f"{word}-desc": (by, True) for word, by in _SORTED_BY.items()}
)
"""What `--sort` takes: the key sorted by, and whether from the highest down."""

BASES = {"measured": True, "any": False}
"""What `--basis` takes, and whether only measured frames are meant."""


_NAMES = {"tighter": "--tighter-than", "more_open": "--more-open-than", "like": "--like"}
"""The option of each kind of relation."""


class Reading:
    """Reads options one by one and gathers what is wrong with them."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []

    def check(self) -> None:
        """Raise the GapbookError with every problem found so far."""
        if self._problems:
            raise GapbookError(*self._problems)

    def _refuse(self, error: GapbookError, option: str = "", text: str | None = None) -> None:
        """Take in what is wrong, with the option it was given to and its text where nothing else is said to be found."""
        self._problems += [
            replace(one, message=f"{option}: {one.message}" if option else one.message, found=one.found or text)
            for one in error.problems
        ]

    def range(self, trait: str, text: str) -> Range | None:
        """A range such as `95..98`, `..98`, `95..` or `97`, and a unit."""
        try:
            return measured_range(trait_names()[TRAITS[trait].title], None, _ends(text), usual_unit=True)
        except GapbookError as error:
            self._refuse(error, f"--{TRAITS[trait].title.replace(' ', '-')}", text)
            return None

    def relations(self, references: Mapping[str, Iterable[str] | str], where: str) -> tuple[Relation, ...]:
        """The relations to the references given, in the zone `where`."""
        found: list[Relation] = []
        if where.lower() not in zone_names():
            expected = ", ".join(ZONES)
            self._refuse(fail("unknown-zone", "--where takes a zone of the bed", found=where, expected=expected))
            return ()
        for kind, texts in references.items():
            for text in (texts,) if isinstance(texts, str) else texts or ():
                try:
                    name = reference_text(text)
                    found.append(Relation(kind=kind, zone=zone_names()[where.lower()], reference=name))  # type: ignore[arg-type]
                except GapbookError as error:
                    self._refuse(error, _NAMES[kind])
        return tuple(found)

    def patterns(self, texts: Iterable[str] | str) -> tuple[Pattern, ...]:
        """Patterns such as `16x19`; several are alternatives."""
        found: list[Pattern] = []
        for text in (texts,) if isinstance(texts, str) else texts or ():
            try:
                found.append(_pattern(text))
            except GapbookError as error:
                self._refuse(error, "--pattern")
        return tuple(found)

    def order(self, sort: str | None, where: str, related: bool) -> Order | None:
        """What to sort by; a zone with nothing to compare there sorts by the openness in it."""
        zone = zone_names().get(where.lower(), "centre")
        asked = None if related or zone == "centre" else zone
        if sort is None:
            return None if asked is None else Order(by="openness", zone=asked)  # type: ignore[arg-type]
        if sort.lower() not in SORTS:
            self._refuse(fail("unknown-sort", "--sort does not take this", found=sort, expected=", ".join(SORTS)))
            return None
        by, descending = SORTS[sort.lower()]
        if asked is not None and by != "openness":
            message = f"--where {asked} changes nothing here: --sort {sort} is of the whole frame, and nothing is compared"
            fix = "Leave out --where, sort by tightest or open, or add --tighter-than, --more-open-than or --like"
            self._refuse(fail("no-reference", message, fix=fix))
            return None
        return Order(by=by, zone=asked, descending=descending)  # type: ignore[arg-type]

    def basis(self, text: str) -> bool:
        """Whether only measured frames are meant."""
        if text.lower() not in BASES:
            self._refuse(fail("unknown-basis", "--basis does not take this", found=text, expected=" or ".join(BASES)))
        return BASES.get(text.lower(), False)


def _ends(text: str) -> Ends:
    """The ends written as `A..B`, `A..`, `..B` or `A`, with a unit and a lean after them [GapbookError bad-range]."""
    words = [token for token in tokens(text) if token.kind != "NOISE"]
    unknown = next((token for token in words if token.kind == "UNKNOWN" and token.text.isalpha()), None)
    if unknown is not None and any(token.kind == "NUMBER" for token in words[: words.index(unknown)]):
        expected = ", ".join(listed[0] for listed in UNIT_WORDS.values())
        raise fail("unknown-unit", "there is no such unit", found=text[unknown.start :].strip(), expected=expected)
    low, rest = _quantity(words)
    dots, rest = (bool(rest and rest[0].kind == "TO"), rest[1:] if rest and rest[0].kind == "TO" else rest)
    high, rest = _quantity(rest) if dots else (low, rest)
    if rest or (low is None and high is None):
        raise fail("bad-range", "this is not a range", found=text, expected="95..98, 95.., ..98 or 97, and a unit")
    return Ends(low, high)


def _quantity(words: list[Token]) -> tuple[Quantity | None, list[Token]]:
    """A number with the unit and lean after it, if the words begin with one, and the words left."""
    if not words or words[0].kind != "NUMBER":
        return None, words
    number, rest = Decimal(words[0].text), words[1:]
    unit = str(rest[0].meaning) if rest and rest[0].kind == "UNIT" else None
    rest = rest if unit is None else rest[1:]
    lean = rest[0].meaning if rest and rest[0].kind == "LEAN" else None
    rest = rest if lean is None else rest[1:]
    return Quantity(number, unit, lean if isinstance(lean, int) else None), rest


def _pattern(text: str) -> Pattern:
    """A pattern such as `16x19` [GapbookError bad-pattern]."""
    words = tokens(text)
    if [token.kind for token in words] == ["NUMBER", "BY", "NUMBER"]:
        return pattern_of(words[0].text, words[2].text)
    expected, fix = "mains x crosses, such as 16x19", None
    if any(sign in text for sign in ",;"):
        fix = "Give --pattern once for each: --pattern 16x19 --pattern 18x20"
    raise fail("bad-pattern", "this is not a string pattern", found=text, expected=expected, fix=fix)


def pattern_of(mains: str, crosses: str) -> Pattern:
    """The pattern of two counts as written [GapbookError bad-pattern]."""
    if not all(count.isdigit() and 1 <= len(count) <= 2 and int(count) for count in (mains, crosses)):
        found = f"{mains}x{crosses}"
        raise fail("bad-pattern", "a string pattern is two whole numbers below 100", found=found, expected="16x19")
    return Pattern(mains=int(mains), crosses=int(crosses))


def refused(error: ValidationError) -> GapbookError:
    """What pydantic found wrong, as the error users see."""
    problems = (
        Problem("bad-option", f"--{one['loc'][0] if one['loc'] else 'question'}: {one['msg']}", found=str(one["input"]))
        for one in error.errors(include_url=False)
    )
    return GapbookError(*problems)
