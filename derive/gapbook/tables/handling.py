"""handling.csv: mass, balance and swingweight of each frame, strung, from the best source there is, and what follows."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.science import mass_properties, outline
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, count_by, sum_by
from gapbook.tables.catalogue import RawTables
from gapbook.tables.package import Package
from gapbook.tables.writing import arranged

QUANTITIES = ("mass", "balance", "swingweight")
DECLARED = ("mass_g", "balance_mm", "swingweight_kgcm2")


class _Read(NamedTuple):
    """A quantity of frames in one state, and its standard uncertainty [F]; NaN if it was not read."""

    value: FloatArray
    u: FloatArray


class CopyHandling(NamedTuple):
    """How one copy handles.

    row: the columns of handling.csv; None if none of mass, balance and swingweight is known
    own: those of QUANTITIES that were read on the copy itself; the others are its frame's
    """

    row: dict[str, Any] | None
    own: list[str]


def handling_table(package: Package, catalogue: RawTables) -> pa.Table:
    """handling.csv as an Arrow table: one row for each frame of which at least one of the three figures is known."""
    stated, rank = _stated(catalogue)
    return _table(package, catalogue, stated, rank)


def copy_handling(package: Package, catalogue: RawTables, specimen_id: str) -> CopyHandling:
    """How a specimen handles: what was read on it, strung before unstrung, without the spread of copies; the rest as its frame.

    package: whose schema the row has
    catalogue: the tables that have the specimen
    specimen_id: its id
    """
    specimen = catalogue.specimens.number[specimen_id]
    frame = int(catalogue.specimens.frame[specimen])
    stated, rank = _stated(catalogue)
    own = []
    for column, quantity in enumerate(QUANTITIES):
        for strung in (False, True):
            if (read := _read_on(catalogue, quantity, strung, specimen)) is not None:
                stated.value[frame, column], stated.u[frame, column] = read
                stated.strung[frame, column], rank[frame, column] = strung, 0 if strung else 1
                own.append(quantity)
    rows = _table(package, catalogue, stated, rank).to_pylist()
    row = next((row for row in rows if row["frame_id"] == catalogue.frames.ids[frame]), None)
    return CopyHandling(row, list(dict.fromkeys(own)))


def _read_on(catalogue: RawTables, quantity: str, strung: bool, specimen: int) -> tuple[float, float] | None:
    """A quantity read on one specimen in one state and its standard uncertainty: mean of sessions; None if it was not read."""
    means = catalogue.readings
    wanted = (means.quantity == catalogue.quantities.index(quantity)) & (means.strung == strung)
    means = means.take(wanted & (means.specimen == specimen))
    sessions = len(means.value)
    if not sessions:
        return None
    shared = catalogue.instruments.u_error[means.instrument].sum() / sessions
    return float(means.value.mean()), float(np.hypot(np.sqrt(means.variance.sum()) / sessions, shared))


def _table(package: Package, catalogue: RawTables, stated: mass_properties.Stated, rank: IntArray) -> pa.Table:
    """The rows of handling.csv that follow from each frame's figures and the rank of their sources."""
    frames = catalogue.tables["frames"]
    declared_length = np.asarray(frames["length_mm"].cast(pa.float64()).fill_null(np.nan))
    measured_length = _read(catalogue, "length", None).value
    length = np.where(np.isnan(measured_length), declared_length, measured_length)
    centre = mass_properties.bed_centre(length, _head_length(catalogue))
    convertible = ~np.isnan(centre) & (stated.strung[:, 1] | ~np.isnan(stated.value[:, 0]))
    keeps_state = stated.strung | ~convertible[:, None]
    value, u = mass_properties.as_strung(stated._replace(strung=keeps_state), length, np.nan_to_num(centre))
    known = ~np.isnan(stated.value)
    rows = np.flatnonzero(known.any(axis=1))
    order = rows[np.argsort(np.array([catalogue.frames.ids[row] for row in rows], dtype=object))]
    worst = np.where(known, rank, 0).max(axis=1)
    columns = {}
    for number, name in enumerate(mass_properties.OUTPUTS):
        columns[name], columns["u_" + name] = value[order, number], u[order, number]
    exact = {
        "frame_id": [catalogue.frames.ids[row] for row in order],
        "basis": [("measured", "converted", "declared")[worst[row]] for row in order],
        "strung": [bool((stated.strung[row] | convertible[row] | ~known[row]).all()) for row in order],
    }
    return arranged(package, "handling", columns, exact)


def _stated(catalogue: RawTables) -> tuple[mass_properties.Stated, IntArray]:
    """Each frame's figures from the best source of each (read strung, else read unstrung, else declared), and the rank of
    that source [F, 3]: 0 measured, 1 converted, 2 declared.
    """
    count = len(catalogue.frames.ids)
    value, u = np.full((count, 3), np.nan), np.full((count, 3), np.nan)
    strung, rank = np.ones((count, 3), dtype=bool), np.zeros((count, 3), dtype=np.int64)
    frames = catalogue.tables["frames"]
    declared_strung = np.asarray(frames["strung"].combine_chunks().fill_null(True).to_numpy(zero_copy_only=False), bool)
    for column, (quantity, field) in enumerate(zip(QUANTITIES, DECLARED, strict=True)):
        declared = np.asarray(frames[field].cast(pa.float64()).fill_null(np.nan))
        sources = (
            (_read(catalogue, quantity, True), np.ones(count, dtype=bool), 0),
            (_read(catalogue, quantity, False), np.zeros(count, dtype=bool), 1),
            (_Read(declared, np.full(count, mass_properties.DECLARED_U[column])), declared_strung, 2),
        )
        for read, state, place in sources:
            new = np.isnan(value[:, column]) & ~np.isnan(read.value)
            value[new, column], u[new, column] = read.value[new], read.u[new]
            strung[new, column], rank[new, column] = state[new], place
    return mass_properties.Stated(value, u, strung), rank


def _read(catalogue: RawTables, quantity: str, strung: bool | None) -> _Read:
    """A quantity read in one state (either, if None), for a copy of each frame that nobody has read yet [F]."""
    means = catalogue.readings
    wanted: BoolArray = means.quantity == catalogue.quantities.index(quantity)
    if strung is not None:
        wanted = wanted & (means.strung == strung)
    means = means.take(wanted)
    specimens = len(catalogue.specimens.ids)
    sessions = count_by(means.specimen, specimens).astype(float)
    read = np.flatnonzero(sessions)
    error = catalogue.instruments.u_error[means.instrument]
    value = sum_by(means.specimen, means.value, specimens)[read] / sessions[read]
    independent = sum_by(means.specimen, means.variance, specimens)[read] / sessions[read] ** 2
    instrument = sum_by(means.specimen, error, specimens)[read] / sessions[read]
    default = dict(zip(QUANTITIES, mass_properties.DECLARED_U, strict=True)).get(quantity, 1.0)
    frames = len(catalogue.frames.ids)
    return _Read(*mass_properties.copies(value, independent, instrument, catalogue.specimens.frame[read], frames, default))


def _head_length(catalogue: RawTables) -> FloatArray:
    """Inner head length of each frame [F] in mm: the one read, else one that follows from the declared area."""
    read = _read(catalogue, "head_length", True).value
    return np.where(np.isnan(read), outline.size_from_area(catalogue.frames.area)[1], read)
