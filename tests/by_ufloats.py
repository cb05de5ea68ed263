"""A bed's scores by the definitions with every cause of error a variable of the `uncertainties` package.

Nothing is differentiated here by hand: readings, instruments, placements, origins and splay are ufloats, and what
depends on them is worked out on them. JCGM 100:2008 (GUM), 5.1.2, is what that package does with them.
"""

from __future__ import annotations

import math
import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from uncertainties import ufloat, umath

from definitions import ACROSS, BALL, DOWN, ZONES

PLACEMENT, ORIGIN, SPLAY = 0.3, {"main": 1.0, "cross": 3.0}, 0.015
"""By definition [mm, mm, 1]."""
PERSON = 0.05
"""Offset of a gap by a person with one kind of instrument [mm], by definition if nobody else read the same."""
ASPECT, EXPONENT, U_AREA = ufloat(1.33, 0.04), ufloat(2.1, 0.15), 0.01
"""Of a head of which only the declared area is known, by definition; the last is common practice."""
LEAST_SPAN = 60.0
"""Stations closer together tell no slope [mm]."""
HEIGHT = {"centre": 0.0, "left": 0.0, "right": 0.0, "tip": 80.0, "throat": -80.0}


@dataclass(frozen=True)
class Read:
    """A run as averaged [mm]: `u` is what a reading of it is good for, `tool` what it was read with."""

    family: str
    kind: str
    values: tuple[float, ...]
    edges: bool
    u: float
    tool: str
    station: float = 0.0
    session: str = "first"
    person: str = "ida"


@dataclass(frozen=True)
class Head:
    """A directly read width or length [mm], of one session."""

    value: float
    u: float
    tool: str


class Causes:
    """Every cause of error there is, each one variable however often it is met."""

    def __init__(self, max_errors: dict[str, float]) -> None:
        self.tool = {name: ufloat(0, error / math.sqrt(3)) for name, error in max_errors.items()}
        self.placement = {family: [ufloat(0, PLACEMENT) for _ in range(40)] for family in ORIGIN}
        self.origin = {family: ufloat(0, u) for family, u in ORIGIN.items()}
        self.splay = ufloat(0, SPLAY)
        self.offset: dict[tuple[str, str], Any] = defaultdict(lambda: ufloat(0, PERSON))
        self.known: dict[int, list[Any]] = {}

    def points(self, run: Read) -> list[Any]:
        """Edges and strings of a run, from its origin; the same variables each time a run is asked for."""
        if id(run) not in self.known:
            self.known[id(run)] = self._points(run)
        return self.known[id(run)]

    def _points(self, run: Read) -> list[Any]:
        readings = [ufloat(value, run.u) for value in run.values]
        error = self.tool[run.tool]
        offset = self.offset[run.person, run.kind]  # in these cases callipers read gaps, and rules marks
        if run.kind == "gap":
            points: list[Any] = [0.0]
            for reading in readings:
                points.append(points[-1] + reading + error + offset)
        else:
            span = run.values[-1] - run.values[0]
            points = [reading * (1 + (error + offset * (len(readings) - 1)) / span) for reading in readings]
        first = 1 if run.edges else 0
        for string in range(len(points) - 2 * first):
            points[first + string] += self.placement[run.family][string]
        middle = (points[0] + points[-1]) / 2
        if not run.edges:
            middle += self.origin[run.family]
        return [point - middle for point in points]


def pitch_of(strings: Sequence[Any], middle: float) -> Any:
    """Covered over the sum of overlap by gap; None below a coverage of 0.8."""
    a, b = middle - BALL / 2, middle + BALL / 2
    covered = count = 0.0
    for low, high in pairwise(strings):
        if high.n > a and low.n < b:
            overlap = (high if high.n < b else b) - (low if low.n > a else a)
            covered, count = covered + overlap, count + overlap / (high - low)
    return covered / count if getattr(covered, "n", 0.0) >= 0.8 * BALL else None


def line_at(stations: dict[float, list[Any]], y: float) -> list[Any]:
    """Strings at height y on the least-squares lines through their places at the stations."""
    heights = list(stations)
    mean_y = sum(heights) / len(heights)
    squares = sum((height - mean_y) ** 2 for height in heights) if max(heights) - min(heights) >= LEAST_SPAN else 0.0
    found = []
    for places in zip(*stations.values(), strict=True):
        mean = sum(places) / len(places)
        slope = 0.0
        if squares:
            slope = sum((h - mean_y) * (p - mean) for h, p in zip(heights, places, strict=True)) / squares
        found.append(mean + slope * (y - mean_y))
    return found


def pitches(runs: Sequence[Read], causes: Causes) -> dict[tuple[str, str], Any]:
    """Pitches by family and zone of these runs; the mains' splay is unknown if their stations tell no slope."""
    found: dict[tuple[str, str], Any] = {}
    for family, middles in (("main", ACROSS), ("cross", DOWN)):
        together = defaultdict(list)
        for run in (run for run in runs if run.family == family):
            points = causes.points(run)
            together[run.station].append(points[1:-1] if run.edges else points)
        if 0.0 not in together:
            continue
        stations = {s: [sum(x) / len(x) for x in zip(*there, strict=True)] for s, there in together.items()}
        for zone in ZONES:
            height = HEIGHT[zone] if family == "main" else 0.0
            pitch = pitch_of(line_at(stations, height), middles[zone])
            if pitch is not None and family == "main" and max(stations) - min(stations) < LEAST_SPAN:
                pitch = pitch * (1 + causes.splay * (height - sum(stations) / len(stations)) / 80.0)
            found[family, zone] = pitch
    return found


def superellipse(n: Any) -> Any:
    """Area of a superellipse over its width times its length; its change over one standard uncertainty of n, as by definition a
    difference from one side to the other.
    """

    def factor(value: float) -> float:
        return math.gamma(1 + 1 / value) ** 2 / math.gamma(1 + 2 / value)

    high, low = factor(n.n + n.s), factor(n.n - n.s)
    return factor(n.n) * (1 + math.log(high / low) / 2 * (n - n.n) / n.s)


def extents(runs: Sequence[Read], heads: dict[str, list[Head]], causes: Causes, area: float) -> dict[str, Any]:
    """Inner width and length: read directly, else between the edges at station 0, else from the area [cm2]."""
    width = umath.sqrt(100.0 * ufloat(area, U_AREA * area) / (superellipse(EXPONENT) * ASPECT))
    found = {}
    for family, by_area in (("main", width), ("cross", ASPECT * width)):
        read = [ufloat(head.value, head.u) + causes.tool[head.tool] for head in heads.get(family, [])]
        if not read:
            whole = [run for run in runs if run.family == family and run.edges and run.station == 0.0]
            read = [points[-1] - points[0] for points in map(causes.points, whole)]
        found[family] = sum(read) / len(read) if read else by_area
    return found


def scores(
    pitch: dict[tuple[str, str], Any], size: dict[str, Any], counts: tuple[int, int], densest: str | None = None
) -> dict[str, Any]:
    """Every score that can be given. `densest`: the outer zone that counts for uniformity, else looked for."""
    known = {key: value for key, value in pitch.items() if value is not None}
    found = {f"{family}_pitch_{zone}_mm": value for (family, zone), value in known.items()}
    whole = [zone for zone in ZONES if {("main", zone), ("cross", zone)} <= set(known)]
    o = {zone: 10 * umath.sqrt(known["main", zone] * known["cross", zone]) for zone in whole}
    found |= {f"openness_{zone}": value for zone, value in o.items()}
    for number, family in enumerate(("main", "cross")):
        if (family, "centre") in known:
            found[f"drilling_{family}"] = known[family, "centre"] / (size[family] / counts[number])
    if "centre" in o:
        found["density_centre_per_cm2"] = (100 / o["centre"]) ** 2
    if {"left", "right"} <= set(o):
        found["openness_sides"] = umath.sqrt(o["left"] * o["right"])
        if "centre" in o:
            found["side_opening"] = found["openness_sides"] / o["centre"] - 1
    if set(o) == set(ZONES):
        zone = densest or min(ZONES[1:], key=lambda name: o[name].n)
        found["uniformity"] = (o["centre"] / o[zone]) ** 2
    found["openness_even"] = 10 * umath.sqrt(size["main"] * size["cross"] / (counts[0] * counts[1]))
    return found


def of_session(runs: Sequence[Read], causes: Causes, stations: set[float]) -> dict[tuple[str, str], Any]:
    """Pitches a session gives on its own; none at tip and throat unless it read the mains at all the bed's stations."""
    found = pitches(runs, causes)
    if {run.station for run in runs if run.family == "main"} != stations:
        found = {key: value for key, value in found.items() if key not in {("main", "tip"), ("main", "throat")}}
    return found


def expected(
    runs: Sequence[Read],
    heads: dict[str, list[Head]],
    max_errors: dict[str, float],
    area: float,
    counts: tuple[int, int],
) -> dict[str, tuple[float, float]]:
    """Value and standard uncertainty of every score of a bed, sessions that disagree included."""
    causes = Causes(max_errors)
    stations = {run.station for run in runs if run.family == "main"}
    size = extents(runs, heads, causes, area)
    whole = scores(pitches(runs, causes), size, counts)
    densest = min(ZONES[1:], key=lambda zone: whole[f"openness_{zone}"].n)
    sessions = defaultdict(list)
    for run in runs:
        sessions[run.session, run.tool, run.person].append(run)
    alone = [scores(of_session(own, causes, stations), size, counts, densest) for own in sessions.values()]
    found = {}
    for name, value in whole.items():
        one = 1.0 if name == "side_opening" else 0.0
        u = value.std_dev / (value.n + one)
        logs = [math.log(session[name].n + one) for session in alone if name in session]
        if len(logs) > 1 and name != "openness_even":
            u = max(u, statistics.stdev(logs) / math.sqrt(len(logs)))
        found[name] = (value.n, (value.n + one) * u)
    return found
