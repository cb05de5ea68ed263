"""Copies of a frame whose beds are further apart than copies are."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from gapbook.intake.context import CheckContext
from gapbook.intake.findings import Finding, Severity
from gapbook.intake.rule import Rule
from gapbook.intake.rules.beds import FOLLOWS, OF_SESSIONS, at_bed
from gapbook.science.beds import SCORE_NAMES
from gapbook.science.consistency import Apart, from_copies
from gapbook.science.statistics import holm, student_bound
from gapbook.tables.spacings import CROSS, MAIN

LEVEL = 0.01
"""Probability that a package without faults has a finding, over all copies and both families. Common practice, no source."""
SPREAD = 0.01
"""Standard deviation of the pitch of copies of a frame that is assumed, as a part of it. Common practice, no source."""
PITCHES = ((MAIN, "main_pitch_centre_mm", "main pitch"), (CROSS, "cross_pitch_centre_mm", "cross pitch"))


def look(context: CheckContext) -> Iterator[Finding]:
    """One finding for each frame whose copies differ, at the copy and the family that stand out most."""
    measured, catalogue = context.measured, context.catalogue
    if not len(measured.specimen):
        return
    passes = context.passes
    of_specimen = np.full(len(catalogue.specimens.ids), np.iinfo(np.int64).max)
    np.minimum.at(of_specimen, passes.specimen, passes.first)
    first = of_specimen[measured.specimen]
    order = np.argsort(first, kind="stable")  # of two copies the later one is judged: in a contribution its own
    frame = catalogue.specimens.frame[measured.specimen[order]]
    columns = [SCORE_NAMES.index(name) for _, name, _ in PITCHES]
    beds, (independent, shared) = measured.beds, measured.beds.variances
    apart = [
        from_copies(beds.value[order, column], (independent[order, column], shared[order, column]), frame, SPREAD)
        for column in columns
    ]
    bad = holm(np.concatenate([one.probability for one in apart]), LEVEL).reshape(len(PITCHES), -1)
    told: set[int] = set()
    chance = np.stack([one.probability for one in apart])
    for family, bed in sorted(np.argwhere(bad).tolist(), key=lambda place: float(chance[place[0], place[1]])):
        if int(frame[bed]) not in told:
            told.add(int(frame[bed]))
            pitch = float(np.exp(beds.value[order[bed], columns[family]]))
            yield _finding(context, int(measured.specimen[order[bed]]), family, pitch, apart[family], bed)


def _finding(context: CheckContext, specimen: int, family: int, pitch: float, apart: Apart, bed: int) -> Finding:
    catalogue = context.catalogue
    others, name = int(apart.others[bed]), catalogue.frames.ids[int(catalogue.specimens.frame[specimen])]
    theirs = pitch * float(np.exp(-apart.difference[bed]))
    room = float(student_bound(1, apart.freedom[bed : bed + 1], 0.05)[0]) * float(apart.u[bed])
    who = f"another copy of {name} has" if others == 1 else f"{others} other copies of {name} have"
    return at_bed(
        context,
        specimen,
        f"{PITCHES[family][2]} {pitch:.2f} mm in the centre; {who} {theirs:.2f} mm",
        f"within ± {pitch * room:.2f} mm, as copies of a frame and readings of them differ",
        family,
    )


RULE = Rule(
    "copies-differ",
    Severity.warning,
    "copies of a frame that differ more than copies do",
    "A frame's value is the mean of its copies, so a copy that is another frame, edition or size spoils it. Each copy's pitch "
    "in the centre is held against the mean of the others, by the readings' uncertainty and the spread of copies pooled over "
    f"all other frames (drawn towards {100 * SPREAD:g} %), with Student's t; {100 * LEVEL:g} % over all copies and both "
    "families (Holm), one finding a frame.",
    "JCGM 100:2008 (GUM), G.3 and H.5; Holm 1979, Scandinavian Journal of Statistics 6, 65-70",
    "See whether it is the edition and size that its frame is; then whether the bed was read as the others were, and counted "
    "from the same end",
    look,
    follows=(
        *FOLLOWS,
        "mirror",
        "misclosure",
        "edge-to-edge",
        "rule-origin",
        "outer-density",
        "instrument-plausible",
        *OF_SESSIONS,
    ),
)
