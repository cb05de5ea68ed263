"""Stations of the mains that lie too close together to tell how the mains splay."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.science.lines import LEAST_SPAN_MM
from gapbook.tables.spacings import MAIN


def look(context: CheckContext) -> Iterator[Finding]:
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


RULE = Rule(
    "close-stations",
    Severity.warning,
    "stations too close together to tell a slope",
    f"Strings lie out of place by some tenths of a millimetre. Over less than {LEAST_SPAN_MM:g} mm of height these would be "
    "taken for splay, many times over at the tip; so the mains are taken as parallel, and the second station adds little.",
    "common practice, no source",
    "Read the mains at station 0 and at 80 or -80 as well, or accept it with a reason",
    look,
)
