"""Repeats of spacings and of whole-frame readings, as cells for `science.scatter`, with the rows behind them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.science import repeats, scatter
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, combine, distinct, starts_of
from gapbook.tables.catalogue import DEFAULT_DEVIATION


class Repeated(NamedTuple):
    """The repeated readings of one table. Rows are ordered by run and cell: the row in the table [R], the run and
    cell each belongs to [R], its value as shifted onto the run's other repeats [R] and as read [R].

    `start` is where each cell starts among the rows [C + 1], `no` the number of each cell's reading in its run [C]; a cell
    may hold a single reading.
    """

    table: str
    row: IntArray
    run: IntArray
    value: FloatArray
    read: FloatArray
    start: IntArray
    no: IntArray
    cells: scatter.Cells


def _gathered(
    table: str,
    row: IntArray,
    keys: tuple[IntArray, ...],
    no: IntArray,
    repeat: IntArray,
    value: FloatArray,
    is_mark: BoolArray,
    facts: tuple[IntArray, IntArray, FloatArray, FloatArray],
) -> Repeated:
    """keys: what makes a run [R] each; facts: pool, session, step and assumed repeatability of each row [R]."""
    if not len(row):
        return _nothing(table)
    run = distinct(*keys).number
    order = np.argsort(combine(run, no, repeat), kind="stable")
    row, run, no, repeat, value = row[order], run[order], no[order], repeat[order], value[order]
    pool, session, step, default = facts[0][order], facts[1][order], facts[2][order], facts[3][order]
    start = starts_of(combine(run, no))
    cell = np.repeat(np.arange(len(start)), np.diff(np.append(start, len(run))))
    marked = is_mark[order]
    of_run = np.zeros(int(run.max(initial=-1)) + 1, dtype=bool)
    of_run[run] = marked
    averages = repeats.average(run, no, repeat, value, of_run).averages
    residual = value - averages.value[cell]
    each = distinct(run, repeat)
    offset = np.bincount(each.number, weights=residual) / np.bincount(each.number)
    shifted = np.where(marked, value - offset[each.number], value)
    count, squares, spread, farthest = scatter.cells_of(cell, shifted - averages.value[cell])
    sessions = distinct(session)
    lost = np.zeros(len(sessions.first), dtype=np.int64)
    first_of_run = distinct(run[each.first]).first
    later = np.ones(len(each.first), dtype=bool)
    later[first_of_run] = False
    np.add.at(lost, sessions.number[each.first], later & marked[each.first])
    return Repeated(
        table,
        row,
        run,
        shifted,
        value,
        np.append(start, len(run)),
        no[start],
        scatter.Cells(count, squares, spread, farthest, pool[start], sessions.number[start], step[start], default[start], lost),
    )


def _nothing(table: str) -> Repeated:
    none, zero = np.zeros(0, dtype=np.int64), np.zeros(0)
    cells = scatter.Cells(none, zero, zero, zero, none, none, zero, zero, none)
    return Repeated(table, none, none, zero, zero, np.zeros(1, dtype=np.int64), none, cells)


def spacings(context: CheckContext) -> Repeated:
    """Every run of the spacings that was read more than once; lengths in mm."""
    passes = context.passes
    if not len(passes.first):
        return _nothing("spacings")
    passes = passes.take(np.flatnonzero(np.bincount(passes.run)[passes.run] > 1))
    number, no = np.nonzero(passes.row >= 0)
    tools = context.catalogue.instruments
    kind = passes.is_mark.astype(np.int64)
    session = distinct(passes.specimen, passes.session).number
    step = tools.resolution[passes.instrument]
    default = np.full(len(session), repeats.DEFAULT_SPACING_MM)
    facts = (tools.kind[passes.instrument] * 2 + kind, session, step, default)
    of_row = tuple(column[number] for column in facts)
    return _gathered(
        "spacings",
        passes.row[number, no],
        (passes.run[number],),
        no,
        passes.repeat[number],
        passes.value[number, no],
        passes.is_mark[number],
        of_row,  # type: ignore[arg-type]
    )


def readings(context: CheckContext) -> Repeated:
    """Every whole-frame reading, its repeats as cells of their own; in the quantity's computing unit."""
    data = context.readings
    catalogue = context.catalogue
    tools, names = catalogue.instruments, catalogue.quantities
    keys = (data.specimen, data.quantity, data.strung, data.person, data.instrument, data.day - data.day.min(initial=0))
    session = distinct(*keys).number
    pool = data.quantity * (int(tools.kind.max(initial=0)) + 1) + tools.kind[data.instrument]
    default = np.array([DEFAULT_DEVIATION[name] for name in names])[data.quantity]
    none = np.zeros(len(session), dtype=np.int64)
    facts = (pool, session, tools.resolution[data.instrument], default)
    return _gathered("readings", data.row, (session,), none, data.repeat, data.value, none > 0, facts)
