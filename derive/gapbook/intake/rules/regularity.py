"""Figures too regular to have been read: strings on a smoother line than hands can read, and one half of a bed that mirrors the
other to the last digit.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.readings import groups
from gapbook.intake.rule import Rule
from gapbook.intake.rules.beds import FOLLOWS
from gapbook.intake.rules.sameness import varied
from gapbook.science import misread
from gapbook.science.grouping import FloatArray, IntArray, distinct
from gapbook.science.statistics import below_chi_square, holm
from gapbook.science.steps import same_probability
from gapbook.tables.spacings import MAIN

LEVEL = 0.01
"""Probability that a package without faults has a finding, over all passes together. It is far below that in fact, because
strings are taken to lie exactly in place, and they do not. Common practice, no source."""
PLACED_MM = 1e-3
"""How far strings are taken to be out of place: not at all, so that only the hand's part of the scatter is asked for."""
ALIKE_MM = 1e-4
"""Gaps are the same if they differ by less: by nothing in any unit and step."""


class _Judged(NamedTuple):
    """Passes that were judged in one way [J]: their numbers, and the probability of so regular a one."""

    number: IntArray
    chance: FloatArray


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each specimen with a pass that is too regular, about its most improbable pass."""
    smooth, mirrored = _smooth(context), _mirrored(context)
    chance = np.concatenate([smooth.chance, mirrored.chance])
    bad = np.flatnonzero(holm(chance, LEVEL))
    told: set[int] = set()
    for place in bad[np.argsort(chance[bad], kind="stable")].tolist():
        is_smooth = place < len(smooth.number)
        number = int(smooth.number[place] if is_smooth else mirrored.number[place - len(smooth.number)])
        specimen = int(context.passes.specimen[number])
        if specimen not in told and varied(context.passes, number):
            told.add(specimen)
            yield _finding(context, number, is_smooth)


def _fitted(context: CheckContext) -> Iterator[tuple[IntArray, misread.PassModel, FloatArray]]:
    """The complete passes in groups that one model of a smooth line fits: their numbers, the model, their strings."""
    passes, complete = context.passes, context.complete
    numbers = complete.number[passes.strings[complete.number] >= misread.FEWEST]
    variance = complete.variance[numbers]
    level = np.unique(variance, return_inverse=True)[1]
    alike = distinct(passes.strings[numbers], passes.family[numbers], passes.is_mark[numbers].astype(np.int64), level)
    for places in groups(alike.number):
        mine = numbers[places]
        strings, family, is_mark = (column[mine[0]] for column in (passes.strings, passes.family, passes.is_mark))
        spread = float(variance[places[0]])
        model = misread.pass_model(int(strings), bool(family == MAIN), bool(is_mark), spread, PLACED_MM)
        yield mine, model, complete.strings[mine, : int(strings)]


def _smooth(context: CheckContext) -> _Judged:
    """How probable it is that the strings of each complete pass lie so near to a smooth line."""
    found = []
    for mine, model, strings in _fitted(context):
        total = ((strings @ model.residual.T) ** 2).sum(axis=1)
        free = float(len(model.terms) - model.terms.shape[1])
        found.append((mine, below_chi_square(total, np.full(len(mine), free))))
    if not found:
        return _Judged(np.zeros(0, dtype=np.int64), np.zeros(0))
    return _Judged(*(np.concatenate(column) for column in zip(*found, strict=True)))


def _mirrored(context: CheckContext) -> _Judged:
    """How probable it is that all gaps of each complete pass are those of their mirror twins; 1 if one is not."""
    passes, complete = context.passes, context.complete
    numbers = complete.number
    gaps = np.diff(complete.strings[numbers], axis=1)
    count = passes.strings[numbers] - 1
    column = np.arange(gaps.shape[1])[None, :]
    twin = np.take_along_axis(gaps, np.clip(count[:, None] - 1 - column, 0, None), axis=1)
    within = column < (count // 2)[:, None]
    alike = (np.abs(np.where(within, gaps - twin, 0.0)) < ALIKE_MM).all(axis=1)
    step = context.catalogue.instruments.resolution[passes.instrument[numbers]]
    each = same_probability(np.maximum(step, ALIKE_MM), np.sqrt(2.0 * complete.variance[numbers]))
    return _Judged(numbers, np.where(alike, each ** (count // 2), 1.0))


def _finding(context: CheckContext, number: int, is_smooth: bool) -> Finding:
    passes, complete = context.passes, context.complete
    family = "mains" if passes.family[number] == MAIN else "crosses"
    strings, deviation = int(passes.strings[number]), float(np.sqrt(complete.variance[number]))
    if is_smooth:
        model = misread.pass_model(strings, bool(passes.family[number] == MAIN), bool(passes.is_mark[number]), 1e-2, PLACED_MM)
        at = complete.strings[number, :strings]
        off = np.diff(at - model.terms @ np.linalg.lstsq(model.terms, at, rcond=None)[0])
        found = f"the gaps of the {family} follow a smooth line to within {np.sqrt(np.mean(off**2)):.2f} mm"
        expected = f"gaps off such a line by {deviation:.2f} mm for the hand alone, and by more for strings out of place"
    else:
        found = f"the gaps of the {family} from the middle on are those before it, mirrored to the last digit"
        expected = f"gaps that differ from their mirror twins by {np.sqrt(2.0) * deviation:.2f} mm for the hand alone"
    row = int(passes.first[number])
    others = passes.first[passes.of_specimen(int(passes.specimen[number]))]
    return Finding(
        "spacings",
        None,
        found,
        expected,
        about=context.catalogue.specimens.ids[int(passes.specimen[number])],
        rows=(row, *context.first_own("spacings", others)),
        keyed=2,
    )


RULE = Rule(
    "too-regular",
    Severity.warning,
    "figures too regular to have been read",
    "Strings lie out of place by some tenths of a millimetre, and hands read to about a tenth. Gaps that follow a smooth line "
    "more closely than hands alone allow were computed or smoothed, and a half that mirrors the other to the last digit was "
    "copied. Lower tail of chi-square about a smooth line, and the probability of so many equal pairs, as if no string were "
    f"out of place; {100 * LEVEL:g} % over the package (Holm). Lists with fewer than five different gaps are left alone.",
    "chi-square as in JCGM 100:2008 (GUM), G.6; hands and strings: common practice, no source; Holm 1979",
    "Read all of the strings, and write them as they were read",
    look,
    follows=(*FOLLOWS, "resolution"),
)
