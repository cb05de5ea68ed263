"""Reading quality: whether figures are what instrument, hand and calendar allow."""

from gapbook.intake.rules import dates, disagreement, resolution, sameness, scatter

RULES = (
    dates.FUTURE,
    dates.BEFORE,
    resolution.RULE,
    sameness.SPACINGS,
    scatter.RULE,
    disagreement.RULE,
    sameness.SAME_MARKS,
)
"""The family, causes before what may follow from them."""
