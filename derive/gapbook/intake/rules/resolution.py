"""Readings in coarser or finer steps than the instrument gives."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import days, groups
from gapbook.intake.rule import Rule
from gapbook.intake.rules.instruments import implausible
from gapbook.intake.rules.units import likely_findings
from gapbook.science.grouping import FloatArray, IntArray, distinct, starts_of
from gapbook.science.steps import off_steps
from gapbook.science.units import lookup
from gapbook.tables.units import codes, renumber

LEVEL = 0.001
"""Probability that readings taken to the instrument's step all fall on a coarser step by chance, over a whole package. Common
practice, no source."""
COARSER = 2.0
"""Readings are coarse if their step is at least so many times the instrument's."""
LEAST = 6
"""How many different values a session must have before it is judged."""
FEW = 200
"""Of at most so many of its readings a finding is searched for the specimen it is about."""
GRAIN = 1e-6
"""The finest step that is looked for, in the unit written."""


class _Written(NamedTuple):
    """Readings as they were written [R].

    row: the row of the table
    value: in the unit written
    step: the instrument's resolution in that unit
    setup: number of the person, instrument and unit
    session: number of the session
    """

    row: IntArray
    value: FloatArray
    step: FloatArray
    setup: IntArray
    session: IntArray


def look(context: CheckContext) -> Iterator[Finding]:
    """Per person, instrument and unit one finding for readings that are too fine, and one for those that are too coarse."""
    for table in ("spacings", "readings"):
        written = _written(context, table)
        if len(written.row):
            yield from _too_fine(context, table, written)
            yield from _too_coarse(context, table, written)


def _written(context: CheckContext, table: str) -> _Written:
    """The readings of a table whose instrument states a resolution. In the readings of whole frames a session holds too few
    values to be judged, so all of a person, instrument and unit in one layer are taken together.
    """
    data, tools, fit = context.tables[table], context.tables["instruments"], context.units[table]
    tool_units = [lookup(text) for text in tools["unit"].cast("string").to_pylist()]
    of_tool = np.array([unit.factor if unit else np.nan for unit in tool_units] + [np.nan])
    resolution = np.array([*tools["resolution"].to_pylist(), np.nan], dtype=float) * of_tool
    instrument = renumber(data["instrument_id"], tools["instrument_id"].to_pylist())
    step = resolution[instrument] / fit.factor
    kept = np.flatnonzero(~fit.bad & (step > 0.0) & np.isfinite(step))
    person, unit = codes(data["contributor_id"])[kept], codes(data["unit"])[kept]
    setup = distinct(person, instrument[kept], unit).number
    if table == "spacings":
        day = days(data["taken_on"])[kept]
        session = distinct(setup, codes(data["specimen_id"])[kept], day - day.min(initial=0)).number
    else:
        session = distinct(setup, context.read.layer[table][kept].astype(np.int64)).number
    return _Written(kept, np.asarray(data["value"])[kept], step[kept], setup, session)


def _too_fine(context: CheckContext, table: str, written: _Written) -> Iterator[Finding]:
    """Findings for values that are no whole number of steps, even if they were rounded when written down."""
    off = np.flatnonzero(off_steps(written.value, written.step))
    of_setup = np.bincount(written.setup)
    for group in groups(written.setup[off]):
        places = off[group]
        rows = np.sort(written.row[places])
        more = _of(len(rows), int(of_setup[written.setup[places[0]]]))
        yield _finding(context, table, rows, f"{_figure(context, table, int(rows[0]))}{more}", written.step[places[0]])


def _figure(context: CheckContext, table: str, row: int) -> str:
    return f"{context.cell(table, row, 'value'):.10g} {context.cell(table, row, 'unit')}"


def _of(count: int, whole: int) -> str:
    return "" if count == 1 else f", and {count - 1:,} more of {whole:,} readings"


def _finding(context: CheckContext, table: str, rows: IntArray, found: str, step: float) -> Finding:
    row = int(rows[0])
    expected = f"steps of {step:.6g} {context.cell(table, row, 'unit')}, as {context.cell(table, row, 'instrument_id')} reads"
    also = context.first_own(table, rows)
    return Finding(table, "value", found, expected, about=_about(context, table, rows), rows=(row, *also))


def _about(context: CheckContext, table: str, rows: IntArray) -> str:
    """What the findings that may be the cause of one about `rows` are about: the instrument, if its description is in doubt; a
    specimen whose unit is in doubt, or the only one if it is a single row. Otherwise empty, because many readings do not all
    follow from one.
    """
    tool = str(context.cell(table, int(rows[0]), "instrument_id"))
    if any(finding.about == tool for finding in implausible(context)):
        return tool
    copies = dict.fromkeys(str(context.cell(table, int(row), "specimen_id")) for row in rows[:FEW])
    doubted = {finding.about for finding in likely_findings(context)}
    return next((copy for copy in copies if copy in doubted or len(rows) == 1), "")


def _too_coarse(context: CheckContext, table: str, written: _Written) -> Iterator[Finding]:
    """Findings for sessions all of whose values lie on a coarser step than the instrument's, if they have so many different
    values that this is no chance.
    """
    order = np.argsort(written.session, kind="stable")
    starts = starts_of(written.session[order])
    grains = np.rint(written.value[order] / GRAIN).astype(np.int64)
    coarse = np.gcd.reduceat(grains, starts) * GRAIN
    ratio = np.divide(coarse, written.step[order[starts]], out=np.ones(len(starts)), where=coarse > 0)
    stops = np.append(starts[1:], len(order))
    many = stops - starts >= LEAST
    by_setup: dict[int, list[int]] = {}
    for session in np.flatnonzero((ratio >= COARSER * (1 - 1e-6)) & many).tolist():
        values = len(np.unique(grains[starts[session] : stops[session]]))
        if values >= LEAST and len(starts) * ratio[session] ** -values <= LEVEL:
            by_setup.setdefault(int(written.setup[order[starts[session]]]), []).append(session)
    for sessions in by_setup.values():
        places = np.concatenate([order[starts[session] : stops[session]] for session in sessions])
        rows = np.sort(written.row[places])
        unit = context.cell(table, int(rows[0]), "unit")
        step = min(coarse[session] for session in sessions)
        several = "" if len(sessions) == 1 else f" in {len(sessions)} sessions"
        found = f"{len(rows):,} readings{several} in steps of {step:.6g} {unit}"
        yield _finding(context, table, rows, found, written.step[places[0]])


RULE = Rule(
    "resolution",
    Severity.warning,
    "readings coarser or finer than the instrument",
    "The resolution goes into every uncertainty. Figures finer than it are means or conversions, not readings; figures that "
    f"all fall on a coarser step were rounded or read with something else. Coarse: all of {LEAST} or more different values "
    f"of a session, by chance in {100 * LEVEL:g} % of packages at most.",
    "JCGM 100:2008, 4.3.7 and F.2.2.1; levels are common practice, no source",
    "Give the figures as they were read, or the step the instrument was read to",
    look,
    follows=("likely-unit", "instrument-plausible", "marks-not-rising", "gap-out-of-line"),
)
