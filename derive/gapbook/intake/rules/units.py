"""Units: whether they are known, measure what the value is, and make sense of the value. A wrong unit in a whole session is one
finding, at its first row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import BASES, UNIT_COLUMNS, Passes, UnitFit, groups, wanted_bases
from gapbook.intake.rule import Rule
from gapbook.intake.rules.kinds import mistaken
from gapbook.intake.rules.points import written_in_points
from gapbook.science import outline
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, distinct
from gapbook.science.misread import MIDDLE_GAP_MM, OF_FRAMES, OF_READINGS, TENSION_N, USUAL_TENSION_N, likely_units
from gapbook.science.units import lookup, names
from gapbook.tables.reader import texts
from gapbook.tables.spacings import MAIN
from gapbook.tables.units import codes

SUBJECT = {"spacings": "specimen_id", "readings": "specimen_id", "instruments": "instrument_id", "playtests": "playtest_id"}
SESSION = {
    "spacings": ("specimen_id", "contributor_id", "instrument_id", "taken_on", "kind"),
    "readings": ("specimen_id", "quantity", "strung", "contributor_id", "instrument_id", "taken_on"),
}
"""The columns in which the rows of one session have the same cells."""
MEASURES = {"mm": "a length", "cm2": "an area", "g": "a mass", "kg.cm2": "a moment of inertia", "N": "a force"}
OF_KIND = {
    "calliper": ("mm",), "rule": ("mm",), "balance_board": ("mm",), "photo": ("mm", "cm2"), "scale": ("g",),
    "swing_rig": ("kg.cm2",), "planimeter": ("cm2",),
}  # fmt: skip
"""What an instrument of each kind can measure, as computing units."""


class _Group(NamedTuple):
    """Rows of one session with the same fault: their table, the first of them, and how many there are."""

    table: str
    row: int
    rows: int


def _groups(context: CheckContext, table: str, bad: BoolArray) -> Iterator[_Group]:
    """The bad rows of a table in groups: those of one session and one unit; in tables without sessions each row."""
    rows = np.flatnonzero(bad)
    if table not in SESSION or not len(rows):
        yield from (_Group(table, row, 1) for row in rows.tolist())
        return
    data = context.tables[table].select([*SESSION[table], "unit"]).take(rows)
    each = distinct(*(_coded(data[name]) for name in data.column_names))
    counts = np.bincount(each.number)
    yield from (_Group(table, int(rows[first]), int(count)) for first, count in zip(each.first, counts, strict=True))


def _coded(column: object) -> IntArray:
    """A column of any type as codes from 0."""
    chunked = column.dictionary_encode().unify_dictionaries()  # type: ignore[attr-defined]
    return codes(chunked) + 1


def _all(context: CheckContext, pick: Callable[[UnitFit], BoolArray]) -> Iterator[_Group]:
    for table, fit in context.units.items():
        yield from _groups(context, table, pick(fit))


def _wanted(context: CheckContext, group: _Group) -> list[str]:
    """The computing units that the value of a group's rows may have."""
    if group.table == "instruments":
        return list(OF_KIND[str(context.cell("instruments", group.row, "kind"))])
    base = int(wanted_bases(context.package, group.table, context.tables[group.table].slice(group.row, 1))[0])
    return [BASES[base]]


def _finding(context: CheckContext, group: _Group, column: str, found: str, expected: str) -> Finding:
    about = str(context.cell(group.table, group.row, SUBJECT[group.table]))
    several = f" in {group.rows} rows of this session" if group.rows > 1 else ""
    return Finding(group.table, column, found + several, expected, about=about, rows=(group.row,))


def _list(bases: list[str]) -> str:
    return "one of " + ", ".join(name for base in bases for name in names(base))


def _unknown(context: CheckContext) -> Iterator[Finding]:
    for group in _all(context, lambda fit: fit.unknown):
        column = UNIT_COLUMNS[group.table]
        written = context.cell(group.table, group.row, column)
        yield _finding(context, group, column, repr(written), _list(_wanted(context, group)))


def _dimension(context: CheckContext) -> Iterator[Finding]:
    for group in _all(context, lambda fit: fit.other):
        yield _of_other_dimension(context, group)
    tools = context.tables["instruments"]
    for row, (kind, text) in enumerate(zip(tools["kind"].to_pylist(), tools["unit"].to_pylist(), strict=True)):
        unit = lookup(text)
        if unit is not None and unit.base not in OF_KIND[kind]:
            yield _of_other_dimension(context, _Group("instruments", row, 1))


def _of_other_dimension(context: CheckContext, group: _Group) -> Finding:
    column = UNIT_COLUMNS[group.table]
    text = str(context.cell(group.table, group.row, column))
    unit, wanted = lookup(text), _wanted(context, group)
    measured = MEASURES[unit.base] if unit else "unknown"
    meant = " or ".join(MEASURES[base] for base in wanted)
    return _finding(context, group, column, f"{text!r}, {measured}", f"{meant}: {_list(wanted)}")


def _instrument(context: CheckContext) -> Iterator[Finding]:
    """Readings with an instrument that states its error in another dimension."""
    tools = context.tables["instruments"]
    of_tool = dict(zip(tools["instrument_id"].to_pylist(), tools["unit"].to_pylist(), strict=True))
    for group in _all(context, lambda fit: fit.instrument & ~fit.other):
        name = str(context.cell(group.table, group.row, "instrument_id"))
        stated = lookup(str(of_tool[name]))
        measured = MEASURES[stated.base] if stated else "unknown"
        (wanted,) = _wanted(context, group)
        finding = _finding(
            context, group, "instrument_id", f"{name}, which states its error as {measured}",
            f"an instrument that measures {MEASURES[wanted]}",
        )  # fmt: skip
        yield replace(finding, about=name)


# Values that only make sense in another unit


def _range(context: CheckContext, quantity: str) -> tuple[float, float]:
    """Least and greatest possible value of a quantity, in its computing unit; the limits of frames.csv for what it has too."""
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
    """Figures of one column that are of one quantity.

    table: their table
    subject: the column of what they are about
    column: the column of the figure
    unit: the column of its unit
    name: the quantity
    base: its computing unit
    low: the least it can be, in that unit
    high: the greatest it can be
    usual: what it usually is
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


def _rows_and_units(context: CheckContext, kind: _Figures, chosen: BoolArray) -> list[tuple[int, str]]:
    """Of the `chosen` rows [R] those whose figure is impossible as written, each with a unit in which it makes sense."""
    written = np.asarray(context.tables[kind.table][kind.column], dtype=float)
    value = np.where(chosen, written * context.units[kind.table].factor, np.nan)
    rows = _outside(value, kind.low, kind.high)
    span = [np.full(len(rows), one) for one in (kind.low, kind.high, kind.usual)]
    listed, which = likely_units(written[rows], kind.base, *span)
    return [(row, listed[unit]) for row, unit in zip(rows.tolist(), which.tolist(), strict=True) if unit >= 0]


def _unlikely_figure(context: CheckContext, kind: _Figures, row: int, likely: str) -> Finding:
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
        said, usual = name.replace("_", " "), float(np.sqrt(low * high))
        kind = _Figures("readings", "specimen_id", "value", "unit", said, units[name], low, high, usual)
        chosen = quantity == code
        if name == "balance":
            chosen[list(written_in_points(context))] = False
        for row, likely in _rows_and_units(context, kind, chosen):
            yield _unlikely_figure(context, kind, row, likely)


def _tensions(context: CheckContext) -> Iterator[Finding]:
    """Findings about pull tensions. If both tensions of a playtest are unlikely, one finding names the first."""
    if "playtests" not in context.tables:
        return
    every = np.ones(context.tables["playtests"].num_rows, dtype=bool)
    said: set[int] = set()
    for column in ("main_tension", "cross_tension"):
        kind = _Figures(
            "playtests", "playtest_id", column, "tension_unit", column.replace("_", " "), "N", *TENSION_N, USUAL_TENSION_N
        )
        for row, likely in _rows_and_units(context, kind, every):
            if row not in said:
                yield _unlikely_figure(context, kind, row, likely)
            said.add(row)


def _spacings(context: CheckContext) -> Iterator[Finding]:
    """Sessions of spacings whose gaps only make sense in another unit, judged by their median."""
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
    for places in groups(distinct(passes.specimen[rows[made]], passes.session[rows[made]], which[made]).number):
        mine = made[places]
        mine = mine[np.argsort(first[mine])]
        yield _unlikely_session(context, passes, rows[mine], written[mine[0]], listed[int(which[mine[0]])])


def _unlikely_session(context: CheckContext, passes: Passes, mine: IntArray, middle: float, likely: str) -> Finding:
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
    """Median distance of neighbouring strings of each pass [P] in mm; NaN if it has fewer than three, or if its marks do not
    rise, because then nobody knows what they are.
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
    """A finding for every value, and every session of spacings, that only makes sense in another unit."""
    return [*_readings(context), *_spacings(context), *_tensions(context)]


RULES = (
    Rule(
        "unit-unknown",
        Severity.error,
        "an unknown unit",
        "A value can only be converted from a unit that is on the list.",
        "UCUM codes; factors of NIST SP 811 (2008), Appendix B.8",
        "Write the unit as the list has it",
        _unknown,
        ("balance-points",),
    ),
    Rule(
        "unit-dimension",
        Severity.error,
        "a unit that measures something else",
        "A length is not read in grams: either the unit or the quantity beside it is a slip. An instrument states its error in "
        "a unit of what its kind measures.",
        "UCUM codes; dimensions as in NIST SP 811 (2008), Appendix B.8",
        "Correct the unit, or the quantity it stands beside",
        _dimension,
    ),
    Rule(
        "instrument-dimension",
        Severity.error,
        "an instrument that does not measure this",
        "The uncertainty of a reading needs the instrument's own error, in the dimension of what was read.",
        "JCGM 100:2008 (GUM), 4.3.7",
        "Name the instrument that the reading was taken with, or correct its unit in instruments.csv",
        _instrument,
        ("unit-dimension",),
    ),
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
