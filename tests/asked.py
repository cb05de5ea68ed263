"""Parts of questions, put together by hand."""

from decimal import Decimal

from gapbook.questions.question import Relation
from gapbook.questions.ranges import Bound, Range


def bound(text: str | None, inclusive: bool = True) -> Bound | None:
    return None if text is None else Bound(value=Decimal(text), inclusive=inclusive)


def from_to(trait: str, low: str | None, high: str | None, unit: str = "", zone: str | None = None) -> Range:
    return Range(trait=trait, zone=zone, unit=unit, low=bound(low), high=bound(high))


def under(trait: str, high: str, unit: str = "", zone: str | None = None) -> Range:
    return Range(trait=trait, zone=zone, unit=unit, high=bound(high, False))


def over(trait: str, low: str, unit: str = "", zone: str | None = None) -> Range:
    return Range(trait=trait, zone=zone, unit=unit, low=bound(low, False))


def points(low: str | None, high: str | None) -> Range:
    """A balance in points, head light negative."""
    return from_to("balance", low, high, "points")


def relation(kind: str, zone: str = "centre", reference: str = "fern-98", **more: object) -> Relation:
    return Relation(kind=kind, zone=zone, reference=reference, **more)


HEAD = from_to("head_area", "95", "98", "[sin_i]")
SIXTEEN = from_to("mains", "16", "16")
