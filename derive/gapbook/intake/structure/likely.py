"""The unit in which a figure outside its limits would make sense."""

from __future__ import annotations

from gapbook.science.units import ALIASES, UNITS
from gapbook.tables.schemas import Field


def everyday(code: str) -> str:
    """The everyday name of a unit, or its code where it has none."""
    return next((alias for alias, unit in ALIASES.items() if unit == code), code)


def likely_unit(item: Field, text: str) -> str | None:
    """How to mend a number that lies outside the limits of a field with a fixed unit, but inside them if it was read in another
    unit; None where no unit would do.
    """
    if item.unit is None or (own := UNITS.get(item.unit)) is None:
        return None
    offers = []
    for unit in UNITS.values():
        value = float(text) * unit.factor / own.factor
        low, high = item.minimum, item.maximum
        if unit.base == own.base and (low is None or value >= low) and (high is None or value <= high):
            offers.append(f"{value:.5g} if {text} is in {everyday(unit.code)}")
    return f"The column is in {item.unit}: write {', or '.join(offers)}" if offers else None
