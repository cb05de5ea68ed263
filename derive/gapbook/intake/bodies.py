"""Frames as bodies: mass, balance, swingweight and length of every copy as read, strung or not, and of every frame as
declared, with the row behind each figure."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.intake.context import CheckContext, cached
from gapbook.science import bodies, handling, outline
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, starts_of
from gapbook.tables.handling import DECLARED, QUANTITIES
from gapbook.tables.units import renumber

NAMES = ("mass", "balance", "swingweight", "length")
UNITS = ("g", "mm", "kg.cm2", "mm")
COLUMNS = (*DECLARED, "length_mm")


class Bodies(NamedTuple):
    """Bodies [B]: `subject` is the row of the specimen or of the frame in `context.catalogue`, `declared` which of them;
    `strung`; `value` [B, 3] mass, balance, swingweight (of several readings the one farthest from the package's middle) and
    `row` [B, 3] theirs in `context.tables`, -1 where not known; length [B] in mm with its row (-1 where declared or unknown);
    `centre` [B] where the middle of the bed lies; `as_strung` [B, 3] the figures with a bed added where there is none.
    """

    subject: IntArray
    declared: BoolArray
    strung: BoolArray
    value: FloatArray
    row: IntArray
    length: FloatArray
    length_row: IntArray
    centre: FloatArray
    as_strung: FloatArray

    def table(self, body: int) -> str:
        """Where the figures of a body stand."""
        return "frames" if self.declared[body] else "readings"


@cached
def all_bodies(context: CheckContext) -> Bodies:
    """Every body of which at least one figure is known."""
    read, stated = _read(context), _declared(context)
    joined = Bodies(*(np.concatenate(columns) for columns in zip(read, stated, strict=True)))
    stated_all = handling.Stated(joined.value, np.zeros(joined.value.shape), np.repeat(joined.strung[:, None], 3, axis=1))
    strung, _ = handling.as_strung(stated_all, joined.length, joined.centre)
    return joined._replace(as_strung=strung[:, [0, 1, 3]])


class _Flat(NamedTuple):
    """Usable readings of NAMES: specimen, strung, which of NAMES, value in the computing unit, row [N]."""

    specimen: IntArray
    strung: IntArray
    name: IntArray
    value: FloatArray
    row: IntArray


def flat_readings(context: CheckContext) -> _Flat:
    """The usable readings of what makes a body."""
    rows = context.usable_rows("readings")
    data = context.tables["readings"].take(pa.array(rows))
    name = renumber(data["quantity"], list(NAMES))
    mine = name >= 0
    value = np.asarray(data["value"], dtype=float) * context.units["readings"].factor[rows]
    strung = np.asarray(data["strung"].combine_chunks().to_numpy(zero_copy_only=False), dtype=np.int64)
    specimen = renumber(data["specimen_id"], context.catalogue.specimens.ids)
    return _Flat(*(column[mine] for column in (specimen, strung, name, value, rows)))  # type: ignore[arg-type]


def _read(context: CheckContext) -> Bodies:
    flat = flat_readings(context)
    body, away = flat.specimen * 2 + flat.strung, _away(flat)
    ids, place = np.unique(body[flat.name < 3], return_inverse=True)
    value, row = np.full((len(ids), 3), np.nan), np.full((len(ids), 3), -1, dtype=np.int64)
    some = flat.name < 3
    order = np.lexsort((away[some], place, flat.name[some]))
    at, which = place[order], flat.name[some][order]
    value[at, which], row[at, which] = flat.value[some][order], flat.row[some][order]
    subject = ids // 2
    frame = context.catalogue.specimens.frame[subject]
    length, length_row = _declared_length(context)[frame], np.full(len(ids), -1, dtype=np.int64)
    longs = np.flatnonzero(flat.name == 3)
    of_specimen = {int(flat.specimen[index]): index for index in longs[np.argsort(away[longs], kind="stable")].tolist()}
    for number, specimen in enumerate(subject.tolist()):
        if (index := of_specimen.get(specimen)) is not None:
            length[number], length_row[number] = flat.value[index], flat.row[index]
    centre = _centre(context, length, frame)
    return Bodies(subject, np.zeros(len(ids), dtype=bool), ids % 2 == 1, value, row, length, length_row, centre, value)


def _away(flat: _Flat) -> FloatArray:
    """How far each reading lies from the middle of its quantity in its state [N]."""
    away = np.zeros(len(flat.value))
    group = combine(flat.name, flat.strung)
    order = np.argsort(group, kind="stable")
    starts = np.append(starts_of(group[order]), len(group))
    for low, high in pairwise(starts.tolist()):
        mine = order[low:high]
        away[mine] = np.abs(flat.value[mine] - np.median(flat.value[mine]))
    return away


def _declared_length(context: CheckContext) -> FloatArray:
    return np.asarray(context.catalogue.tables["frames"]["length_mm"].cast(pa.float64()).fill_null(np.nan))


def _centre(context: CheckContext, length: FloatArray, frame: IntArray) -> FloatArray:
    """Where the middle of the bed lies; a usual length where none is known."""
    usual = np.where(np.isnan(length), 685.0, length)
    return handling.bed_centre(usual, outline.size_from_area(context.catalogue.frames.area[frame])[1])


def _declared(context: CheckContext) -> Bodies:
    table = context.catalogue.tables["frames"]
    columns = [np.asarray(table[name].cast(pa.float64()).fill_null(np.nan)) for name in DECLARED]
    value = np.stack(columns, axis=1)
    known = np.flatnonzero(~np.isnan(value).all(axis=1))
    rows = context.usable_rows("frames")[known]
    strung = np.asarray(table["strung"].combine_chunks().fill_null(True).to_numpy(zero_copy_only=False), dtype=bool)[known]
    value, length = value[known], _declared_length(context)[known]
    row = np.where(np.isnan(value), -1, rows[:, None])
    none = np.full(len(known), -1, dtype=np.int64)
    centre = _centre(context, length, known)
    return Bodies(known, np.ones(len(known), dtype=bool), strung, value, row, length, none, centre, value)


def strangest(found: Bodies, rows: IntArray) -> IntArray:
    """Of each body [R] which of mass, balance and swingweight is farthest from what is usual: in the package, or where that
    holds too few, by the trade.
    """
    spread = bodies.middle_of(found.as_strung, bodies.LEAST_SPREAD[:3])
    own = spread.figures >= bodies.FEWEST
    middle, width = np.where(own, spread.middle, bodies.USUAL[0]), np.where(own, spread.spread, bodies.USUAL[1])
    away = np.abs(found.as_strung[rows] - middle) / width
    bare = np.abs(found.value[rows] - middle) / width
    away = np.where(np.isnan(away), bare, away)
    return np.asarray(np.argmax(np.nan_to_num(away, nan=-1.0), axis=1))


__all__ = ["COLUMNS", "NAMES", "QUANTITIES", "UNITS", "Bodies", "all_bodies", "flat_readings", "strangest"]
