"""Measured beds, whole tables at once: from the runs of both families to every log score and its variance."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science import outline, scores, uncertainty
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, lines_at, span, station_weights
from gapbook.science.pitches import Across, across, only_strings
from gapbook.science.scores import NAMES, UNIFORMITY, Variances
from gapbook.science.uncertainty import OF_FRAME, Common, Errors
from gapbook.science.zones import CROSS_OF_ZONE, CROSS_WINDOWS, HEIGHTS, LEAST_COVERAGE, MAIN_WINDOWS, ZONES, Window


class Heads(NamedTuple):
    """Heads of the beds. The last four fields have one row for each direct reading of a width or length.

    mains: mains [B]
    crosses: crosses [B]
    area: head area [B] in cm2
    area_variance: relative variance of the area [B, 2], independent from copy to copy and shared by copies of a frame
    read: width and length read directly [B, 2] in mm, NaN if not read
    read_variance: variance of those readings [B, 2] in mm²
    share_bed: bed of the reading
    share_side: 0 if it is of the width, 1 if of the length
    share_instrument: number of its instrument
    share: change of the mean reading by a unit error of the instrument
    """

    mains: IntArray
    crosses: IntArray
    area: FloatArray
    area_variance: FloatArray
    read: FloatArray
    read_variance: FloatArray
    share_bed: IntArray
    share_side: IntArray
    share_instrument: IntArray
    share: FloatArray


SCORE_NAMES = (*(name for name in NAMES if not name.startswith("uniformity_")), "uniformity")
"""The scores of a bed, in the order of the columns of `Beds.value`."""
CENTRE = NAMES.index("openness_centre")


BUDGET = ("reading", "placement", "origin", "splay", "instrument", "person", "sessions")
"""The parts of a bed's uncertainty. `sessions` is by how much the spread of the sessions exceeds all the others."""


class Beds(NamedTuple):
    """Log scores of beds (side_opening as ln(1 + side_opening)) in columns as SCORE_NAMES, and figures shown with them.

    value: log scores [B, scores]
    variances: their variances [B, scores]
    common: their errors that beds have in common [G, scores]
    budget: parts of the variance of ln openness in the centre, in columns as BUDGET [B, 7]
    coverage: part of each zone's window that strings cover [B, 5]
    size: width and length used [B, 2] in mm
    misclosure: width and length from the edges less those read directly [B, 2] in mm, NaN if either is unknown
    exponent: of the head's outline [B]
    sessions: how many sessions read the bed [B]
    """

    value: FloatArray
    variances: Variances
    common: Common
    budget: FloatArray
    coverage: FloatArray
    size: FloatArray
    misclosure: FloatArray
    exponent: FloatArray
    sessions: IntArray


NO_BEDS = Beds(
    np.zeros((0, len(SCORE_NAMES))),
    Variances(np.zeros((0, len(SCORE_NAMES))), np.zeros((0, len(SCORE_NAMES)))),
    Common(np.zeros((0, len(SCORE_NAMES))), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)),
    np.zeros((0, len(BUDGET))),
    np.zeros((0, len(ZONES))),
    np.zeros((0, 2)),
    np.zeros((0, 2)),
    np.zeros(0),
    np.zeros(0, dtype=np.int64),
)


class _Family(NamedTuple):
    """One family of strings of its owners: beds or sessions.

    logs: logarithms of its pitches [B, windows], NaN if too little is covered
    coverage: part of each window covered [B, windows]
    windows: the strings across each window
    weight: the runs' weights [R, H]
    stations: how many stations were read [B]
    has_zero: whether station 0 was read [B]
    sloped: whether stations tell a slope [B]
    centre: mean of the stations [B] in mm
    """

    logs: FloatArray
    coverage: FloatArray
    windows: list[Across]
    weight: FloatArray
    stations: IntArray
    has_zero: BoolArray
    sloped: BoolArray
    centre: FloatArray


def _family(runs: Runs, owner: IntArray, owners: int, windows: tuple[Window, ...]) -> _Family:
    heights = tuple(HEIGHTS[height] for height in sorted({window.height for window in windows}))
    station = station_weights(owner, runs.station, heights, owners)
    points = about_origin(runs)
    strings = np.ones(owners, dtype=np.int64)
    strings[owner] = runs.strings
    lines = [only_strings(lines_at(points, owner, weight, owners), strings) for weight in station.weight.T]
    crossed = [across(lines[window.height], strings, window.middle) for window in windows]
    coverage = np.stack([item.coverage for item in crossed], axis=1)
    with np.errstate(invalid="ignore"):
        logs = np.where(coverage >= LEAST_COVERAGE, np.log(np.stack([item.pitch for item in crossed], axis=1)), np.nan)
    return _Family(logs, coverage, crossed, *station)


def _gradients(family: _Family, windows: tuple[Window, ...], columns: int) -> uncertainty.Gradients:
    """Gradients of the family's logs by string [windows, columns, B], 0 if a log is blank."""
    by_string = np.zeros((len(windows), columns, len(family.logs)))
    for of_log, item, coverage in zip(by_string, family.windows, family.coverage.T, strict=True):
        item.add_gradient(of_log)
        of_log[:, coverage < LEAST_COVERAGE] = 0.0
    return uncertainty.Gradients(by_string, tuple(window.height for window in windows))


def score_beds(mains: Runs, crosses: Runs, heads: Heads, errors: Errors) -> Beds:
    """Every score of B beds.

    mains: runs of the mains, beds 0 … B - 1 in ascending order, each with one at station 0
    crosses: runs of the crosses, likewise
    heads: heads of the beds
    errors: those that the whole package has in common
    """
    beds = len(heads.mains)
    main = _family(mains, mains.bed, beds, MAIN_WINDOWS)
    cross = _family(crosses, crosses.bed, beds, CROSS_WINDOWS)
    sizes = head_sizes(mains, crosses, heads)
    logs = np.hstack([main.logs, cross.logs, np.log(sizes.size)])
    value = _blank_zones(scores.log_scores(logs, heads.mains, heads.crosses))
    covariance = _covariance(mains, crosses, heads, main, cross, sizes, errors)
    variances, effect = scores.log_variances(covariance)
    propagated = variances.independent + variances.shared
    total = np.maximum(propagated, _session_spread(mains, crosses, heads, main, logs))
    zone = np.argmax(np.nan_to_num(value[:, UNIFORMITY], nan=-np.inf), axis=1)  # the densest
    bed = covariance.common.bed
    return Beds(
        value=_pick(value, zone),
        variances=Variances(_pick(total - variances.shared, zone), _pick(variances.shared, zone)),
        common=covariance.common._replace(effect=_pick(effect, zone[bed])),
        budget=_budget(covariance, effect[:, CENTRE], (total - propagated)[:, CENTRE], errors),
        coverage=np.minimum(main.coverage, cross.coverage[:, CROSS_OF_ZONE]),
        size=sizes.size,
        misclosure=sizes.from_edges - heads.read,
        exponent=outline.exponent_of(sizes.size[:, 0], sizes.size[:, 1], heads.area),
        sessions=_session_counts(mains, crosses, beds),
    )


def _blank_zones(value: FloatArray) -> FloatArray:
    """Blank (NaN) every score of a zone that either family leaves uncovered."""
    for zone in ZONES:
        blank = np.isnan(value[:, NAMES.index(f"openness_{zone}")])
        for name in (f"main_pitch_{zone}_mm", f"cross_pitch_{zone}_mm"):
            value[blank, NAMES.index(name)] = np.nan
    blank = np.isnan(value[:, NAMES.index("openness_centre")])
    for name in ("drilling_main", "drilling_cross"):
        value[blank, NAMES.index(name)] = np.nan
    return value


def _budget(covariance: uncertainty.BedCovariance, effect: FloatArray, excess: FloatArray, errors: Errors) -> FloatArray:
    """Parts of the variance of ln openness in the centre, in columns as BUDGET [B, 7].

    covariance: of the ten logs
    effect: of what beds have in common on ln openness in the centre [G]
    excess: by how much the sessions' spread exceeds its variance from all other parts, else 0 [B]
    errors: those that the whole package has in common
    """
    cause, bed = covariance.common.cause, covariance.common.bed
    parts = np.zeros((len(excess), len(BUDGET)))
    parts[:, :3] = covariance.first.sum(axis=0) / 4.0
    first = np.zeros(1, dtype=np.int64)
    place = np.where(cause < errors.of_instrument(first), 0, np.where(cause < errors.of_reader(first), 1, 2))
    parts[:, 3:6] = np.bincount(bed * 3 + place, weights=effect * effect, minlength=3 * len(excess)).reshape(-1, 3)
    parts[:, 6] = excess
    return parts


def _pick(table: FloatArray, zone: IntArray) -> FloatArray:
    """Columns NAMES as columns SCORE_NAMES: uniformity is that of the densest outer zone, blank if any is blank."""
    outer = table[:, UNIFORMITY]
    chosen = np.where(np.isnan(outer).any(axis=1), np.nan, outer[np.arange(len(outer)), zone])
    kept = [column for column, name in enumerate(NAMES) if column not in UNIFORMITY]
    return np.hstack([table[:, kept], chosen[:, None]])


class HeadSizes(NamedTuple):
    """Width and length of heads, columns 0 and 1.

    size: those used [B, 2] in mm
    from_edges: those from the inner edges [B, 2] in mm, NaN if no edges were read
    from_area: whether a size follows from the area alone [B, 2]
    variance: variance of the logs of sizes that were read directly, else 0 [B, 2]
    main_weight: change of ln width by a unit change of a run's span [R mains] in 1/mm
    cross_weight: change of ln length, likewise [R crosses] in 1/mm
    """

    size: FloatArray
    from_edges: FloatArray
    from_area: BoolArray
    variance: FloatArray
    main_weight: FloatArray
    cross_weight: FloatArray


def head_sizes(mains: Runs, crosses: Runs, heads: Heads) -> HeadSizes:
    """Width and length: read directly, else from the inner edges at station 0, else from the area."""
    beds = len(heads.area)
    from_edges = np.full((beds, 2), np.nan)
    weights = []
    for side, runs in enumerate((mains, crosses)):
        whole = runs.edges & (runs.station == 0.0)
        number = count_by(runs.bed[whole], beds)
        total = sum_by(runs.bed[whole], span(runs)[whole], beds)
        np.divide(total, number, out=from_edges[:, side], where=number > 0)
        used = np.isnan(heads.read[:, side]) & (number > 0)
        share = np.divide(1.0, number * from_edges[:, side], out=np.zeros(beds), where=used)
        weights.append(np.where(whole, share[runs.bed], 0.0))
    by_area = np.stack(outline.size_from_area(heads.area), axis=1)
    size = np.where(np.isnan(heads.read), from_edges, heads.read)
    from_area = np.isnan(size)
    size = np.where(from_area, by_area, size)
    variance = np.where(np.isnan(heads.read), 0.0, heads.read_variance / size**2)
    return HeadSizes(size, from_edges, from_area, variance, weights[0], weights[1])


def area_errors(sizes: HeadSizes, heads: Heads) -> Common:
    """Errors of ln width and ln length [G, 2] of beds whose size follows from the area alone: from aspect, exponent and the
    area itself, each of one standard uncertainty.
    """
    bed = np.flatnonzero(sizes.from_area.any(axis=1))
    aspect, exponent = outline.size_errors()
    half_area = np.repeat(np.sqrt(heads.area_variance[bed].sum(axis=1))[:, None] / 2.0, 2, axis=1)
    effects = [np.broadcast_to(aspect, half_area.shape), np.broadcast_to(exponent, half_area.shape), half_area]
    return Common(
        np.concatenate(effects) * np.tile(sizes.from_area[bed], (3, 1)),
        np.tile(bed, 3),
        np.repeat([OF_FRAME.index(name) for name in ("aspect", "exponent", "area")], len(bed)),
    )


def _covariance(
    mains: Runs, crosses: Runs, heads: Heads, main: _Family, cross: _Family, sizes: HeadSizes, errors: Errors
) -> uncertainty.BedCovariance:
    parts, moved = [], []
    for number, (runs, family, windows, size, origin) in enumerate(
        (
            (mains, main, MAIN_WINDOWS, sizes.main_weight, uncertainty.ORIGIN_MM[0]),
            (crosses, cross, CROSS_WINDOWS, sizes.cross_weight, uncertainty.ORIGIN_MM[1]),
        )
    ):
        gradients = _gradients(family, windows, runs.points.shape[1])
        part = uncertainty.family_parts(runs, family.weight, gradients, size, origin, errors.placement)
        of_runs = uncertainty.runs_errors(runs, part.sensitivity, part.by_reader, errors)
        moved.append(of_runs._replace(effect=uncertainty.widen(of_runs.effect, number)))
        parts.append(part)
    read = np.zeros((len(heads.share), len(uncertainty.QUANTITIES)))
    at_size = sizes.size[heads.share_bed, heads.share_side]
    read[np.arange(len(read)), 8 + heads.share_side] = heads.share / at_size * errors.instrument[heads.share_instrument]
    together = uncertainty.joined(*moved, Common(read, heads.share_bed, errors.of_instrument(heads.share_instrument)))
    unknown = np.flatnonzero(~main.sloped)
    heights = np.array([HEIGHTS[window.height] for window in MAIN_WINDOWS])
    splay = uncertainty.splay_errors(unknown, main.centre[unknown], heights)
    of_area = area_errors(sizes, heads)
    wide = np.zeros((len(of_area.bed), len(uncertainty.QUANTITIES)))
    wide[:, 8:] = of_area.effect
    return uncertainty.BedCovariance(
        uncertainty.assemble(parts[0], parts[1], sizes.variance),
        uncertainty.joined(
            uncertainty.common_errors(together.bed, together.cause, together.effect), splay, of_area._replace(effect=wide)
        ),
        np.stack([part.first for part in parts]),
    )


def _session_counts(mains: Runs, crosses: Runs, beds: int) -> IntArray:
    bed = np.concatenate([mains.bed, crosses.bed])
    each = distinct(bed, np.concatenate([mains.session, crosses.session]))
    return count_by(bed[each.first], beds)


class Sessions(NamedTuple):
    """The runs of beds that were read in several sessions.

    mains: runs of the mains
    crosses: runs of the crosses
    of_main: session of each run of the mains [R]
    of_cross: session of each run of the crosses [R]
    bed: bed of each session [sessions]
    """

    mains: Runs
    crosses: Runs
    of_main: IntArray
    of_cross: IntArray
    bed: IntArray


def sessions_of(mains: Runs, crosses: Runs, beds: int) -> Sessions:
    """Sessions of the beds that were read in several sessions."""
    is_several = _session_counts(mains, crosses, beds) > 1
    mains = mains.take(np.flatnonzero(is_several[mains.bed]))
    crosses = crosses.take(np.flatnonzero(is_several[crosses.bed]))
    each = distinct(np.concatenate([mains.session, crosses.session]))
    bed = np.concatenate([mains.bed, crosses.bed])[each.first]
    return Sessions(mains, crosses, each.number[: len(mains.bed)], each.number[len(mains.bed) :], bed)


def _session_spread(mains: Runs, crosses: Runs, heads: Heads, main: _Family, logs: FloatArray) -> FloatArray:
    """Variance of the mean of each bed's sessions [B, scores]; 0 if fewer than two sessions give the score.

    A session counts for the tip and the throat only if it read every station of the bed.
    """
    beds = len(heads.mains)
    spread = np.zeros((beds, len(NAMES)))
    read = sessions_of(mains, crosses, beds)
    bed, sessions = read.bed, len(read.bed)
    if not sessions:
        return spread
    session_main = _family(read.mains, read.of_main, sessions, MAIN_WINDOWS)
    session_cross = _family(read.crosses, read.of_cross, sessions, CROSS_WINDOWS)
    session_logs = np.full((sessions, logs.shape[1]), np.nan)
    at_zero = session_main.has_zero & (session_main.stations > 0)
    session_logs[at_zero, :3] = session_main.logs[at_zero, :3]
    whole = at_zero & (session_main.stations == main.stations[bed])
    session_logs[whole, 3:5] = session_main.logs[whole, 3:5]
    crossed = session_cross.stations > 0
    session_logs[crossed, 5:8] = session_cross.logs[crossed]
    session_logs[:, 8:] = logs[bed, 8:]
    values = scores.log_scores(session_logs, heads.mains[bed], heads.crosses[bed])
    values[:, NAMES.index("openness_even")] = np.nan
    partial = np.isnan(values[:, UNIFORMITY]).any(axis=1)
    values[np.ix_(np.flatnonzero(partial), np.array(UNIFORMITY))] = np.nan
    return scores.session_spread(values, bed, beds)
