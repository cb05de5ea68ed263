"""Findings about a bed or a whole frame, at the rows they rest on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding
from gapbook.science.grouping import IntArray


def at_bed(
    context: CheckContext, specimen: int, found: str, expected: str, family: int | None = None, quantities: Sequence[str] = ()
) -> Finding:
    """A finding about a bed, or about one family of it, that rests on its spacings and on its readings of `quantities`.

    It stands at the first row of the spacings; or at the first of the readings, if of all these rows only readings are of the
    layer checked.
    """
    rows = spacing_rows(context, specimen, family)
    if quantities and not context.is_own("spacings")[rows].any():
        read = reading_rows(context, specimen, quantities)
        if len(read) and (context.is_own("readings")[read].any() or not len(rows)):
            return at_readings(context, specimen, found, expected, read)
    about, keyed = context.catalogue.specimens.ids[specimen], 1 if family is None else 2
    return Finding("spacings", None, found, expected, about=about, rows=tuple(rows.tolist()), keyed=keyed)


def at_readings(context: CheckContext, specimen: int, found: str, expected: str, rows: IntArray) -> Finding:
    """A finding about a specimen that rests on `rows` of the readings."""
    about = context.catalogue.specimens.ids[specimen]
    return Finding("readings", "value", found, expected, about=about, rows=tuple(rows.tolist()))


def spacing_rows(context: CheckContext, specimen: int, family: int | None = None) -> IntArray:
    """The first row of each pass of a specimen (of a family of it), in the order of the file."""
    passes = context.passes
    return np.asarray(passes.first[passes.of_specimen(specimen, family)])


def reading_rows(context: CheckContext, specimen: int, quantities: Sequence[str], *, strung_only: bool = True) -> IntArray:
    """The rows of a specimen's (strung) readings of some quantities, in the order of the file."""
    readings, order = context.readings, _by_specimen(context)
    low, high = np.searchsorted(readings.specimen, [specimen, specimen + 1], sorter=order)
    mine = readings.take(order[low:high])
    wanted = np.isin(mine.quantity, [context.catalogue.quantities.index(name) for name in quantities])
    return np.asarray(mine.row[wanted & ((mine.strung == 1) | (not strung_only))])


@cached
def _by_specimen(context: CheckContext) -> IntArray:
    """The usable readings in ascending order of specimen, those of one in the order of the file."""
    return np.argsort(context.readings.specimen, kind="stable")
