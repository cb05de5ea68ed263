"""How traits of measured beds go with an outcome of their playtests: `relate`, from names to figures and a sentence."""

from __future__ import annotations

import difflib
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from pydantic import Field

from gapbook.errors import GapbookError, fail
from gapbook.questions.answer import PackageName, Result, tabulated, typed
from gapbook.science.comparison import CONFIDENCE
from gapbook.science.grouping import FloatArray
from gapbook.science.relation import Relation, Sample, Shortfall, indicators, relate
from gapbook.science.statistics import holm_adjusted
from gapbook.tables.package import Package
from gapbook.tables.sql import query
from gapbook.tables.store import quoted
from gapbook.tables.views import PLAYTESTS_WITH_BEDS, Column, View, playtests_with_beds

if TYPE_CHECKING:
    import pyarrow as pa

CAUTION = "Association, not cause."
OFFERED = 3
_MOST_DECIMALS = 9
_FIGURES = ("number", "integer")
_IN_OWN_UNITS = {"main_tension": "main_tension_n", "cross_tension": "cross_tension_n"}
"""Columns whose unit each row states, and the column of the same in one unit."""

Trend = Literal["rises", "falls", "cannot tell", "no figure"]


class LeaveOneOut(Result):
    """The lowest and highest slope if one frame is left out.

    low: the lowest.
    high: the highest.
    low_without: the frame that is left out for the lowest.
    high_without: the frame that is left out for the highest.
    """

    low: float
    high: float
    low_without: str
    high_without: str


class Points(NamedTuple):
    """A partial-regression plot: trait and outcome [playtests] without what testers and the columns held explain, about their
    means, and the frame of each playtest.
    """

    trait: list[float]
    outcome: list[float]
    frame_ids: list[str]


class Association(Result):
    """The regression of an outcome on one trait. Figures are None if `verdict` is "no figure".

    trait: its column.
    trait_unit: its unit.
    slope: the slope [outcome unit per trait unit]; u_slope, low and high are in the same unit.
    u_slope: the standard uncertainty of the slope.
    low: the lower end of its interval.
    high: the upper end of its interval.
    degrees_of_freedom: those of the interval.
    p: the p-value of a slope of zero.
    p_holm: the same, adjusted for the number of traits.
    partial_correlation: of outcome and trait, without what testers and the columns held explain.
    leave_one_out: the slopes if one frame is left out.
    attenuation_percent: how much the trait's own uncertainty flattens the slope [%]; None if it is not known.
    frames: how many frames it rests on.
    testers: how many testers it rests on.
    playtests: how many playtests it rests on.
    verdict: rises, falls, cannot tell or no figure.
    sentence: what may be said.
    points: what a plot shows, not in JSON; None if there is no figure.
    """

    trait: str
    trait_unit: str
    slope: float | None = None
    u_slope: float | None = None
    low: float | None = None
    high: float | None = None
    degrees_of_freedom: int | None = None
    p: float | None = None
    p_holm: float | None = None
    partial_correlation: float | None = None
    leave_one_out: LeaveOneOut | None = None
    attenuation_percent: float | None = None
    frames: int
    testers: int
    playtests: int
    verdict: Trend
    sentence: str
    points: Points | None = Field(default=None, exclude=True, repr=False)


class Associations(Result):
    """The regressions of an outcome on each trait asked for, one at a time, with the same columns held.

    outcome: its column.
    outcome_unit: its unit.
    given: the columns held.
    confidence: the confidence of intervals and verdicts.
    associations: one for each trait.
    caution: what to keep in mind.
    package: the data package it comes from.
    """

    outcome: str
    outcome_unit: str
    given: list[str]
    confidence: float
    associations: list[Association]
    caution: str = CAUTION
    package: PackageName

    def __repr__(self) -> str:
        return "<Associations: " + " ".join(item.sentence for item in self.associations) + f" {self.caution}>"

    def __str__(self) -> str:
        return repr(self)

    def to_arrow(self) -> pa.Table:
        """One row a trait, with the keys of an Association; the parts of leave_one_out are columns."""
        columns = typed("outcome outcome_unit trait trait_unit", "", "slope u_slope low high")
        columns |= typed(integers="degrees_of_freedom", numbers="p p_holm partial_correlation")
        columns |= {"leave_one_out_low": "float64", "leave_one_out_high": "float64"}
        columns |= typed("leave_one_out_low_without leave_one_out_high_without", numbers="attenuation_percent")
        columns |= typed("", "frames testers playtests") | typed("verdict sentence")
        rows = []
        for item in self.associations:
            row = {"outcome": self.outcome, "outcome_unit": self.outcome_unit, **item.model_dump()}
            if item.leave_one_out is not None:
                row |= {f"leave_one_out_{name}": value for name, value in item.leave_one_out.model_dump().items()}
            rows.append(row)
        return tabulated(rows, columns)


class _Read(NamedTuple):
    """The rows of the view that an association rests on, and the frame_id that each number in `sample.frame` stands for."""

    sample: Sample
    frame_ids: list[str]
    u_trait: FloatArray | None

    @property
    def frames(self) -> int:
        """How many frames they are of."""
        return len(np.unique(self.sample.frame))

    @property
    def testers(self) -> int:
        """How many testers they are of."""
        return len(np.unique(self.sample.tester))


def relate_columns(
    package: Package, traits: Sequence[str], outcome: str, given: Sequence[str] = (), confidence: float = CONFIDENCE
) -> Associations:
    """Relate an outcome to traits over the playtests of measured beds. Each trait has a regression of its own. The p-values
    are adjusted together (Holm). GapbookError for a column that is unknown, is not a number, or is named twice.

    package: the data package.
    traits: columns of playtests_with_beds.
    outcome: a column of the same view.
    given: columns to hold; one of words gets an indicator for each word but one.
    confidence: the confidence of intervals and verdicts.
    """
    view = playtests_with_beds(package)
    if view is None:
        raise fail("no-playtests", "the package has no playtests to relate", expected="tables playtests and specimens")
    columns = {column.name: column for column in view.columns}
    _check(columns, traits, outcome, given)
    reads = [_read(package, view, trait, outcome, given) for trait in traits]
    results = [relate(read.sample, confidence) if len(read.sample.outcome) else Shortfall("no playtests") for read in reads]
    figures = [one for one in results if isinstance(one, Relation)]
    adjusted = iter(holm_adjusted(np.array([one.p for one in figures])).tolist())
    words = _Sentences(columns[outcome], tuple(given), confidence, len(figures))
    associations = [
        _association(columns[trait], read, one, next(adjusted), words)
        if isinstance(one, Relation)
        else _none(columns[trait], read, one, words)
        for trait, read, one in zip(traits, reads, results, strict=True)
    ]
    return Associations(
        outcome=outcome,
        outcome_unit=columns[outcome].unit,
        given=list(given),
        confidence=confidence,
        associations=associations,
        package=PackageName(name=package.name, version=package.version),
    )


def _check(columns: dict[str, Column], traits: Sequence[str], outcome: str, given: Sequence[str]) -> None:
    if not traits:
        raise fail("usage", "relate needs a trait", expected="a column of " + PLAYTESTS_WITH_BEDS)
    for name in (*traits, outcome, *given):
        if name not in columns:
            raise _unknown(columns, name)
        if name in _IN_OWN_UNITS:
            fix = f"Use {_IN_OWN_UNITS[name]}"
            raise fail("mixed-units", f"{name} is in the unit each stringer set", expected="one unit", fix=fix)
    for name in (*traits, outcome):
        if columns[name].type not in _FIGURES:
            raise fail("not-a-figure", f"{name} is no figure", found=columns[name].type, expected="a column of numbers")
    for name in given:
        if columns[name].type not in (*_FIGURES, "string", "boolean"):
            raise fail("not-a-figure", f"{name} cannot be held", found=columns[name].type, expected="numbers or words")
    named = [*traits, outcome, *given]
    if twice := sorted({name for name in named if named.count(name) > 1}):
        raise fail("named-twice", f"{twice[0]} is named twice", fix="Name each column once")


def _unknown(columns: dict[str, Column], name: str) -> GapbookError:
    usable = [name for name in columns if not name.startswith("u_") and name not in _IN_OWN_UNITS]
    near = difflib.get_close_matches(name.lower(), usable, OFFERED, 0.5)
    near = near or [other for other in usable if name and name.lower() in other][:OFFERED]
    fix = "Nearest: " + ", ".join(near) if near else "See gapbook sql --views"
    return fail("unknown-column", f"{PLAYTESTS_WITH_BEDS} has no such column", found=name, fix=fix)


def _read(package: Package, view: View, trait: str, outcome: str, given: Sequence[str]) -> _Read:
    """The rows that have trait, outcome and all columns held, of specimens whose bed was measured."""
    names = ["frame_id", "tester_id", trait, outcome, *given]
    known = {column.name: column for column in view.columns}
    has_u = "u_" + trait in known
    picked = ", ".join(quoted(name) for name in dict.fromkeys([*names, "u_" + trait] if has_u else names))
    stated = " AND ".join(f"{quoted(name)} IS NOT NULL" for name in ("sessions", *names))
    data = query(package, f"SELECT {picked} FROM {PLAYTESTS_WITH_BEDS} WHERE {stated} ORDER BY playtest_id")

    def figures(name: str) -> FloatArray:
        return np.asarray(data[name].cast("float64"), dtype=float)

    def words(name: str) -> tuple[list[str], np.ndarray]:
        levels, codes = np.unique(np.asarray(data[name].to_pylist(), dtype=str), return_inverse=True)
        return levels.tolist(), codes.astype(np.int64)

    held = [np.zeros((data.num_rows, 0))]
    for name in given:
        held.append(figures(name)[:, None] if known[name].type in _FIGURES else indicators(words(name)[1]))
    frame_ids, frame = words("frame_id")
    sample = Sample(figures(outcome), figures(trait), np.concatenate(held, axis=1), words("tester_id")[1], frame)
    return _Read(sample, frame_ids, figures("u_" + trait) if has_u else None)


def _association(trait: Column, read: _Read, result: Relation, p_holm: float, words: _Sentences) -> Association:
    least, most = int(np.argmin(result.without)), int(np.argmax(result.without))
    name = [read.frame_ids[number] for number in result.frames]
    verdict: Trend = "cannot tell"
    if p_holm < 1.0 - words.confidence and (result.low > 0.0 or result.high < 0.0):
        verdict = "rises" if result.slope > 0.0 else "falls"
    trait_mean, outcome_mean = float(read.sample.trait.mean()), float(read.sample.outcome.mean())
    return Association(
        trait=trait.name,
        trait_unit=trait.unit,
        slope=result.slope,
        u_slope=result.u_slope,
        low=result.low,
        high=result.high,
        degrees_of_freedom=result.degrees,
        p=result.p,
        p_holm=p_holm,
        partial_correlation=result.partial_correlation,
        leave_one_out=LeaveOneOut(
            low=float(result.without[least]),
            high=float(result.without[most]),
            low_without=name[least],
            high_without=name[most],
        ),
        attenuation_percent=_attenuation(result, read.u_trait),
        frames=read.frames,
        testers=read.testers,
        playtests=len(read.sample.outcome),
        verdict=verdict,
        sentence=words.sentence(trait, result, p_holm, verdict),
        points=Points(
            (result.trait_left + trait_mean).tolist(),
            (result.outcome_left + outcome_mean).tolist(),
            [read.frame_ids[number] for number in read.sample.frame],
        ),
    )


def _attenuation(result: Relation, u_trait: FloatArray | None) -> float | None:
    """About how much the trait's own uncertainty flattens the slope [%]: u² over what is left of the trait's variance (Fuller
    1987, Measurement Error Models, 1.1). None if its uncertainty is not known.
    """
    if u_trait is None or np.isnan(u_trait).any():
        return None
    return float(min(100.0, 100.0 * (u_trait**2).mean() / (result.trait_left**2).mean()))


def _none(trait: Column, read: _Read, result: Shortfall, words: _Sentences) -> Association:
    return Association(
        trait=trait.name,
        trait_unit=trait.unit,
        frames=read.frames,
        testers=read.testers,
        playtests=len(read.sample.outcome),
        verdict="no figure",
        sentence=words.refusal(trait, result.reason),
    )


class _Sentences(NamedTuple):
    """Says in a sentence what the interval of a slope allows, and no more. `tried` is how many traits were tried."""

    outcome: Column
    given: tuple[str, ...]
    confidence: float
    tried: int

    def sentence(self, trait: Column, result: Relation, p_holm: float, verdict: str) -> str:
        """What the figures allow to say about a trait."""
        low, slope, high = figures(result.low, result.slope, result.high)
        unit = f"{self.outcome.unit} " if self.outcome.unit not in ("", "1") else ""
        per = f"{unit}for each {trait.unit if trait.unit not in ('', '1') else 'unit'} more"
        interval = f"({percent_of(self.confidence)} % interval {low} to {high})"
        held, outcome = self._held(), self.outcome.name
        if verdict in ("rises", "falls"):
            return f"{held}{outcome} {verdict} with {trait.name}: by {slope.removeprefix('−')} {per} {interval}."
        asked = f"whether {outcome} goes with {trait.name} cannot be told: {slope} {per} {interval}"
        asked = held + asked if held else asked[0].upper() + asked[1:]
        if result.low <= 0.0 <= result.high:
            return f"{asked}, and none is among them."
        return (
            f"{asked}, which leaves out none, but of {self.tried} traits tried one may do so by chance (Holm's p {p_holm:.2g})."
        )

    def refusal(self, trait: Column, reason: str) -> str:
        """What is said if there is no figure."""
        held = f" with {_listed(self.given)} held" if self.given else ""
        return f"No figure for {self.outcome.name} on {trait.name}{held}: {reason}."

    def _held(self) -> str:
        return f"With {_listed(self.given)} held, " if self.given else ""


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def percent_of(confidence: float) -> str:
    """A confidence below 1 in percent, with enough digits that it is not rounded to 100."""
    texts = (f"{100.0 * confidence:.{digits}g}" for digits in range(6, 18))
    return next((text for text in texts if text != "100"), "100")


def figures(low: float, slope: float, high: float) -> tuple[str, str, str]:
    """The slope and its interval, to two digits of the interval's width; to more if a bound would round to zero."""
    width = high - low
    places = 2 if not width > 0.0 else min(max(1 - math.floor(math.log10(width)), 0), _MOST_DECIMALS)
    while places < _MOST_DECIMALS and any(value != 0.0 and round(value, places) == 0.0 for value in (low, high)):
        places += 1
    return tuple(_signed(value, places) for value in (low, slope, high))  # type: ignore[return-value]


def _signed(value: float, places: int) -> str:
    text = f"{abs(value):.{places}f}"
    return "−" + text if value < 0.0 and float(text) != 0.0 else text
