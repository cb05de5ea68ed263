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
        if possible:
            parent[number] = min(possible, key=lambda other: (ORDER[items[other].finding.severity], other))
    root = {number: _root(number, parent) for number in parent}
    under: dict[int, list[Finding]] = defaultdict(list)
    for number, top in root.items():
        if top != number:
            under[top].append(items[number].finding)
    return [
        replace(item.finding, causes=tuple(under[number])) if under[number] else item.finding
        for number, item in enumerate(items)
        if root.get(number, number) == number
    ]


def _root(number: int, parent: dict[int, int]) -> int:
    seen = {number}
    while number in parent and parent[number] not in seen:
        number = parent[number]
        seen.add(number)
    return number
