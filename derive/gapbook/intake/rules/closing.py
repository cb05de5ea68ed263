"""Whether beds close: the way from inner edge to inner edge beside the head's width and length.

What fails to close tells how: every gap short by a string's gauge, both families off by one same distance, width and length
exchanged. Each such bed has one finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules.beds import FOLLOWS, OF_SESSIONS, at_bed, at_readings, reading_rows, strung_means
from gapbook.science import closure, outline
from gapbook.science.grouping import BoolArray, FloatArray, IntArray
from gapbook.science.statistics import beyond_chi_square, holm, two_sided
from gapbook.tables.spacings import CROSS, MAIN

SIDES = (("head_width", "mains", "width"), ("head_length", "crosses", "length"))
SWAPPED = "width-above-length"
FITS = 2.5
"""An explanation of a misclosure fits if it leaves no more than so many standard uncertainties. Common practice, no source."""
USUAL_GAUGE_MM, U_GAUGE_MM, U_USUAL_GAUGE_MM = 1.27, 0.02, 0.07
"""Diameter of a string if it is not stated, and its standard uncertainty if it is stated or not [mm]: strings are sold from
about 1.10 to 1.40 mm. Common practice, no source."""
ORIGINS_MM = (2.0, 60.0)
"""By how much the zero of a rule or a tape may lie off its end [mm]. Common practice, no source."""


class Closed(NamedTuple):
    """Both families of each specimen [2, S], mains first; NaN where something was not read.

    span: from inner edge to inner edge by the spacings [mm]
    variance: of the span, all errors included [mm²]
    read: the width, or the length, read directly [mm]
    u: standard uncertainty of their difference [mm]
    strings: how many strings there are
    by_gaps: whether all sessions that read the edges read gaps, not marks
    """

    span: FloatArray
    variance: FloatArray
    read: FloatArray
    u: FloatArray
    strings: IntArray
    by_gaps: BoolArray

    @property
    def off(self) -> FloatArray:
        """By how much the spacings are too long [2, S] in mm."""
        return self.span - self.read


@cached
def closed(context: CheckContext) -> Closed:
    """Width and length by spacings and read directly. An instrument that took part in both counts once, with its sign."""
    families = [_closed(context, family) for family in (MAIN, CROSS)]
    return Closed(*(np.stack(columns) for columns in zip(*families, strict=True)))


def _closed(context: CheckContext, family: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, IntArray, BoolArray]:
    parts = [(beds.specimen, (beds.mains, beds.crosses)[family]) for beds in context.bed_runs]
    size = len(context.catalogue.specimens.ids)
    span, variance = np.full(size, np.nan), np.zeros(size)
    strings, by_marks = np.zeros(size, dtype=np.int64), np.zeros(size, dtype=bool)
    errors = context.gathered.pooled.errors(context.catalogue)
    read = strung_means(context, SIDES[family][0])
    owner, tool, effect = [read.owner], [read.instrument], [-read.share]
    for numbers, runs in parts:
        edges = closure.edges(runs)
        span[numbers[edges.bed]], variance[numbers[edges.bed]] = edges.span, edges.variance
        owner.append(numbers[edges.bed[edges.effect_of]])
        tool.append(edges.instrument)
        effect.append(edges.effect)
        reader = closure.shared_variance(edges.effect_of, edges.reader, edges.by_reader, errors.reader, len(edges.bed))
        variance[numbers[edges.bed]] += reader
        strings[numbers[runs.bed]] = runs.strings
        at_edges = runs.edges & (runs.station == 0.0)
        by_marks[numbers[runs.bed[at_edges & runs.is_mark]]] = True
    u_error = context.catalogue.instruments.u_error
    owners, tools, effects = np.concatenate(owner), np.concatenate(tool), np.concatenate(effect)
    both = closure.shared_variance(owners, tools, effects, u_error, size)
    own = slice(len(read.owner), None)
    alone = closure.shared_variance(owners[own], tools[own], effects[own], u_error, size)
    u = np.sqrt(variance + read.variance + both)
    return span, variance + alone, read.value, u, strings, ~by_marks


@cached
def _open(context: CheckContext) -> BoolArray:
    """Which families of which specimens do not close [2, S]; mains and crosses of all beds under one level."""
    beds = closed(context)
    known = ~np.isnan(beds.off)
    rejected = np.zeros(known.shape, dtype=bool)
    rejected[known] = holm(two_sided(beds.off[known] / beds.u[known]))
    return rejected


# What a misclosure tells


def _shortfall(context: CheckContext, beds: Closed) -> tuple[FloatArray, FloatArray]:
    """By how much each family [2, S] is short if every gap was read from string to string without the strings themselves, and
    the standard uncertainty of that: at an inner edge nothing, half a gauge or a whole one may be left out.
    """
    gauge = context.catalogue.specimens.gauge
    stated = ~np.isnan(gauge)
    size, u = np.where(stated, gauge, USUAL_GAUGE_MM), np.where(stated, U_GAUGE_MM, U_USUAL_GAUGE_MM)
    return np.asarray(beds.strings * size), np.asarray(np.hypot(beds.strings * u, size / np.sqrt(3.0)))


@cached
def _by_gauge(context: CheckContext) -> IntArray:
    """For each specimen -1 if its gaps are short by a string's gauge each, 1 if they are long by it, else 0 [S]."""
    beds = closed(context)
    away, u_away = _shortfall(context, beds)
    rejected, found = _open(context), np.zeros(beds.span.shape[1], dtype=np.int64)
    known = ~np.isnan(beds.off)
    for sign in (-1, 1):
        with np.errstate(invalid="ignore"):
            fits = np.abs(beds.off - sign * away) <= FITS * np.hypot(beds.u, u_away)
            apart, of_gauge = beds.off[MAIN] - beds.off[CROSS], sign * (away[MAIN] - away[CROSS])
            fits &= np.isnan(apart) | (np.abs(apart - of_gauge) <= np.abs(apart))  # else a shift of both explains it better
        found[(fits & beds.by_gaps | ~known).all(axis=0) & rejected.any(axis=0)] = sign
    found[_short_of_area(context)] = -1
    return found


def _short_of_area(context: CheckContext) -> IntArray:
    """The specimens whose width and length were not read and whose gaps are short by a gauge each, beside a head of the
    declared area: both families together, by a chi-square of two degrees of freedom.
    """
    beds, catalogue = closed(context), context.catalogue
    size = np.stack(outline.size_from_area(catalogue.frames.area[catalogue.specimens.frame]))
    rows = np.flatnonzero(np.isnan(beds.read).all(axis=0) & ~np.isnan(beds.span + size).any(axis=0) & beds.by_gaps.all(axis=0))
    if not len(rows):
        return rows
    log = np.array([*outline.size_errors(), np.full(2, outline.U_DECLARED_AREA / 2.0)])  # [errors, families]
    effects = log[:, :, None] * size[None, :, rows]
    covariance = np.einsum("efs,egs->sfg", effects, effects) + _diagonal(beds.variance[:, rows])
    off = (beds.span - size)[:, rows].T
    away, u_away = (one[:, rows].T for one in _shortfall(context, beds))
    two = np.full(len(rows), 2.0)
    open_ = holm(beyond_chi_square(_quadratic(covariance, off), two))
    fits = _quadratic(covariance + _diagonal(u_away.T**2), off + away) <= 2.0 * FITS**2
    return rows[open_ & fits & (off < 0.0).all(axis=1)]


def _diagonal(variance: FloatArray) -> FloatArray:
    """Variances [2, N] as diagonal matrices [N, 2, 2]."""
    return np.asarray(variance.T[:, :, None] * np.eye(2))


def _quadratic(covariance: FloatArray, off: FloatArray) -> FloatArray:
    """off' · covariance⁻¹ · off for each of [N]."""
    return np.asarray((off * np.linalg.solve(covariance, off[:, :, None])[:, :, 0]).sum(axis=1))


@cached
def _by_origin(context: CheckContext) -> BoolArray:
    """Which specimens have both families too long, or too short, by the same distance [S]."""
    beds = closed(context)
    apart = np.abs(beds.off[MAIN] - beds.off[CROSS])
    with np.errstate(invalid="ignore"):
        same = (apart <= FITS * np.hypot(*beds.u)) & (np.abs(beds.off.mean(axis=0)) >= ORIGINS_MM[0])
        same &= (np.abs(beds.off) <= ORIGINS_MM[1]).all(axis=0) & (beds.off[MAIN] * beds.off[CROSS] > 0.0)
    return np.asarray(same & _open(context).all(axis=0) & (_by_gauge(context) == 0) & ~_swapped(context).any(axis=0))


@cached
def _swapped(context: CheckContext) -> BoolArray:
    """Which families [2, S] do not close, but would with the head's other size as it is by the spacings: a width read is the
    length, or the other way round.
    """
    beds = closed(context)
    with np.errstate(invalid="ignore"):
        other = np.abs(beds.read - beds.span[::-1]) <= FITS * np.hypot(beds.u, np.sqrt(beds.variance[::-1]))
    return np.asarray(_open(context) & other)


# Findings


def _edge_to_edge(context: CheckContext) -> Iterator[Finding]:
    beds, signs = closed(context), _by_gauge(context)
    for specimen in np.flatnonzero(signs).tolist():
        gauge = float(context.catalogue.specimens.gauge[specimen])
        known = [family for family in (MAIN, CROSS) if not np.isnan(beds.off[family, specimen])]
        if known:
            off = [f"{abs(beds.off[one, specimen]):.1f} mm over {beds.strings[one, specimen]} {SIDES[one][1]}" for one in known]
            against = "than the head read directly"
        else:
            size = outline.size_from_area(context.catalogue.frames.area[context.catalogue.specimens.frame[[specimen]]])
            short = [float(size[one][0] - beds.span[one, specimen]) for one in (MAIN, CROSS)]
            off = [f"{short[one]:.1f} mm over {beds.strings[one, specimen]} {SIDES[one][1]}" for one in (MAIN, CROSS)]
            against = "than a head of the declared area"
        longer = "longer" if signs[specimen] > 0 else "shorter"
        size_said = "a string's gauge" if np.isnan(gauge) else f"the gauge, {gauge:g} mm"
        found = f"from edge to edge {' and '.join(off)} {longer} {against}: about {size_said}, for each string"
        expected, family = "gaps from the centre of a string to that of the next", known[0] if len(known) == 1 else None
        finding = at_bed(context, specimen, found, expected, family, tuple(SIDES[one][0] for one in known))
        yield replace(finding, fix=_with_gauge(signs[specimen] > 0))


def _with_gauge(longer: bool) -> str:
    """What to do about gaps that are longer, or shorter, by a gauge each."""
    where, what = ("over both strings", "take off") if longer else ("between the strings", "add")
    return (
        f"Was it read {where}? Read from left edge to left edge, or {what} one gauge for every gap, and half of one for those "
        "to the inner edges unless that was done"
    )


def _rule_origin(context: CheckContext) -> Iterator[Finding]:
    beds = closed(context)
    for specimen in np.flatnonzero(_by_origin(context)).tolist():
        off = beds.off[:, specimen]
        longer = "longer" if off[MAIN] > 0.0 else "shorter"
        found = (
            f"mains and crosses {abs(off[MAIN]):.1f} and {abs(off[CROSS]):.1f} mm {longer} than the width and length read "
            "directly"
        )
        finding = at_bed(
            context, specimen, found, "the same from both, within their errors", None, ("head_width", "head_length")
        )
        yield replace(finding, fix=_whose_origin(context, specimen, off))


def _whose_origin(context: CheckContext, specimen: int, off: FloatArray) -> str:
    """Which rule has its zero elsewhere, if the mains tell it: their first gap is then off by as much as the whole way."""
    passes = context.passes
    mine = passes.of_specimen(specimen, MAIN)
    mine = mine[passes.is_mark[mine] & (passes.station[mine] == 0.0)]
    if not len(mine):
        return ""
    last = int(passes.strings[mine[0]])
    ends = passes.value[mine][:, [0, 1, last, last + 1]]
    lean = float(np.nanmean((ends[:, 1] - ends[:, 0]) - (ends[:, 3] - ends[:, 2])))
    if abs(lean - off.mean()) > max(2.0, 0.25 * abs(off.mean())):
        return ""
    return (
        "The first gap is off by as much: mark 0 is not where the inner edge was on the rule. Is it "
        f"{abs(lean):.0f} mm from the rule's end to its zero? Read mark 0 again"
    )


def _misclosure(context: CheckContext) -> Iterator[Finding]:
    """Edge to edge beside what was read directly, where no other rule says why."""
    beds, explained = closed(context), _by_origin(context) | (_by_gauge(context) != 0)
    for family, specimen in np.argwhere(_open(context) & ~explained).tolist():
        quantity, strings, name = SIDES[family]
        found = f"{beds.span[family, specimen]:.1f} mm from edge to edge by the {strings}"
        expected = (
            f"{beds.read[family, specimen]:.1f} mm, the {name} read directly; apart by no more than "
            f"± {2.0 * beds.u[family, specimen]:.1f} mm"
        )
        finding = at_bed(context, specimen, found, expected, family, (quantity,))
        yield replace(finding, fix=_other_size(family)) if _swapped(context)[family, specimen] else finding


def _other_size(family: int) -> str:
    """What to do where the size of one family was probably written as that of the other."""
    (quantity, _, _), (other, strings, name) = SIDES[family], SIDES[1 - family]
    return f"It is about the {name} by the {strings}: was {other} written as {quantity}? Look it up in the notes"


def _width_above_length(context: CheckContext) -> Iterator[Finding]:
    """Heads read wider than long, by more than the expanded uncertainty (k = 2)."""
    width, length = (strung_means(context, name) for name, _, _ in SIDES)
    u_error = context.catalogue.instruments.u_error
    variance = [
        one.variance + closure.shared_variance(one.owner, one.instrument, one.share, u_error, len(one.value))
        for one in (width, length)
    ]
    with np.errstate(invalid="ignore"):
        wide = np.flatnonzero(width.value - length.value > 2.0 * np.sqrt(variance[0] + variance[1]))
    beds = closed(context)
    for specimen in wide.tolist():
        found = f"a head {width.value[specimen]:.1f} mm wide and {length.value[specimen]:.1f} mm long"
        swapped = bool(_swapped(context)[:, specimen].any())
        spans = " and ".join(
            f"{beds.span[one, specimen]:.1f} mm {('wide', 'long')[one]}"
            for one in (MAIN, CROSS)
            if not np.isnan(beds.span[one, specimen])
        )
        expected = "a head longer than wide" + (f", as by its spacings: {spans}" if spans else "")
        fix = "They are exchanged: write head_length for the one and head_width for the other" if swapped else ""
        rows = reading_rows(context, specimen, (SIDES[0][0], SIDES[1][0]))
        yield replace(at_readings(context, specimen, found, expected, rows), fix=fix)


CAUSES = (*FOLLOWS, "mirror", "instrument-plausible", *OF_SESSIONS)
RULES = (
    Rule(
        SWAPPED,
        Severity.warning,
        "a head wider than long",
        "Heads are longer than wide, so the two were probably exchanged. Said where the width read passes the length by more "
        "than the expanded uncertainty of both (k = 2).",
        "common practice, no source; JCGM 106:2012, 8.3",
        "Read both again: width is across the mains, length along them",
        _width_above_length,
        ("likely-unit", *OF_SESSIONS),
    ),
    Rule(
        "edge-to-edge",
        Severity.warning,
        "every gap off by a string's gauge",
        "A gap is from the centre of a string to the centre of the next, most easily read from left edge to left edge. Read "
        "between the strings, every gap is short by one gauge, the bed seems a tenth tighter, and it does not close. Said "
        "where that explains what is missing, in both families as far as they can be told; against the width and length "
        "read, or, where neither was, against a head of the declared area. At a level of 1 % over the package (Holm).",
        "the measuring sheet: how a bed is read; gauges of 1.10 to 1.40 mm: common practice, no source",
        "Read from left edge to left edge, or add (take off) one gauge for every gap, and half of one for those to the edges",
        _edge_to_edge,
        CAUSES,
    ),
    Rule(
        "rule-origin",
        Severity.warning,
        "mains and crosses off by the same distance",
        "If both families are too long, or too short, by one same distance, whatever their length, no gap is wrong but an "
        "origin: the zero of a rule or tape is not at its end. At the level of `misclosure`, which it stands in for.",
        "common practice, no source",
        "Is the rule's zero at its very end? Read the head's width and length again with another rule, or from the 100 mm mark",
        _rule_origin,
        CAUSES,
    ),
    Rule(
        "misclosure",
        Severity.warning,
        "the way from edge to edge is not the head's width or length",
        "Gaps that add up to another width than the one read directly were misread, or the head was. Judged by the "
        "uncertainty of both, instruments' errors included, at a level of 1 % over all beds of the package (Holm).",
        "JCGM 100:2008 (GUM), 5.1 and 5.2; Holm 1979, Scandinavian Journal of Statistics 6, 65-70",
        "Read the head's inner width or length again, and the outermost gaps",
        _misclosure,
        (*CAUSES, SWAPPED),
    ),
)
