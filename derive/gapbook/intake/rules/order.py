"""Runs whose numbers and values do not go together: marks that fall, and a number left out with the rest counted on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext, cached
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import groups
from gapbook.intake.rule import Rule
from gapbook.science.counting import LeftOut, left_out
from gapbook.science.grouping import BoolArray, FloatArray, IntArray, distinct
from gapbook.tables.spacings import MAIN

FEWEST = 6
"""Marks that a pass must have before it is said to run backwards."""
COPIES = 20
"""Of so many copies of a frame at most it is looked up how they are drilled."""


@cached
def backwards(context: CheckContext) -> BoolArray:
    """Whether each pass [P] has marks that fall from each to the next."""
    passes = context.passes
    with np.errstate(invalid="ignore"):
        steps = np.diff(passes.value, axis=1)
    known = (~np.isnan(steps)).sum(axis=1)
    return np.asarray(passes.is_mark & ((steps < 0.0).sum(axis=1) == known) & (known >= FEWEST - 1))


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each session that ran backwards along a copy."""
    passes = context.passes
    wrong = np.flatnonzero(backwards(context))
    for places in groups(distinct(passes.specimen[wrong], passes.session[wrong]).number):
        mine = wrong[places]
        mine = mine[np.argsort(passes.first[mine])]
        families = [name for family, name in enumerate(("mains", "crosses")) if family in passes.family[mine]]
        start, end = ("left", "right") if passes.family[mine[0]] == MAIN else ("tip", "throat")
        rows = int((passes.row[mine] >= 0).sum())
        yield Finding(
            "spacings",
            "value",
            f"marks of the {' and '.join(families)} that fall from each to the next, in {rows} rows of this session",
            "marks that rise with their numbers",
            f"The rule's zero lay at the other end than number 0. If strings were counted from the {start}, write every mark "
            f"as the greatest one less it; if from the {end}, leave the values and turn the order of the numbers",
            about=context.catalogue.specimens.ids[int(passes.specimen[mine[0]])],
            rows=tuple(passes.first[mine].tolist()),
        )


def renumbered(context: CheckContext, mine: IntArray) -> LeftOut | None:
    """What was left out of the passes `mine` of one run, if all that it lacks is its last number and a reading before it was
    left out; else None.
    """
    passes = context.passes
    is_mark, strings = bool(passes.is_mark[mine[0]]), int(passes.strings[mine[0]])
    have = np.flatnonzero((passes.row[mine] >= 0).any(axis=0))
    last = strings if is_mark else strings - 1
    edges = have[0] == 0
    if have[-1] != last - (not edges) or len(have) != have[-1] - have[0] + 1 or have[0] > 1:
        return None
    values = passes.value[mine][:, have]
    gaps = np.diff(values, axis=1) if is_mark else values
    gaps = gaps[~np.isnan(gaps).any(axis=1)]
    if not len(gaps):
        return None
    is_main = bool(passes.family[mine[0]] == MAIN)
    return left_out(np.median(gaps, axis=0), bool(edges), is_main, _drilled_alike(context, mine))


def _drilled_alike(context: CheckContext, mine: IntArray) -> FloatArray | None:
    """The gaps between the strings that whole passes of the same family have at the same station, of the same copy or of
    others of its frame; their median. None if there is no such pass.
    """
    passes, frame_of = context.passes, context.catalogue.specimens.frame
    one = int(mine[0])
    alike = np.flatnonzero(frame_of == frame_of[passes.specimen[one]])
    strings, found = int(passes.strings[one]), []
    for specimen in alike[:COPIES].tolist():
        other = passes.of_specimen(specimen, int(passes.family[one]))
        other = other[(passes.station[other] == passes.station[one]) & ~np.isin(other, mine)]
        for number in other.tolist():
            value = passes.value[number]
            gaps = np.diff(value[1 : strings + 1]) if passes.is_mark[number] else value[1:strings]
            if not (np.isnan(gaps).any() or (gaps <= 0.0).any()):
                found.append(gaps)
    return np.median(found, axis=0) if found else None


def left_out_words(found: LeftOut, is_mark: bool) -> str:
    """How a run is mended from which a reading was left out and the rest counted on."""
    low, high, kind = found.low, found.high, "mark" if is_mark else "gap"
    if found.doubled and is_mark:
        return (
            f"Between marks {low} and {low + 1} there is room for two gaps: a string was skipped there, and all after it are "
            f"numbered one too low. Make these numbers one more, and read mark {low + 1}"
        )
    if found.doubled:
        return (
            f"Gap {low} is about as wide as two: a string was skipped there, and all after it are numbered one too low. Make "
            f"these numbers one more, and read gaps {low} and {low + 1}"
        )
    which = f"{kind.title()} {found.best}" + ("" if low == high else f", or another one from {low} to {high},")
    return (
        f"{which} was probably left out, and all after it are numbered one too low. Find it by counting, make these numbers "
        "one more, and read it"
    )


RULE = Rule(
    "reversed-marks",
    Severity.error,
    "marks that run backwards",
    "Marks rise along the rule. If all of a laying fall, no mark is wrong: strings were counted from one end, and the rule's "
    "zero lay at the other.",
    "the measuring sheet: how a bed is read",
    "Turn the marks or the numbers",
    look,
)
