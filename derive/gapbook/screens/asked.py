"""Columns for the traits that were asked about and that an answer does not show anyway."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from gapbook.questions.answer import Answer, Asked, Entry
from gapbook.questions.figures import number, unit_word
from gapbook.questions.traits import TRAITS, Trait
from gapbook.science.units import UNITS

Column = tuple[str, str, Callable[[Entry], str]]
"""Heading, justification and cell."""
BALANCE = "balance\npoints"
_BROKEN = {"openness": "open-\nness", "swingweight": "swing-\nweight", "uniformity": "uni-\nformity"}
"""Long titles in two lines."""


def asked_columns(answer: Answer, units: str | None) -> list[Column]:
    """A column for each of the answer's `asked` traits, in the unit asked in, else the usual one."""
    return [_column(place, one, units) for place, one in enumerate(answer.asked)]


def _column(place: int, asked: Asked, units: str | None) -> Column:
    trait = TRAITS[asked.trait]
    unit = asked.unit if asked.unit is not None else _usual(trait, units)
    title = _BROKEN.get(trait.title, trait.title.replace(" ", "\n"))
    zone = f"\n{asked.zone}" if len(trait.zones) > 1 else ""

    def cell(one: Entry) -> str:
        value = one.asked[place]
        return "?" if value is None else number(value, trait, unit)

    return (f"{title}{zone}" + (f"\n{unit_word(unit)}" if unit else ""), "right", cell)


def _usual(trait: Trait, units: str | None) -> str:
    """The trait's usual unit; where metric ones are wanted and that is another, the first metric one."""
    metric = next((unit for unit in trait.units if not unit.startswith("[")), trait.units[0])
    return metric if units == "metric" and trait.units[0] in UNITS else trait.units[0]


def balance_note(columns: Iterable[Column]) -> list[str]:
    """How to read a balance in points, where one is shown."""
    shown = any(heading == BALANCE for heading, _, _ in columns)
    return ["Balance in points: negative is head light, positive head heavy."] if shown else []


def widths(columns: list[Column], entries: list[Entry]) -> int:
    """How many characters a table of these columns is wide, a space between them."""
    wide = [max(map(len, [*heading.split("\n"), *(cell(one) for one in entries)])) for heading, _, cell in columns]
    return sum(wide) + len(wide)
