"""What frames can be near in, and how far they may be: tolerances as people type them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import NamedTuple

from gapbook.errors import fail
from gapbook.questions.ranges import Frozen
from gapbook.questions.traits import NUMBER, UNIT_WORDS, plain, unit_factor, unit_names


class Measure(NamedTuple):
    """Something that frames can be near in.

    name: its name in answers; with two hyphens before it, its option.
    units: codes of the units a tolerance may have, the usual one first.
    usual: the tolerance if none is named, in the usual unit; None if it then does not count.
    column: its column, in the tables below or of a bed; empty for the bed itself.
    decimals: how many decimals a difference is shown with.
    """

    name: str
    units: tuple[str, ...]
    usual: float | None
    column: str
    decimals: int


MEASURES: dict[str, Measure] = {
    one.name: one
    for one in (
        Measure("bed", ("%",), 3.0, "", 1),
        Measure("mass", ("g", "[oz_av]", "kg"), 5.0, "mass_g", 1),
        Measure("balance", ("points", "mm", "cm", "[in_i]"), 1.0, "balance_points", 1),
        Measure("swingweight", ("kg.cm2",), 5.0, "swingweight_kgcm2", 1),
        Measure("length", ("mm", "cm", "[in_i]"), None, "length_mm", 1),
        Measure("head", ("[sin_i]", "cm2"), None, "head_area_cm2", 1),
    )
}
"""Everything that frames can be near in, by name."""
BALANCE_MM = "balance_mm"
ANY = "any"
"""Typed in place of a tolerance, it leaves a measure out."""


class Tolerance(Frozen):
    """How far a frame may be from the bed.

    name: of which measure.
    value: how far, in `unit`.
    unit: the code of the unit.
    named: whether it was named; if not, it is the usual one.
    """

    name: str
    value: float
    unit: str
    named: bool

    @property
    def column(self) -> str:
        """The column it is about; that of balance depends on the unit."""
        return BALANCE_MM if self.name == "balance" and self.unit != "points" else MEASURES[self.name].column

    @property
    def base(self) -> float:
        """How far, in the unit of the column."""
        return self.value * float(unit_factor(self.unit))


def tolerances(named: Mapping[str, str | None]) -> list[Tolerance]:
    """The tolerances that count: those named, as typed, and the usual ones of the others. GapbookError if one is no tolerance,
    or if all are left out.
    """
    found = []
    for name, measure in MEASURES.items():
        text = named.get(name)
        if text is None:
            if measure.usual is not None:
                found.append(Tolerance(name=name, value=measure.usual, unit=measure.units[0], named=False))
        elif plain(text).strip() != ANY:
            value, unit = _tolerance(text, measure)
            found.append(Tolerance(name=name, value=value, unit=unit, named=True))
    if not found:
        raise fail("no-tolerance", "nothing is left that a frame could be near in", fix="Name one, such as --bed 3%")
    return found


_TYPED = re.compile(rf"\s*(?:\+/-|±)?\s*({NUMBER})\s*(\S.{{0,30}})?")


def _tolerance(text: str, measure: Measure) -> tuple[float, str]:
    """A tolerance as typed, and the code of its unit; the usual one if it has none."""
    words = " or ".join(UNIT_WORDS[code][0] for code in measure.units)
    expected = f"above 0, in {words}, such as {measure.usual or 5:g} {UNIT_WORDS[measure.units[0]][0]}; or {ANY}"
    match = _TYPED.fullmatch(plain(text).strip())
    unit = measure.units[0] if match is None or not match[2] else unit_names().get(match[2].strip(), "")
    if match is None or unit not in measure.units:
        raise fail("bad-tolerance", f"--{measure.name} does not take this", found=text[:60], expected=expected)
    value = float(match[1])
    most = 100.0 if unit == "%" else 1000.0
    if not 0.0 < value < most:
        raise fail("bad-tolerance", f"--{measure.name} does not take this", found=text[:60], expected=expected)
    return value, unit
