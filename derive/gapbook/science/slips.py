"""How a figure is miswritten, and which slip explains one that is out of line. Common practice, no source."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

from gapbook.science.units import INCH

NEAR = 2.0
"""Standard uncertainties within which a slip explains a figure: no figure is offered outside the interval that is shown."""
LEAST_MM = 0.3
"""Uncertainty below which none is believed: how far a string wanders from where it would rest [mm]."""


class Slip(NamedTuple):
    """What should have been written, in the unit written in, and what went wrong, in words."""

    value: float
    words: str


def slips(written: float, is_mark: bool) -> list[Slip]:
    """What may have been meant by a figure: digits that changed places, a point that slipped, another unit; on a rule, a ten
    misread.
    """
    found = [Slip(value, "two digits changed places") for value in _transposed(written)]
    found += [Slip(written * factor, "the decimal point slipped") for factor in (10.0, 0.1)]
    found += [Slip(written * factor, "a value in another unit") for factor in (INCH, 1.0 / INCH)]
    if is_mark:
        found += [Slip(written + step, "a ten misread on the scale") for step in (10.0, -10.0)]
    return found


def explained(written: float, expected: float, u: float, is_mark: bool) -> Slip | None:
    """The slip that brings a figure nearest to what is expected, within NEAR times its standard uncertainty u; None where none
    does.
    """
    near = NEAR * u
    fitting = [slip for slip in slips(written, is_mark) if abs(slip.value - expected) <= near]
    return min(fitting, key=lambda slip: abs(slip.value - expected), default=None)


def _transposed(written: float) -> list[float]:
    """The figure with two neighbouring digits changed about, with the decimals it may have been written with."""
    values = set()
    plain = f"{written:.6f}".rstrip("0")
    for decimals in {max(len(plain.partition(".")[2]), least) for least in (0, 1, 2)}:
        text = f"{written:.{decimals}f}"
        places = [place for place, letter in enumerate(text) if letter.isdigit()]
        for one, other in pairwise(places):
            if text[one] != text[other]:
                letters = list(text)
                letters[one], letters[other] = letters[other], letters[one]
                values.add(float("".join(letters)))
    return sorted(values)
