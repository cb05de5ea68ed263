"""Gaps filed as marks, and marks filed as gaps: readings that can only be the other kind."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.science import outline
from gapbook.science.grouping import BoolArray, IntArray, distinct
from gapbook.tables.spacings import CROSS, MAIN

FEWEST = 6
"""Neighbouring readings of a pass below which nothing is said."""
ACROSS = (0.6, 1.15)
"""What a head's gaps add up to, and how far its marks reach, as a part of its width or length: about 0.8 without the outermost
gaps and 1 with them; the declared area tells the size to about a tenth. Common practice, no source.
"""
FALLING = 0.25
"""Part of the steps that fall at least where gaps are written as marks: gaps narrow to the middle, so about half do. One
misread mark makes one step fall."""


def head_size(context: CheckContext, specimen: int, family: int, station: float = 0.0) -> float:
    """Inner width of a head at a station (its length, for crosses) [mm]: read, else from the declared area; beyond the middle
    as an ellipse.
    """
    if station and family == MAIN:
        middle, length = (head_size(context, specimen, one) for one in (MAIN, CROSS))
        return middle * float(np.sqrt(max(1.0 - (2.0 * station / length) ** 2, 0.0)))
    catalogue = context.catalogue
    means = catalogue.readings
    quantity = catalogue.quantities.index(("head_width", "head_length")[family])
    read = means.value[(means.specimen == specimen) & (means.quantity == quantity)]
    area = catalogue.frames.area[catalogue.specimens.frame[[specimen]]]
    return float(read.mean()) if len(read) else float(outline.size_from_area(area)[family][0])


@cached
def mistaken(context: CheckContext) -> BoolArray:
    """Whether each pass [P] can only be of the other kind than is written: `marks` that rise and fall and add up to the
    head's width or length, or `gaps` that rise throughout and reach as far as that.
    """
    passes = context.passes
    value = passes.value
    steps = np.diff(value, axis=1)
    known = (~np.isnan(steps)).sum(axis=1)
    falls = (steps <= 0.0).sum(axis=1)
    reach = np.zeros(len(known))
    as_gaps = passes.is_mark & (falls >= FALLING * known)
    as_marks = ~passes.is_mark & (falls == 0)
    candidates = np.flatnonzero((as_gaps | as_marks) & (known >= FEWEST - 1) & ~(value <= 0.0)[:, 1:].any(axis=1))
    for number in candidates.tolist():
        read = value[number][~np.isnan(value[number])]
        across = read.sum() if passes.is_mark[number] else read[-1] - read[0]
        reach[number] = across / head_size(context, int(passes.specimen[number]), int(passes.family[number]))
    return np.asarray((reach >= ACROSS[0]) & (reach <= ACROSS[1]))


def _wrong_kinds(context: CheckContext) -> Iterator[Finding]:
    passes = context.passes
    wrong = np.flatnonzero(mistaken(context))
    if not len(wrong):
        return
    each = distinct(passes.specimen[wrong], passes.session[wrong])
    for number in range(len(each.first)):
        yield _finding(context, wrong[each.number == number])


def _finding(context: CheckContext, mine: IntArray) -> Finding:
    """One session's."""
    passes = context.passes
    mine = mine[np.argsort(passes.first[mine])]
    written, meant = ("mark", "gap") if passes.is_mark[mine[0]] else ("gap", "mark")
    rows = int((passes.row[mine] >= 0).sum())
    like = "add up to the width or length of the head" if written == "mark" else "rise as far as the head reaches"
    return Finding(
        "spacings",
        "kind",
        f"{written} in {rows} rows of this session, whose values {like}",
        f"{meant}, for such values",
        f"These are {meant}s, not {written}s: write {meant}",
        about=context.catalogue.specimens.ids[int(passes.specimen[mine[0]])],
        rows=tuple(passes.first[mine].tolist()),
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
