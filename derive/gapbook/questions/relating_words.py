"""The words of `relate`: what the interval of a slope allows to say, and no more."""

from __future__ import annotations

import math
from typing import NamedTuple

from gapbook.science.leaving_out import Interval
from gapbook.tables.views import Column

_MOST_DECIMALS = 9


class Sentences(NamedTuple):
    """Says in a sentence what the interval of a slope allows, and no more. `tried` is how many slopes were tried."""

    given: tuple[str, ...]
    confidence: float
    tried: int

    def sentence(self, trait: Column, outcome: Column, result: Interval, p_holm: float, verdict: str) -> str:
        """What the figures allow to say.

        trait: the trait
        outcome: the outcome
        result: the slope and its interval
        p_holm: its p-value, adjusted
        verdict: rises, falls or cannot tell
        """
        low, slope, high = figures(result.low, result.slope, result.high)
        unit = f"{outcome.unit} " if outcome.unit not in ("", "1") else ""
        per = f"{unit}for each {trait.unit if trait.unit not in ('', '1') else 'unit'} more"
        interval = f"({percent_of(self.confidence)} % interval {low} to {high})"
        held, name = self._held(), outcome.name
        if verdict in ("rises", "falls"):
            return f"{held}{name} {verdict} with {trait.name}: by {slope.removeprefix('−')} {per} {interval}."
        asked = f"whether {name} goes with {trait.name} cannot be told: {slope} {per} {interval}"
        asked = held + asked if held else asked[0].upper() + asked[1:]
        if result.low <= 0.0 <= result.high:
            return f"{asked}, and none is among them."
        return (
            f"{asked}, which leaves out none, but of {self.tried} slopes tried one may do so by chance (Holm's p {p_holm:.2g})."
        )

    def refusal(self, trait: Column, outcome: Column, reason: str) -> str:
        """What is said if there is no figure."""
        held = f" with {listed(self.given)} held" if self.given else ""
        return f"No figure for {outcome.name} on {trait.name}{held}: {reason}."

    def _held(self) -> str:
        return f"With {listed(self.given)} held, " if self.given else ""


def listed(names: tuple[str, ...]) -> str:
    """Names as a person lists them."""
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
