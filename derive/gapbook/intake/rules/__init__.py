"""Every rule, family by family. They look in this order: what may be a cause before what may follow from it."""

from gapbook.intake.rule import Rule
from gapbook.intake.rules import (
    beds,
    body,
    closing,
    dates,
    declared,
    descriptor,
    disagreement,
    exceptions,
    freshness,
    game,
    identities,
    instruments,
    misread,
    order,
    ownership,
    points,
    resolution,
    runs,
    sameness,
    scatter,
    stations,
    structure,
    twins,
    units,
)

STRUCTURE: tuple[Rule, ...] = structure.RULES
"""Whether files, rows and cells are as the schemas ask."""
OWNERSHIP: tuple[Rule, ...] = (*ownership.RULES, *twins.RULES)
"""Whether things that different people bring in stay apart, and one thing is one."""
MEASURES: tuple[Rule, ...] = (
    points.RULE,
    *units.RULES,
    order.RULE,
    *runs.RULES,
    *misread.RULES,
    *beds.RULES,
    *closing.RULES,
    *stations.RULES,
    *body.RULES,
    *game.RULES,
)
"""Whether readings agree with each other, and with what is possible."""
QUALITY: tuple[Rule, ...] = (
    *dates.RULES,
    *declared.RULES,
    instruments.RULE,
    resolution.RULE,
    sameness.SPACINGS,
    scatter.RULE,
    disagreement.RULE,
    sameness.MARKS_ALIKE,
)
"""Whether figures are what instruments, people and the calendar allow."""
RULES: tuple[Rule, ...] = (
    *STRUCTURE,
    descriptor.RULE,
    freshness.RULE,
    identities.RULE,
    *OWNERSHIP,
    *MEASURES,
    *QUALITY,
    exceptions.STALE,
    exceptions.OWN,
)
