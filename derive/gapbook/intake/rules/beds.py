"""Beds as a whole: mains left and right, and the head's area; and at which rows a finding about a bed stands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules import runs
from gapbook.science import closure, outline
from gapbook.science.grouping import FloatArray, IntArray, count_by, sum_by
from gapbook.science.statistics import beyond_chi_square, holm, two_sided
from gapbook.tables.catalogue import HEAD_AREA_FIX
from gapbook.tables.spacings import MAIN

FOLLOWS = ("likely-unit", "gap-out-of-line", *runs.CODES)
"""Codes that may be the cause of any finding about a bed as a whole."""
OF_SESSIONS = ("repeats-scatter", "sessions-disagree", "same-spacings", "same-session", "too-regular")
"""Codes of slips in one session. They spoil the means over sessions, by which other rules judge."""


class Means(NamedTuple):
    """A quantity read on strung specimens.

    value: its mean over sessions by specimen number [S]; NaN if not read
    variance: variance of that mean, as far as it comes from reading [S]
    owner: the specimen of each session [N]
    instrument: the instrument of each session [N]
    share: the weight of each session in its specimen's mean [N]
    """

    value: FloatArray
    variance: FloatArray
    owner: IntArray
    instrument: IntArray
    share: FloatArray


def strung_means(context: CheckContext, quantity: str) -> Means:
    """A quantity as the derivation takes it: read on strung specimens and averaged over sessions."""
    catalogue = context.catalogue
    means = catalogue.readings
    mine = means.take(means.strung & (means.quantity == catalogue.quantities.index(quantity)))
    count = count_by(mine.specimen, len(catalogue.specimens.ids)).astype(float)
    count[count == 0.0] = np.nan
    return Means(
        sum_by(mine.specimen, mine.value, len(count)) / count,
        sum_by(mine.specimen, mine.variance, len(count)) / count**2,
        mine.specimen,
        mine.instrument,
        1.0 / count[mine.specimen],
    )


@cached
def unlike(context: CheckContext) -> list[Finding]:
    """A finding for each specimen with mains that differ from their mirror twins."""
    return list(_mirror(context))


def _mirror(context: CheckContext) -> Iterator[Finding]:
    """Passes of mains whose gaps differ from their mirror twins; one finding a specimen, for its most improbable pass."""
    passes, complete = context.passes, context.complete
    mains = complete.number[passes.family[complete.number] == MAIN]
    pairs = closure.mirror(complete.strings[mains], passes.strings[mains], passes.is_mark[mains], complete.variance[mains])
    chance = beyond_chi_square(pairs.chi_square, pairs.freedom.astype(float))
    bad = np.flatnonzero(holm(chance))
    seen = set()
    for place in bad[np.lexsort((pairs.chi_square[bad] * -1.0, chance[bad]))].tolist():
        number = int(mains[place])
        specimen = int(passes.specimen[number])
        if specimen in seen:
            continue
        seen.add(specimen)
        gap, twin = int(pairs.gap[place]), int(passes.strings[number] - pairs.gap[place])
        others = [row for row in spacing_rows(context, specimen, MAIN).tolist() if row != passes.first[number]]
        yield Finding(
            "spacings",
            None,
            f"gap {gap} of the mains at station {passes.station[number]:g} {abs(pairs.difference[place]):.1f} mm "
            f"{'more' if pairs.difference[place] > 0.0 else 'less'} than gap {twin}, the most of several",
            f"left and right alike, but for strings out of place by 0.3 mm and the readings "
            f"(chi-square {pairs.chi_square[place]:.0f} with {pairs.freedom[place]} degrees of freedom)",
            about=context.catalogue.specimens.ids[specimen],
            rows=(int(passes.first[number]), *others),
            keyed=2,
        )


def _head_area(context: CheckContext) -> Iterator[Finding]:
    """Heads whose area is that of no outline with their width and length."""
    catalogue = context.catalogue
    count = len(catalogue.specimens.ids)
    width, length = (strung_means(context, name).value for name in ("head_width", "head_length"))
    size = np.stack([width, length], axis=1)
    size[context.measured.specimen] = context.measured.beds.size
    read = strung_means(context, "head_area").value
    declared = catalogue.frames.area[catalogue.specimens.frame]
    area = np.where(np.isnan(read), declared, read)
    low, high = outline.area_factor(np.array([outline.LEAST_EXPONENT, outline.GREATEST_EXPONENT]))
    part = area * 100.0 / (size[:, 0] * size[:, 1])
    measured = np.zeros(count, dtype=bool)
    measured[context.measured.specimen] = True
    names = ("head_width", "head_length", "head_area")
    for specimen in np.flatnonzero((part < low) | (part > high)).tolist():
        wide, long = size[specimen]
        origin = "declared" if np.isnan(read[specimen]) else "read"
        found = f"{area[specimen]:.1f} cm² {origin} in a head {wide:.1f} mm wide and {long:.1f} mm long"
        expected = f"{low * wide * long / 100.0:.0f} to {high * wide * long / 100.0:.0f} cm²"
        if measured[specimen]:
            yield at_bed(context, specimen, found, expected, quantities=names)
        else:
            yield at_readings(context, specimen, found, expected, reading_rows(context, specimen, names))


def _no_head_area(context: CheckContext) -> Iterator[Finding]:
    """Frames whose head area is neither declared nor follows from what was read on their copies."""
    rows = context.usable_rows("frames")
    for row in rows[np.isnan(context.catalogue.frames.area)].tolist():
        found, expected = "no head area, and no inner width and length read", "one of both"
        yield Finding("frames", "head_area_cm2", found, expected, rows=(row,))


def _declared_area(context: CheckContext) -> Iterator[Finding]:
    """Areas read beside the areas that frames declare."""
    catalogue = context.catalogue
    read = strung_means(context, "head_area")
    shared = closure.shared_variance(read.owner, read.instrument, read.share, catalogue.instruments.u_error, len(read.value))
    declared = catalogue.frames.area[catalogue.specimens.frame]
    u = np.sqrt(read.variance + shared + (outline.U_DECLARED_AREA * declared) ** 2)
    for specimen in np.flatnonzero(holm(two_sided((read.value - declared) / u))).tolist():
        frame = catalogue.frames.ids[catalogue.specimens.frame[specimen]]
        expected = f"{declared[specimen]:.1f} ± {2.0 * u[specimen]:.1f} cm², as {frame} is declared to have"
        rows = reading_rows(context, specimen, ("head_area",))
        yield at_readings(context, specimen, f"{read.value[specimen]:.1f} cm² read", expected, rows)


# At which rows a finding about a bed or a whole frame stands


def at_bed(
    context: CheckContext, specimen: int, found: str, expected: str, family: int | None = None, quantities: Sequence[str] = ()
) -> Finding:
    """A finding about a bed, or about one family of it, that rests on its spacings and on its readings of `quantities`.

    context: the context of the check
    specimen: number of the specimen
    found: what the bed is found to be
    expected: what it may be
    family: the family it is about; None: both
    quantities: the quantities that it rests on besides

    It stands at the first row of the spacings. If the layer checked has readings of these but no spacings of the bed, it
    stands at the first of the readings.
    """
    rows = spacing_rows(context, specimen, family)
    if quantities and not context.is_own("spacings")[rows].any():
        read = reading_rows(context, specimen, quantities)
        if len(read) and (context.is_own("readings")[read].any() or not len(rows)):
            return at_readings(context, specimen, found, expected, read)
    about, keyed = context.catalogue.specimens.ids[specimen], 1 if family is None else 2
    return Finding("spacings", None, found, expected, about=about, rows=tuple(rows.tolist()), keyed=keyed)


def at_readings(context: CheckContext, specimen: int, found: str, expected: str, rows: IntArray) -> Finding:
    """A finding about a specimen that rests on readings.

    context: the context of the check
    specimen: number of the specimen
    found: what was read
    expected: what it may be
    rows: the rows of the readings
    """
    about = context.catalogue.specimens.ids[specimen]
    return Finding("readings", "value", found, expected, about=about, rows=tuple(rows.tolist()))


def spacing_rows(context: CheckContext, specimen: int, family: int | None = None) -> IntArray:
    """The first row of each pass of a specimen (of one family of it), in the order of the file."""
    passes = context.passes
    return np.asarray(passes.first[passes.of_specimen(specimen, family)])


def reading_rows(context: CheckContext, specimen: int, quantities: Sequence[str], *, strung_only: bool = True) -> IntArray:
    """The rows of a specimen's readings of some quantities, in the order of the file.

    context: the context of the check
    specimen: number of the specimen
    quantities: the names of the quantities
    strung_only: whether only readings with strings count
    """
    readings, order = context.readings, _by_specimen(context)
    low, high = np.searchsorted(readings.specimen, [specimen, specimen + 1], sorter=order)
    mine = readings.take(order[low:high])
    wanted = np.isin(mine.quantity, [context.catalogue.quantities.index(name) for name in quantities])
    return np.asarray(mine.row[wanted & ((mine.strung == 1) | (not strung_only))])


@cached
def _by_specimen(context: CheckContext) -> IntArray:
    """The places of the usable readings in ascending order of specimen, those of one specimen in the order of the file."""
    return np.argsort(context.readings.specimen, kind="stable")


RULES = (
    Rule(
        "no-head-area",
        Severity.error,
        "a frame whose head area is not known",
        "A bed is estimated, and its head drawn, from the head's area. Where none is declared, it follows from the inner width "
        "and length read on strung copies, as the area of a superellipse of exponent 2.1; one of the two is needed.",
        "common practice, no source",
        HEAD_AREA_FIX,
        _no_head_area,
    ),
    Rule(
        "mirror",
        Severity.warning,
        "mains that are not alike left and right",
        "Mains are drilled alike on both sides of the long axis, so that a gap and its mirror twin differ only by strings out "
        "of place (0.3 mm each) and by reading. More than that is a slip, values in the wrong rows, or an unusual frame. "
        "Chi-square of all pairs of a laying, at a level of 1 % over the package (Holm).",
        "common practice, no source; chi-square as in JCGM 100:2008 (GUM), G.6; Holm 1979",
        "Compare the gaps with the notes, pair by pair from the outside in",
        unlike,
        (*FOLLOWS, "unsteady-person"),
    ),
    Rule(
        "head-area",
        Severity.warning,
        "a head area that fits no outline of that width and length",
        "A head is near an ellipse: of the superellipses of a width and a length, those of exponent 1.7 to 2.7 look like a "
        "racquet. Another area is the sign of a slip in one of the three.",
        "common practice, no source; area of a superellipse from the gamma function",
        "Read the head's width, length or area again, and compare the declared area",
        _head_area,
        (
            *FOLLOWS,
            "misclosure",
            "edge-to-edge",
            "rule-origin",
            "width-above-length",
            "declared-area",
            "copies-differ",
            *OF_SESSIONS,
        ),
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
        ("likely-unit", "copies-differ", *OF_SESSIONS),
    ),
)
