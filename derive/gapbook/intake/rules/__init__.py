"""Every rule, family by family. They look in this order: what may be a cause before what may follow from it."""

from gapbook.intake.rule import Rule
from gapbook.intake.rules import (
    beds,
    body,
    closing,
    copies,
    dates,
    declared,
    descriptor,
    disagreement,
    drawings,
    exceptions,
    freshness,
    game,
    identities,
    instruments,
    kinds,
    misread,
    order,
    ownership,
    points,
    regularity,
    resolution,
    runs,
    sameness,
    scatter,
    stations,
    steadiness,
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
    kinds.RULE,
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
    sameness.SESSIONS,
    regularity.RULE,
    scatter.RULE,
    steadiness.RULE,
    disagreement.RULE,
    copies.RULE,
    sameness.MARKS_ALIKE,
)
"""Whether figures are what instruments, people and the calendar allow."""
RULES: tuple[Rule, ...] = (
    *STRUCTURE,
    descriptor.RULE,
    freshness.RULE,
    identities.RULE,
    drawings.RULE,
    *OWNERSHIP,
    *MEASURES,
    *QUALITY,
    exceptions.STALE,
    exceptions.OWN,
)
