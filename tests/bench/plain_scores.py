"""Every score of one bed, with its uncertainty, for the plain twin of `gapbook derive`. Standard library only."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from functools import cache

from bench.plain_bed import (
    CROSS_WINDOWS,
    MAIN_WINDOWS,
    Effects,
    Errors,
    Extent,
    Family,
    Instrument,
    Run,
    common_effects,
    variance_of,
)
from bench.plain_tables import HeadReading, Heads, Row, Spacings, Tables, instruments_of

Cells = dict[str, object]
"""One derived row: strings, whole numbers, floats, and None where blank."""

ZONES = ("centre", "left", "right", "tip", "throat")
OUTER = ZONES[1:]
SHARED = (*ZONES, "sides", "even")
KINDS = ("calliper", "rule", "photo", "scale", "balance_board", "swing_rig", "planimeter")
BUDGET = ("reading", "placement", "origin", "splay", "instrument", "person", "sessions")
LEAST_COVERAGE = 0.8
ASPECT, U_ASPECT = 1.33, 0.04
EXPONENT, U_EXPONENT = 2.1, 0.15
U_DECLARED_AREA = 0.01
MISSING = ("", "NA")
BED_SCORES = (
    "density_centre_per_cm2",
    "openness_sides",
    "side_opening",
    "uniformity",
    "openness_even",
    "drilling_main",
    "drilling_cross",
)


@dataclass(frozen=True)
class Score:
    """ln score = constant + form; the zones it needs; the pitches a session must have to count (None: no spread)."""

    constant: float
    form: dict[str, float]
    zones: tuple[str, ...]
    needs: frozenset[str] | None

    def log(self, logs: dict[str, float]) -> float:
        """Its logarithm (of 1 + score for side_opening)."""
        log = self.constant
        for quantity, weight in self.form.items():
            log += weight * logs[quantity]
        return log


@dataclass(frozen=True)
class Estimate:
    """The logarithm of a score, its variance, and how it changes by one standard deviation of what beds have in common."""

    log: float
    variance: float
    common: dict[str, float]

    @property
    def own(self) -> float:
        """The variance without what beds have in common."""
        return self.variance - sum(effect**2 for effect in self.common.values())


@dataclass(frozen=True)
class Bed:
    """One measured specimen: its row of beds.csv and its estimates by name of score."""

    frame_id: str
    row: Cells
    estimates: dict[str, Estimate]


def zone_pair(zone: str) -> tuple[str, str]:
    """The main and the cross pitch of a zone; left and right share the crosses of the centre."""
    return f"main_{zone}", "cross_centre" if zone in ("left", "right") else f"cross_{zone}"


def openness_form(weights: dict[str, float]) -> dict[str, float]:
    """The linear form of a weighted sum of ln openness by zone."""
    form: dict[str, float] = defaultdict(float)
    for zone, weight in weights.items():
        for quantity in zone_pair(zone):
            form[quantity] += weight / 2
    return {quantity: weight for quantity, weight in form.items() if weight}


@cache
def scores_of(mains: int, crosses: int, densest: str) -> dict[str, Score]:
    """Every score of a bed by its column; `densest` is its densest outer zone."""
    scores = {}

    def add(name: str, constant: float, weights: dict[str, float], zones: tuple[str, ...] = ()) -> None:
        zones = zones or tuple(weights)
        needs = frozenset(quantity for zone in zones for quantity in zone_pair(zone))
        scores[name] = Score(constant, openness_form(weights), zones, needs)

    for zone in ZONES:
        main, cross = zone_pair(zone)
        scores[f"main_pitch_{zone}_mm"] = Score(0.0, {main: 1.0}, (zone,), frozenset([main]))
        scores[f"cross_pitch_{zone}_mm"] = Score(0.0, {cross: 1.0}, (zone,), frozenset([cross]))
        add(f"openness_{zone}", math.log(10), {zone: 1.0})
    add("density_centre_per_cm2", math.log(100), {"centre": -2.0})
    add("openness_sides", math.log(10), {"left": 0.5, "right": 0.5})
    add("side_opening", 0.0, {"left": 0.5, "right": 0.5, "centre": -1.0})
    add("uniformity", 0.0, {"centre": 2.0, densest: -2.0}, ZONES)
    even = math.log(10) - 0.5 * math.log(mains * crosses)
    scores["openness_even"] = Score(even, {"width": 0.5, "length": 0.5}, (), None)
    for family, extent, count in (("main", "width", mains), ("cross", "length", crosses)):
        pitch = f"{family}_centre"
        form = {pitch: 1.0, extent: -1.0}
        scores[f"drilling_{family}"] = Score(math.log(count), form, ("centre",), frozenset([pitch]))
    return scores


def from_log(name: str, log: float) -> float:
    """A score from its logarithm."""
    return math.exp(log) - 1 if name == "side_opening" else math.exp(log)


def area_factor(n: float) -> float:
    """Area of a superellipse over its width times its length."""
    return math.gamma(1 + 1 / n) ** 2 / math.gamma(1 + 2 / n)


def by_area_only(u_area: float, side: float) -> dict[str, float]:
    """Effects on ln width (`side` -1) or ln length (1) that follow from an area: half of it each, the aspect against it."""
    thicker, thinner = area_factor(EXPONENT + U_EXPONENT), area_factor(EXPONENT - U_EXPONENT)
    exponent = -math.log(thicker / thinner) / 2 / 2
    return {"aspect": side * U_ASPECT / ASPECT / 2, "exponent": exponent, "area": u_area / 2}


def extent_of(readings: list[HeadReading], family: Family, by_area: Extent, instruments: dict[str, Instrument]) -> Extent:
    """Width or length of the head [mm]: read directly, else from the inner edges, else by the area."""
    edged = family.edge_runs()
    between = sum(run.span for run in edged) / len(edged) if edged else None
    if readings:
        value = sum(reading.value for reading in readings) / len(readings)
        share = 1 / (len(readings) * value)
        by_instrument: dict[str, float] = defaultdict(float)
        for reading in readings:
            by_instrument[reading.instrument] += share * instruments[reading.instrument].u_error
        effects = [share * reading.sigma for reading in readings]
        return Extent(value, False, effects, by_instrument, None if between is None else between - value)
    if between is not None:
        return Extent(between, True, [], {}, None)
    return by_area


def head_exponent(width: float, length: float, area: float) -> float:
    """Exponent of the superellipse with this width, length [mm] and area [cm2]; 2.1 where none from 1.7 to 2.7 fits."""

    def area_with(n: float) -> float:
        return width * length * area_factor(n) / 100

    low, high = 1.7, 2.7
    if not area_with(low) <= area <= area_with(high):
        return 2.1
    while high - low > 1e-10:
        middle = (low + high) / 2
        low, high = (middle, high) if area_with(middle) < area else (low, middle)
    return (low + high) / 2


def session_logs(runs: list[Run], stations: set[float]) -> list[dict[str, float]]:
    """What each session gives for each ln pitch on its own, without those it cannot give or does not cover."""
    sessions: dict[tuple[str, ...], list[Run]] = defaultdict(list)
    for run in runs:
        sessions[run.session].append(run)
    if len(sessions) < 2:
        return []
    found = []
    for of_session in sessions.values():
        logs: dict[str, float] = {}
        for name, windows in (("main", MAIN_WINDOWS), ("cross", CROSS_WINDOWS)):
            of_family = [run for run in of_session if run.family == name]
            if any(run.station == 0.0 for run in of_family):
                complete = name == "cross" or {run.station for run in of_family} == stations
                usable = windows if complete else {key: at for key, at in windows.items() if at[1] == 0.0}
                for key, pitch in Family(of_family, usable).pitches.items():
                    if pitch.log is not None and pitch.coverage >= LEAST_COVERAGE:
                        logs[key] = pitch.log
        found.append(logs)
    return found


def spread_variance(score: Score, sessions: list[dict[str, float]], extents: dict[str, float]) -> float:
    """Variance of the mean of what the sessions give on their own; zero where fewer than two count."""
    if score.needs is None or len(sessions) < 2:
        return 0.0
    values = [score.log(logs | extents) for logs in sessions if score.needs <= logs.keys()]
    n = len(values)
    if n < 2:
        return 0.0
    mean = sum(values) / n
    return sum((value - mean) ** 2 for value in values) / (n - 1) / n


class Beds:
    """Works out one bed after another; holds what they share."""

    def __init__(self, tables: Tables) -> None:
        self.frames = {row["frame_id"]: row for row in tables["frames"]}
        self.instruments = instruments_of(tables)
        self.spacings = Spacings(tables, self.instruments)
        self.errors = Errors(self.instruments, self.spacings.person, self.spacings.placement)
        self.heads = Heads(tables, self.instruments)
        self.causes = causes_of(tables)

    def measure(self, specimen: Row) -> Bed | None:
        """The bed of a specimen, None where its mains or its crosses were not read at station 0."""
        name, frame = specimen["specimen_id"], self.frames[specimen["frame_id"]]
        mains, crosses = int(frame["mains"]), int(frame["crosses"])
        if name not in self.spacings.runs:
            return None
        runs = self.spacings.averaged(name, {"main": mains, "cross": crosses})
        main_runs = [run for run in runs if run.family == "main"]
        cross_runs = [run for run in runs if run.family == "cross" and run.station == 0.0]
        if not cross_runs or all(run.station for run in main_runs):
            return None
        main, cross = Family(main_runs, MAIN_WINDOWS), Family(cross_runs, CROSS_WINDOWS)
        area, u_area = self.heads.areas.get(name) or (float(frame["head_area_cm2"]), U_DECLARED_AREA)
        wide = math.sqrt(100 * area / (area_factor(EXPONENT) * ASPECT))
        by_area = [Extent(size, False, [], by_area_only(u_area, side), None) for size, side in ((wide, -1), (ASPECT * wide, 1))]
        width = extent_of(self.heads.lengths.get((name, "head_width"), []), main, by_area[0], self.instruments)
        length = extent_of(self.heads.lengths.get((name, "head_length"), []), cross, by_area[1], self.instruments)
        sessions = session_logs(main_runs + cross_runs, set(main.stations))
        coverage = coverage_of(main, cross)
        estimates = self.estimates(main, cross, width, length, coverage, sessions)
        row = bed_row(specimen, coverage, estimates)
        row |= {"head_width_mm": width.value, "head_length_mm": length.value, "head_area_cm2": area}
        row["head_exponent"] = head_exponent(width.value, length.value, area)
        row |= {"misclosure_main_mm": width.misclosure, "misclosure_cross_mm": length.misclosure}
        row |= self.budget(main, cross, estimates.get("openness_centre"))
        row |= self.assumed(main_runs + cross_runs)
        row["sessions"] = len({run.session for run in runs})
        row["shared"] = shared_text(self.causes, estimates)
        return Bed(frame["frame_id"], row, estimates)

    def estimates(
        self,
        main: Family,
        cross: Family,
        width: Extent,
        length: Extent,
        coverage: dict[str, float],
        sessions: list[dict[str, float]],
    ) -> dict[str, Estimate]:
        """Every score that is not blank."""
        extents = {"width": math.log(width.value), "length": math.log(length.value)}
        logs = extents | {key: p.log for key, p in (main.pitches | cross.pitches).items() if p.log is not None}
        effects = [Effects(main, width, "width", self.errors), Effects(cross, length, "length", self.errors)]
        covariance = effects[0].covariance() | effects[1].covariance()
        common = {
            name: effects[0].common.get(name, {}) | effects[1].common.get(name, {})
            for name in sorted({*effects[0].common, *effects[1].common})
        }
        mains, crosses = (len(family.runs[0].strings) for family in (main, cross))
        open_zones = {zone for zone, share in coverage.items() if share >= LEAST_COVERAGE}
        found = {}
        for name, score in scores_of(mains, crosses, densest_outer_zone(logs)).items():
            if open_zones.issuperset(score.zones):
                of_causes = common_effects(score.form, common)
                propagated = variance_of(score.form, covariance) + sum(effect**2 for effect in of_causes.values())
                spread = spread_variance(score, sessions, extents)
                found[name] = Estimate(score.log(logs), max(propagated, spread), of_causes)
        return found

    def budget(self, main: Family, cross: Family, centre: Estimate | None) -> Cells:
        """Shares of the variance of ln openness in the centre, half the sum of two ln pitches."""
        if centre is None:
            return {f"budget_{name}": None for name in BUDGET}
        none = Extent(1.0, False, [], {}, None)
        parts = dict.fromkeys(BUDGET, 0.0)
        for effects, pitch in ((Effects(main, none, "width", self.errors), "main_centre"),
                               (Effects(cross, none, "length", self.errors), "cross_centre")):  # fmt: skip
            for name, variance in effects.parts[pitch].items():
                parts[name] += variance / 4
        for cause, effect in centre.common.items():
            name = "splay" if cause == "unknown splay" else "person" if " with a " in cause else "instrument"
            parts[name] += effect**2
        parts["sessions"] = max(centre.variance - sum(parts.values()), 0.0)
        return {f"budget_{name}": part / sum(parts.values()) for name, part in parts.items()}

    def assumed(self, runs: list[Run]) -> Cells:
        """How much of the parts is the default's, in the mean of the runs."""
        kinds = [self.instruments[run.instrument].kind for run in runs]
        reading = [self.spacings.pool.assumed((kind, run.kind)) for kind, run in zip(kinds, runs, strict=True)]
        person = [self.spacings.person_assumed[kind] for kind in kinds]
        return {
            "assumed_reading": sum(reading) / len(reading),
            "assumed_placement": self.spacings.placement_assumed,
            "assumed_person": sum(person) / len(person),
        }


def causes_of(tables: Tables) -> dict[str, str]:
    """What beds may share, in the order in which it is written, and how it is written."""
    tools = {row["instrument_id"]: row["instrument_id"] for row in tables["instruments"]}
    people = [row["contributor_id"] for row in tables.get("contributors", [])]
    return tools | {f"{person} with a {kind}": f"{person}/{kind}" for person in people for kind in KINDS}


def shared_text(causes: dict[str, str], estimates: dict[str, Estimate]) -> str | None:
    """Each cause with its effects on ln openness in the zones SHARED, in millionths, by name of the cause."""
    found = [estimates.get(f"openness_{zone}") for zone in SHARED]
    there = {cause for one in found if one is not None for cause in one.common}
    parts = []
    for cause, written in causes.items():
        if cause in there:
            effects = [0.0 if one is None else one.common.get(cause, 0.0) for one in found]
            parts.append(" ".join([written, *(str(round(effect * 1e6)) for effect in effects)]))
    return "; ".join(sorted(parts)) or None


def coverage_of(main: Family, cross: Family) -> dict[str, float]:
    """Coverage of each zone: the smaller of its two families'."""
    pairs = {zone: zone_pair(zone) for zone in ZONES}
    return {zone: min(main.pitches[m].coverage, cross.pitches[c].coverage) for zone, (m, c) in pairs.items()}


def densest_outer_zone(logs: dict[str, float]) -> str:
    """The outer zone with the smallest openness, the first of equals; one with nothing in it is passed over."""
    return min(OUTER, key=lambda zone: sum(logs.get(quantity, math.inf) for quantity in zone_pair(zone)))


def bed_row(specimen: Row, coverage: dict[str, float], estimates: dict[str, Estimate]) -> Cells:
    """The scores of a bed as columns of beds.csv; the head's follow."""
    row: Cells = {"specimen_id": specimen["specimen_id"], "frame_id": specimen["frame_id"]}
    for zone in ZONES:
        for name in (f"main_pitch_{zone}_mm", f"cross_pitch_{zone}_mm", f"openness_{zone}"):
            row |= value_and_u(name, estimates.get(name))
        row[f"coverage_{zone}"] = coverage[zone]
    for name in BED_SCORES:
        row |= value_and_u(name, estimates.get(name))
    row["open_area_centre"] = None
    if specimen["string_gauge_mm"] not in MISSING and "openness_centre" in estimates:
        gauge = float(specimen["string_gauge_mm"])
        pitches = (math.exp(estimates[f"{family}_pitch_centre_mm"].log) for family in ("main", "cross"))
        row["open_area_centre"] = math.prod(1 - gauge / pitch for pitch in pitches)
    return row


def value_and_u(name: str, estimate: Estimate | None) -> Cells:
    """A score and its standard uncertainty, both None where blank."""
    if estimate is None:
        return {name: None, f"u_{name}": None}
    return {name: from_log(name, estimate.log), f"u_{name}": math.exp(estimate.log) * math.sqrt(estimate.variance)}
