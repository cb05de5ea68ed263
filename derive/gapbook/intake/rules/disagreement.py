"""Sessions, of two people or of one, whose results for the same bed or the same frame differ too much."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.science import repeats
from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.consistency import Deviations, Shared, centre_pitches, from_others
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct
from gapbook.science.statistics import e_n, e_n_probability, holm
from gapbook.tables.catalogue import reading_repeatability
from gapbook.tables.spacings import CROSS, MAIN

LEVEL = 0.01
"""Probability that a package without faults has a finding, over all comparisons together. Common practice, no source."""

GAUGES_MM = (1.0, 1.5)
"""Diameters of strings [mm], with room for errors of reading. Common practice, no source."""


class _Compared(NamedTuple):
    """Results of sessions, each beside the other sessions that read the same [N].

    table: the table they rest on
    thing: number of what was read: a bed, or a quantity of a specimen
    row: the session's first row in the table
    value: the session's result
    difference: its difference from the others
    named: which of `words` says what was read
    words: names of what was read, each with its unit
    """

    table: str
    thing: IntArray
    row: IntArray
    value: FloatArray
    difference: Deviations
    named: IntArray
    words: list[tuple[str, str]]


def look(context: CheckContext) -> Iterator[Finding]:
    """Findings about centre pitches and whole-frame readings that several sessions read. One level holds for all together."""
    compared = [*_pitches(context), *_readings(context)]
    scores = [e_n(one.difference.value, one.difference.u) for one in compared]
    judged = [one.difference.judged for one in compared]
    if not sum(int(some.sum()) for some in judged):
        return
    probability = np.concatenate([e_n_probability(score[some]) for score, some in zip(scores, judged, strict=True)])
    significant = holm(probability, LEVEL)
    place = 0
    worst: dict[tuple[str, int], tuple[float, Finding]] = {}
    for one, score, some in zip(compared, scores, judged, strict=True):
        rows = np.flatnonzero(some)
        bad = rows[significant[place : place + len(rows)]]
        place += len(rows)
        for number in bad.tolist():
            key = one.table, int(one.thing[number])
            if key not in worst or abs(score[number]) > worst[key][0]:
                worst[key] = abs(float(score[number])), _finding(context, one, number, float(score[number]))
    yield from (finding for _, finding in worst.values())


def _finding(context: CheckContext, one: _Compared, number: int, score: float) -> Finding:
    row = int(one.row[number])
    others = one.row[(one.thing == one.thing[number]) & (one.row != one.row[number])]
    away, value = float(one.difference.value[number]), float(one.value[number])
    expanded = COVERAGE_FACTOR * float(one.difference.u[number])
    name, unit = one.words[int(one.named[number])]
    if one.table == "spacings":
        away, expanded = value * (1.0 - np.exp(-away)), value * expanded
    who, tool, day = (context.cell(one.table, row, column) for column in ("contributor_id", "instrument_id", "taken_on"))
    many = len(np.unique(others))
    also = f"{many} other sessions find" if many > 1 else f"{context.cell(one.table, int(others[0]), 'contributor_id')} finds"
    fix = ""
    if one.table == "spacings" and GAUGES_MM[0] <= abs(away) <= GAUGES_MM[1]:
        fix = "They are apart by about a string's gauge: did one of them read between the strings, not from centre to centre?"
    return Finding(
        one.table,
        "value",
        f"{who} with {tool} on {day}: {name} {value:.2f} {unit}; {also} {value - away:.2f} {unit}",
        f"within ± {expanded:.2f} {unit} of each other (E_n is {score:.1f})",
        fix,
        about=str(context.cell(one.table, row, "specimen_id")),
        rows=(row, *context.first_own(one.table, others)),
        keyed=1 if one.table == "spacings" else 3,
    )


def _pitches(context: CheckContext) -> Iterator[_Compared]:
    """Each family's pitch in the centre by each session, for beds that several sessions read."""
    errors = context.gathered.pooled.errors(context.catalogue)
    for family, name in ((MAIN, "main pitch"), (CROSS, "cross pitch")):
        parts = []
        for part, beds in zip(context.gathered.blocks, context.bed_runs, strict=True):
            runs = (beds.mains, beds.crosses)[family]
            source = part.of_run.row[np.flatnonzero(part.of_run.family == family)]
            each = distinct(runs.bed, runs.session)
            several = np.flatnonzero(count_by(runs.bed[each.first], len(beds.specimen))[runs.bed] > 1)
            if not len(several):
                continue
            centre = centre_pitches(runs.take(several), errors.placement)
            rows = context.spacing_rows[source[several]]
            first = np.full(len(centre.bed), np.iinfo(np.int64).max)
            np.minimum.at(first, distinct(runs.session[several]).number, rows)
            kept = np.isfinite(centre.log)
            by_tool = centre.by_instrument * errors.instrument[centre.instrument]
            by_reader = centre.by_reader * errors.reader[centre.reader]
            shared = (centre.instrument, by_tool, centre.reader, by_reader)
            columns = (centre.log, centre.variance, *shared, beds.specimen[centre.bed], first)
            parts.append([column[kept] for column in columns])
        if not parts:
            continue
        joined: list[Any] = [np.concatenate(column) for column in zip(*parts, strict=True)]
        order = np.argsort(joined[-1], kind="stable")
        log, variance, tool, by_tool, reader, by_reader, specimen, row = (column[order] for column in joined)
        difference = from_others(specimen, log, variance, Shared(tool, by_tool), Shared(reader, by_reader))
        yield _Compared("spacings", specimen, row, np.exp(log), difference, np.zeros(len(log), dtype=np.int64), [(name, "mm")])


def _readings(context: CheckContext) -> Iterator[_Compared]:
    """Whole-frame readings, averaged over each session; strung and unstrung are two things."""
    data = context.readings
    if not len(data.row):
        return
    catalogue = context.catalogue
    names, tools = catalogue.quantities, catalogue.instruments
    session = distinct(data.specimen, data.quantity, data.strung, data.person, data.instrument, data.day - data.day.min())
    no = np.zeros(len(data.row), dtype=np.int64)
    is_mark: BoolArray = np.zeros(len(session.first), dtype=bool)
    averages = repeats.average(session.number, no, data.repeat, data.value, is_mark).averages
    first = np.full(len(session.first), np.iinfo(np.int64).max)
    np.minimum.at(first, session.number, data.row)
    order = np.argsort(first, kind="stable")
    quantity, instrument = data.quantity[session.first], data.instrument[session.first]
    pool = quantity * len(tools.kinds) + tools.kind[instrument]
    repeatability = reading_repeatability(averages, pool, names, len(tools.kinds))
    variance = repeatability.variance(pool, averages.repeats, tools.resolution[instrument])
    thing = distinct(data.specimen[session.first], quantity, data.strung[session.first]).number
    shared = Shared(instrument[order], tools.u_error[instrument[order]])
    difference = from_others(thing[order], averages.value[order], variance[order], shared)
    units = context.package.schema("readings").field("quantity").units
    words = [(name.replace("_", " "), units[name]) for name in names]
    yield _Compared("readings", thing[order], first[order], averages.value[order], difference, quantity[order], words)


RULE = Rule(
    "sessions-disagree",
    Severity.warning,
    "sessions that do not find the same",
    "Two people who read one bed, or one frame, should agree within what reading, instrument and the strings' placement "
    f"allow. Judged on the pitch of mains and crosses in the centre and on whole-frame readings, each session against the "
    f"mean of the others; {100 * LEVEL:g} % over the whole package (Holm), one finding a bed.",
    "E_n: ISO 13528, ISO/IEC 17043; Holm 1979, Scandinavian Journal of Statistics 6, 65-70",
    "Find out who is right and read again; strings that were moved in between, or a restringing, are a reason to accept it",
    look,
    follows=(
        "likely-unit",
        "repeats-scatter",
        "gap-out-of-line",
        "same-spacings",
        "same-session",
        "instrument-plausible",
        "impossible-body",
    ),
)
