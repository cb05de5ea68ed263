"""Stiffness and frequency of measured beds, whole tables at once: from the runs of both families to logs and variances.

Beds of one pattern are solved together as nets. A main's line is given by its x at two heights; an error that moves the
whole string moves both alike. The components of uncertainty are those of the bed's scores (`uncertainty`), propagated
linearly, with one exception. Without inner edges the crosses' origin is uncertain by a quarter of a gap, and stiffness
rises and falls as the load lies on a string or between two; so such a bed is solved again with its crosses shifted.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.science import outline, uncertainty
from gapbook.science.beds import Heads, head_sizes, sessions_of
from gapbook.science.cable_net import PatternStrings
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, sum_by
from gapbook.science.lines import Runs, about_origin, lines_at, station_weights
from gapbook.science.mechanics import RESPONSES, ZONE_POINTS, Gradient, gradient, respond, stiffness_at
from gapbook.science.outline import Outlines
from gapbook.science.scores import Variances, session_spread
from gapbook.science.tension import PULL_N, in_bed
from gapbook.science.uncertainty import Errors
from gapbook.science.zones import END_MM

SHIFTS = np.arange(-2.0, 3.0)
"""Shifts of an uncertain origin, in standard uncertainties, weighted by the normal density. Even steps suit a stiffness that
rises and falls from gap to gap."""


class Mechanics(NamedTuple):
    """Logs of the RESPONSES [B, 6] and their variances; NaN if a zone has no crossing under the load."""

    value: FloatArray
    variances: Variances


def bed_mechanics(mains: Runs, crosses: Runs, heads: Heads, errors: Errors, pulls: Pulls = (PULL_N, PULL_N)) -> Mechanics:
    """Stiffness and frequency of B beds.

    mains: runs of the mains, beds 0 … B - 1 in ascending order
    crosses: runs of the crosses, likewise
    heads: heads of the beds
    errors: those that the whole package has in common
    pulls: pull tensions of mains and crosses [N]
    """
    lines = lines_of(mains, crosses, heads)
    value, slopes = solve_with_slopes(lines, pulls)
    variances = _propagate(mains, crosses, heads, lines, slopes, errors)
    independent = variances.independent + _cross_origin(crosses, lines, slopes, value, pulls)
    total = np.maximum(independent + variances.shared, _spread(mains, crosses, lines, slopes, value))
    return Mechanics(value, Variances(total - variances.shared, variances.shared))


def _propagate(mains: Runs, crosses: Runs, heads: Heads, lines: Lines, slopes: Slopes, errors: Errors) -> Variances:
    """Variances of the logs of beds [B, 6] from every component but the crosses' origin, propagated linearly."""
    beds, logs = slopes.log_size.shape[:2]
    sizes = head_sizes(mains, crosses, heads)
    of_area = _of_area(sizes.from_area, heads, lines, slopes)
    independent = of_area.independent + np.einsum("bqs,bs->bq", slopes.log_size**2, sizes.variance)
    station = station_weights(mains.bed, mains.station, HEIGHTS, beds)
    level = station_weights(crosses.bed, crosses.station, (0.0,), beds)
    moved = []
    for side, runs, weight, by_string, share, origin in (
        (0, mains, station.weight, slopes.mains.transpose(0, 2, 1, 3), sizes.main_weight, uncertainty.ORIGIN_MM[0]),
        (1, crosses, level.weight, -slopes.cross_y[:, None], sizes.cross_weight, 0.0),
    ):
        heights = by_string.shape[1]
        by_log = by_string.reshape(beds, heights * logs, -1)
        of_log = uncertainty.Gradients(
            by_log.transpose(1, 2, 0), tuple(height for height in range(heights) for _ in range(logs))
        )
        parts = uncertainty.family_parts(runs, weight, of_log, share, origin, errors.placement)
        whole = np.concatenate([np.tile(np.eye(logs), (beds, 1, heights)), slopes.log_size[:, :, side, None]], axis=2)
        independent += np.einsum("bqi,bqi->bq", whole @ parts.covariance, whole)
        by_tool, by_reader = (np.einsum("rqi,ri->rq", whole[runs.bed], one) for one in (parts.sensitivity, parts.by_reader))
        moved.append(uncertainty.runs_errors(runs, by_tool, by_reader, errors))
    at_size = sizes.size[heads.share_bed, heads.share_side]
    read = slopes.log_size[heads.share_bed, :, heads.share_side] * (heads.share / at_size)[:, None]
    read = read * errors.instrument[heads.share_instrument][:, None]
    moved.append(uncertainty.Common(read, heads.share_bed, errors.of_instrument(heads.share_instrument)))
    together = uncertainty.joined(*moved)
    common = uncertainty.common_errors(together.bed, together.cause, together.effect)
    shared = of_area.shared + sum_by(common.bed, common.effect**2, beds)
    unknown = ~station.sloped[:, None]
    return Variances(independent, shared + unknown * _of_unknown_splay(lines, slopes) ** 2)


def _of_area(from_area: BoolArray, heads: Heads, lines: Lines, slopes: Slopes) -> Variances:
    """Variances of the logs [B, 6] from the head's area, and from the exponent and aspect assumed if sizes follow from it.

    With ln W = ½·(ln A - ln k(n) - ln aspect) and ln L the same with + ln aspect, W·L does not feel the aspect.

    from_area: whether width and length follow from the area [B, 2]
    """
    width, length = (slopes.log_size[:, :, side] * from_area[:, side, None] for side in (0, 1))
    by_area = slopes.log_area + (width + length) / 2.0
    exponent = outline.exponent_of(lines.size[:, 0], lines.size[:, 1], lines.area)
    by_exponent = (width + length) / 2.0 * outline.log_factor_slope(exponent)[:, None]
    assumed = (by_exponent * outline.U_USUAL_EXPONENT) ** 2 + ((length - width) / 2.0 * outline.U_LOG_ASPECT) ** 2
    read, shared = (by_area**2 * heads.area_variance[:, column, None] for column in (0, 1))
    return Variances(read, shared + assumed)


def _of_unknown_splay(lines: Lines, slopes: Slopes) -> FloatArray:
    """Change of the logs [B, 6] if mains read at one station only are SPLAY wider at the tip and narrower at the throat."""
    fan = uncertainty.SPLAY * lines.mains.mean(axis=1)
    return np.asarray(np.einsum("bqk,bk->bq", slopes.mains[:, :, 0] - slopes.mains[:, :, 1], fan))


def _cross_origin(crosses: Runs, lines: Lines, slopes: Slopes, value: FloatArray, pulls: Pulls) -> FloatArray:
    """Variance of the logs [B, 6] from the origin of crosses that were read without inner edges.

    For stiffness, from beds whose crosses are shifted by SHIFTS: the mean square of the change, since a bed drawn with a
    cross at the head's very centre is stiffer than most. For the frequency, which hardly changes, linearly.
    """
    beds = len(lines.area)
    variance = np.zeros(value.shape)
    level = station_weights(crosses.bed, crosses.station, (0.0,), beds).weight[:, 0]
    free_origin = sum_by(crosses.bed, level * ~crosses.edges, beds) * uncertainty.ORIGIN_MM[1]
    variance[:, -1] = (slopes.cross_y[:, -1].sum(axis=1) * free_origin) ** 2
    rows = np.flatnonzero(free_origin)
    here = lines.take(rows)
    shifted = []
    for shift in SHIFTS:
        moved = here._replace(cross_y=here.cross_y + shift * free_origin[rows][:, None])
        shifted.append(solve_zones(moved, pulls) if shift else value[rows, :-1])
    share = np.exp(-(SHIFTS**2) / 2.0)[:, None, None]
    share /= share.sum()
    of_shifts = float(share[:, 0, 0] @ SHIFTS**2)
    variance[rows, :-1] = (share * (shifted - value[rows, :-1]) ** 2).sum(axis=0) / of_shifts
    return np.nan_to_num(variance)


def _spread(mains: Runs, crosses: Runs, lines: Lines, slopes: Slopes, value: FloatArray) -> FloatArray:
    """Variance of the mean of each bed's sessions [B, 6]; 0 if fewer than two sessions read every station of the bed and its
    crosses. What the session's strings would answer follows linearly: they lie a few tenths of a millimetre from the bed's.
    """
    beds = len(lines.area)
    read = sessions_of(mains, crosses, beds)
    sessions = len(read.bed)
    if not sessions:
        return np.zeros((beds, len(RESPONSES)))
    stations = station_weights(mains.bed, mains.station, HEIGHTS, beds).stations
    session_stations = station_weights(read.of_main, read.mains.station, HEIGHTS, sessions).stations
    whole = np.flatnonzero((session_stations == stations[read.bed]) & (count_by(read.of_cross, sessions) > 0))
    bed = read.bed[whole]
    at, cross_y = positions(read.mains, read.crosses, read.of_main, read.of_cross, sessions)
    by_main = np.einsum("bqhk,bhk->bq", slopes.mains[bed], np.nan_to_num(at[whole] - lines.mains[bed]))
    by_cross = np.einsum("bqk,bk->bq", slopes.cross_y[bed], np.nan_to_num(cross_y[whole] - lines.cross_y[bed]))
    return session_spread(value[bed] + by_main + by_cross, bed, beds)


HEIGHTS = (END_MM, -END_MM)
"""The two heights that give the mains' lines [mm]."""
CHUNK = 64
"""Beds solved together: enough to be fast, few enough to stay in cache."""
Pulls = tuple[float, float]
"""Pull tensions of mains and crosses [N]."""


class Lines(NamedTuple):
    """Positions of the strings of beds, strings in columns 1 … n.

    mains: x of the mains at HEIGHTS [B, 2, K] in mm
    cross_y: y of the crosses from the centre [B, K] in mm
    main_count: mains [B]
    cross_count: crosses [B]
    size: inner width and length [B, 2] in mm
    area: of the head [B] in cm2
    """

    mains: FloatArray
    cross_y: FloatArray
    main_count: IntArray
    cross_count: IntArray
    size: FloatArray
    area: FloatArray

    def take(self, rows: IntArray) -> Lines:
        """The same for some of the beds."""
        return Lines(*(column[rows] for column in self))  # type: ignore[arg-type]


class Slopes(NamedTuple):
    """Gradient of the logs of beds by their Lines.

    mains: by x of the mains at HEIGHTS [B, 6, 2, K]
    cross_y: by y of the crosses [B, 6, K]
    log_size: by ln width and ln length at constant area [B, 6, 2]
    log_area: by ln area at constant width and length [B, 6]
    """

    mains: FloatArray
    cross_y: FloatArray
    log_size: FloatArray
    log_area: FloatArray


def lines_of(mains: Runs, crosses: Runs, heads: Heads) -> Lines:
    """Positions of the strings of beds, from their runs and heads."""
    at, cross_y = positions(mains, crosses, mains.bed, crosses.bed, len(heads.mains))
    return Lines(at, cross_y, heads.mains, heads.crosses, head_sizes(mains, crosses, heads).size, heads.area)


def positions(mains: Runs, crosses: Runs, of_main: IntArray, of_cross: IntArray, owners: int) -> tuple[FloatArray, FloatArray]:
    """Mains at HEIGHTS [owners, 2, K] and crosses' y [owners, K] of beds or sessions, in mm.

    mains: runs of the mains
    crosses: runs of the crosses
    of_main: owner of each run of the mains [R]
    of_cross: owner of each run of the crosses [R]
    owners: how many beds or sessions there are
    """
    weight = station_weights(of_main, mains.station, HEIGHTS, owners).weight
    points = about_origin(mains)
    at = [lines_at(points, of_main, weight[:, side], owners) for side in range(len(HEIGHTS))]
    level = station_weights(of_cross, crosses.station, (0.0,), owners).weight[:, 0]
    return np.stack(at, axis=1), -lines_at(about_origin(crosses), of_cross, level, owners)


def strings_of(lines: Lines) -> PatternStrings:
    """Beds of one pattern as strings and outlines."""
    m, c = int(lines.main_count[0]), int(lines.cross_count[0])
    upper, lower = lines.mains[:, 0, 1 : m + 1], lines.mains[:, 1, 1 : m + 1]
    width, length = lines.size[:, 0], lines.size[:, 1]
    outlines = Outlines(width, length, outline.exponent_of(width, length, lines.area))
    return PatternStrings((upper + lower) / 2.0, (upper - lower) / (2.0 * END_MM), lines.cross_y[:, 1 : c + 1], outlines)


def _chunks(lines: Lines) -> Iterator[tuple[IntArray, PatternStrings]]:
    """At most CHUNK beds of one pattern at a time: their numbers and strings."""
    pattern = distinct(lines.main_count, lines.cross_count)
    for number in range(len(pattern.first)):
        alike = np.flatnonzero(pattern.number == number)
        strings = strings_of(lines.take(alike))
        for start in range(0, len(alike), CHUNK):
            part = slice(start, start + CHUNK)
            yield alike[part], strings.take(part)


def solve_zones(lines: Lines, pulls: Pulls) -> FloatArray:
    """Logs of stiffness in the five zones [B, 5] at these pull tensions."""
    value = np.full((len(lines.area), len(ZONE_POINTS)), np.nan)
    for rows, strings in _chunks(lines):
        value[rows] = np.log(stiffness_at(strings, ZONE_POINTS, pulls))
    return value


def solve_with_slopes(lines: Lines, pulls: Pulls) -> tuple[FloatArray, Slopes]:
    """Logs [B, 6] and their gradients."""
    shape = (len(lines.area), len(RESPONSES))
    value = np.full(shape, np.nan)
    slopes = Slopes(*(np.zeros((*shape, *rest)) for rest in (lines.mains.shape[1:], lines.cross_y.shape[1:], (2,), ())))
    tensions = in_bed(pulls[0]), in_bed(pulls[1])
    turn = outline.exponent_per_log_size(lines.size[:, 0], lines.size[:, 1], lines.area)
    for rows, strings in _chunks(lines):
        response = respond(strings, *tensions)
        value[rows] = response.logs
        _fill(slopes, rows, gradient(response, strings, tensions, turn[rows]))
    return value, slopes


def _fill(slopes: Slopes, rows: IntArray, part: Gradient) -> None:
    """Write the gradients of some beds of one pattern into `slopes`."""
    m, c = part.main_at_0.shape[2], part.cross_y.shape[2]
    lean = part.main_slope / (2.0 * END_MM)
    slopes.mains[rows, :, 0, 1 : m + 1] = part.main_at_0 / 2.0 + lean
    slopes.mains[rows, :, 1, 1 : m + 1] = part.main_at_0 / 2.0 - lean
    slopes.cross_y[rows, :, 1 : c + 1] = part.cross_y
    slopes.log_size[rows] = np.stack([part.log_width, part.log_length], axis=2)
    slopes.log_area[rows] = part.log_area
