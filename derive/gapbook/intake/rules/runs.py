"""Runs that are not whole: numbers missing or surplus, stations, gaps and marks that cannot be; counts declared otherwise."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.layings import Layings, layings
from gapbook.intake.once import once
from gapbook.intake.rule import Hit, Rule, Severity
from gapbook.intake.study import Study
from gapbook.science import outline
from gapbook.science.grouping import IntArray, distinct
from gapbook.tables.runs import RunFault
from gapbook.tables.spacings import CROSS, MAIN

COUNTED = ("missing-numbers", "surplus-numbers")
FITS = 0.05
"""How near edge to edge must come to the head's width or length, as a part of it, for a single run to prove another count.
Common practice, no source: the outermost gap is about a tenth of either."""

CODES = ("declared-counts", *COUNTED, "missing-station", "station", "gap-not-positive", "marks-not-rising")
"""What leaves a bed unmeasured."""


class _Run(NamedTuple):
    """A run that does not fit the declared count: the count it is whole for (0 for none), whether the inner edges were read
    then, and from the one to the other [mm].
    """

    strings: int
    edges: bool
    span: float


def _as_read(laid: Layings, mine: IntArray) -> _Run:
    """What the layings of one run say together."""
    have = np.flatnonzero((laid.row[mine] >= 0).any(axis=0))
    low, high = int(have[0]), int(have[-1])
    is_mark = bool(laid.is_mark[mine[0]])
    edges = low == 0
    if low > 1 or len(have) != high - low + 1:
        return _Run(0, edges, 0.0)
    strings = high - edges if is_mark else high + (not edges)
    filled = laid.value[mine][:, low : high + 1]
    filled = filled[~np.isnan(filled).any(axis=1)]
    if not len(filled):
        return _Run(strings, edges, 0.0)
    spans = filled[:, -1] - filled[:, 0] if is_mark else filled.sum(axis=1)
    return _Run(strings, edges, float(np.median(spans)))


def _proved(study: Study, specimen: int, family: int, runs: list[_Run], declared: int) -> int:
    """The one other count that all runs of a family are whole for, if that is beyond doubt; else 0.

    Beyond doubt: two runs agree; or one has both edges, as far apart as the head asks; or it has at least two strings too
    many, which no row left out brings about.
    """
    counts = {run.strings for run in runs}
    if len(counts) != 1 or counts & {0, declared}:
        return 0
    (other,) = counts
    if len(runs) > 1 or other > declared + 1:
        return other
    return other if runs[0].edges and abs(runs[0].span / _size(study, specimen, family) - 1.0) < FITS else 0


def _size(study: Study, specimen: int, family: int) -> float:
    """Inner width (length) of a head [mm]: read, else from the declared area."""
    catalogue = study.catalogue
    means = catalogue.readings
    quantity = catalogue.quantities.index(("head_width", "head_length")[family])
    read = means.value[(means.specimen == specimen) & (means.quantity == quantity)]
    area = catalogue.frames.area[catalogue.specimens.frame[[specimen]]]
    return float(read.mean()) if len(read) else float(outline.size_from_area(area)[family][0])


class _Other(NamedTuple):
    """A family of a specimen whose count is another than its frame declares."""

    specimen: int
    family: int
    strings: int
    declared: int


@once
def _others(study: Study) -> list[_Other]:
    """Every family that is whole for one same other count, beyond doubt of this copy or of another of its frame."""
    faulty = sorted({fault.specimen for fault in study.run_faults if fault.code in COUNTED})
    laid = layings(study)
    frame_of = study.catalogue.specimens.frame
    doubted: list[tuple[_Other, bool]] = []
    for specimen in faulty:
        for family in (MAIN, CROSS):
            mine = laid.of_specimen(specimen, family)
            if not len(mine):
                continue
            runs = distinct(laid.run[mine])
            as_read = [_as_read(laid, mine[runs.number == number]) for number in range(len(runs.first))]
            declared = int(laid.strings[mine[0]])
            proved = _proved(study, specimen, family, as_read, declared)
            counts = {run.strings for run in as_read} - {0, declared}
            if len(counts) == 1 and all(run.strings for run in as_read):
                doubted.append((_Other(specimen, family, counts.pop(), declared), bool(proved)))
    known = {(int(frame_of[other.specimen]), other.family, other.strings) for other, proved in doubted if proved}
    return [other for other, _ in doubted if (int(frame_of[other.specimen]), other.family, other.strings) in known]


def _declared_counts(study: Study) -> Iterator[Hit]:
    frame_of = study.catalogue.specimens.frame
    alike: dict[tuple[int, int, int], list[_Other]] = defaultdict(list)
    for other in _others(study):
        alike[int(frame_of[other.specimen]), other.family, other.strings].append(other)
    laid = layings(study)
    ids = study.catalogue.specimens.ids
    for (frame, family, strings), of_frame in alike.items():
        rows = sorted(int(laid.first[laid.of_specimen(other.specimen)[0]]) for other in of_frame)
        name = ("mains", "crosses")[family]
        copies = ", ".join(ids[other.specimen] for other in of_frame[:3]) + (", ..." if len(of_frame) > 3 else "")
        about = ids[of_frame[0].specimen]
        yield Hit(
            "spacings", rows[0], "no", f"{strings} {name}, in every run of {copies}",
            f"{of_frame[0].declared} {name}, as {study.catalogue.frames.ids[frame]} is declared to have",
            about=about, also=tuple(rows[1:]), keyed=1,
        )  # fmt: skip


def _faults(code: str) -> Callable[[Study], Iterator[Hit]]:
    def look(study: Study) -> Iterator[Hit]:
        laid = layings(study)
        explained = {(other.specimen, other.family) for other in (_others(study) if code in COUNTED else ())}
        family_at = {}
        if explained:
            mine = np.concatenate([laid.of_specimen(specimen) for specimen in {specimen for specimen, _ in explained}])
            family_at = dict(zip(laid.first[mine].tolist(), laid.family[mine].tolist(), strict=True))
        for fault in study.run_faults:
            if fault.code == code and (fault.specimen, family_at.get(_laying_first(laid, fault), -1)) not in explained:
                yield _hit(study, fault)

    return look


def _laying_first(laid: Layings, fault: RunFault) -> int:
    """The first row of the laying that a fault's row belongs to."""
    mine = laid.of_specimen(fault.specimen)
    holds = (laid.row[mine] == fault.row).any(axis=1)
    return int(laid.first[mine[holds]][0]) if holds.any() else -1


def _hit(study: Study, fault: RunFault) -> Hit:
    found = fault.found or fault.message
    return Hit(
        "spacings", fault.row, fault.column, found, fault.expected or "", fault.fix,
        about=study.catalogue.specimens.ids[fault.specimen], keyed=1 if fault.column is None else None,
    )  # fmt: skip


_COUNTED = "Strings are counted, not holes; every gap or mark of a run is needed to lay the bed out."
_SHEET = "the measuring sheet: how a bed is read"


def _rule(code: str, title: str, rationale: str, fix: str, follows: tuple[str, ...] = ()) -> Rule:
    return Rule(code, Severity.error, title, rationale, _SHEET, fix, _faults(code), follows)


RULES = (
    Rule(
        "declared-counts",
        Severity.error,
        "another string count than the frame declares",
        "All runs of a family are whole for one same other count: not the reader but the frame's row is wrong, or the copy is "
        "another edition. Said where two runs agree, or where one reaches from inner edge to inner edge of a head of that "
        "size (within 5 %), or has two strings too many; else numbers are missing or surplus.",
        "common practice, no source",
        "Correct the frame's counts, or name the frame that the copy is",
        _declared_counts,
    ),
    _rule(
        "missing-numbers", "numbers missing in a run", _COUNTED, "Read what is missing, or correct the frame's counts",
        ("future-date",),
    ),  # a wrong day takes a reading out of its session
    _rule("surplus-numbers", "more numbers in a run than strings allow", _COUNTED, "Take them out, or correct the counts"),
    _rule(
        "missing-station", "a family not read at station 0",
        "Width, length and the centre's pitch are those along the two lines through the head's centre.", "Read it there",
    ),
    _rule(
        "station", "crosses read elsewhere than at station 0", "Crosses are read along the long axis only.", "Read them there",
    ),
    _rule("gap-not-positive", "a gap that is not positive", "Two strings cannot lie in one place.", "Read the gap again"),
    _rule(
        "marks-not-rising", "marks that do not rise",
        "Along a rule each string lies further than the one before.", "Read this mark and the one before again",
    ),
)  # fmt: skip
