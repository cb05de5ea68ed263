"""What may be said of a relation: a sentence that claims no more than its interval allows."""

from __future__ import annotations

import math
from typing import NamedTuple

from gapbook.science.relation import Relation
from gapbook.tables.joined import Column

_MOST_DECIMALS = 9


class Teller(NamedTuple):
    """What all sentences of one answer share: outcome, columns held, confidence, and how many traits were tried."""

    outcome: Column
    given: tuple[str, ...]
    confidence: float
    tried: int

    def sentence(self, trait: Column, found: Relation, p_holm: float, verdict: str) -> str:
        """What the figures allow to be said of `trait`."""
        low, slope, high = figures(found.low, found.slope, found.high)
        unit = f"{self.outcome.unit} " if self.outcome.unit not in ("", "1") else ""
        per = f"{unit}for each {trait.unit if trait.unit not in ('', '1') else 'unit'} more"
        interval = f"({percent_of(self.confidence)} % interval {low} to {high})"
        held, outcome = self._held(), self.outcome.name
        if verdict in ("rises", "falls"):
            return f"{held}{outcome} {verdict} with {trait.name}: by {slope.removeprefix('−')} {per} {interval}."
        asked = f"whether {outcome} goes with {trait.name} cannot be told: {slope} {per} {interval}"
        asked = held + asked if held else asked[0].upper() + asked[1:]
        if found.low <= 0.0 <= found.high:
            return f"{asked}, and none is among them."
        return (
            f"{asked}, which leaves out none, but of {self.tried} traits tried one may do so by chance (Holm's p {p_holm:.2g})."
        )

    def refusal(self, trait: Column, reason: str) -> str:
        """What is said where there is no figure."""
        held = f" with {_listed(self.given)} held" if self.given else ""
        return f"No figure for {self.outcome.name} on {trait.name}{held}: {reason}."

    def _held(self) -> str:
        return f"With {_listed(self.given)} held, " if self.given else ""


def _listed(names: tuple[str, ...]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def percent_of(confidence: float) -> str:
    """A confidence below 1 in percent, with as many digits as keep it below 100."""
    texts = (f"{100.0 * confidence:.{digits}g}" for digits in range(6, 18))
    return next((text for text in texts if text != "100"), "100")


def figures(low: float, slope: float, high: float) -> tuple[str, str, str]:
    """An interval and what it is about, to two figures of its width, and more where a bound would round to zero."""
    width = high - low
    places = 2 if not width > 0.0 else min(max(1 - math.floor(math.log10(width)), 0), _MOST_DECIMALS)
    while places < _MOST_DECIMALS and any(value != 0.0 and round(value, places) == 0.0 for value in (low, high)):
        places += 1
    return tuple(_signed(value, places) for value in (low, slope, high))  # type: ignore[return-value]


def _signed(value: float, places: int) -> str:
    text = f"{abs(value):.{places}f}"
    return "−" + text if value < 0.0 and float(text) != 0.0 else text
