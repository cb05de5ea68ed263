"""Balances written in points, as the trade says them: `4 points head light`. The tables have the distance from the butt."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.mending import USUAL_LENGTH_MM, in_points, points_advice
from gapbook.intake.rule import Rule
from gapbook.science.grouping import FloatArray
from gapbook.science.units import INCH, lookup
from gapbook.tables.reader import texts
from gapbook.tables.units import codes, renumber

LEAST_SHARE = 0.35
"""No frame balances nearer to the butt than at this part of its length. Common practice, no source."""
LEAST_INCHES = 0.38
"""A figure that would make so much of the length in inches is taken for inches, and one below for points. Common practice, no
source."""


@cached
def written_in_points(context: CheckContext) -> dict[int, float]:
    """The rows of the readings whose balance is in points, each with the length that its frame declares (or a usual one) [mm].

    They are those whose unit says so, and those that are far too near to the butt both as written and in inches.
    """
    quantity = context.tables["readings"]["quantity"]
    rows = np.flatnonzero(np.array([*(text == "balance" for text in texts(quantity)), False])[codes(quantity)])
    data = context.tables["readings"].take(rows)
    unit = codes(data["unit"])
    says = np.array([*(in_points(text) is not None for text in texts(data["unit"])), False])[unit]
    known = [lookup(text) for text in texts(data["unit"])]
    factor = np.array([*(one.factor if one and one.base == "mm" else np.nan for one in known), np.nan])[unit]
    value, length = np.asarray(data["value"], dtype=float), _lengths(context, data)
    with np.errstate(invalid="ignore"):
        near = (value * factor < LEAST_SHARE * length) & (value * INCH < LEAST_INCHES * length)
    found = np.flatnonzero(says | near)
    return dict(zip(rows[found].tolist(), length[found].tolist(), strict=True))


def _lengths(context: CheckContext, readings: pa.Table) -> FloatArray:
    """For each of some readings the length of the frame [mm], that of a usual one if none is declared."""
    frames, specimens = context.tables["frames"], context.tables["specimens"]
    ids, copies = frames["frame_id"].to_pylist(), specimens["specimen_id"].to_pylist()
    declared = np.append(np.asarray(frames["length_mm"].cast(pa.float64()).fill_null(USUAL_LENGTH_MM)), USUAL_LENGTH_MM)
    of_copy = np.append(declared[renumber(specimens["frame_id"], ids)], USUAL_LENGTH_MM)
    return np.asarray(of_copy[renumber(readings["specimen_id"], copies)])


def look(context: CheckContext) -> Iterator[Finding]:
    """A finding for each balance in points."""
    for row, length in written_in_points(context).items():
        value, unit = (context.cell("readings", row, name) for name in ("value", "unit"))
        says = in_points(str(unit))
        yield Finding(
            "readings",
            "value" if says is None else "unit",
            f"a balance of {value:g} {unit}",
            "the distance of the balance point from the butt",
            points_advice(float(str(value)), says, length),
            about=str(context.cell("readings", row, "specimen_id")),
            rows=(row,),
        )


RULE = Rule(
    "balance-points",
    Severity.error,
    "a balance written in points",
    "The trade says how many eighths of an inch a frame balances from its middle, towards the butt (head light) or the head "
    "(head heavy). Points say nothing without the length and the side, so the tables have the distance from the butt, and "
    "gapbook shows points itself. Said where the unit is points, or where no frame balances so near to its butt, in inches "
    "neither.",
    "a point is an eighth of an inch: common practice, no source",
    "Write the distance from the butt to the balance point",
    look,
)
