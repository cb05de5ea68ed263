"""Gaps written as marks, and marks written as gaps."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import groups
from gapbook.intake.rule import Rule
from gapbook.science import outline
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, distinct
from gapbook.tables.spacings import CROSS, MAIN

FEWEST = 6
"""How many neighbouring readings a pass must have before its kind is judged."""
ACROSS = (0.6, 1.15)
"""The sum of a head's gaps, or the reach of its marks, as a part of its width or length: least and greatest. It is about 0.8
without the outermost gaps and 1 with them, and the declared area gives the size to about a tenth. Common practice, no source.
"""
FALLING = 0.25
"""If gaps are written as marks, at least this part of the steps falls. Gaps become narrower to the middle, so about half do; of
true marks a step only falls if one is misread."""


def head_size(context: CheckContext, specimen: int, family: int, station: float = 0.0) -> float:
    """Inner width of a head at a station, or for crosses its length [mm]. It is the mean of what was read, or else follows from
    the declared area. At other stations than 0 the head is taken for an ellipse.

    context: the context of the check
    specimen: number of the specimen
    family: MAIN or CROSS
    station: where the rule lay [mm]
    """
    if station and family == MAIN:
        middle, length = (head_size(context, specimen, one) for one in (MAIN, CROSS))
        return middle * float(np.sqrt(max(1.0 - (2.0 * station / length) ** 2, 0.0)))
    read, catalogue = read_size(context, specimen, family), context.catalogue
    area = catalogue.frames.area[catalogue.specimens.frame[[specimen]]]
    return float(read.mean()) if len(read) else float(outline.size_from_area(area)[family][0])


def read_size(context: CheckContext, specimen: int, family: int) -> FloatArray:
    """The inner widths of a head (for crosses its lengths) that sessions read directly [N] in mm."""
    means = context.catalogue.readings
    quantity = context.catalogue.quantities.index(("head_width", "head_length")[family])
    return means.value[(means.specimen == specimen) & (means.quantity == quantity)]


@cached
def mistaken(context: CheckContext) -> BoolArray:
    """Whether each pass [P] must be of the other kind than is written: its `marks` rise and fall and add up to the head's width
    or length, or its `gaps` rise throughout and reach as far as that.
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
    for mine in groups(distinct(passes.specimen[wrong], passes.session[wrong]).number):
        yield _wrong_kind(context, wrong[mine])


def _wrong_kind(context: CheckContext, mine: IntArray) -> Finding:
    """The finding about the passes of one session."""
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
