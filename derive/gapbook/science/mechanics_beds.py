"""Stiffness and frequency of measured beds, whole tables at once: from the runs of both families to logs and variances.

The components of uncertainty are those of the bed's scores (`uncertainty`), propagated linearly; but without inner edges the
crosses' origin is uncertain by a quarter of a gap, and stiffness goes up and down as the load comes to lie on a string or
between two, so there the bed is struck anew above and below.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science import uncertainty
from gapbook.science.beds import Heads, head_sizes, sessions_of
from gapbook.science.grouping import FloatArray, count_by, sum_by
from gapbook.science.lines import Runs, station_weights
from gapbook.science.mechanics import PULL_N, RESPONSES
from gapbook.science.mechanics_lines import (
    HEIGHTS,
    Lines,
    Pulls,
    Slopes,
    lines_of,
    positions,
    solve,
    solve_with_slopes,
    solve_zones,
)
from gapbook.science.scores import Variances, session_spread

SHIFTS = np.arange(-2.0, 3.0)
"""Shifts, in standard uncertainties, that an uncertain origin is worked out from, weighted as a normal distribution weights
them. Evenly spaced, they serve what goes up and down from gap to gap."""


class Mechanics(NamedTuple):
    """Logs of what RESPONSES names [B, 6] and their variances; NaN where a zone has no crossing under the load."""

    value: FloatArray
    variances: Variances


def bed_mechanics(
    mains: Runs, crosses: Runs, heads: Heads, u_instrument: FloatArray, pulls: Pulls = (PULL_N, PULL_N)
) -> Mechanics:
    """Stiffness and frequency of B beds; arguments as of `beds.score_beds`."""
    lines = lines_of(mains, crosses, heads)
    value, slopes = solve_with_slopes(lines, pulls)
    variances = _propagate(mains, crosses, heads, lines, slopes, u_instrument)
    independent = variances.independent + _cross_origin(crosses, lines, slopes, value, pulls)
    total = np.maximum(independent + variances.shared, _spread(mains, crosses, lines, pulls))
    return Mechanics(value, Variances(total - variances.shared, variances.shared))


def _propagate(mains: Runs, crosses: Runs, heads: Heads, lines: Lines, slopes: Slopes, u_instrument: FloatArray) -> Variances:
    """Variances of the logs of beds [B, 6], linearly, from all but the crosses' origin."""
    beds, logs = slopes.log_size.shape[:2]
    sizes = head_sizes(mains, crosses, heads)
    independent = np.einsum("bqs,bs->bq", slopes.log_size**2, sizes.variance)
    station = station_weights(mains.bed, mains.station, HEIGHTS, beds)
    level = station_weights(crosses.bed, crosses.station, (0.0,), beds)
    moved = []
    for side, runs, weight, by_string, share, origin in (
        (0, mains, station.weight, slopes.mains.transpose(0, 2, 1, 3), sizes.main_weight, uncertainty.ORIGIN_MM[0]),
        (1, crosses, level.weight, -slopes.cross_y[:, None], sizes.cross_weight, 0.0),
    ):
        heights = by_string.shape[1]
        flat = by_string.reshape(beds, heights * logs, -1)
        of_log = uncertainty.Gradients(flat.transpose(1, 2, 0), tuple(height for height in range(heights) for _ in range(logs)))
        parts = uncertainty.family_parts(runs, weight, of_log, share, origin)
        whole = np.concatenate([np.tile(np.eye(logs), (beds, 1, heights)), slopes.log_size[:, :, side, None]], axis=2)
        independent += np.einsum("bqi,bqi->bq", whole @ parts.covariance, whole)
        moved.append(np.einsum("rqi,ri->rq", whole[runs.bed], parts.sensitivity))
    at_size = sizes.size[heads.share_bed, heads.share_side]
    moved.append(slopes.log_size[heads.share_bed, :, heads.share_side] * (heads.share / at_size)[:, None])
    error, error_bed = uncertainty.instrument_errors(
        np.concatenate([mains.bed, crosses.bed, heads.share_bed]),
        np.concatenate([mains.instrument, crosses.instrument, heads.share_instrument]),
        np.concatenate(moved),
        u_instrument,
    )
    shared = sum_by(error_bed, error * error, beds)
    unknown = ((station.stations == 1) & station.has_zero)[:, None]
    return Variances(independent, shared + unknown * _of_unknown_splay(lines, slopes) ** 2)


def _of_unknown_splay(lines: Lines, slopes: Slopes) -> FloatArray:
    """Change of the logs [B, 6] if mains, read at one station alone, lie SPLAY wider apart at the tip, closer at the throat."""
    fan = uncertainty.SPLAY * lines.mains.mean(axis=1)
    return np.asarray(np.einsum("bqk,bk->bq", slopes.mains[:, :, 0] - slopes.mains[:, :, 1], fan))


def _cross_origin(crosses: Runs, lines: Lines, slopes: Slopes, value: FloatArray, pulls: Pulls) -> FloatArray:
    """Variance of the logs [B, 6] from origins of crosses taken without inner edges.

    Of stiffness from beds whose crosses are shifted by SHIFTS; of the frequency, which a shift hardly moves, linearly.
    """
    beds = len(lines.area)
    variance = np.zeros(value.shape)
    level = station_weights(crosses.bed, crosses.station, (0.0,), beds).weight[:, 0]
    loose = sum_by(crosses.bed, level * ~crosses.edges, beds) * uncertainty.ORIGIN_MM[1]
    variance[:, -1] = (slopes.cross_y[:, -1].sum(axis=1) * loose) ** 2
    rows = np.flatnonzero(loose)
    here = lines.take(rows)
    found = []
    for shift in SHIFTS:
        moved = here._replace(cross_y=here.cross_y + shift * loose[rows][:, None])
        found.append(solve_zones(moved, pulls) if shift else value[rows, :-1])
    share = np.exp(-(SHIFTS**2) / 2.0)[:, None, None]
    share /= share.sum()
    mean = (share * found).sum(axis=0)
    of_shifts = float(share[:, 0, 0] @ SHIFTS**2)
    variance[rows, :-1] = (share * (found - mean) ** 2).sum(axis=0) / of_shifts
    return np.nan_to_num(variance)


def _spread(mains: Runs, crosses: Runs, lines: Lines, pulls: Pulls) -> FloatArray:
    """Variance of the mean that the sessions of each bed show [B, 6]; 0 where fewer than two read every station of the bed
    and its crosses.
    """
    beds = len(lines.area)
    read = sessions_of(mains, crosses, beds)
    sessions = len(read.bed)
    if not sessions:
        return np.zeros((beds, len(RESPONSES)))
    stations = station_weights(mains.bed, mains.station, HEIGHTS, beds).stations
    own = station_weights(read.of_main, read.mains.station, HEIGHTS, sessions).stations
    whole = np.flatnonzero((own == stations[read.bed]) & (count_by(read.of_cross, sessions) > 0))
    bed = read.bed[whole]
    at, cross_y = positions(read.mains, read.crosses, read.of_main, read.of_cross, sessions)
    return session_spread(solve(lines.take(bed)._replace(mains=at[whole], cross_y=cross_y[whole]), pulls), bed, beds)
