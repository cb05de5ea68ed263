"""What `relate` gives: associations as data, for screens, JSON and Python alike."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from pydantic import Field

from gapbook.questions.answer import PackageName, Result, tabulated, typed
from gapbook.questions.shown import Shown

if TYPE_CHECKING:
    import pyarrow as pa

CAUTION = "Association, not cause."

Trend = Literal["rises", "falls", "cannot tell", "no figure"]


class Slope(Result):
    """A slope and its interval [outcome unit per trait unit].

    slope: the estimate.
    u_slope: its standard uncertainty.
    low: the lower end of its interval.
    high: the upper end of its interval.
    degrees_of_freedom: those of the interval.
    p: the p-value of a slope of zero.
    """

    slope: float
    u_slope: float
    low: float
    high: float
    degrees_of_freedom: float
    p: float


class Odds(Result):
    """The proportional-odds model of marks: by what the odds of a higher mark are multiplied for each unit of the trait.

    ratio: the estimate.
    low: the lower end of its interval.
    high: the upper end of its interval.
    degrees_of_freedom: those of the interval.
    p: the p-value of a ratio of one.
    """

    ratio: float
    low: float
    high: float
    degrees_of_freedom: float
    p: float


class BetweenTesters(Result):
    """How much slopes differ between testers: their standard deviation, and the p-value of no difference."""

    deviation: float
    p: float


class LeaveOneOut(Result):
    """The lowest and highest slope if one frame, or one tester, is left out.

    low: the lowest.
    high: the highest.
    low_without: who or what is left out for the lowest.
    high_without: who or what is left out for the highest.
    """

    low: float
    high: float
    low_without: str
    high_without: str


class NotUsed(Result):
    """Why playtests do not count, each under the first reason that holds.

    no_bed: nobody measured the bed of that copy.
    not_allowed: a cell that is needed is one that the schema forbids; see gapbook check.
    blank: the trait, the outcome or a column held is blank.
    """

    no_bed: int
    not_allowed: int
    blank: int


class Points(NamedTuple):
    """What each playtest that counts shows [playtests].

    playtest_ids: the playtest
    specimen_ids: its copy
    frame_ids: its frame
    tester_ids: its tester
    trait: without what testers and the columns held explain, about its mean
    outcome: likewise
    without_frame: the slope without the frame
    without_tester: the slope without the tester
    """

    playtest_ids: list[str]
    specimen_ids: list[str]
    frame_ids: list[str]
    tester_ids: list[str]
    trait: list[float]
    outcome: list[float]
    without_frame: list[float]
    without_tester: list[float]


class Association(Result):
    """The regression of an outcome on one trait. Figures are None if `verdict` is "no figure".

    outcome: its column.
    outcome_unit: its unit.
    trait: its column.
    trait_unit: its unit.
    slope: the slope [outcome unit per trait unit]; u_slope, low and high are in the same unit.
    u_slope: the standard uncertainty of the slope.
    low: the lower end of its interval, which is for frames and players like these.
    high: the upper end of its interval.
    degrees_of_freedom: those of the interval.
    p: the p-value of a slope of zero.
    p_holm: the same, adjusted for the number of slopes.
    partial_correlation: of outcome and trait, without what testers and the columns held explain.
    these_testers: the same slope with an interval about these testers alone.
    corrected: the slope corrected for the trait's own uncertainty; None if that is unknown or too large.
    between_testers: how much slopes differ between testers.
    odds: the proportional-odds model; None if the outcome is no mark.
    curvature_p: the p-value of a straight line against a parabola; None if there are too few frames for one.
    leave_one_out: the slopes if one frame is left out.
    leave_one_tester_out: the slopes if one tester is left out.
    attenuation_percent: how much the trait's own uncertainty flattens the slope [%]; None if it is not known.
    frames: how many frames it rests on.
    testers: how many testers it rests on.
    playtests: how many playtests it rests on.
    not_used: how many playtests do not count, and why.
    verdict: rises, falls, cannot tell or no figure.
    sentence: what may be said.
    points: what each playtest shows, not in JSON; None if there is no figure.
    """

    outcome: str
    outcome_unit: str
    trait: str
    trait_unit: str
    slope: float | None = None
    u_slope: float | None = None
    low: float | None = None
    high: float | None = None
    degrees_of_freedom: float | None = None
    p: float | None = None
    p_holm: float | None = None
    partial_correlation: float | None = None
    these_testers: Slope | None = None
    corrected: Slope | None = None
    between_testers: BetweenTesters | None = None
    odds: Odds | None = None
    curvature_p: float | None = None
    leave_one_out: LeaveOneOut | None = None
    leave_one_tester_out: LeaveOneOut | None = None
    attenuation_percent: float | None = None
    frames: int
    testers: int
    playtests: int
    not_used: NotUsed
    verdict: Trend
    sentence: str
    points: Points | None = Field(default=None, exclude=True, repr=False)

    def residuals(self) -> pa.Table:
        """One row a playtest that counts: its ids, trait and outcome without what testers and the columns held explain (about
        their means), the residual, its leverage, and the slope without its frame and without its tester. No rows if there is
        no figure.
        """
        ids = "playtest_id specimen_id frame_id tester_id"
        figures = "trait_adjusted outcome_adjusted residual leverage slope_without_frame slope_without_tester"
        columns = typed(ids, "", figures)
        if (points := self.points) is None or self.slope is None:
            return tabulated([], columns)
        trait, outcome = np.array(points.trait), np.array(points.outcome)
        left = trait - trait.mean()
        residual = outcome - outcome.mean() - self.slope * left
        made = [*points[:4], trait, outcome, residual, left**2 / (left @ left), *points[6:]]
        rows = zip(*(np.asarray(one).tolist() for one in made), strict=True)
        return tabulated([dict(zip(columns, row, strict=True)) for row in rows], columns)


class Associations(Shown, Result):
    """The regressions of each outcome on each trait asked for, one at a time, with the same columns held.

    given: the columns held.
    confidence: the confidence of intervals and verdicts.
    associations: one for each outcome and trait.
    caution: what to keep in mind.
    package: the data package it comes from.
    """

    given: list[str]
    confidence: float
    associations: list[Association]
    caution: str = CAUTION
    package: PackageName

    def __repr__(self) -> str:
        return "<Associations: " + " ".join(item.sentence for item in self.associations) + f" {self.caution}>"

    def residuals(self) -> pa.Table:
        """The residuals of all associations that have figures, one after the other, with outcome and trait in front."""
        import pyarrow as pa  # late: as in `tabulated`

        made = []
        for item in self.associations:
            rows = item.residuals()
            for name, word in (("trait", item.trait), ("outcome", item.outcome)):
                rows = rows.add_column(0, name, pa.array([word] * rows.num_rows, pa.string()))
            made.append(rows)
        return pa.concat_tables(made)

    def to_arrow(self) -> pa.Table:
        """One row an association, with its keys; the parts of what it is made of are columns, as leave_one_out_low."""
        rows = [_flat(item.model_dump()) for item in self.associations]
        whole = typed("outcome outcome_unit trait trait_unit", "", "slope u_slope low high degrees_of_freedom p p_holm")
        whole |= typed("", "", "partial_correlation")
        for name, kind in _PARTS.items():
            for part, field in kind.model_fields.items():
                told = {str: "string", int: "int64"}.get(field.annotation, "float64")  # type: ignore[arg-type]
                whole[f"{name}_{part}"] = told
        whole |= typed("", "", "curvature_p attenuation_percent") | typed("", "frames testers playtests")
        return tabulated(rows, whole | typed("verdict sentence"))


_PARTS: dict[str, type[Result]] = {
    "these_testers": Slope,
    "corrected": Slope,
    "between_testers": BetweenTesters,
    "odds": Odds,
    "leave_one_out": LeaveOneOut,
    "leave_one_tester_out": LeaveOneOut,
    "not_used": NotUsed,
}


def _flat(row: dict[str, object]) -> dict[str, object]:
    made: dict[str, object] = {}
    for name, value in row.items():
        made |= {f"{name}_{part}": one for part, one in value.items()} if isinstance(value, dict) else {name: value}
    return made
