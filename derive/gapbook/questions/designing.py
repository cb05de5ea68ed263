"""How many frames, testers and playtests are needed to see an effect, and who plays which copy when: `design`."""

from __future__ import annotations

import csv
import datetime
import io
import math
from typing import Any

import numpy as np

from gapbook.errors import fail
from gapbook.questions.answer import PackageName, Result
from gapbook.questions.relating_rows import check_columns, read
from gapbook.questions.shown import Shown
from gapbook.science.relation import FEWEST_FRAMES, FEWEST_TESTERS, Shortfall, relate
from gapbook.science.trial import (
    MOST_TESTERS,
    Layout,
    Planned,
    Spreads,
    Wanted,
    layouts,
    schedule,
    simulated_power,
    spread_out,
    spreads,
)
from gapbook.tables.package import Package
from gapbook.tables.sql import query
from gapbook.tables.store import all_tables, quoted
from gapbook.tables.views import playtests_with_beds

POWER = 0.8
"""Power that is asked for unless another is named; common practice, no source."""
SEED = 1
_OF_COPY = {"beds": "specimen_id", "frames": "frame_id", "handling": "frame_id", "mechanics": "frame_id"}
"""Tables with traits of copies, and how they are joined to specimens."""
HEADER = ("round", "played_on", "tester_id", "specimen_id", "frame_id")


class Plan(Result):
    """A layout of playtests.

    frames: how many frames, one copy of each.
    testers: how many testers.
    playtests_each: how many playtests each tester has, each of another frame.
    playtests: how many playtests that are.
    power: the part of simulated trials in which the effect is seen.
    """

    frames: int
    testers: int
    playtests_each: int
    playtests: int
    power: float


class Turn(Result):
    """One playtest of the schedule.

    round: in each round every tester plays once.
    played_on: the day; None if no first day was named.
    tester_id: who plays.
    specimen_id: which copy.
    frame_id: of which frame it is.
    """

    round: int
    played_on: str | None
    tester_id: str
    specimen_id: str
    frame_id: str


class Design(Shown, Result):
    """What it takes to see an effect of a trait on an outcome, from the spreads that the package's own playtests show.

    trait: its column.
    trait_unit: its unit.
    outcome: its column.
    outcome_unit: its unit.
    effect: the slope to be seen [outcome unit per trait unit].
    power_asked: how often it is to be seen.
    confidence: of the intervals.
    noise: standard deviation of one playtest [outcome unit]; None, as the three below, if there can be no trial.
    between_frames: standard deviation between frames for other reasons than the trait [outcome unit].
    between_testers: standard deviation of slopes between testers.
    trait_deviation: standard deviation of the trait over the frames there are.
    frames_there: how many measured frames there are.
    plans: layouts with the power asked for, those with the fewest playtests first.
    chosen: the layout of the schedule; None if none is good enough.
    reason: why there can be no trial; None if there can.
    schedule: who plays which copy when, in the order of play.
    seed: of simulation and schedule.
    package: the data package it comes from.
    """

    trait: str
    trait_unit: str
    outcome: str
    outcome_unit: str
    effect: float
    power_asked: float
    confidence: float
    noise: float | None = None
    between_frames: float | None = None
    between_testers: float | None = None
    trait_deviation: float | None = None
    frames_there: int
    plans: list[Plan]
    chosen: Plan | None
    reason: str | None = None
    schedule: list[Turn]
    seed: int
    package: PackageName

    def to_csv(self) -> str:
        """The schedule as CSV, one row a playtest."""
        made = io.StringIO()
        rows = csv.writer(made, lineterminator="\n")
        rows.writerow(HEADER)
        rows.writerows([getattr(turn, name) for name in HEADER] for turn in self.schedule)
        return made.getvalue()


class Wish(Result):
    """What a design is asked for.

    trait: a column of beds, frames, handling or mechanics.
    outcome: a column of playtests.
    effect: the slope to be seen.
    power: how often.
    confidence: of the intervals.
    frames: how many frames; None to look for it, as the two below.
    testers: how many testers.
    each: how many playtests of each tester.
    noise: instead of what the package shows; None for that, as the two below.
    between_frames: likewise.
    between_testers: likewise.
    first_day: of the schedule; None for none.
    days_between: from round to round.
    seed: of simulation and schedule.
    """

    trait: str
    outcome: str
    effect: float
    power: float = POWER
    confidence: float = 0.95
    frames: int | None = None
    testers: int | None = None
    each: int | None = None
    noise: float | None = None
    between_frames: float | None = None
    between_testers: float | None = None
    first_day: datetime.date | None = None
    days_between: int = 7
    seed: int = SEED


def design(package: Package, wish: Wish) -> Design:
    """Find layouts with the power asked for, and a schedule for the one with the fewest playtests, or for the one named.

    GapbookError if a column cannot be used, if the effect is zero, or if the package shows no spreads and none are named.
    """
    view = playtests_with_beds(package)
    if view is None:
        raise fail("no-playtests", "the package has no playtests to plan for", expected="tables playtests and specimens")
    columns = {column.name: column for column in view.columns}
    check_columns(columns, [wish.trait], [wish.outcome], [])
    _check(wish)
    copies = _copies(package, wish.trait)
    named: dict[str, Any] = {"trait_unit": columns[wish.trait].unit, "outcome_unit": columns[wish.outcome].unit}
    if len(copies) < FEWEST_FRAMES:
        return _none(package, wish, len(copies), named)
    told = _told(package, wish)
    trait = np.array([value for _, _, value in copies])
    _check_layout(wish, len(copies))
    if wish.frames and wish.testers and wish.each:
        layout = Layout(wish.frames, wish.testers, wish.each)
        power = simulated_power(layout, wish.effect, told, trait[spread_out(trait, layout.frames)], wish.confidence, wish.seed)
        found = [Planned(layout, power)]
    else:
        wanted = Wanted(wish.frames, wish.testers, wish.each)
        found = layouts(wish.effect, told, trait, wish.confidence, wish.power, wish.seed, wanted)
    chosen = found[0].layout if found else None
    return Design(
        **_asked(package, wish),
        **named,
        noise=told.noise,
        between_frames=told.frames,
        between_testers=told.slopes,
        trait_deviation=float(trait.std(ddof=1)),
        frames_there=len(copies),
        plans=[_plan(one) for one in found],
        chosen=_plan(found[0]) if found else None,
        schedule=[] if chosen is None else _turns(package, wish, chosen, copies),
    )


def _asked(package: Package, wish: Wish) -> dict[str, Any]:
    """What a design repeats of the wish."""
    return {
        "trait": wish.trait,
        "outcome": wish.outcome,
        "effect": wish.effect,
        "power_asked": wish.power,
        "confidence": wish.confidence,
        "seed": wish.seed,
        "package": PackageName(name=package.name, version=package.version),
    }


def _none(package: Package, wish: Wish, there: int, named: dict[str, Any]) -> Design:
    """The answer if there are too few frames for any trial."""
    reason = f"too few measured frames: {there}, and at least {FEWEST_FRAMES} are needed"
    return Design(**_asked(package, wish), **named, frames_there=there, plans=[], chosen=None, schedule=[], reason=reason)


def _check(wish: Wish) -> None:
    if wish.effect == 0.0 or not math.isfinite(wish.effect):
        raise fail(
            "usage", "an effect of nothing cannot be seen", found=f"{wish.effect:g}", expected="a slope that is not zero"
        )
    if not 0.5 <= wish.power < 1.0:
        raise fail("usage", "no trial has this power", found=f"{wish.power:g}", expected="from 0.5 to below 1")
    for name in ("noise", "between_frames", "between_testers"):
        value = getattr(wish, name)
        if value is not None and not (math.isfinite(value) and value >= 0.0):
            raise fail("usage", f"{name} is a standard deviation", found=f"{value:g}", expected="0 or more")
    if wish.noise == 0.0:
        raise fail("usage", "playtests without noise need no trial", found="noise 0", expected="above 0")


def _told(package: Package, wish: Wish) -> Spreads:
    """The spreads that are named, the others from the package's own playtests."""
    named = (wish.noise, wish.between_frames, wish.between_testers)
    if None not in named:
        return Spreads(*(float(value or 0.0) for value in named))
    view = playtests_with_beds(package)
    assert view is not None
    rows = read(package, view, wish.trait, wish.outcome, [])
    result = relate(rows.sample) if len(rows.sample.outcome) else Shortfall("no playtests")
    if isinstance(result, Shortfall):
        fix = "Name what you expect: --noise, --between-frames and --between-testers"
        raise fail("no-spreads", f"the package's playtests do not show how outcomes spread: {result.reason}", fix=fix)
    seen = spreads(rows.sample, result)
    return Spreads(*(one if value is None else value for one, value in zip(seen, named, strict=True)))


def _copies(package: Package, trait: str) -> list[tuple[str, str, float]]:
    """A measured copy of each frame, its frame and its trait, by frame."""
    table = next((one for one in _OF_COPY if one in all_tables(package) and trait in package.schema(one).names), None)
    if table is None:
        told = "a trait of beds, frames, handling or mechanics"
        raise fail("not-a-trait", f"{trait} is no trait of a frame, so that it cannot be assigned by frames", expected=told)
    on = "" if table == "beds" else f" JOIN {quoted(table)} t ON t.{_OF_COPY[table]} = s.{_OF_COPY[table]}"
    value = f"{'b' if table == 'beds' else 't'}.{quoted(trait)}"
    rows = query(
        package,
        f"SELECT min_by(s.specimen_id, s.specimen_id) AS copy, s.frame_id AS frame, min_by({value}, s.specimen_id) AS trait "
        f"FROM specimens s JOIN beds b ON b.specimen_id = s.specimen_id{on} WHERE {value} IS NOT NULL GROUP BY s.frame_id "
        "ORDER BY s.frame_id",
    )
    return [(row["copy"], row["frame"], float(row["trait"])) for row in rows.to_pylist()]


def _check_layout(wish: Wish, there: int) -> None:
    """GapbookError unless what is named of a layout can be."""
    least, each = FEWEST_FRAMES, f"2 to {wish.frames or there} playtests each"
    if wish.frames is not None and not least <= wish.frames <= there:
        raise fail("usage", "that many frames cannot be tried", found=str(wish.frames), expected=f"{least} to {there}")
    if wish.testers is not None and not FEWEST_TESTERS <= wish.testers <= MOST_TESTERS:
        expected = f"{FEWEST_TESTERS} to {MOST_TESTERS}"
        raise fail("usage", "that many testers cannot be planned for", found=str(wish.testers), expected=expected)
    if wish.each is not None and not 2 <= wish.each <= (wish.frames or there):
        raise fail("usage", "nobody plays a frame twice", found=str(wish.each), expected=each)


def _plan(one: Planned) -> Plan:
    layout = one.layout
    return Plan(
        frames=layout.frames,
        testers=layout.testers,
        playtests_each=layout.each,
        playtests=layout.playtests,
        power=one.power,
    )


def _turns(package: Package, wish: Wish, layout: Layout, copies: list[tuple[str, str, float]]) -> list[Turn]:
    """The schedule: frames spread over the trait, testers and copies at random."""
    rng = np.random.default_rng(wish.seed)
    rounds = schedule(layout, rng)
    taken = spread_out(np.array([value for _, _, value in copies]), layout.frames)[rng.permutation(layout.frames)]
    people = _testers(package, layout.testers)
    turns = []
    for number in range(layout.each):
        day = (
            None
            if wish.first_day is None
            else (wish.first_day + datetime.timedelta(days=number * wish.days_between)).isoformat()
        )
        for tester in rng.permutation(layout.testers):
            copy, frame, _ = copies[taken[rounds[tester, number]]]
            turns.append(Turn(round=number + 1, played_on=day, tester_id=people[tester], specimen_id=copy, frame_id=frame))
    return turns


def _testers(package: Package, count: int) -> list[str]:
    """The package's testers, as many as are needed; further ones are called tester-1, ..."""
    known = []
    if "testers" in all_tables(package):
        known = query(package, "SELECT tester_id FROM testers ORDER BY tester_id")["tester_id"].to_pylist()
    more = (name for number in range(1, count + len(known) + 1) if (name := f"tester-{number}") not in known)
    return (known + [next(more) for _ in range(max(count - len(known), 0))])[:count]
