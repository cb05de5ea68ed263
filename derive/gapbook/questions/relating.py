"""How traits of measured beds go with outcomes of their playtests: `relate`, from names of columns to associations."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from gapbook.errors import fail
from gapbook.questions.answer import PackageName
from gapbook.questions.relating_rows import Read, check_columns, read
from gapbook.questions.relating_words import Sentences
from gapbook.questions.relations_found import (
    Association,
    Associations,
    BetweenTesters,
    LeaveOneOut,
    Odds,
    Points,
    Slope,
    Trend,
)
from gapbook.science.comparison import CONFIDENCE
from gapbook.science.grouping import IntArray
from gapbook.science.leaving_out import Interval, Without
from gapbook.science.ordinal import ordinal
from gapbook.science.relation import Relation, Shortfall, error_squares, relate
from gapbook.science.statistics import holm_adjusted
from gapbook.tables.package import Package
from gapbook.tables.views import Column, playtests_with_beds


def relate_columns(
    package: Package,
    traits: Sequence[str],
    outcomes: Sequence[str],
    given: Sequence[str] = (),
    confidence: float = CONFIDENCE,
) -> Associations:
    """Relate outcomes to traits over the playtests of measured beds. Each outcome and trait has a regression of its own; the
    p-values of all are adjusted together (Holm). GapbookError for a column that is unknown, is not a number, or is named twice.

    package: the data package.
    traits: columns of playtests_with_beds.
    outcomes: columns of the same view.
    given: columns to hold; one of words gets an indicator for each word but one.
    confidence: the confidence of intervals and verdicts.
    """
    view = playtests_with_beds(package)
    if view is None:
        raise fail("no-playtests", "the package has no playtests to relate", expected="tables playtests and specimens")
    columns = {column.name: column for column in view.columns}
    check_columns(columns, traits, outcomes, given)
    pairs = list(product(outcomes, traits))
    reads = [read(package, view, trait, outcome, given) for outcome, trait in pairs]
    results = [relate(one.sample, confidence) if len(one.sample.outcome) else Shortfall("no playtests") for one in reads]
    found = [one for one in results if isinstance(one, Relation)]
    adjusted = iter(holm_adjusted(np.array([one.players.p for one in found])).tolist())
    words = Sentences(tuple(given), confidence, len(found))
    associations = []
    for (outcome, trait), rows, one in zip(pairs, reads, results, strict=True):
        named = (columns[outcome], columns[trait])
        made = _association(*named, rows, one, next(adjusted), words) if isinstance(one, Relation) else None
        associations.append(made or _none(*named, rows, one, words))  # type: ignore[arg-type]
    name = PackageName(name=package.name, version=package.version)
    return Associations(given=list(given), confidence=confidence, associations=associations, package=name)


def _association(outcome: Column, trait: Column, rows: Read, result: Relation, p_holm: float, words: Sentences) -> Association:
    players, confidence = result.players, words.confidence
    verdict: Trend = "cannot tell"
    if p_holm < 1.0 - confidence and (players.low > 0.0 or players.high < 0.0):
        verdict = "rises" if players.slope > 0.0 else "falls"
    return Association(
        outcome=outcome.name,
        outcome_unit=outcome.unit,
        trait=trait.name,
        trait_unit=trait.unit,
        **_slope(players).model_dump(),
        p_holm=p_holm,
        partial_correlation=result.partial_correlation,
        these_testers=_slope(result.testers),
        corrected=None if result.corrected is None else _slope(result.corrected),
        between_testers=BetweenTesters(deviation=result.between.deviation, p=result.between.p),
        odds=_odds(ordinal(rows.sample, confidence)) if outcome.type == "integer" else None,
        curvature_p=result.curvature,
        leave_one_out=_extremes(result.frames, rows.frame_ids),
        leave_one_tester_out=_extremes(result.without_tester, rows.tester_ids),
        attenuation_percent=_attenuation(result, rows),
        frames=rows.frames,
        testers=rows.testers,
        playtests=len(rows.sample.outcome),
        not_used=rows.not_used,
        verdict=verdict,
        sentence=words.sentence(trait, outcome, players, p_holm, verdict),
        points=_points(result, rows),
    )


def _slope(found: Interval) -> Slope:
    return Slope(
        slope=found.slope,
        u_slope=found.u_slope,
        low=found.low,
        high=found.high,
        degrees_of_freedom=found.degrees,
        p=found.p,
    )


def _odds(found: Interval | None) -> Odds | None:
    if found is None:
        return None
    low, ratio, high = (float(np.exp(min(value, 700.0))) for value in (found.low, found.slope, found.high))
    return Odds(ratio=ratio, low=low, high=high, degrees_of_freedom=found.degrees, p=found.p)


def _extremes(found: Without, names: list[str]) -> LeaveOneOut:
    least, most = int(np.argmin(found.slopes)), int(np.argmax(found.slopes))
    return LeaveOneOut(
        low=float(found.slopes[least]),
        high=float(found.slopes[most]),
        low_without=names[found.numbers[least]],
        high_without=names[found.numbers[most]],
    )


def _attenuation(result: Relation, rows: Read) -> float | None:
    """About how much the trait's own uncertainty flattens the slope [%]: its part of what varies of the trait (Fuller 1987,
    Measurement Error Models, 1.1). None if its uncertainty is not known.
    """
    error = error_squares(rows.sample)
    return None if error is None else float(min(100.0, 100.0 * error.sum() / (result.trait_left @ result.trait_left)))


def _points(result: Relation, rows: Read) -> Points:
    sample = rows.sample

    def slopes(found: Without, group: IntArray) -> list[float]:
        return found.slopes[np.searchsorted(found.numbers, group)].tolist()

    return Points(
        playtest_ids=rows.playtest_ids,
        specimen_ids=rows.specimen_ids,
        frame_ids=[rows.frame_ids[number] for number in sample.frame],
        tester_ids=[rows.tester_ids[number] for number in sample.tester],
        trait=(result.trait_left + float(sample.trait.mean())).tolist(),
        outcome=(result.outcome_left + float(sample.outcome.mean())).tolist(),
        without_frame=slopes(result.frames, sample.frame),
        without_tester=slopes(result.without_tester, sample.tester),
    )


def _none(outcome: Column, trait: Column, rows: Read, result: Shortfall, words: Sentences) -> Association:
    return Association(
        outcome=outcome.name,
        outcome_unit=outcome.unit,
        trait=trait.name,
        trait_unit=trait.unit,
        frames=rows.frames,
        testers=rows.testers,
        playtests=len(rows.sample.outcome),
        not_used=rows.not_used,
        verdict="no figure",
        sentence=words.refusal(trait, outcome, result.reason),
    )
