"""Where a finding about a bed stands: the first row concerned that belongs to the layer checked."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.context import CheckContext, cached
from gapbook.science.grouping import IntArray
from gapbook.tables.units import renumber


class Stand(NamedTuple):
    """Table, row, the others of the same table, column, and how many columns of the key name it."""

    table: str
    row: int
    also: tuple[int, ...]
    column: str | None
    keyed: int | None


def spacing_rows(context: CheckContext, specimen: int, family: int | None = None) -> IntArray:
    """The first row of each pass of a specimen (of a family of it), in the order of the file."""
    passes = context.passes
    return np.asarray(passes.first[passes.of_specimen(specimen, family)])


def reading_rows(context: CheckContext, specimen: int, quantities: Sequence[str], *, strung_only: bool = True) -> IntArray:
    """The rows of a specimen's (strung) readings of some quantities, in the order of the file."""
    specimens, rows = _readings_by_specimen(context)
    low, high = np.searchsorted(specimens, [specimen, specimen + 1])
    wanted = [
        row for row in np.sort(rows[low:high]).tolist()
        if context.cell("readings", row, "quantity") in quantities
        and (not strung_only or context.cell("readings", row, "strung"))
    ]  # fmt: skip
    return np.array(wanted, dtype=np.int64)


def at_bed(context: CheckContext, specimen: int, family: int | None = None, quantities: Sequence[str] = ()) -> Stand:
    """The place of a finding about a bed, or about a family of it, that rests on its spacings and on readings.

    The first spacings row; but where only readings of `quantities` are of the layer checked, the first of those.
    """
    rows = spacing_rows(context, specimen, family)
    if quantities and not context.is_own("spacings")[rows].any():
        read = reading_rows(context, specimen, quantities)
        if len(read) and (context.is_own("readings")[read].any() or not len(rows)):
            return Stand("readings", int(read[0]), tuple(read[1:].tolist()), "value", None)
    return Stand("spacings", int(rows[0]), tuple(rows[1:].tolist()), None, 1 if family is None else 2)


@cached
def _readings_by_specimen(context: CheckContext) -> tuple[IntArray, IntArray]:
    """Specimen numbers of the usable readings in ascending order, and the rows behind them."""
    rows = context.usable_rows("readings")
    specimen = renumber(context.tables["readings"]["specimen_id"].take(pa.array(rows)), context.catalogue.specimens.ids)
    order = np.argsort(specimen, kind="stable")
    return specimen[order], rows[order]
