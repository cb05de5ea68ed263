"""Gaps filed as marks, and marks filed as gaps: readings that can only be the other kind."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.findings import Finding, Severity
from gapbook.intake.layings import layings
from gapbook.intake.once import once
from gapbook.intake.rule import Rule
from gapbook.intake.study import Study
from gapbook.science import outline
from gapbook.science.grouping import BoolArray, IntArray, distinct
from gapbook.tables.spacings import CROSS, MAIN

FEWEST = 6
"""Neighbouring readings of a laying below which nothing is said."""
ACROSS = (0.6, 1.15)
"""What a head's gaps add up to, and how far its marks reach, as a part of its width or length: about 0.8 without the outermost
gaps and 1 with them; the declared area tells the size to about a tenth. Common practice, no source.
"""
FALLING = 0.25
"""Part of the steps that fall at least where gaps are written as marks: gaps narrow to the middle, so about half do. One
misread mark makes one step fall."""


def head_size(study: Study, specimen: int, family: int, station: float = 0.0) -> float:
    """Inner width of a head at a station (its length, for crosses) [mm]: read, else from the declared area; beyond the middle
    as an ellipse.
    """
    if station and family == MAIN:
        middle, length = (head_size(study, specimen, one) for one in (MAIN, CROSS))
        return middle * float(np.sqrt(max(1.0 - (2.0 * station / length) ** 2, 0.0)))
    catalogue = study.catalogue
    means = catalogue.readings
    quantity = catalogue.quantities.index(("head_width", "head_length")[family])
    read = means.value[(means.specimen == specimen) & (means.quantity == quantity)]
    area = catalogue.frames.area[catalogue.specimens.frame[[specimen]]]
    return float(read.mean()) if len(read) else float(outline.size_from_area(area)[family][0])


@once
def mistaken(study: Study) -> BoolArray:
    """Whether each laying [L] can only be of the other kind than is written: `marks` that rise and fall and add up to the
    head's width or length, or `gaps` that rise throughout and reach as far as that.
    """
    laid = layings(study)
    value = laid.value
    steps = np.diff(value, axis=1)
    known = (~np.isnan(steps)).sum(axis=1)
    falls = (steps <= 0.0).sum(axis=1)
    reach = np.zeros(len(known))
    as_gaps = laid.is_mark & (falls >= FALLING * known)
    as_marks = ~laid.is_mark & (falls == 0)
    candidates = np.flatnonzero((as_gaps | as_marks) & (known >= FEWEST - 1) & ~(value <= 0.0)[:, 1:].any(axis=1))
    for laying in candidates.tolist():
        read = value[laying][~np.isnan(value[laying])]
        across = read.sum() if laid.is_mark[laying] else read[-1] - read[0]
        reach[laying] = across / head_size(study, int(laid.specimen[laying]), int(laid.family[laying]))
    return np.asarray((reach >= ACROSS[0]) & (reach <= ACROSS[1]))


def _wrong_kinds(study: Study) -> Iterator[Finding]:
    laid = layings(study)
    wrong = np.flatnonzero(mistaken(study))
    if not len(wrong):
        return
    each = distinct(laid.specimen[wrong], laid.session[wrong])
    for number in range(len(each.first)):
        yield _finding(study, wrong[each.number == number])


def _finding(study: Study, mine: IntArray) -> Finding:
    """One session's."""
    laid = layings(study)
    mine = mine[np.argsort(laid.first[mine])]
    written, meant = ("mark", "gap") if laid.is_mark[mine[0]] else ("gap", "mark")
    rows = int((laid.row[mine] >= 0).sum())
    like = "add up to the width or length of the head" if written == "mark" else "rise as far as the head reaches"
    return Finding(
        "spacings",
        "kind",
        f"{written} in {rows} rows of this session, whose values {like}",
        f"{meant}, for such values",
        f"These are {meant}s, not {written}s: write {meant}",
        about=study.catalogue.specimens.ids[int(laid.specimen[mine[0]])],
        rows=tuple(laid.first[mine].tolist()),
    )


RULE = Rule(
    "wrong-kind",
    Severity.error,
    "gaps written as marks, or marks as gaps",
    "Gaps are what lies between two strings, marks what a rule laid once shows at each. Said where values called marks rise "
    "and fall and together make the head's width or length, or values called gaps rise throughout and reach as far.",
    "the measuring sheet: how a bed is read; a quarter of the steps falling, 0.6 to 1.15 of the head: common practice, no "
    "source",
    "Write the other kind",
    _wrong_kinds,
)
