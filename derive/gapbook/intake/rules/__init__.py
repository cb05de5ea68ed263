"""Every rule, family by family, in the order in which they look."""

from gapbook.intake.exceptions import STALE
from gapbook.intake.rule import Rule
from gapbook.intake.rules.body import RULES as BODY
from gapbook.intake.rules.game import RULES as GAME
from gapbook.intake.rules.heads import RULES as HEADS
from gapbook.intake.rules.quality import RULES as QUALITY
from gapbook.intake.rules.spacings import RULES as SPACINGS
from gapbook.intake.rules.structure import RULES as STRUCTURE
from gapbook.intake.rules.units import RULES as UNITS

RULES: tuple[Rule, ...] = (*STRUCTURE, *UNITS, *SPACINGS, *HEADS, *BODY, *GAME, *QUALITY, STALE)
