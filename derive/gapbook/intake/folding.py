"""One bad value, one finding: what follows from it is listed under it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from gapbook.intake.findings import ORDER, Finding
from gapbook.intake.placing import Placed


def folded(items: Sequence[Placed]) -> list[Finding]:
    """The findings with consequences under their causes.

    A finding follows from another about the same thing if its rule says so and the other is at least as severe. Where
    several might be the cause, the first of the gravest is taken.
    """
    by_subject: dict[str, list[int]] = defaultdict(list)
    for number, item in enumerate(items):
        if item.about:
            by_subject[item.about].append(number)
    parent: dict[int, int] = {}
    for number, item in enumerate(items):
        possible = [
            other
            for other in by_subject.get(item.about, ())
            if items[other].rule.code in item.rule.follows
            and ORDER[items[other].finding.severity] <= ORDER[item.finding.severity]
        ]
        possible = [other for other in possible if _top(other, parent) != number]
        if possible:
            parent[number] = min(possible, key=lambda other: (ORDER[items[other].finding.severity], other))
    under: dict[int, list[Finding]] = defaultdict(list)
    for number in sorted(parent):
        under[_top(number, parent)].append(items[number].finding)
    return [
        replace(item.finding, causes=tuple(under[number])) if under[number] else item.finding
        for number, item in enumerate(items)
        if number not in parent
    ]


def _top(number: int, parent: dict[int, int]) -> int:
    """The cause of a finding's cause, and so on, up to one that has none."""
    while number in parent:
        number = parent[number]
    return number
