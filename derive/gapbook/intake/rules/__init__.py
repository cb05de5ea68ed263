"""Every rule, family by family, in the order in which they look: causes before what may follow from them."""

from gapbook.intake.rule import Rule
from gapbook.intake.rules import (
    beds,
    body,
    dates,
    disagreement,
    exceptions,
    game,
    misread,
    resolution,
    runs,
    sameness,
    scatter,
    structure,
    units,
)

STRUCTURE: tuple[Rule, ...] = structure.RULES
"""Files, rows and cells as the schemas have them."""
MEASURES: tuple[Rule, ...] = (*units.RULES, *runs.RULES, *misread.RULES, *beds.RULES, *body.RULES, *game.RULES)
"""Readings against each other and against what can be."""
QUALITY: tuple[Rule, ...] = (
    *dates.RULES,
    resolution.RULE,
    sameness.SPACINGS,
    scatter.RULE,
    disagreement.RULE,
    sameness.MARKS_ALIKE,
)
"""Whether figures are what instrument, hand and calendar allow."""
RULES: tuple[Rule, ...] = (*STRUCTURE, *MEASURES, *QUALITY, exceptions.STALE)
