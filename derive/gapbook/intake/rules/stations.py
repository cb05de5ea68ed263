"""Stations of the mains: those too close together to tell a splay, and those at which the head has another width."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules.beds import spacing_rows
from gapbook.intake.rules.closing import CAUSES
from gapbook.science import closure
from gapbook.science.grouping import FloatArray, IntArray, combine
from gapbook.science.lines import LEAST_SPAN_MM
from gapbook.science.statistics import holm, two_sided
from gapbook.tables.spacings import MAIN


def _close(context: CheckContext) -> Iterator[Finding]:
    """A finding for each bed of which the mains were read at several stations that span too little."""
    passes = context.passes
    for specimen in np.unique(passes.specimen[(passes.family == MAIN) & (passes.station != 0.0)]).tolist():
        mine = passes.of_specimen(specimen, MAIN)
        stations = np.unique(passes.station[mine])
        if len(stations) < 2 or np.ptp(stations) >= LEAST_SPAN_MM:
            continue
        away = mine[passes.station[mine] != 0.0]
        first = away[np.argmin(passes.first[away])]
        others = passes.first[mine[mine != first]]
        yield Finding(
            "spacings",
            "station_mm",
            "mains read at stations " + ", ".join(f"{one:g}" for one in stations.tolist()) + " mm",
            f"stations that span {LEAST_SPAN_MM:g} mm or more, or station 0 alone",
            about=context.catalogue.specimens.ids[specimen],
            rows=(int(passes.first[first]), *context.first_own("spacings", others)),
        )


U_OUTLINE = 0.02
"""Standard uncertainty of a head's width away from its middle, if the head is taken for a superellipse, as a part of its
greatest width. Common practice, no source."""


def _stations(context: CheckContext) -> Iterator[Finding]:
    """Stations of the mains at which the inner edges lie further apart, or nearer, than the head's outline is wide there."""
    measured = context.measured
    place = np.full(len(context.catalogue.specimens.ids), -1, dtype=np.int64)
    place[measured.specimen] = np.arange(len(measured.specimen))
    errors = context.gathered.pooled.errors(context.catalogue)
    found: list[tuple[IntArray, FloatArray, FloatArray, FloatArray, FloatArray]] = []
    for beds in context.bed_runs:
        away = beds.mains.take(np.flatnonzero(beds.mains.edges & (beds.mains.station != 0.0)))
        if not len(away.bed):
            continue
        level = np.unique(away.station, return_inverse=True)[1].astype(np.int64)
        each, number = np.unique(combine(away.bed, level), return_inverse=True)
        edges = closure.edges(away._replace(bed=number.astype(np.int64), station=np.zeros(len(number))))
        first = np.zeros(len(each), dtype=np.int64)
        first[number[::-1]] = np.arange(len(number))[::-1]
        y, bed = away.station[first], place[beds.specimen[away.bed[first]]]
        effects = (edges.effect_of, edges.instrument, edges.effect, errors.instrument), (
            edges.effect_of, edges.reader, edges.by_reader, errors.reader,
        )  # fmt: skip
        variance = edges.variance + sum(closure.shared_variance(*one, len(each)) for one in effects)
        wide, long = measured.beds.size[bed].T
        n = measured.beds.exponent[bed]
        chord = wide * np.maximum(1.0 - np.abs(2.0 * y / long) ** n, 0.0) ** (1.0 / n)
        found.append((measured.specimen[bed], y, edges.span, chord, np.sqrt(variance + (U_OUTLINE * wide) ** 2)))
    if not found:
        return
    specimen, y, span, chord, u = (np.concatenate(column) for column in zip(*found, strict=True))
    chance = two_sided((span - chord) / u)
    bad = np.flatnonzero(holm(chance))
    told: set[int] = set()
    for one in bad[np.argsort(chance[bad], kind="stable")].tolist():
        if int(specimen[one]) not in told:
            told.add(int(specimen[one]))
            yield _of_station(context, int(specimen[one]), float(y[one]), float(span[one]), float(chord[one]), float(u[one]))


def _of_station(context: CheckContext, specimen: int, y: float, span: float, chord: float, u: float) -> Finding:
    passes = context.passes
    mine = passes.of_specimen(specimen, MAIN)
    there = mine[passes.station[mine] == y]
    rows = [*passes.first[there].tolist(), *spacing_rows(context, specimen).tolist()]
    return Finding(
        "spacings",
        "station_mm",
        f"{span:.1f} mm from edge to edge by the mains at station {y:g}",
        f"{chord:.1f} ± {2.0 * u:.1f} mm, the width of the head's outline there",
        _other_station(context, specimen, y, span),
        about=context.catalogue.specimens.ids[specimen],
        rows=tuple(dict.fromkeys(rows)),
    )


def _other_station(context: CheckContext, specimen: int, y: float, span: float) -> str:
    """At which station the outline is as wide as was read, if there is one, and how that is mended."""
    beds = context.measured.beds
    bed = int(np.flatnonzero(context.measured.specimen == specimen)[0])
    (wide, long), n = beds.size[bed], float(beds.exponent[bed])
    if span >= wide:
        return ""
    height = np.sign(y) * long / 2.0 * (1.0 - (span / wide) ** n) ** (1.0 / n)
    return f"The head is so wide at station {height:.0f}: write where the rule lay, or read the outermost gaps there again"


RULES = (
    Rule(
        "close-stations",
        Severity.warning,
        "stations too close together to tell a slope",
        f"Strings lie out of place by some tenths of a millimetre. Over less than {LEAST_SPAN_MM:g} mm of height these would "
        "be taken for splay, many times over at the tip; so the mains are taken as parallel, and the second station adds "
        "little.",
        "common practice, no source",
        "Read the mains at station 0 and at 80 or -80 as well, or accept it with a reason",
        _close,
    ),
    Rule(
        "station-misclosure",
        Severity.warning,
        "the way from edge to edge at a station is not the head's width there",
        "Away from its middle a head is as wide as its outline: a superellipse through its width and length that has its area. "
        "Another width there means another station than is written, or a slip in the gaps. Judged by the readings' "
        f"uncertainty and {100 * U_OUTLINE:g} % of the width for the outline, at a level of 1 % over the package (Holm).",
        "common practice, no source, for the outline and its uncertainty; Holm 1979",
        "See at which height the rule lay, and read the outermost gaps there again",
        _stations,
        (
            "close-stations",
            *CAUSES,
            "width-above-length",
            "edge-to-edge",
            "rule-origin",
            "misclosure",
            "head-area",
            "declared-area",
        ),
    ),
)
