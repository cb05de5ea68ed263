"""Two beds compared: the ratio of their openness, how certain its sign is, and the causes of the difference.

Plain numbers in, plain numbers out, so that a question need not import array libraries; `verdict` takes arrays too.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, overload

if TYPE_CHECKING:
    from gapbook.science.grouping import FloatArray, IntArray

CONFIDENCE = 0.95
"""Confidence of a verdict or an interval if no other is asked for."""
COVERAGE_FACTOR = 2.0
"""Expanded uncertainties are this many standard uncertainties (JCGM 100:2008, 6.2)."""

Verdict = Literal["tighter", "more open", "too close to call"]
VERDICTS: dict[int, Verdict] = {-1: "tighter", 0: "too close to call", 1: "more open"}
"""What the results of `verdict` say about the first bed."""
_FARTHEST = 40.0
"""Standard uncertainties from zero at which every verdict is certain: Φ(-40) is below the smallest positive number."""


SHARED_ZONES = ("centre", "left", "right", "tip", "throat", "sides", "even")
"""The zones that `shared_effects` tells of, in this order."""
SHARED_STEP = 1e-6
"""Step of ln openness in which the effects of shared causes are written."""


def shared_effects(text: str | None, zone: str) -> dict[str, float]:
    """What a bed's uncertainty has in common with that of other beds: by cause (an instrument, or a person with a kind of
    instrument), the change of ln openness in a zone by one standard uncertainty.

    text: "calliper-1 1320 1101 …; ida/calliper 4460 …", a number for each of SHARED_ZONES in steps of SHARED_STEP; or None
    zone: one of SHARED_ZONES
    """
    place = 1 + SHARED_ZONES.index(zone)
    parts = [part.split(" ") for part in text.split("; ")] if text else []
    return {part[0]: int(part[place]) * SHARED_STEP for part in parts}


class Figure(NamedTuple):
    """A figure, such as a positive score, and its standard uncertainty in the same unit."""

    value: float
    u: float


class SharedFigure(Figure):
    """A figure of which other figures may share some uncertainty.

    shared: by cause, the change of its logarithm by one standard uncertainty of the cause
    """

    shared: Mapping[str, float]

    @classmethod
    def of(cls, figure: Figure, shared: Mapping[str, float]) -> SharedFigure:
        """A figure with what it shares."""
        made = cls(*figure)
        made.shared = shared
        return made


class Difference(NamedTuple):
    """δ = ln(A/B) and its standard uncertainty."""

    log: float
    u: float

    @property
    def percent(self) -> float:
        """A over B less one, in percent."""
        return 100.0 * math.expm1(self.log)

    @property
    def u_percent(self) -> float:
        """Standard uncertainty of `percent`."""
        return 100.0 * math.exp(self.log) * self.u

    @property
    def tighter(self) -> float:
        """P(A tighter) = Φ(-δ/u_δ): how probable it is that A has the smaller mesh."""
        if self.u == 0.0:
            return 0.5 if self.log == 0.0 else float(self.log < 0.0)
        return _beyond(self.log / self.u)

    def verdict(self, confidence: float) -> Verdict:
        """The verdict at this confidence, 0.5 < confidence < 1."""
        return VERDICTS[verdict(self.log, self.u, confidence)]


def difference(a: Figure, b: Figure) -> Difference:
    """A against B: u_δ² = (u_A/A)² + (u_B/B)² less twice what both share, which cancels (JCGM 100:2008, 5.2.2)."""
    log = math.log(a.value / b.value)
    common = covariance(a, b)
    if common == 0.0:
        return Difference(log, math.hypot(a.u / a.value, b.u / b.value))
    return Difference(log, math.sqrt(max((a.u / a.value) ** 2 + (b.u / b.value) ** 2 - 2.0 * common, 0.0)))


def covariance(a: Figure, b: Figure) -> float:
    """Covariance of ln A and ln B: the sum over causes of the product of what one standard uncertainty does to each."""
    if not isinstance(a, SharedFigure) or not isinstance(b, SharedFigure):
        return 0.0
    return sum(effect * b.shared[cause] for cause, effect in a.shared.items() if cause in b.shared)


def _beyond(deviation: float) -> float:
    """The part of a normal distribution above `deviation` standard deviations."""
    return 0.5 * math.erfc(deviation / math.sqrt(2.0))


@lru_cache(maxsize=64)
def decisive(confidence: float) -> float:
    """How many standard uncertainties a difference must be from zero for a verdict, 0.5 < confidence < 1: the least number
    above which at most 1 - confidence of a normal distribution lies.
    """
    low, high = 0.0, _FARTHEST
    while (middle := (low + high) / 2.0) not in (low, high):
        if _beyond(middle) <= 1.0 - confidence:
            high = middle
        else:
            low = middle
    return high


@overload
def verdict(log: float, u: float, confidence: float) -> int: ...
@overload
def verdict(log: FloatArray, u: FloatArray, confidence: float) -> IntArray: ...
def verdict(log: float | FloatArray, u: float | FloatArray, confidence: float) -> int | IntArray:
    """Which of two beds is tighter: -1 the first, 1 the second, 0 if it is too close to call (also if NaN is given).

    A verdict needs P(tighter) or P(more open) of at least `confidence` (decision rule of JCGM 106:2012, 8.3).

    log: δ = ln(A/B), a number or an array [any shape]
    u: its standard uncertainty, 0 or more, of the same shape
    confidence: above 0.5 and below 1
    """
    return _sides(log, decisive(confidence) * u)


def verdicts(figures: Iterable[tuple[float, float]], against: Figure, confidence: float) -> list[int]:
    """The verdicts on many figures (value, u) against one, in plain numbers; the verdict on an unknown figure, NaN, is 0."""
    value, relative, times = against.value, against.u / against.value, decisive(confidence)
    log, hypot = math.log, math.hypot  # a question asks this of each frame of a package
    return [_sides(log(one / value), times * hypot(u / one, relative)) for one, u in figures]


def _sides(log: Any, reach: Any) -> Any:
    """-1 if a difference (a number or an array) is at most -`reach`, 1 if it is at least `reach`, else 0; 0 at zero."""
    return (log >= reach) * 1 - (log <= -reach) * 1


class Build(NamedTuple):
    """The causes of a bed's openness in a zone.

    area: width times length of the head [mm²]
    u_half_area: relative standard uncertainty of its square root
    mains: string count
    crosses: string count
    drilling_main: drilling factor of the mains, None if the bed is not measured
    drilling_cross: drilling factor of the crosses, None if the bed is not measured
    zone: openness of the zone over that of the centre, None for the centre itself or if it is not known
    """

    area: float
    u_half_area: float
    mains: int
    crosses: int
    drilling_main: Figure | None
    drilling_cross: Figure | None
    zone: Figure | None


class Part(NamedTuple):
    """A part of ln(O_A/O_B) and its standard uncertainty, both in log-percent, so that parts add up."""

    percent: float
    u: float


class Why(NamedTuple):
    """The parts of a difference.

    size: head size
    strings: string count
    drilling: hole positions, None if a bed is not measured
    zone: a zone other than the centre, None for the centre or if it is not known
    """

    size: Part
    strings: Part
    drilling: Part | None
    zone: Part | None


def build_from_even(
    openness_even: Figure, mains: int, crosses: int, drilling: tuple[Figure | None, Figure | None], zone: Figure | None
) -> Build:
    """A Build whose width times length follows from the openness of even drilling, 10·√(W·L/(mains·crosses)).

    openness_even: openness if the strings were evenly spaced over the head
    mains: string count
    crosses: string count
    drilling: drilling factors of mains and crosses
    zone: openness of the zone over that of the centre
    """
    area = (openness_even.value / 10.0) ** 2 * mains * crosses
    return Build(area, openness_even.u / openness_even.value, mains, crosses, *drilling, zone)


def why(a: Build, b: Build) -> Why:
    """The parts: size ½·ln(WL_A/WL_B), count -½·ln(mc_A/mc_B), drilling ½·ln(dm_A·dc_A/(dm_B·dc_B))."""
    size = Part(50.0 * math.log(a.area / b.area), 100.0 * math.hypot(a.u_half_area, b.u_half_area))
    count = Part(50.0 * math.log(b.mains * b.crosses / (a.mains * a.crosses)), 0.0)
    return Why(size, count, _drilling(a, b), _zone(a, b))


def _drilling(a: Build, b: Build) -> Part | None:
    factors = (a.drilling_main, a.drilling_cross, b.drilling_main, b.drilling_cross)
    known = [factor for factor in factors if factor is not None]
    if len(known) < len(factors):
        return None
    logs = [math.log(factor.value) for factor in known]
    u = 50.0 * math.hypot(*(factor.u / factor.value for factor in known))
    return Part(50.0 * (logs[0] + logs[1] - logs[2] - logs[3]), u)


def _zone(a: Build, b: Build) -> Part | None:
    if a.zone is None or b.zone is None:
        return None
    u = 100.0 * math.hypot(a.zone.u / a.zone.value, b.zone.u / b.zone.value)
    return Part(100.0 * math.log(a.zone.value / b.zone.value), u)
