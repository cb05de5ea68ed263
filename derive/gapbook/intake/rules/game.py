"""The Rules of Tennis: sizes, and a bed that is not densest in its centre. Findings are for review: only the ITF decides."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pyarrow as pa

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules.beds import FOLLOWS, OF_SESSIONS, at_bed, at_readings, reading_rows
from gapbook.science.beds import SCORE_NAMES
from gapbook.science.closure import shared_variance
from gapbook.science.grouping import count_by, distinct, sum_by
from gapbook.science.statistics import holm, one_sided

LONGEST_MM = {"length": 737.0, "head_length": 394.0, "head_width": 292.0}
"""Greatest length of a frame, and length and width of its hitting surface (ITF Rules of Tennis, Appendix II)."""
_REVIEW = "For review: whether a frame may be played with is for the ITF to rule"


def _declared_size(context: CheckContext) -> Iterator[Finding]:
    frames = context.tables["frames"]
    length = np.asarray(frames["length_mm"].cast(pa.float64()).fill_null(np.nan))
    for row in np.flatnonzero(length > LONGEST_MM["length"]).tolist():
        yield Finding(
            "frames",
            "length_mm",
            f"{length[row]:g} mm long, as declared",
            f"at most {LONGEST_MM['length']:g} mm",
            about=str(context.cell("frames", row, "frame_id")),
            rows=(row,),
        )


def _read_size(context: CheckContext) -> Iterator[Finding]:
    """A finding for each mean over a copy's sessions that passes a limit by more than its expanded uncertainty (k = 2)."""
    catalogue = context.catalogue
    limit = np.array([LONGEST_MM.get(name, np.inf) for name in catalogue.quantities])
    means = catalogue.readings.take(limit[catalogue.readings.quantity] < np.inf)
    each = distinct(means.specimen, means.quantity)
    number = len(each.first)
    sessions = count_by(each.number, number)
    value = sum_by(each.number, means.value, number) / sessions
    effect = 1.0 / sessions[each.number]
    shared = shared_variance(each.number, means.instrument, effect, catalogue.instruments.u_error, number)
    expanded = 2.0 * np.sqrt(sum_by(each.number, means.variance, number) / sessions**2 + shared)
    beyond = np.flatnonzero(value - expanded > limit[means.quantity[each.first]])
    for one in beyond.tolist():
        specimen = int(means.specimen[each.first[one]])
        quantity = catalogue.quantities[int(means.quantity[each.first[one]])]
        rows = reading_rows(context, specimen, (quantity,), strung_only=False)
        found = f"{quantity.replace('_', ' ')} {value[one]:.1f} ± {expanded[one]:.1f} mm"
        yield at_readings(context, specimen, found, f"at most {LONGEST_MM[quantity]:g} mm", rows)


def _frame_size(context: CheckContext) -> Iterator[Finding]:
    yield from _declared_size(context)
    yield from _read_size(context)


def _outer_density(context: CheckContext) -> Iterator[Finding]:
    """Beds with an outer zone denser than the centre. `log` is ln of uniformity, so above 0 if there is one."""
    measured = context.measured
    column = SCORE_NAMES.index("uniformity")
    log = measured.beds.value[:, column]
    variances = measured.beds.variances
    u = np.sqrt(variances.independent[:, column] + variances.shared[:, column])
    with np.errstate(invalid="ignore", divide="ignore"):
        chance = one_sided(log / u)
    for bed in np.flatnonzero(holm(chance)).tolist():
        specimen = int(measured.specimen[bed])
        ratio = np.exp(log[bed])
        found = f"an outer zone {ratio:.3f} ± {2.0 * ratio * u[bed]:.3f} times as dense as the centre"
        yield at_bed(context, specimen, found, "no outer zone denser than the centre, within the uncertainty")


RULES = (
    Rule(
        "frame-size",
        Severity.warning,
        "a frame or a hitting surface beyond the size limits",
        "A frame may be 737 mm long, its hitting surface 394 mm long and 292 mm wide. A reading counts as beyond where it is "
        "so by more than its expanded uncertainty (k = 2). The width of the frame itself is not read.",
        "ITF Rules of Tennis, Appendix II; JCGM 106:2012, 8.3",
        _REVIEW + "; read it again",
        _frame_size,
        ("likely-unit", "unit-dimension", "width-above-length", *OF_SESSIONS),
    ),
    Rule(
        "outer-density",
        Severity.warning,
        "a zone denser than the centre",
        "The pattern shall be “generally uniform and, in particular, not less dense in the centre than in any other area”. "
        "Said where the densest outer zone passes the centre by more than its uncertainty, one-sided, at a level of 1 % over "
        "the package (Holm).",
        "ITF Rules of Tennis, Appendix II; Holm 1979, Scandinavian Journal of Statistics 6, 65-70",
        _REVIEW + "; look the readings of that zone up in the notes",
        _outer_density,
        (*FOLLOWS, "mirror", "misclosure", "edge-to-edge", "rule-origin"),
    ),
)
