"""The spacings as they were laid: each repeat of each run as one row of readings by number, with the row behind each."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.once import once
from gapbook.intake.study import Study
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct
from gapbook.science.misread import believable_variance
from gapbook.tables.spacings import CROSS, MAIN, MARK, pool_of
from gapbook.tables.units import codes, positions, renumber


class Layings(NamedTuple):
    """Layings [L] in ascending order of specimen number (of `study.catalogue.specimens`).

    `session`, `run` and `level` are codes: of contributor, instrument, day and kind; of a family at a station in a session
    of a specimen; of the station. `strings` is the count the frame declares. `value` [L, K] is in mm by number, NaN where
    not read; `row` [L, K] its row in `study.tables["spacings"]`, -1 where none; `first` [L] the laying's first row.
    """

    specimen: IntArray
    session: IntArray
    family: IntArray
    station: FloatArray
    is_mark: BoolArray
    instrument: IntArray
    repeat: IntArray
    run: IntArray
    strings: IntArray
    value: FloatArray
    row: IntArray
    first: IntArray

    def of_specimen(self, specimen: int, family: int | None = None) -> IntArray:
        """The layings of a specimen, in the order of the file."""
        low, high = np.searchsorted(self.specimen, [specimen, specimen + 1])
        mine = np.arange(low, high)
        if family is not None:
            mine = mine[self.family[mine] == family]
        return mine[np.argsort(self.first[mine], kind="stable")]

    def same(self, laying: int) -> IntArray:
        """The other layings of the same family of the same specimen, at whichever station."""
        mine = self.of_specimen(int(self.specimen[laying]), int(self.family[laying]))
        return mine[mine != laying]

    def take(self, rows: IntArray) -> Layings:
        """The same for some of the layings."""
        return Layings(*(column[rows] for column in self))  # type: ignore[arg-type]


@once
def layings(study: Study) -> Layings:
    """Every laying of a specimen whose spacings can be computed with, complete or not."""
    data, rows = study.tables["spacings"], study.usable_rows("spacings")
    if len(rows) < data.num_rows:
        data = data.take(pa.array(rows))
    catalogue = study.catalogue
    specimen = renumber(data["specimen_id"], catalogue.specimens.ids)
    family = positions(data["family"], ["main", "cross"])[codes(data["family"])]
    kind = positions(data["kind"], ["gap", "mark"])[codes(data["kind"])]
    instrument = renumber(data["instrument_id"], catalogue.instruments.ids)
    day = np.asarray(data["taken_on"].cast(pa.int32())).astype(np.int64)
    station = np.asarray(data["station_mm"], dtype=float)
    level = np.rint((station + 200.0) * 1e4).astype(np.int64)
    session = combine(codes(data["contributor_id"]), instrument, day - day.min(initial=0), kind)
    repeat = np.asarray(data["repeat"]).astype(np.int64)
    number = np.asarray(data["no"]).astype(np.int64)
    each = distinct(specimen, session, family, level, repeat)
    head = each.first
    runs = distinct(specimen[head], session[head], family[head], level[head])
    counts = catalogue.frames.mains, catalogue.frames.crosses
    frame = catalogue.specimens.frame[specimen[head]]
    width = max(int(number.max(initial=0)), int(max(one.max(initial=0) for one in counts)) + 1) + 1
    value, row = np.full((len(head), width), np.nan), np.full((len(head), width), -1, dtype=np.int64)
    value[each.number, number] = np.asarray(data["value"], dtype=float) * study.units["spacings"].factor[rows]
    row[each.number, number] = rows
    return Layings(
        specimen=specimen[head],
        session=session[head],
        family=family[head],
        station=station[head],
        is_mark=kind[head] == MARK,
        instrument=instrument[head],
        repeat=repeat[head],
        run=runs.number,
        strings=np.where(family[head] == MAIN, counts[MAIN][frame], counts[CROSS][frame]),
        value=value,
        row=row,
        first=rows[head],
    )


class Complete(NamedTuple):
    """What is known of layings of beds that can be laid out: which they are [C]; and over all layings [L, n] the strings'
    positions from the first reading on in mm, NaN elsewhere, and the variance of one reading [L] in mm².
    """

    laying: IntArray
    strings: FloatArray
    variance: FloatArray


@once
def complete_layings(study: Study) -> Complete:
    """Strings of each laying of a bed that can be laid out. A number that a repeat leaves out is taken from the others."""
    laid = layings(study)
    of_bed = np.zeros(len(study.catalogue.specimens.ids) + 1, dtype=bool)
    of_bed[study.gathered.where.specimen] = True
    value = _filled(laid, of_bed[laid.specimen])
    summed = np.zeros((len(value), value.shape[1] - 1))
    np.cumsum(value[:, 1:-1], axis=1, out=summed[:, 1:])
    strings = np.where(laid.is_mark[:, None], value[:, 1:], summed)
    strings[np.arange(strings.shape[1])[None, :] >= laid.strings[:, None]] = np.nan
    known = (~np.isnan(strings)).sum(axis=1) == laid.strings
    return Complete(np.flatnonzero(of_bed[laid.specimen] & known), strings, _variance(study, laid))


def _variance(study: Study, laid: Layings) -> FloatArray:
    """Variance of one reading of each laying [L] in mm², rounded to three digits so that like layings share it."""
    gathered, tools = study.gathered, study.catalogue.instruments
    pools = len(gathered.deviation)
    floor, pool = np.zeros(pools), tools.kind[laid.instrument] * 2 + laid.is_mark
    rounding = tools.resolution[laid.instrument] ** 2 / 12.0
    np.maximum.at(floor, pool, rounding)
    parts = gathered.blocks
    where = [pool_of(part, study.catalogue)[part.averages.run] for part in parts]
    squares = np.concatenate([part.averages.squares for part in parts] or [np.zeros(0)])
    freedom = np.concatenate([part.averages.repeats - 1 for part in parts] or [np.zeros(0, dtype=np.int64)])
    cells = np.concatenate(where or [np.zeros(0, dtype=np.int64)])
    pooled = believable_variance(squares, freedom, cells, pools, floor)
    usual = gathered.deviation**2
    variance = np.maximum(np.where(np.isnan(pooled), usual, np.minimum(pooled, usual))[pool], rounding)
    digit = 10.0 ** (np.floor(np.log10(np.maximum(variance, 1e-6))) - 2.0)
    return np.asarray(np.maximum(np.rint(variance / digit) * digit, 1e-6))


def _filled(laid: Layings, wanted: BoolArray) -> FloatArray:
    """Values [L, K]; numbers that a repeat leaves out are taken from the run's other repeats, for the layings `wanted`."""
    value = laid.value.copy()
    number = np.arange(value.shape[1])[None, :]
    last = np.where(laid.is_mark, laid.strings, laid.strings - 1)[:, None]
    blank = np.isnan(value) & (number >= 1) & (number <= last) & wanted[:, None]
    for laying in np.flatnonzero(blank.any(axis=1)).tolist():
        mine = laid.of_specimen(int(laid.specimen[laying]))
        others = laid.value[mine[(laid.run[mine] == laid.run[laying]) & (mine != laying)]]
        if laid.is_mark[laying]:
            others = others + _medians(laid.value[laying] - others)[:, None]
        value[laying, blank[laying]] = _medians(others[:, blank[laying]].T)
    return value


def _medians(table: FloatArray) -> FloatArray:
    """Medians of rows over what is not NaN; NaN where nothing is."""
    known = [row[~np.isnan(row)] for row in table]
    return np.array([np.median(row) if len(row) else np.nan for row in known])
