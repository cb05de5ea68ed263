"""What several people, or several sessions, read of one family of strings at one station: the bases of `science/pooling`."""

from __future__ import annotations

import numpy as np

from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, distinct, starts_of, sum_by
from gapbook.science.pooling import MeanGaps, Relaid
from gapbook.tables.catalogue import Instruments
from gapbook.tables.spacings import MARK, Block, laid_points, pool_of, whole_runs

_NONE, _NO_FIGURE = np.zeros(0, dtype=np.int64), np.zeros(0)
NOTHING_TWICE = (
    MeanGaps(_NONE, _NONE, _NONE, _NO_FIGURE),
    Relaid(_NONE, _NONE, _NO_FIGURE, _NO_FIGURE, _NO_FIGURE, _NONE, _NONE, _NO_FIGURE, _NO_FIGURE),
)
_STATIONS = 1 << 19
"""Stations are told apart to 0.01 mm, within 2.6 m of the middle."""


def read_twice(part: Block, instruments: Instruments) -> tuple[MeanGaps, Relaid]:
    """What a block says: mean gaps where two people read with one kind of instrument, gaps where two sessions read."""
    of_run = part.of_run
    station = np.clip(np.rint(of_run.station * 100.0), -_STATIONS // 2, _STATIONS // 2 - 1).astype(np.int64)
    thing = (of_run.specimen * 2 + of_run.family) * _STATIONS + station + _STATIONS // 2
    number = distinct(thing).number
    runs = np.flatnonzero(count_by(number, int(number.max(initial=-1)) + 1)[number] > 1)
    runs = runs[whole_runs(part)[runs]]
    number = distinct(thing[runs]).number
    runs = runs[count_by(number, int(number.max(initial=-1)) + 1)[number] > 1]
    if not len(runs):
        return NOTHING_TWICE
    strings, points = part.strings[runs], laid_points(part, runs)
    last = points[np.arange(len(runs)), strings]
    mean_gap = (last - points[:, 1]) / np.maximum(strings - 1, 1)
    return (
        _mean_gaps(thing[runs], of_run.person[runs], instruments.kind[of_run.instrument[runs]], mean_gap),
        _relaid(part, runs, thing[runs], points, instruments),
    )


def _mean_gaps(thing: IntArray, person: IntArray, kind: IntArray, value: FloatArray) -> MeanGaps:
    """Those mean gaps of things that two people or more read with one kind of instrument."""
    of_kind = distinct(thing, kind)
    of_person = distinct(thing, kind, person)
    people = count_by(of_kind.number[of_person.first], len(of_kind.first))
    rows = np.flatnonzero(people[of_kind.number] > 1)
    return MeanGaps(thing[rows], person[rows], kind[rows], value[rows])


def _relaid(part: Block, runs: IntArray, thing: IntArray, points: FloatArray, instruments: Instruments) -> Relaid:
    """How the gaps of each run deviate from the mean of the runs of the same thing."""
    gaps = np.diff(points[:, 1:-1], axis=1)
    between: BoolArray = np.arange(1, gaps.shape[1] + 1)[None, :] < part.strings[runs][:, None]
    gaps[~between] = 0.0
    each = distinct(thing)
    sessions = count_by(each.number, len(each.first))
    away = gaps - (sum_by(each.number, gaps, len(each.first)) / sessions[:, None])[each.number]
    number = part.strings[runs].astype(float) - 1.0
    away = np.where(between, away - (away.sum(axis=1) / np.maximum(number, 1.0))[:, None], 0.0)
    starts = starts_of(part.averages.run)
    inverse = np.add.reduceat(1.0 / part.averages.repeats, starts)
    readings = np.diff(np.append(starts, len(part.averages.run)))
    return Relaid(
        bed=part.of_run.specimen[runs],
        part=thing,
        squares=np.einsum("rk,rk->r", away, away),
        share=1.0 - 1.0 / sessions[each.number],
        gaps=number,
        is_mark=(part.of_run.kind[runs] == MARK).astype(np.int64),
        pool=pool_of(part, instruments)[runs],
        times=(readings / inverse)[runs],
        resolution=instruments.resolution[part.of_run.instrument[runs]],
    )
