"""A bed that nobody measured and no catalogue has: named by its counts ("16x19 98 sq in"), its centre estimated from them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from gapbook.errors import GapbookError, fail
from gapbook.questions.question import Question
from gapbook.questions.ranges import Range
from gapbook.questions.traits import UNIT_WORDS
from gapbook.tables.store import Store

if TYPE_CHECKING:
    from gapbook.tables.contribution import OwnCopy

EXAMPLE = '"16x19" or "16x19 98 sq in"'
FEWEST = 3
"""A middle of head areas needs at least so many frames; with fewer of a pattern, all frames of the package are taken."""
_COUNTS = ("mains", "crosses")
_DECIMALS = 6
"""Of the middle of a range [cm²], so that a head of 98 sq in is 632.2568 cm²."""
_PATTERN_LIKE = re.compile(r"\d\s*[^\w\s]?\s*(?:x|by|[^\w\s]|mains?\b)", re.IGNORECASE)


@dataclass(frozen=True)
class AssumedHead:
    """A head area that nobody named.

    median_cm2: the median of the frames it is taken from [cm²].
    spread_percent: the standard deviation of their head areas [%].
    frames: how many they are.
    of_pattern: whether they are those with the same pattern; if not, they are all frames of the package.
    """

    median_cm2: float
    spread_percent: float
    frames: int
    of_pattern: bool


class Counts(NamedTuple):
    """A bed as it was named.

    name: the words for it, which name it again.
    mains: its main strings.
    crosses: its cross strings.
    area: its head area [cm²]; None if none was named.
    u_area: the relative standard uncertainty of that: half a range, or half a unit of the last digit, over √3.
    """

    name: str
    mains: int
    crosses: int
    area: float | None
    u_area: float


class BedFigures(NamedTuple):
    """The figures of a bed that is no row of the derived tables.

    area: its head area [cm²], named or assumed.
    assumed: how the area was assumed; None if it was named.
    scores: the columns of scores.csv and their u_; None if blank.
    """

    area: float
    assumed: AssumedHead | None
    scores: dict[str, float | None]


def counts_of(store: Store, text: str) -> Counts | None:
    """The counts and head area that `text` names in the question language; None if it names no pattern.

    GapbookError if it asks for more than that, or for counts that no bed has.
    """
    if _PATTERN_LIKE.search(text) is None:
        return None
    question = _understood(text)
    if question is None:
        return None
    ranges = {one.trait: one for one in question.ranges}
    mains, crosses = (_count(ranges.get(name)) for name in _COUNTS)
    if mains is None or crosses is None:
        return None
    plain = Question(ranges=question.ranges) == question and set(ranges) <= {*_COUNTS, "head_area"}
    head = ranges.get("head_area")
    if not plain or (head is not None and (head.low is None or head.high is None)):
        message = "a bed that nobody measured is named by its counts and its head area alone"
        raise fail("bad-bed", message, found=text, expected=EXAMPLE)
    check_counts(store, mains, crosses)
    if head is None:
        return Counts(f"{mains}x{crosses}", mains, crosses, None, 0.0)
    if (head.interval().low or 0.0) <= 0.0:
        raise fail("bad-bed", "a head has an area above 0", found=text, expected=EXAMPLE)
    area, u_area = _area(head)
    return Counts(f"{mains}x{crosses} {_words(head)}", mains, crosses, area, u_area)


def _understood(text: str) -> Question | None:
    """The question that `text` asks; None if it is not understood."""
    from gapbook.questions.language import parse  # late: only a name that is no frame's is read as a pattern

    try:
        return parse(text)
    except GapbookError:
        return None


def _count(counted: Range | None) -> int | None:
    """The one number that a range of counts allows; None if it allows others."""
    if counted is None or counted.low is None or counted.high is None or counted.low.value != counted.high.value:
        return None
    return int(counted.low.value)


def _area(head: Range) -> tuple[float, float]:
    """The middle of a range of head areas [cm²], and its relative standard uncertainty: rectangular (JCGM 100:2008, 4.3.7)."""
    interval = head.interval()
    assert interval.low is not None
    assert interval.high is not None
    middle = round((interval.low + interval.high) / 2.0, _DECIMALS)
    return middle, (interval.high - interval.low) / 2.0 / math.sqrt(3.0) / middle


def _words(head: Range) -> str:
    assert head.low is not None
    assert head.high is not None
    ends = dict.fromkeys(f"{bound.value:f}" for bound in (head.low, head.high))
    return f"{'-'.join(ends)} {UNIT_WORDS[head.unit][0]}"


def check_counts(store: Store, mains: int, crosses: int) -> None:
    """GapbookError if no bed has so many mains or crosses, by the limits of the package's schema."""
    schema = store.package.schema("frames")
    for name, count in zip(_COUNTS, (mains, crosses), strict=True):
        field = schema.field(name)
        if not (field.minimum or 0) <= count <= (field.maximum or count):
            raise fail("bad-pattern", f"no bed has so many {name}", found=str(count), expected=field.says())


def counted_bed(store: Store, counts: Counts) -> BedFigures:
    """The bed estimated as scores.csv estimates frames that nobody measured; if no head area was named, one is assumed and its
    spread counts. GapbookError if none can be assumed.
    """
    import numpy as np  # late: a question about frames does without

    from gapbook.science.scores import fit_counted
    from gapbook.tables.derivation import score_columns
    from gapbook.tables.derived import counted_scores

    assumed = assumed_head(store, counts.mains, counts.crosses) if counts.area is None else None
    area = counts.area if assumed is None else assumed.median_cm2
    u_area = counts.u_area if assumed is None else assumed.spread_percent / 100.0
    assert area is not None
    measured = np.array(_measured(store), dtype=float).reshape(-1, 4)
    line = fit_counted(measured[:, 0], measured[:, 1], measured[:, 2], measured[:, 3])
    logs, u = counted_scores(line, np.array([area]), np.array([counts.mains]), np.array([counts.crosses]), u_area)
    columns = {name: float(column[0]) for name, column in score_columns(logs, u * u).items()}
    return BedFigures(area, assumed, {name: None if math.isnan(value) else value for name, value in columns.items()})


def own_bed(store: Store, copy: OwnCopy) -> BedFigures:
    """The bed of a contribution folder: as it was measured, or if it was only counted, estimated as `counted_bed` does."""
    if copy.basis == "measured" and copy.head_area_cm2 is not None:
        return BedFigures(copy.head_area_cm2, None, dict(copy.scores))
    return counted_bed(store, Counts(copy.frame_id, copy.mains, copy.crosses, copy.head_area_cm2, 0.0))


def _measured(store: Store) -> list[tuple[float, float, int, int]]:
    """Openness in the centre, head area [cm²], mains and crosses of every measured frame."""
    names = ["openness_centre", "head_area_cm2", "mains", "crosses"]
    table = store.load("scores", ["basis", *names])
    return store.rows(
        f"SELECT {', '.join(names)} FROM {table} WHERE basis = 'measured' AND openness_centre IS NOT NULL ORDER BY ALL"
    )


def assumed_head(store: Store, mains: int, crosses: int) -> AssumedHead:
    """The head area to assume if none was named: the median of the package's frames with this pattern, or of all frames if
    fewer than FEWEST have it. GapbookError if the package has fewer than that.
    """
    from statistics import fmean, median, stdev  # late: a question about frames does without

    table = store.load("scores", ["mains", "crosses", "head_area_cm2"])
    rows = store.rows(f"SELECT mains = ? AND crosses = ?, head_area_cm2 FROM {table}", [mains, crosses])
    alike, every = [area for same, area in rows if same], [area for _, area in rows]
    of_pattern = len(alike) >= FEWEST
    areas = alike if of_pattern else every
    if len(areas) < FEWEST:
        message = "too few frames to assume a head area from"
        raise fail("no-head-area", message, found=f"{mains}x{crosses}", fix=f'Name it: "{mains}x{crosses} 98 sq in"')
    logs = [math.log(area) for area in areas]
    return AssumedHead(float(median(areas)), 100.0 * stdev(logs, fmean(logs)), len(areas), of_pattern)
