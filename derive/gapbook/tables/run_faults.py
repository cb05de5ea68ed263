"""What keeps runs of a block from being laid out: missing or surplus numbers, stations, gaps and marks that cannot be."""

from __future__ import annotations

import numpy as np

from gapbook.science.grouping import BoolArray, IntArray, distinct
from gapbook.tables.spacings import CROSS, MAIN, MARK, Block, Ends, RunFault, Source, cells_of, ends_of


def must_be_whole(where: Source, part: Block, ids: list[str]) -> None:
    """GapbookError, with lines, for the first kind of fault that keeps a block from being laid out: missing or surplus
    numbers; stations; gaps that are not positive and marks that do not rise. ids: of specimens.
    """
    edges = ends_of(part).edges
    families = (np.flatnonzero(part.of_run.family == family) for family in (MAIN, CROSS))
    if faults := _incomplete(part) or _stations(part, ids):
        raise where.refusal(faults)
    for runs in families:
        if faults := _not_rising(part, runs, edges[runs]):
            raise where.refusal(faults)


def run_faults(part: Block, ids: list[str]) -> list[RunFault]:
    """Everything for which `must_be_whole` would refuse a block. Specimens with numbers missing are looked at no further."""
    found = _incomplete(part) + _stations(part, ids)
    broken = np.array(sorted({fault.specimen for fault in found}), dtype=np.int64)
    edges = ends_of(part).edges
    for family in (MAIN, CROSS):
        runs = np.flatnonzero((part.of_run.family == family) & ~np.isin(part.of_run.specimen, broken))
        found += _not_rising(part, runs, edges[runs])
    return found


def _incomplete(part: Block) -> list[RunFault]:
    """The runs with numbers missing or surplus."""
    ends = ends_of(part)
    return [_not_whole(part, ends, run) for run in np.flatnonzero(~ends.whole).tolist()]


def _not_whole(part: Block, ends: Ends, run: int) -> RunFault:
    start, last = int(ends.starts[run]), int(ends.last[run])
    have, wanted = set(part.averages.number[start : ends.stops[run]].tolist()), set(range(1, last + 1))
    if have & {0, last + 1}:
        wanted |= {0, last + 1}
    missing, surplus = sorted(wanted - have), sorted(have - wanted)
    kind = "marks" if part.of_run.kind[run] == MARK else "gaps"
    family = "crosses" if part.of_run.family[run] == CROSS else "mains"
    return RunFault(
        int(part.of_run.specimen[run]),
        int(part.averages.row[start]),
        "missing-numbers" if missing else "surplus-numbers",
        f"the {kind} of the {family} at station {part.of_run.station[run]:g} that start here are not complete",
        "no",
        found=("missing " if missing else "surplus ") + ", ".join(map(str, missing or surplus)),
        expected=f"numbers 1 to {last}, with both or neither of 0 and {last + 1}",
        fix="Read what is missing, or correct the frame's counts",
    )


def _stations(part: Block, ids: list[str]) -> list[RunFault]:
    """Crosses read elsewhere than at station 0, and specimens without a family there."""
    runs = part.of_run
    elsewhere = np.flatnonzero((runs.family == CROSS) & (runs.station != 0.0))
    faults = [
        RunFault(
            int(runs.specimen[run]), int(runs.row[run]), "station", "crosses are read along the long axis",
            "station_mm", f"{runs.station[run]:g}", "station 0", "Read the crosses along the long axis only",
        )
        for run in elsewhere.tolist()
    ]  # fmt: skip
    each = distinct(runs.specimen)
    for family, name in ((MAIN, "mains"), (CROSS, "crosses")):
        there = np.zeros(len(each.first), dtype=bool)
        there[each.number[(runs.family == family) & (runs.station == 0.0)]] = True
        for bed in np.flatnonzero(~there).tolist():
            number = int(runs.specimen[each.first[bed]])
            row = int(runs.row[each.number == bed].min())
            message = f"the bed of {ids[number]} has no {name} at station 0"
            expected = f"a complete run of {name} at station 0"
            faults.append(RunFault(number, row, "missing-station", message, None, None, expected, "Read them there"))
    return faults


def _not_rising(part: Block, runs: IntArray, edges: BoolArray) -> list[RunFault]:
    """Gaps that are not positive and marks that do not rise, among some runs."""
    cells = cells_of(part, runs)
    value, read = cells.spread(part.averages.value[cells.average]), cells.spread(np.ones(len(cells.average))) > 0.0
    number = np.arange(cells.shape[1])[None, :]
    is_mark = part.of_run.kind[runs] == MARK
    flat = ~is_mark[:, None] & read & (value <= 0.0)
    falls = is_mark[:, None] & read & (number > np.where(edges, 0, 1)[:, None])
    falls[:, 1:] &= value[:, 1:] <= value[:, :-1]
    if not (flat.any() or falls.any()):
        return []
    row = cells.spread(part.averages.row[cells.average].astype(float)).astype(np.int64)
    faults = []
    for bad, code, message, expected, fix in (
        (flat, "gap-not-positive", "a gap is not positive", "above 0", "Read the gap again"),
        (falls, "marks-not-rising", "marks do not rise", "above the mark before", "Read this mark and the one before again"),
    ):
        for run, no in np.argwhere(bad).tolist():
            specimen, found = int(part.of_run.specimen[runs[run]]), f"{value[run, no]:.6g} mm"
            faults.append(RunFault(specimen, int(row[run, no]), code, message, "value", found, expected, fix))
    return sorted(faults, key=lambda item: item.row)
