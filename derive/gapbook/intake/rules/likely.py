"""Values that only make sense in another unit than the one written beside them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import Passes
from gapbook.intake.rule import Rule
from gapbook.intake.rules.runs import mistaken
from gapbook.science import outline
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, distinct
from gapbook.science.plausible import MIDDLE_GAP_MM, OF_FRAMES, OF_READINGS, TENSION_N, USUAL_TENSION_N, likely_units
from gapbook.tables.reading import texts
from gapbook.tables.spacings import MAIN
from gapbook.tables.units import codes


def _range(context: CheckContext, quantity: str) -> tuple[float, float]:
    """What a quantity can be, in its computing unit: the frames' limits where makers declare it."""
    if quantity in OF_READINGS:
        return OF_READINGS[quantity]
    field = context.package.schema("frames").field(OF_FRAMES[quantity])
    return (
        0.0 if field.minimum is None else float(field.minimum),
        float("inf") if field.maximum is None else float(field.maximum),
    )


def _outside(value: FloatArray, low: float, high: float) -> IntArray:
    with np.errstate(invalid="ignore"):
        return np.flatnonzero((value < low) | (value > high))


class _Figures(NamedTuple):
    """Figures of one column that are one quantity: the table, the columns of what they are about, of the figure and of its
    unit, the quantity's name, its computing unit, and what it can be and usually is in that.
    """

    table: str
    subject: str
    column: str
    unit: str
    name: str
    base: str
    low: float
    high: float
    usual: float


def _unlikely(context: CheckContext, kind: _Figures, chosen: BoolArray) -> list[tuple[int, str]]:
    """Rows, among those `chosen` [R], whose figure cannot be what it says, each with the unit that makes sense of it."""
    written = np.asarray(context.tables[kind.table][kind.column], dtype=float)
    value = np.where(chosen, written * context.units[kind.table].factor, np.nan)
    rows = _outside(value, kind.low, kind.high)
    span = [np.full(len(rows), one) for one in (kind.low, kind.high, kind.usual)]
    listed, which = likely_units(written[rows], kind.base, *span)
    return [(row, listed[unit]) for row, unit in zip(rows.tolist(), which.tolist(), strict=True) if unit >= 0]


def _finding(context: CheckContext, kind: _Figures, row: int, likely: str) -> Finding:
    value, written = float(str(context.cell(kind.table, row, kind.column))), context.cell(kind.table, row, kind.unit)
    return Finding(
        kind.table,
        kind.column,
        f"{value:g} {written} for {kind.name}",
        f"{kind.low:g} to {kind.high:g} {kind.base}",
        f"Likely {value:g} {likely}: correct the unit, or the value",
        about=str(context.cell(kind.table, row, kind.subject)),
        rows=(row,),
    )


def _readings(context: CheckContext) -> Iterator[Finding]:
    data, units = context.tables["readings"], context.package.schema("readings").field("quantity").units
    quantity = codes(data["quantity"])
    for code, name in enumerate(texts(data["quantity"])):
        low, high = _range(context, name)
        kind = _Figures(
            "readings",
            "specimen_id",
            "value",
            "unit",
            name.replace("_", " "),
            units[name],
            low,
            high,
            float(np.sqrt(low * high)),
        )
        for row, likely in _unlikely(context, kind, quantity == code):
            yield _finding(context, kind, row, likely)


def _tensions(context: CheckContext) -> Iterator[Finding]:
    """Pull tensions; where main and cross are both unlikely, the unit is, and the main tension is named."""
    if "playtests" not in context.tables:
        return
    every = np.ones(context.tables["playtests"].num_rows, dtype=bool)
    said: set[int] = set()
    for column in ("main_tension", "cross_tension"):
        kind = _Figures(
            "playtests", "playtest_id", column, "tension_unit", column.replace("_", " "), "N", *TENSION_N, USUAL_TENSION_N
        )
        for row, likely in _unlikely(context, kind, every):
            if row not in said:
                yield _finding(context, kind, row, likely)
            said.add(row)


def _spacings(context: CheckContext) -> Iterator[Finding]:
    passes = context.passes
    middle = np.where(mistaken(context), np.nan, _middle_gaps(passes))
    rows = _outside(middle, *MIDDLE_GAP_MM)
    if not len(rows):
        return
    first = passes.first[rows]
    written = middle[rows] / context.units["spacings"].factor[first]
    frame = context.catalogue.specimens.frame[passes.specimen[rows]]
    width, length = outline.size_from_area(context.catalogue.frames.area[frame])
    usual = np.where(passes.family[rows] == MAIN, width, length) / (passes.strings[rows] + 1.0)
    span = [np.full(len(rows), one) for one in MIDDLE_GAP_MM]
    listed, which = likely_units(written, "mm", span[0], span[1], usual)
    made = np.flatnonzero(which >= 0)
    if not len(made):
        return
    each = distinct(passes.specimen[rows[made]], passes.session[rows[made]], which[made])
    for number in range(len(each.first)):
        mine = made[each.number == number]
        mine = mine[np.argsort(first[mine])]
        yield _session_finding(context, passes, rows[mine], written[mine[0]], listed[int(which[mine[0]])])


def _session_finding(context: CheckContext, passes: Passes, mine: IntArray, middle: float, likely: str) -> Finding:
    row = int(passes.first[mine[0]])
    unit = context.cell("spacings", row, "unit")
    return Finding(
        "spacings",
        "unit",
        f"gaps about {middle:.3g} {unit} in {int((passes.row[mine] >= 0).sum())} rows of this session",
        f"{MIDDLE_GAP_MM[0]:g} to {MIDDLE_GAP_MM[1]:g} mm in the middle of them",
        f"Likely read in {likely}: correct the unit",
        about=context.catalogue.specimens.ids[int(passes.specimen[mine[0]])],
        rows=tuple(passes.first[mine].tolist()),
    )


def _middle_gaps(passes: Passes) -> FloatArray:
    """Median distance of neighbouring strings of each pass [P] in mm; NaN below three, and where marks do not rise: nobody
    knows then what they are.
    """
    if not len(passes.specimen):
        return np.zeros(0)
    value = passes.value
    steps = np.diff(value, axis=1, prepend=np.nan)
    gaps = np.where(passes.is_mark[:, None], steps, value)
    number = np.arange(gaps.shape[1])[None, :]
    last = np.where(passes.is_mark, passes.strings, passes.strings - 1)[:, None]
    gaps[(number < np.where(passes.is_mark, 2, 1)[:, None]) | (number > last)] = np.nan
    count = (~np.isnan(gaps)).sum(axis=1)
    ordered = np.sort(gaps, axis=1)
    middle = ordered[np.arange(len(count)), np.maximum(count - 1, 0) // 2]
    rises = ~passes.is_mark | ~(steps <= 0.0).any(axis=1)
    return np.where((count >= 3) & rises, middle, np.nan)


@cached
def likely_findings(context: CheckContext) -> list[Finding]:
    """Every value, and every session of spacings, that only makes sense in another unit."""
    return [*_readings(context), *_spacings(context), *_tensions(context)]


RULES = (
    Rule(
        "likely-unit",
        Severity.error,
        "a value that only makes sense in another unit",
        "No frame is 27 mm long or weighs 11 g, and no head has 98 cm²: those are inches, ounces and square inches. Such a "
        "value would be converted by the unit beside it and spoil what follows.",
        "Limits of the frames table; head sizes, gaps and tensions: common practice, no source",
        "Correct the unit, or the value",
        likely_findings,
    ),
)
