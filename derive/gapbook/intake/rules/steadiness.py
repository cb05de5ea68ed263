"""People who read unsteadily again and again: one finding about the person, not one about each of their readings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules import beds, misread, scatter
from gapbook.science.grouping import IntArray, count_by, distinct
from gapbook.science.statistics import beyond_poisson, holm
from gapbook.tables.reader import texts
from gapbook.tables.units import codes, renumber

FEWEST, BEDS = 5, 3
"""So many single readings out of line, on so many beds at least, make a person unsteady. Common practice, no source."""
LOOSER = 2.0
"""A person's repeats scatter so many times as much as other people's. Common practice, no source."""
LEVEL = 0.01
"""Probability that a package without faults has a finding, for each of the two ways of telling. Common practice, no source."""


class _Slips(NamedTuple):
    """Single readings of spacings that are out of line with others [N]: their row, and code of who read each."""

    row: IntArray
    person: IntArray


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each person with many readings out of line, or else with repeats that scatter more than others'."""
    told: set[int] = set()
    for person, rows, said, expected in (*_by_slips(context), *_by_repeats(context)):
        if person not in told:
            told.add(person)
            yield _finding(context, person, rows, said, expected)


def _finding(context: CheckContext, person: int, rows: IntArray, said: str, expected: str) -> Finding:
    """The finding about a person: at their row in the contributors, or if that is not the checked layer's, at a reading."""
    who = texts(context.tables["spacings"]["contributor_id"])[person]
    at = np.flatnonzero(renumber(context.tables["contributors"]["contributor_id"], [who]) >= 0)
    if len(at) and context.is_own("contributors")[at[0]]:
        return Finding("contributors", "contributor_id", f"{who}: {said}", expected, about=who, rows=(int(at[0]),))
    own = context.first_own("spacings", rows)
    return Finding("spacings", "contributor_id", f"{who}: {said}", expected, about=who, rows=(*own, int(rows[0])))


def _slips(context: CheckContext) -> _Slips:
    found = (*misread.out_of_line(context), *scatter.scattered(context), *beds.unlike(context))
    rows = {one.rows[0] for one in found if one.table == "spacings"}
    row = np.array(sorted(rows), dtype=np.int64)
    return _Slips(row, codes(context.tables["spacings"]["contributor_id"])[row])


def _by_slips(context: CheckContext) -> Iterator[tuple[int, IntArray, str, str]]:
    """People with more readings out of line than others' share of them: by Poisson's distribution. If nobody else read enough,
    others are taken to have as few as a package without faults.
    """
    slips, data = _slips(context), context.tables["spacings"]
    if len(slips.row) < FEWEST:
        return
    people = len(texts(data["contributor_id"]))
    figures = np.bincount(codes(data["contributor_id"]), minlength=people).astype(float)
    count = count_by(slips.person, people)
    copies = distinct(slips.person, codes(data["specimen_id"])[slips.row])
    of_beds = count_by(slips.person[copies.first], people)
    others = np.maximum(figures.sum() - figures, figures.sum() / 10.0)
    rate = (count.sum() - count + misread.LEVEL) / others
    chance = beyond_poisson(count, rate * figures)
    bad = holm(chance, LEVEL) & (count >= FEWEST) & (of_beds >= BEDS)
    for person in np.flatnonzero(bad).tolist():
        usual = rate[person] * figures[person]
        yield (
            person,
            slips.row[slips.person == person],
            f"{count[person]} readings out of line, on {of_beds[person]} beds, among {figures[person]:,.0f}",
            f"about {usual:.1g}, as other people have among so many",
        )


def _by_repeats(context: CheckContext) -> Iterator[tuple[int, IntArray, str, str]]:
    """People whose repeats scatter LOOSER times as much as those of others with the same kind of instrument."""
    for one in scatter.by_person(context, LOOSER, LEVEL):
        if one.deviation >= LOOSER * one.rest and one.beds >= BEDS:
            yield (
                one.person,
                one.rows,
                f"repeats of {one.kind}s scatter by {one.deviation:.2f} mm, and so on {one.beds} beds",
                f"about {one.rest:.2f} mm, as other people repeat with such an instrument",
            )


RULE = Rule(
    "unsteady-person",
    Severity.warning,
    "a person who reads unsteadily again and again",
    "Slips are rare and anybody's; somebody who has many, on several beds, does not need each reading looked up but another "
    f"hand, light or calliper. Said of {FEWEST} readings or runs out of line on {BEDS} beds or more, if others have far fewer "
    f"(Poisson), and of repeats on {BEDS} beds that scatter {LOOSER:g} times as much as others' (F); each {100 * LEVEL:g} % "
    "over all people (Holm). The single findings are listed beneath.",
    "Poisson's distribution and the F ratio of variances: NIST/SEMATECH e-Handbook 6.3.3.1 and 1.3.5.9; the rest common "
    "practice, no source",
    "See how they read (gapbook agreement shows everybody's repeatability), and have these beds read again; or accept this "
    "with a reason",
    look,
)
