"""Every rule, family by family, in the order in which they look."""

from gapbook.intake.exceptions import STALE
from gapbook.intake.rule import Rule
from gapbook.intake.rules.units import RULES as UNITS

RULES: tuple[Rule, ...] = (*UNITS, STALE)
