"""What a bed is likely to change for a player: figures of two beds decide which rules of advice.toml hold."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from typing import Literal, get_args

from gapbook.errors import fail
from gapbook.questions.advice_facts import COMPARED, CONDITIONS, Arm, Bed, Facts, Player, String, Style, facts_of
from gapbook.questions.answer import PackageName
from gapbook.questions.cautions import rows
from gapbook.questions.ranges import Frozen
from gapbook.questions.retensioning import identity, tension_of
from gapbook.questions.shown import Shown
from gapbook.science.comparison import CONFIDENCE, Figure
from gapbook.science.tension import LEAST_N, MOST_N
from gapbook.tables.store import Store

Kind = Literal["expect", "caution", "unknown"]


class Rule(Frozen):
    """A row of advice.toml.

    code: its stable name.
    kind: whether it says what to expect, warns, or says what is unknown.
    topic: what it is about.
    when: conditions that must all hold; of a list among them, one must hold.
    on: the figure it rests on; empty if it rests on none.
    text: what it says.
    short: the change in a few words, for a line of several; empty if it tells of no change of the bed.
    source: how that is known.
    """

    code: str
    kind: Kind
    topic: str
    when: list[str | list[str]]
    on: str
    text: str
    short: str = ""
    source: str

    def speaks(self, facts: Facts) -> bool:
        """Whether its conditions hold."""
        return all(any(holds(name, facts) for name in ([part] if isinstance(part, str) else part)) for part in self.when)


class Rest(Frozen):
    """A figure that statements rest on; the last six are None if nothing is compared.

    unit: its unit.
    value: the bed's figure.
    u: its standard uncertainty.
    against: the other bed's figure.
    u_against: the standard uncertainty of that.
    difference_percent: how much higher the bed's figure is [%].
    u_difference_percent: the standard uncertainty of that [%].
    probability_lower: how probable it is that the bed's is the lower one.
    verdict: what can be said of the two.
    """

    unit: str
    value: float | String | None
    u: float | None = None
    against: float | None = None
    u_against: float | None = None
    difference_percent: float | None = None
    u_difference_percent: float | None = None
    probability_lower: float | None = None
    verdict: str | None = None


class Statement(Frozen):
    """One thing said.

    code: the code of the rule that says it.
    topic: what it is about.
    text: what is said.
    on: the figure of `Advice.figures` it rests on; None if it rests on none.
    source: how that is known.
    """

    code: str
    topic: str
    text: str
    on: str | None
    source: str


class Advice(Shown, Frozen):
    """What a bed is likely to change for a player, what to mind, and what cannot be said.

    frame: the bed.
    against: the bed the player knows, or the middle of the measured frames; None if there are too few frames for a middle.
    style: the player's style. It is None if nothing was said; so are string, arm and tension_n.
    string: the string's material.
    arm: how the player's arm is.
    tension_n: the pull tension [N].
    confidence: how sure a verdict must be.
    figures: what the statements rest on, by name.
    expect: what to expect.
    cautions: what to mind.
    unknown: what cannot be said.
    package: the data package it comes from.
    """

    frame: Bed
    against: Bed | None
    style: Style | None
    string: String | None
    arm: Arm | None
    tension_n: float | None
    confidence: float
    figures: dict[str, Rest]
    expect: list[Statement]
    cautions: list[Statement]
    unknown: list[Statement]
    package: PackageName

    @property
    def statements(self) -> list[Statement]:
        """Everything said, in order."""
        return [*self.expect, *self.cautions, *self.unknown]


def holds(condition: str, facts: Facts) -> bool:
    """Whether a condition of CONDITIONS holds; with `not ` before its name, whether it does not hold."""
    if condition not in CONDITIONS and condition.startswith("not "):
        return not CONDITIONS[condition.removeprefix("not ")](facts)
    return CONDITIONS[condition](facts)


@cache
def rules() -> tuple[Rule, ...]:
    """Every rule of advice.toml, in its order."""
    return tuple(Rule(**row) for row in rows())


def advise(
    store: Store,
    name: str,
    against: str | None = None,
    style: str | None = None,
    string: str | None = None,
    arm: str | None = None,
    tension: str | None = None,
    confidence: float = CONFIDENCE,
) -> Advice:
    """Advice on a bed. GapbookError for unknown names, choices or units, and for a bed against itself.

    store: the derived tables.
    name: a frame, specimen or folder.
    against: the bed the player knows; if None, the middle of the measured frames.
    style: one of Style, or None.
    string: one of String, or None.
    arm: one of Arm, or None.
    tension: the pull tension as typed, "24kg", "53 lb", "235 N", or None.
    confidence: how sure a verdict must be.
    """
    for what, said, choices in (("style", style, Style), ("string", string, String), ("arm", arm, Arm)):
        if said is not None and said not in get_args(choices):
            raise fail("no-choice", f"no such {what}", found=said, expected="one of " + ", ".join(get_args(choices)))
    pull = None if tension is None else tension_of(tension, "the tension", "24kg, 53 lb or 235 N")
    player = Player(style, string, arm, pull)  # type: ignore[arg-type]
    facts = facts_of(store, name, against, player, confidence)
    bed, other = facts.frame, facts.against
    if other is not None and identity(bed.kind, bed.name) == identity(other.kind, other.name):
        raise fail("two-beds", "a bed changes nothing against itself", found=name, fix="Name the frame you know")
    return said_of(facts, PackageName(name=store.package.name, version=store.package.version))


def said_of(facts: Facts, package: PackageName) -> Advice:
    """Everything that the rules say about these facts."""
    spoken = [rule for rule in rules() if rule.speaks(facts)]
    figures = _figures(facts)
    player = facts.player
    return Advice(
        frame=facts.frame,
        against=facts.against,
        style=player.style,
        string=player.string,
        arm=player.arm,
        tension_n=player.tension,
        confidence=facts.confidence,
        figures={name: figures[name] for name in dict.fromkeys(rule.on for rule in spoken) if name},
        expect=_statements(spoken, "expect", facts),
        cautions=_statements(spoken, "caution", facts),
        unknown=_statements(spoken, "unknown", facts),
        package=package,
    )


def changes(facts: Facts) -> dict[str, str]:
    """What is likely to change in a few words each, by the code of the rule that says so."""
    return {rule.code: _filled(rule.short, facts) for rule in rules() if rule.short and rule.speaks(facts)}


def _statements(spoken: Iterable[Rule], kind: Kind, facts: Facts) -> list[Statement]:
    return [
        Statement(
            code=rule.code,
            topic=rule.topic,
            text=_filled(rule.text, facts),
            on=rule.on or None,
            source=rule.source,
        )
        for rule in spoken
        if rule.kind == kind
    ]


def _filled(text: str, facts: Facts) -> str:
    """A text of a rule with the names of the beds and the limits of the model in it."""
    names = {
        "{least}": f"{LEAST_N:.0f}",
        "{most}": f"{MOST_N:.0f}",
        "{frame}": facts.frame.name,
        "{against}": "" if facts.against is None else facts.against.name,
    }
    return re.sub(r"\{\w+\}", lambda place: names[place[0]], text)


def _figures(facts: Facts) -> dict[str, Rest]:
    """Every figure a rule can rest on, by name."""
    frame, against, player = facts.frame, facts.against, facts.player
    figures = {name: _compared(facts, name) for name in COMPARED}
    figures["openness"] = _alone(frame.centre)
    figures["against_openness"] = _alone(None if against is None else against.centre)
    figures["crosses"] = Rest(unit="1", value=float(frame.crosses), against=None if against is None else against.crosses)
    figures["head"] = Rest(unit="cm2", value=frame.head_area_cm2)
    figures["string"] = Rest(unit="", value=player.string)
    figures["tension"] = Rest(unit="N", value=player.tension)
    return figures


def _alone(figure: Figure | None) -> Rest:
    return Rest(unit="openness", value=figure and figure.value, u=figure and figure.u)


def _compared(facts: Facts, name: str) -> Rest:
    (mine, theirs), delta = facts.pair(name), facts.difference(name)
    return Rest(
        unit=COMPARED[name].unit,
        value=mine and mine.value,
        u=mine and mine.u,
        against=theirs and theirs.value,
        u_against=theirs and theirs.u,
        difference_percent=delta and delta.percent,
        u_difference_percent=delta and delta.u_percent,
        probability_lower=delta and delta.tighter,
        verdict=None if delta is None else facts.verdict(name),
    )
