"""What a package's own readings say of errors that are not seen in repeats: how far people differ, and how far strings lie from
where they would rest.

Both need beds that were read more than once. What they say is drawn towards a default, for which a number of degrees of
freedom counts (`repeats.shrunk`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.gauge_rr import gauge_study
from gapbook.science.grouping import FloatArray, IntArray, distinct, sum_by
from gapbook.science.repeats import Repeatability, shrunk
from gapbook.science.statistics import LEVEL, beyond_chi_square, student_factor
from gapbook.science.uncertainty import PLACEMENT_MM

PERSON_MM = {"photo": 0.02}
"""Default standard deviation between people of the offset of a gap, by kind of instrument [mm]. Common practice, no source."""
PERSON_OTHER_MM = 0.05
"""The same for any other kind of instrument [mm]. Common practice, no source."""
PERSON_WEIGHT = 5
"""Degrees of freedom that the default between people counts for."""
PLACEMENT_WEIGHT = 20
"""Degrees of freedom that PLACEMENT_MM counts for."""
CORRELATED = 2.0 / 3.0
"""Neighbouring gaps share a string, so if strings lie out of place their errors are correlated by -1/2; their variance is known
as well as by two thirds as many independent gaps: (tr A)²/tr A², A the matrix of second differences."""


class MeanGaps(NamedTuple):
    """The mean gap of beds that several people read with one kind of instrument [N].

    part: number of what was read: one family at one station
    person: number of who read it
    kind: number of the kind of instrument
    value: mean gap between the outer strings [mm]
    """

    part: IntArray
    person: IntArray
    kind: IntArray
    value: FloatArray


class Relaid(NamedTuple):
    """The gaps of one session in a family at a station that several sessions read [N].

    bed: number of the bed
    part: number of what was read: one family at one station
    squares: sum of squares of the gaps' deviations from the mean over sessions, less the session's own mean deviation [mm²]
    share: 1 - 1/sessions, the part of a session's variance that is in `squares`
    gaps: how many gaps
    is_mark: 1 if marks were read, 0 if gaps
    pool: number of the pool of repeatability
    times: how many repeats a reading is the mean of
    resolution: of the instrument [mm]
    """

    bed: IntArray
    part: IntArray
    squares: FloatArray
    share: FloatArray
    gaps: FloatArray
    is_mark: IntArray
    pool: IntArray
    times: FloatArray
    resolution: FloatArray


class Between(NamedTuple):
    """How far people differ, by kind of instrument [kinds].

    deviation: standard deviation of the offset of a gap, as it is used [mm]
    assumed: how much of its square is the default's, 0 to 1
    seen: standard deviation that the readings show [mm], NaN if they show none
    freedom: degrees of freedom behind `seen`
    """

    deviation: FloatArray
    assumed: FloatArray
    seen: FloatArray
    freedom: FloatArray


def between_people(read: MeanGaps, default: FloatArray) -> Between:
    """How far people differ: a gauge study of mean gaps for each kind of instrument. A person's offset is the same on each gap,
    so it shifts the mean gap as much, on which strings and single readings hardly tell. What was seen of a few people counts
    with its t, for which the default is worth one degree of freedom more: it is known to some 70 % (JCGM 100:2008, G.4.2).

    read: what several people read
    default: standard deviation that is assumed [kinds] in mm
    """
    seen, freedom = np.full(len(default), np.nan), np.zeros(len(default))
    for kind in np.unique(read.kind).tolist():
        mine = np.flatnonzero(read.kind == kind)
        each = distinct(read.part[mine], read.person[mine])
        count = np.bincount(each.number)
        value = np.bincount(each.number, read.value[mine]) / count
        study = gauge_study(read.part[mine][each.first], read.person[mine][each.first], value)
        if not np.isnan(study.between):
            seen[kind], freedom[kind] = study.between, study.av_freedom
    counts = np.nan_to_num(seen) * student_factor(freedom + 1.0)
    return Between(*shrunk(freedom * counts**2, freedom, default, PERSON_WEIGHT), seen, freedom)


class Placement(NamedTuple):
    """How far strings lie from where they would rest.

    deviation: standard deviation, as it is used [mm]
    assumed: how much of its square is the default's, 0 to 1
    beds: how many beds had their strings straightened anew between two sessions
    """

    deviation: float
    assumed: float
    beds: int


def placement(relaid: Relaid, repeatability: Repeatability) -> Placement:
    """The placement that sessions with strings straightened anew show.

    Nobody writes down whether strings were straightened anew. They were if the sessions of a bed differ, gap by gap, by more
    than reading explains (chi-square, one level for all beds by Bonferroni's inequality); the others read them where they lay,
    and say nothing. What the gaps of a session have in common is the instrument's and the person's, and is left out.

    relaid: sessions of beds that were read in several
    repeatability: of readings, by pool
    """
    each = distinct(relaid.bed)
    beds = len(each.first)
    reading = repeatability.variance(relaid.pool, relaid.times, relaid.resolution)
    by_string = 2.0 * relaid.gaps - 2.0 / np.maximum(relaid.gaps, 1.0)
    expected = sum_by(each.number, relaid.share * reading * np.where(relaid.is_mark > 0, by_string, relaid.gaps - 1.0), beds)
    placed = sum_by(each.number, relaid.share * by_string, beds)
    squares = sum_by(each.number, relaid.squares, beds)
    freedom = CORRELATED * sum_by(each.number, relaid.share * (relaid.gaps - 1.0), beds)
    ratio = np.divide(squares, expected, out=np.zeros(beds), where=expected > 0.0)
    anew = beyond_chi_square(ratio * freedom, freedom) <= LEVEL / max(beds, 1)
    seen = max(float((squares - expected)[anew].sum()), 0.0)
    degrees = float(freedom[anew].sum())
    variance = seen / float(placed[anew].sum()) if anew.any() else 0.0
    deviation, assumed = shrunk(np.array(variance * degrees), np.array(degrees), np.array(PLACEMENT_MM), PLACEMENT_WEIGHT)
    return Placement(float(deviation), float(assumed), int(anew.sum()))
