"""One string bed, worked out string by string: lines, windows, scores and their uncertainty.

Plain Python on lists, written to be read. Lengths are in mm. A family's coordinate t runs the way its strings are
numbered, from the origin: t = x for mains (left to right), t = -y for crosses (tip to throat).

Everything is linear in the logs of ten quantities: the main pitch in five windows, the cross pitch in three, and
the inner width and length of the head. An effect is what one standard deviation of one source does to such a log;
a variance is the sum of squared effects (JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from itertools import accumulate
from operator import add, lt, mul

BALL = 67.0
ORIGIN_MAIN, ORIGIN_CROSS = 1.0, 3.0
SPLAY = 0.015
LEAST_SPAN = 60.0

MAIN_WINDOWS = {
    "main_centre": (0.0, 0.0),
    "main_left": (-60.0, 0.0),
    "main_right": (60.0, 0.0),
    "main_tip": (0.0, 80.0),
    "main_throat": (0.0, -80.0),
}
"""Windows across the mains: middle t, and the height y at which the mains are met."""

CROSS_WINDOWS = {"cross_centre": (0.0, 0.0), "cross_tip": (-80.0, 0.0), "cross_throat": (80.0, 0.0)}
"""Windows across the crosses: middle t (down from the centre), and the station they are read at."""


@dataclass(frozen=True)
class Instrument:
    """What is read with: its kind, the step it is read to [mm] and the standard deviation of its error [mm]."""

    kind: str
    resolution: float
    u_error: float


@dataclass(frozen=True)
class Errors:
    """Standard deviations of what beds have in common: instruments by name, the offset of a gap between people by kind of
    instrument [mm]; and that of a string's place [mm].
    """

    instruments: dict[str, Instrument]
    person: dict[str, float]
    placement: float


@dataclass(frozen=True)
class Run:
    """One family at one station in one session, repeats averaged.

    `points` are [near edge], string 1 ... string n, [far edge] from the origin [mm]; the first and the last of them
    are what the origin is the midpoint of. `sigmas` are the reading uncertainties: one a point for marks, one a gap
    between neighbouring points for gaps.
    """

    session: tuple[str, ...]
    family: str
    station: float
    kind: str
    instrument: str
    edges: bool
    points: list[float]
    sigmas: list[float]

    @property
    def strings(self) -> list[float]:
        """The strings alone [mm]."""
        return self.points[1:-1] if self.edges else self.points

    @property
    def span(self) -> float:
        """Last point less first [mm]."""
        return self.points[-1] - self.points[0]


@dataclass(frozen=True)
class Pitch:
    """A family in one window: share covered, ln pitch (None where nothing is covered), d ln pitch / d string."""

    coverage: float
    log: float | None
    slopes: dict[int, float]


@dataclass(frozen=True)
class Extent:
    """Inner width or length of the head [mm], whether it stems from the edges, and effects on its log otherwise: of
    each reading, and by the name of what beds have in common (an instrument; the aspect of a head nobody measured).
    """

    value: float
    from_edges: bool
    effects: list[float]
    common: dict[str, float]
    misclosure: float | None


def dot(a: list[float], b: list[float]) -> float:
    """Sum of products."""
    return float(sum(map(mul, a, b)))


def fractional_index(strings: list[float], at: float) -> tuple[float, dict[int, float]]:
    """Piecewise linear F with F(string k) = k (k from 0), held level outside, and its slopes by string position."""
    k = bisect_right(strings, at)
    if k == 0 or k == len(strings):
        return float(max(k - 1, 0)), {}
    left, right = strings[k - 1], strings[k]
    gap = right - left
    return k - 1 + (at - left) / gap, {k - 1: (at - right) / gap**2, k: (left - at) / gap**2}


def pitch(strings: list[float], middle: float) -> Pitch:
    """Pitch of `strings` in the window one ball wide about `middle`."""
    a, b = middle - BALL / 2, middle + BALL / 2
    covered = min(b, strings[-1]) - max(a, strings[0])
    if covered <= 0:
        return Pitch(0.0, None, {})
    low, low_slopes = fractional_index(strings, a)
    high, high_slopes = fractional_index(strings, b)
    count = high - low
    slopes: dict[int, float] = defaultdict(float)
    for k, slope in high_slopes.items():
        slopes[k] -= slope / count
    for k, slope in low_slopes.items():
        slopes[k] += slope / count
    if b >= strings[-1]:
        slopes[len(strings) - 1] += 1 / covered
    if a < strings[0]:
        slopes[0] -= 1 / covered
    return Pitch(covered / BALL, math.log(covered / count), slopes)


class Family:
    """The runs of one family of strings, the lines through them and their pitch in each window."""

    def __init__(self, runs: list[Run], windows: dict[str, tuple[float, float]]) -> None:
        self.runs = runs
        self.windows = windows
        self.stations: dict[float, list[Run]] = defaultdict(list)
        for run in runs:
            self.stations[run.station].append(run)
        self.means = {
            station: [sum(places) / len(places) for places in zip(*(run.strings for run in there), strict=True)]
            for station, there in self.stations.items()
        }
        self.sloped = max(self.stations) - min(self.stations) >= LEAST_SPAN
        self.weights = {y: self.weights_at(y) for _, y in windows.values()}
        lines = {y: self.strings_at(y) for y in self.weights}
        self.pitches = {name: pitch(lines[y], middle) for name, (middle, y) in windows.items()}

    def weights_at(self, y: float) -> dict[float, float]:
        """Weight of each station in the least-squares line at height y."""
        n = len(self.stations)
        if not self.sloped:
            return dict.fromkeys(self.stations, 1 / n)
        mean = sum(self.stations) / n
        squares = sum((s - mean) ** 2 for s in self.stations)
        return {s: 1 / n + (y - mean) * (s - mean) / squares for s in self.stations}

    def strings_at(self, y: float) -> list[float]:
        """Where the lines through the strings are at height y."""
        places = [0.0] * len(self.runs[0].strings)
        for station, weight in self.weights[y].items():
            places = [place + weight * mean for place, mean in zip(places, self.means[station], strict=True)]
        if not all(map(lt, places, places[1:])):
            raise ValueError(f"strings out of order at {y} mm in {self.runs[0].family} of {self.runs[0].session}")
        return places

    def edge_runs(self) -> list[Run]:
        """Runs at station 0 that have both inner edges."""
        return [run for run in self.stations[0.0] if run.edges]

    def edgeless_share(self, y: float) -> float:
        """How far a shift of the origin in runs without edges moves the strings at height y."""
        shares = {s: sum(not run.edges for run in there) / len(there) for s, there in self.stations.items()}
        return sum(weight * shares[station] for station, weight in self.weights[y].items())


def pitch_slopes(family: Family, name: str, run: Run) -> list[float]:
    """d ln pitch / d point of one run, the origin's part included; they sum to zero."""
    slopes = family.pitches[name].slopes
    share = family.weights[family.windows[name][1]][run.station] / len(family.stations[run.station])
    by_point = [0.0] * len(run.points)
    for k, slope in slopes.items():
        by_point[k + run.edges] += share * slope
    half = share * sum(slopes.values()) / 2
    by_point[0] -= half
    by_point[-1] -= half
    return by_point


def extent_slopes(family: Family, extent: Extent, run: Run) -> list[float]:
    """d ln extent / d point of one run: zero unless the extent stems from this run's edges."""
    by_point = [0.0] * len(run.points)
    if extent.from_edges and run.edges and run.station == 0.0:
        by_point[-1] = 1 / (len(family.edge_runs()) * extent.value)
        by_point[0] = -by_point[-1]
    return by_point


def reading_slopes(run: Run, by_point: list[float]) -> list[float]:
    """Slopes by reading from slopes by point: a gap moves every point after it."""
    return by_point if run.kind == "mark" else list(accumulate(by_point[:0:-1]))[::-1]


class Effects:
    """Effects on the logs of one family's quantities: independent sources in a list, what beds have in common by name."""

    def __init__(self, family: Family, extent: Extent, name: str, errors: Errors) -> None:
        """`extent` is the head's width or length along these strings' rule, `name` what it is called."""
        self.independent: dict[str, list[float]] = {}
        self.parts: dict[str, dict[str, float]] = {}
        self.common: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
        for quantity in family.windows:
            self.add_runs(family, quantity, [pitch_slopes(family, quantity, run) for run in family.runs], errors)
            self.add_origin(family, quantity)
            self.independent[quantity] += [0.0] * len(extent.effects)
        self.add_runs(family, name, [extent_slopes(family, extent, run) for run in family.runs], errors)
        self.independent[name] += [0.0, 0.0, *extent.effects]
        for cause, effect in extent.common.items():
            self.common[cause][name] += effect

    def add_runs(self, family: Family, quantity: str, slopes: list[list[float]], errors: Errors) -> None:
        """Every reading, every string's placement and every instrument, from the slopes by point of each run."""
        effects: list[float] = []
        placement = [0.0] * len(family.runs[0].strings)
        for run, by_point in zip(family.runs, slopes, strict=True):
            by_reading = reading_slopes(run, by_point)
            effects.extend(map(mul, by_reading, run.sigmas))
            error = dot(by_point, run.points) / run.span if run.kind == "mark" else sum(by_reading)
            tool = errors.instruments[run.instrument]
            self.common[run.instrument][quantity] += error * tool.u_error
            by_person = error * (len(run.points) - 1) if run.kind == "mark" else error
            self.common[f"{run.session[0]} with a {tool.kind}"][quantity] += by_person * errors.person[tool.kind]
            of_strings = by_point[1:-1] if run.edges else by_point
            placement = list(map(add, placement, of_strings))
        placed = [errors.placement * slope for slope in placement]
        self.parts[quantity] = {"reading": dot(effects, effects), "placement": dot(placed, placed), "origin": 0.0}
        self.independent[quantity] = effects + placed

    def add_origin(self, family: Family, quantity: str) -> None:
        """One shift of the family where edges were not read, and the splay of mains whose stations tell no slope.

        Copies of a frame share their splay, so it counts with what they share, like an instrument's error.
        """
        y = family.windows[quantity][1]
        mains = quantity in MAIN_WINDOWS
        shift = (ORIGIN_MAIN if mains else ORIGIN_CROSS) * family.edgeless_share(y)
        moved = shift * sum(family.pitches[quantity].slopes.values())
        self.parts[quantity]["origin"] = moved**2
        self.independent[quantity].append(moved)
        if mains and not family.sloped:
            middle = sum(family.stations) / len(family.stations)
            self.common["unknown splay"][quantity] = SPLAY * (y - middle) / 80.0

    def covariance(self) -> dict[tuple[str, str], float]:
        """Covariance of the logs from the independent sources."""
        items = list(self.independent.items())
        matrix = {}
        for i, (a, effects_a) in enumerate(items):
            for b, effects_b in items[i:]:
                matrix[a, b] = matrix[b, a] = dot(effects_a, effects_b)
        return matrix


def variance_of(form: dict[str, float], covariance: dict[tuple[str, str], float]) -> float:
    """Variance of a linear form; pairs that are not listed do not correlate."""
    total = 0.0
    terms = list(form.items())
    for i, (a, weight_a) in enumerate(terms):
        total += weight_a * weight_a * covariance[a, a]
        for b, weight_b in terms[:i]:
            if (a, b) in covariance:
                total += 2 * weight_a * weight_b * covariance[a, b]
    return total


def common_effects(form: dict[str, float], common: dict[str, dict[str, float]]) -> dict[str, float]:
    """What one standard deviation of each cause does to a linear form: an instrument, a person, ..."""
    return {
        cause: sum(weight * effects.get(quantity, 0.0) for quantity, weight in form.items())
        for cause, effects in common.items()
    }
