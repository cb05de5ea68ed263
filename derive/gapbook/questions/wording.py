"""A question in words, as it was understood. The words are clauses of the question language and mean the same."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from gapbook.questions.question import (
    LIKE_PERCENT,
    Either,
    NoneOf,
    Order,
    Part,
    Pattern,
    Question,
    Relation,
    Setting,
    TraitRelation,
    Without,
)
from gapbook.questions.ranges import Bound, Range
from gapbook.questions.relations import peers_of
from gapbook.questions.traits import TRAITS, UNIT_WORDS, ZONE_WORDS, plain
from gapbook.questions.vocabulary import phrases
from gapbook.science.comparison import CONFIDENCE

_ID = re.compile(r"(?=.*[0-9])[a-z][a-z0-9]{2,}(?:-[a-z0-9]+)+")
"""What is taken for an id by itself."""
EVERYTHING = "all frames"
"""What a question without any clause asks for."""


def describe(question: Question) -> str:
    """The question in clauses, joined by commas. Parsed again, they give the same question."""
    return ", ".join(part_words(part) for part in _parts(question)) or EVERYTHING


def clauses(question: Question) -> list[tuple[str, Part]]:
    """The words of each part that leaves frames out, with the part: ranges, alternatives, what is left out, and relations."""
    return [(part_words(part), part) for part in _parts(question) if not isinstance(part, Setting)]


def _parts(question: Question) -> Iterator[Part]:
    """The parts of the question, without those that are the default."""
    yield from question.ranges
    if question.patterns:
        yield question.patterns
    yield from (Either(group) for group in question.either)
    yield from (NoneOf(item) for item in question.none_of)
    yield from (Without(reference) for reference in question.without)
    yield from question.relations
    yield from question.trait_relations
    if question.measured_only:
        yield Setting("measured_only", True)
    if question.order is not None:
        yield Setting("order", question.order)
    if question.limit is not None:
        yield Setting("limit", question.limit)
    if question.confidence != CONFIDENCE:
        yield Setting("confidence", question.confidence)


def part_words(part: Part) -> str:
    """One part of a question in words."""
    if isinstance(part, Range):
        return range_words(part)
    if isinstance(part, Relation):
        return relation_words(part)
    if isinstance(part, Setting):
        return _setting_words(part)
    if isinstance(part, TraitRelation):
        return trait_relation_words(part)
    if isinstance(part, Either):
        return _either_words(part.ranges)
    if isinstance(part, NoneOf):
        item = part.item
        return f"not {item.mains}x{item.crosses}" if isinstance(item, Pattern) else f"not {range_words(item)}"
    if isinstance(part, Without):
        return f"without {reference_words(part.reference)}"
    return " or ".join(f"{one.mains}x{one.crosses}" for one in part)


def _either_words(ranges: tuple[Range, ...]) -> str:
    """Alternatives in words: `16 or 18 mains`, `head 95 or 97 sq in`."""
    words = [range_words(one) for one in ranges]
    title = ranges[0].about.title
    if ranges[0].trait in ("mains", "crosses"):
        return " or ".join(one.removesuffix(f" {title}") for one in words) + f" {title}"
    first = range_words(ranges[0])
    before = first[: first.index(title) + len(title)]
    unit = "" if ranges[0].unit == "points" else _unit_words(ranges[0].unit)
    return f"{before} " + " or ".join(one.removeprefix(before).strip().removesuffix(unit) for one in words) + unit


def trait_relation_words(one: TraitRelation) -> str:
    """A relation of a trait in words: `lighter than fern-98`, `not more even than fern-98`."""
    denied, kind = one.kind.startswith("not_"), one.kind.removeprefix("not_")
    words = one.about.less if kind == "less" else one.about.more
    return f"{'not ' if denied else ''}{words} than {reference_words(one.reference)}"


def _setting_words(setting: Setting) -> str:
    if isinstance(setting.value, Order):
        return order_words(setting.value)
    if setting.name == "limit":
        return f"top {setting.value}"
    if setting.name == "confidence":
        return f"{(Decimal(repr(setting.value)) * 100).normalize():f}% confidence"
    return "measured only" if setting.value else "any basis"


def range_words(one: Range) -> str:
    """A range in words; it takes two clauses if one cannot say both ends."""
    low, high = one.low, one.high
    if low is not None and high is not None and not _one_clause(low, high):
        parts = (one.model_copy(update={"high": None}), one.model_copy(update={"low": None}))
        return ", ".join(range_words(part) for part in parts)
    if one.unit == "points":
        return _balance_words(one)
    figures = _figures(low, high, _unit_words(one.unit))
    if one.trait in ("mains", "crosses"):
        return f"{figures} {one.about.title}"
    return f"{_placed(one.about.title, one.zone if len(one.about.zones) > 1 else None)} {figures}"


def _one_clause(low: Bound, high: Bound) -> bool:
    """Whether one clause can say both bounds: `95 to 98` includes both ends."""
    return low.inclusive and high.inclusive and (low.value != high.value or low.step == high.step)


def _figures(low: Bound | None, high: Bound | None, unit: str = "") -> str:
    """Bounds as `95 to 98 sq in`, `at least 95 sq in`, `under 98 sq in`, `97 sq in` or `1 point ...`."""
    if unit.startswith(" points") and str((high or low or Bound(value=Decimal(0))).value) == "1":
        unit = unit.replace(" points", " point", 1)
    if low is not None and high is not None:
        same = low.value == high.value
        return f"{low.value:f}{unit}" if same else f"{low.value:f} to {high.value:f}{unit}"
    if low is not None:
        return f"{'at least' if low.inclusive else 'over'} {low.value:f}{unit}"
    assert high is not None
    return f"{'at most' if high.inclusive else 'under'} {high.value:f}{unit}"


def _unit_words(code: str) -> str:
    if not code or code == "%":
        return code
    return f" {UNIT_WORDS[code][0]}"


def _balance_words(one: Range) -> str:
    """A balance in points, head light or head heavy, or from one to the other."""
    low, high = one.low, one.high
    values = [bound.value for bound in (low, high) if bound is not None]
    if low is not None and high is not None and low.value < 0 < high.value:
        return f"balance {-low.value:f} points head light to {high.value:f} points head heavy"
    if values == [0, 0] and all(bound is not None and bound.step == 1 for bound in (low, high)):
        return "even balance"
    if max(values) > 0 or (low is not None and min(values) == 0):
        return f"balance {_figures(low, high, ' points head heavy')}"
    return f"balance {_figures(_mirrored(high), _mirrored(low), ' points head light')}"


def _mirrored(bound: Bound | None) -> Bound | None:
    return None if bound is None else Bound(value=-bound.value, inclusive=bound.inclusive)


def relation_words(one: Relation) -> str:
    """A relation in words: `tighter centre than fern-98`, `like fern-98 in the sides`."""
    if one.kind == "like":
        share = one.within_percent
        how = "like" if share == LIKE_PERCENT else f"within {share:f}% of"
        return f"{how} {reference_words(one.reference)} {ZONE_WORDS[one.zone].place}"
    words = ZONE_WORDS[one.zone]
    place, peers = words.adjective or words.place, peers_of(one.reference)
    if peers is not None and one.kind.startswith("not_"):
        return f"as {'tight' if one.kind == 'not_more_open' else 'open'} {place} as {peers.words}"
    return f"{one.kind.replace('_', ' ')} {place} than {reference_words(one.reference)}"


def reference_words(reference: str) -> str:
    """A reference as it is written in a question: an id or a class as it is, anything else in quotation marks."""
    is_id = _ID.fullmatch(reference) and reference not in phrases()
    if is_id or peers_of(reference) is not None:
        return reference
    mark = "'" if '"' in plain(reference) else '"'
    return f"{mark}{reference}{mark}"


def order_words(order: Order) -> str:
    """An order in words: `tightest first`, `lowest swingweight first`, `by name`."""
    if order.by == "name":
        return f"by name{' descending' if order.descending else ''}"
    if order.by == "closest":
        return "closest first"
    trait = TRAITS[order.by]
    superlatives = trait.highest if order.descending else trait.lowest
    if superlatives:
        return f"{_zoned(superlatives[0], order.zone)} first"
    named = _placed(trait.title, order.zone if len(trait.zones) > 1 else None)
    return f"{'highest' if order.descending else 'lowest'} {named} first"


def _placed(noun: str, zone: str | None) -> str:
    """A noun in a zone: `centre mesh`, `mesh on the left`."""
    if zone is None:
        return noun
    words = ZONE_WORDS[zone]
    return f"{words.adjective} {noun}" if words.adjective else f"{noun} {words.place}"


def _zoned(superlative: str, zone: str | None) -> str:
    """A superlative in a zone: `tightest`, `tightest sides`, `most open on the left`."""
    return superlative if zone is None else f"{superlative} {ZONE_WORDS[zone].adjective or ZONE_WORDS[zone].place}"


def widened(question: Question) -> list[str]:
    """A sentence for each range that takes values beyond its bounds: a figure alone, and head areas in whole square inches."""
    return [said for one in question.ranges if (said := _widened(one))]


def _widened(one: Range) -> str | None:
    if one.about.whole or not any(bound is not None and one.rounds(bound) for bound in (one.low, one.high)):
        return None
    low, high = (None if at is None else Bound(value=at) for at in (one.threshold("low"), one.threshold("high")))
    meant = range_words(Range(trait=one.trait, zone=one.zone, unit=one.unit, low=low, high=high))
    if one.is_wide:
        return f"“{range_words(one)}” means {meant}: a figure alone is half a unit of its last digit either way."
    return f"“{range_words(one)}” means {meant}: head areas are written in whole square inches."
