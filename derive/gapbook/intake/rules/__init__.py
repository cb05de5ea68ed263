"""Every rule, family by family. They look in this order: what may be a cause before what may follow from it."""

from gapbook.intake.rule import Rule
from gapbook.intake.rules import (
    beds,
    body,
    dates,
    descriptor,
    disagreement,
    drawings,
    exceptions,
    freshness,
    game,
    identities,
    misread,
    ownership,
    resolution,
    runs,
    sameness,
    scatter,
    stations,
    structure,
    units,
)

STRUCTURE: tuple[Rule, ...] = structure.RULES
"""Whether files, rows and cells are as the schemas ask."""
OWNERSHIP: tuple[Rule, ...] = ownership.RULES
"""Whether things that different people bring in stay apart."""
MEASURES: tuple[Rule, ...] = (*units.RULES, *runs.RULES, stations.RULE, *misread.RULES, *beds.RULES, *body.RULES, *game.RULES)
"""Whether readings agree with each other, and with what is possible."""
QUALITY: tuple[Rule, ...] = (
    *dates.RULES,
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
    drawings.RULE,
    *OWNERSHIP,
    *MEASURES,
    *QUALITY,
    exceptions.STALE,
    exceptions.OWN,
)
