"""The head: its area against width and length, and against what is declared."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.locations import at_bed, reading_rows
from gapbook.intake.rule import Rule
from gapbook.intake.rules.spacings import FOLLOWS, OF_SESSIONS, strung_readings
from gapbook.science import outline
from gapbook.science.closing import shared_variance
from gapbook.science.levels import holm, two_sided
from gapbook.science.plausible import U_DECLARED_AREA


def _head_area(context: CheckContext) -> Iterator[Finding]:
    catalogue = context.catalogue
    count = len(catalogue.specimens.ids)
    width, length = (strung_readings(context, name).value for name in ("head_width", "head_length"))
    size = np.stack([width, length], axis=1)
    size[context.measured.specimen] = context.measured.beds.size
    read = strung_readings(context, "head_area").value
    declared = catalogue.frames.area[catalogue.specimens.frame]
    area = np.where(np.isnan(read), declared, read)
    low, high = outline.area_factor(np.array([outline.LEAST_EXPONENT, outline.GREATEST_EXPONENT]))
    part = area * 100.0 / (size[:, 0] * size[:, 1])
    measured = np.zeros(count, dtype=bool)
    measured[context.measured.specimen] = True
    for specimen in np.flatnonzero((part < low) | (part > high)).tolist():
        names = ("head_width", "head_length", "head_area")
        if measured[specimen]:
            stand = at_bed(context, specimen, None, names)
            table, row, also, column, keyed = stand
        else:
            rows = reading_rows(context, specimen, names).tolist()
            table, row, also, column, keyed = "readings", rows[0], tuple(rows[1:]), "value", None
        wide, long = size[specimen]
        origin = "declared" if np.isnan(read[specimen]) else "read"
        yield Finding(
            table,
            column,
            f"{area[specimen]:.1f} cm² {origin} in a head {wide:.1f} mm wide and {long:.1f} mm long",
            f"{low * wide * long / 100.0:.0f} to {high * wide * long / 100.0:.0f} cm²",
            about=catalogue.specimens.ids[specimen],
            rows=(row, *also),
            keyed=keyed,
        )


def _declared_area(context: CheckContext) -> Iterator[Finding]:
    catalogue = context.catalogue
    read = strung_readings(context, "head_area")
    shared = shared_variance(read.owner, read.instrument, read.share, catalogue.instruments.u_error, len(read.value))
    declared = catalogue.frames.area[catalogue.specimens.frame]
    u = np.sqrt(read.variance + shared + (U_DECLARED_AREA * declared) ** 2)
    for specimen in np.flatnonzero(holm(two_sided((read.value - declared) / u))).tolist():
        rows = reading_rows(context, specimen, ("head_area",)).tolist()
        frame = catalogue.frames.ids[catalogue.specimens.frame[specimen]]
        yield Finding(
            "readings",
            "value",
            f"{read.value[specimen]:.1f} cm² read",
            f"{declared[specimen]:.1f} ± {2.0 * u[specimen]:.1f} cm², as {frame} is declared to have",
            about=catalogue.specimens.ids[specimen],
            rows=tuple(rows),
        )


RULES = (
    Rule(
        "head-area",
        Severity.warning,
        "a head area that fits no outline of that width and length",
        "A head is near an ellipse: of the superellipses of a width and a length, those of exponent 1.7 to 2.7 look like a "
        "racket. Another area is the sign of a slip in one of the three.",
        "common practice, no source; area of a superellipse from the gamma function",
        "Read the head's width, length or area again, and compare the declared area",
        _head_area,
        (*FOLLOWS, "misclosure", "declared-area", *OF_SESSIONS),
    ),
    Rule(
        "declared-area",
        Severity.warning,
        "a head area read that is not the one declared",
        "The head read is larger or smaller than its frame is declared to be: another frame, a slip, or a generous maker. "
        "Judged by the reading's uncertainty and 1 % for the declared figure, at a level of 1 % over the package (Holm).",
        "JCGM 100:2008 (GUM), 5.1; 1 % for a declared area: common practice, no source",
        "Read the area again; see whether the frame is the one named",
        _declared_area,
        ("likely-unit", *OF_SESSIONS),
    ),
)
