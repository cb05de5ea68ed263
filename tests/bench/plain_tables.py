"""Reading a package and averaging its repeats, for the plain twin of `gapbook derive`.

Standard library, but for what people and strings out of place show: numpy and scipy.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.stats import chi2, norm, t

from bench.plain_bed import Instrument, Run
from gapbook.science.units import lookup

Row = dict[str, str]
Tables = dict[str, list[Row]]
Repeats = dict[int, dict[int, float]]
"""Readings [mm] by repeat and number."""

TABLES = ("frames", "specimens", "spacings", "readings", "instruments", "contributors")
DEFAULT_DOF = 10
UNKNOWN_SPACING, UNKNOWN_OTHER = {"calliper": 0.1, "rule": 0.25, "photo": 0.03}, 0.25
UNKNOWN = {"head_width": 0.5, "head_length": 0.5, "head_area": 2.0}
PERSON, PERSON_OTHER, PERSON_DOF = {"photo": 0.02}, 0.05, 5
PLACEMENT, PLACEMENT_DOF = 0.3, 20
LEVEL = 0.01


def read_package(path: str | Path) -> Tables:
    """The tables beds follow from, as text, from the `catalogue` folder of the package at `path`."""
    tables = {}
    for name in TABLES:
        with open(Path(path) / "catalogue" / f"{name}.csv", newline="", encoding="utf-8-sig") as file:
            rows = csv.reader(file)
            header = next(rows)
            tables[name] = [dict(zip(header, row, strict=True)) for row in rows]
    return tables


@cache
def factor(unit: str) -> float:
    """How many of its dimension's computing unit there are in `unit`."""
    known = lookup(unit)
    if known is None:
        raise ValueError(f"unknown unit {unit}")
    return known.factor


def converted(value: str, unit: str) -> float:
    """A reading in the computing unit of its dimension."""
    return float(value) * factor(unit)


def instruments_of(tables: Tables) -> dict[str, Instrument]:
    """Every instrument, lengths in mm."""
    return {
        row["instrument_id"]: Instrument(
            row["kind"],
            converted(row["resolution"], row["unit"]),
            converted(row["max_error"], row["unit"]) / math.sqrt(3),
        )
        for row in tables["instruments"]
    }


class Pool:
    """Repeatability pooled by instrument kind and quantity."""

    def __init__(self) -> None:
        self.squares: dict[tuple[str, str], float] = defaultdict(float)
        self.dof: dict[tuple[str, str], int] = defaultdict(int)

    def add(self, key: tuple[str, str], groups: Iterable[list[float]], shifts: int = 0) -> None:
        """Add repeats, one group a number read; `shifts` is how many were fitted to lay them onto each other."""
        self.dof[key] -= shifts
        for group in groups:
            if len(group) > 1:
                mean = sum(group) / len(group)
                self.squares[key] += sum((value - mean) ** 2 for value in group)
                self.dof[key] += len(group) - 1

    def assumed(self, key: tuple[str, str]) -> float:
        """How much of a reading's variance is the default's."""
        return DEFAULT_DOF / (self.dof[key] + DEFAULT_DOF)

    def sigma(self, key: tuple[str, str], unknown: float, repeats: int, resolution: float) -> float:
        """Standard uncertainty of the mean of `repeats` readings [mm]: what repeats show, and what is assumed, which was not
        seen through rounding.
        """
        rounding = resolution**2 / 12
        single = (self.squares[key] + DEFAULT_DOF * (unknown**2 + rounding)) / (self.dof[key] + DEFAULT_DOF)
        return math.sqrt(max(single / repeats, rounding))


def people_variance(means: dict[tuple[tuple[str, str, float], str], float]) -> tuple[float, int]:
    """Variance between people and its degrees of freedom, from the means of what they read, by part and person; 0 and 0 where
    fewer than three parts were read by two. The expected sum of squares is that of the fit itself, by its trace.
    """
    parts, people = sorted({part for part, _ in means}), sorted({person for _, person in means})
    if len(parts) < 3:
        return 0.0, 0
    value = np.array(list(means.values()))
    of_part = np.array([[part == cell[0] for part in parts] for cell in means], dtype=float)
    of_person = np.array([[person == cell[1] for person in people] for cell in means], dtype=float)
    without = np.eye(len(value)) - of_part @ np.linalg.pinv(of_part)
    both = np.hstack([of_part, of_person])
    residual = np.eye(len(value)) - both @ np.linalg.pinv(both)
    dof, left = round(np.trace(without - residual)), round(np.trace(residual))
    if not left:
        return 0.0, 0
    error = value @ residual @ value / left
    explained = value @ (without - residual) @ value
    weight = np.trace(of_person.T @ (without - residual) @ of_person)
    return max((explained - dof * error) / weight, 0.0), dof


def student(dof: int) -> float:
    """How much a standard deviation of so many degrees of freedom must be larger, to be good for 95 %."""
    return float(t.ppf(0.975, dof) / norm.ppf(0.975))


def chi_square_beyond(total: float, dof: float) -> float:
    """Chance of a chi-square above `total`."""
    return float(chi2.sf(total, max(dof, 1.0)))


def laid_together(kind: str, repeats: Repeats) -> dict[int, list[float]]:
    """The readings of each number in order of number; repeats of marks are first shifted onto the lowest repeat."""
    base = repeats[min(repeats)]
    together: dict[int, list[float]] = defaultdict(list)
    for values in repeats.values():
        shift = 0.0
        if kind == "mark" and values is not base:
            shared = [value - base[no] for no, value in values.items() if no in base]
            if not shared:
                raise ValueError("repeats of marks share no number")
            shift = sum(shared) / len(shared)
        for no, value in values.items():
            together[no].append(value - shift)
    return dict(sorted(together.items()))


def has_edges(kind: str, numbers: list[int], strings: int) -> bool:
    """Whether a run has its inner edges; a run that lacks a number, or has one edge only, is an error."""
    last = strings - 1 if kind == "gap" else strings
    if numbers == list(range(1, last + 1)):
        return False
    if numbers == list(range(last + 2)):
        return True
    raise ValueError(f"incomplete run of {kind}s: {numbers}")


def about_origin(kind: str, means: list[float]) -> list[float]:
    """Points from the midpoint of the first and the last [mm], from averaged gaps or marks."""
    points = means
    if kind == "gap":
        points = [0.0]
        for gap in means:
            points.append(points[-1] + gap)
    origin = (points[0] + points[-1]) / 2
    return [point - origin for point in points]


RunKey = tuple[str, str, str, str, str, float]
"""Contributor, instrument, day, kind (these four are the session), family, station."""


Averaged = dict[int, tuple[float, int]]
"""The mean [mm] of each number's readings and how many there are, in order of number."""


class Spacings:
    """Every run of the package by specimen, and the repeatability pooled over all of them."""

    def __init__(self, tables: Tables, instruments: dict[str, Instrument]) -> None:
        grouped: dict[str, dict[RunKey, Repeats]] = defaultdict(lambda: defaultdict(lambda: defaultdict(dict)))
        for row in tables["spacings"]:
            session = (row["contributor_id"], row["instrument_id"], row["taken_on"], row["kind"])
            key = (*session, row["family"], float(row["station_mm"]))
            value = converted(row["value"], row["unit"])
            grouped[row["specimen_id"]][key][int(row["repeat"])][int(row["no"])] = value
        self.instruments = instruments
        self.pool = Pool()
        self.runs: dict[str, dict[RunKey, Averaged]] = {}
        for specimen, runs in grouped.items():
            self.runs[specimen] = {}
            for key, repeats in runs.items():
                together = laid_together(key[3], repeats)
                self.runs[specimen][key] = {no: (sum(v) / len(v), len(v)) for no, v in together.items()}
                shifts = len(repeats) - 1 if key[3] == "mark" else 0
                self.pool.add((instruments[key[1]].kind, key[3]), together.values(), shifts)
        self.person_assumed: dict[str, float] = {}
        self.placement_assumed = 1.0
        self.person = self.between_people(tables)
        self.placement = self.out_of_place(tables)

    def together(self, tables: Tables) -> dict[tuple[str, str, float], list[tuple[RunKey, list[float]]]]:
        """By specimen, family and station: every run, and its gaps between strings [mm]. Runs that lack a number are out."""
        frames = {row["frame_id"]: row for row in tables["frames"]}
        of_specimen = {row["specimen_id"]: frames[row["frame_id"]] for row in tables["specimens"]}
        found: dict[tuple[str, str, float], list[tuple[RunKey, list[float]]]] = defaultdict(list)
        for specimen, runs in self.runs.items():
            for key, averaged in runs.items():
                _, _, _, kind, family, station = key
                strings = int(of_specimen[specimen]["mains" if family == "main" else "crosses"])
                try:
                    edges = has_edges(kind, list(averaged), strings)
                except ValueError:
                    continue
                values = [mean for mean, _ in averaged.values()][edges : len(averaged) - edges]
                gaps = values if kind == "gap" else [b - a for a, b in pairwise(values)]
                found[specimen, family, station].append((key, gaps))
        return found

    def between_people(self, tables: Tables) -> dict[str, float]:
        """Standard deviation between people of the offset of a gap [mm], by kind of instrument: their mean gaps of the same
        strings, each less what the parts' means explain, for people two of whom read the same (Henderson's method 3 by numpy's
        least squares).
        """
        cells: dict[str, dict[tuple[tuple[str, str, float], str], list[float]]] = defaultdict(lambda: defaultdict(list))
        for thing, runs in self.together(tables).items():
            for key, gaps in runs:
                cells[self.instruments[key[1]].kind][thing, key[0]].append(sum(gaps) / len(gaps))
        found = {}
        for kind in {tool.kind for tool in self.instruments.values()}:
            default = PERSON.get(kind, PERSON_OTHER)
            means = {cell: sum(values) / len(values) for cell, values in cells[kind].items()}
            shared = {cell: mean for cell, mean in means.items() if sum(thing == cell[0] for thing, _ in means) > 1}
            variance, dof = people_variance(shared)
            self.person_assumed[kind] = PERSON_DOF / (dof + PERSON_DOF)
            variance *= student(dof + 1) ** 2
            found[kind] = math.sqrt((dof * variance + PERSON_DOF * default**2) / (dof + PERSON_DOF))
        return found

    def out_of_place(self, tables: Tables) -> float:
        """Standard deviation of a string's place [mm]: 0.3, and what sessions with strings straightened anew show."""
        beds: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0, 0.0, 0.0])
        for (specimen, _, _), runs in self.together(tables).items():
            n, m = len(runs), len(runs[0][1])
            if n < 2 or m < 1:
                continue
            middle = [sum(column) / n for column in zip(*(gaps for _, gaps in runs), strict=True)]
            for key, gaps in runs:
                away = [gap - mean for gap, mean in zip(gaps, middle, strict=True)]
                tool = self.instruments[key[1]]
                counts = [count for _, count in self.runs[specimen][key].values()]
                times = len(counts) / sum(1 / count for count in counts)
                single = self.pool.sigma(
                    (tool.kind, key[3]), UNKNOWN_SPACING.get(tool.kind, UNKNOWN_OTHER), times, tool.resolution
                )
                by_string = 2 * m - 2 / m
                bed, share = beds[specimen], 1 - 1 / n
                bed[0] += sum((one - sum(away) / m) ** 2 for one in away)
                bed[1] += share * single**2 * (by_string if key[3] == "mark" else m - 1)
                bed[2] += share * by_string
                bed[3] += share * (m - 1) * 2 / 3
        anew = [
            bed
            for bed in beds.values()
            if bed[3] > 0 and chi_square_beyond(bed[0] / bed[1] * bed[3], bed[3]) <= LEVEL / len(beds)
        ]
        if not anew:
            return PLACEMENT
        squares, expected, placed, dof = (sum(column) for column in zip(*anew, strict=True))
        seen = max(squares - expected, 0.0) / placed
        self.placement_assumed = PLACEMENT_DOF / (dof + PLACEMENT_DOF)
        return math.sqrt((dof * seen + PLACEMENT_DOF * PLACEMENT**2) / (dof + PLACEMENT_DOF))

    def averaged(self, specimen: str, strings: dict[str, int]) -> list[Run]:
        """The runs of one specimen; `strings` counts its mains and crosses."""
        return [self.run(key, averaged, strings[key[4]]) for key, averaged in self.runs[specimen].items()]

    def run(self, key: RunKey, averaged: Averaged, strings: int) -> Run:
        """One run; `strings` counts those of its family."""
        *session, family, station = key
        _, instrument, _, kind = session
        tool = self.instruments[instrument]
        sigma = {
            n: self.pool.sigma((tool.kind, kind), UNKNOWN_SPACING.get(tool.kind, UNKNOWN_OTHER), n, tool.resolution)
            for n in {n for _, n in averaged.values()}
        }
        return Run(
            session=tuple(session),
            family=family,
            station=station,
            kind=kind,
            instrument=instrument,
            edges=has_edges(kind, list(averaged), strings),
            points=about_origin(kind, [mean for mean, _ in averaged.values()]),
            sigmas=[sigma[n] for _, n in averaged.values()],
        )


@dataclass(frozen=True)
class HeadReading:
    """A head width or length [mm], or area [cm2], read in one session, repeats averaged."""

    instrument: str
    value: float
    sigma: float


class Heads:
    """Head readings of every specimen: widths and lengths by session, and areas [cm2]."""

    def __init__(self, tables: Tables, instruments: dict[str, Instrument]) -> None:
        """Only strung readings are used; repeatability is pooled over strung and unstrung ones."""
        sessions: dict[tuple[str, ...], list[float]] = defaultdict(list)
        self.lengths: dict[tuple[str, str], list[HeadReading]] = defaultdict(list)
        for row in tables["readings"]:
            strung = row["strung"].lower() in ("true", "1")
            if row["quantity"] in UNKNOWN:
                key = (row["specimen_id"], row["quantity"], row["instrument_id"], str(strung))
                session = (*key, row["contributor_id"], row["taken_on"])
                sessions[session].append(converted(row["value"], row["unit"]))
        pool = Pool()
        for (_, quantity, instrument, *_), values in sessions.items():
            pool.add((instruments[instrument].kind, quantity), [values])
        for (specimen, quantity, instrument, strung_text, *_), values in sessions.items():
            if strung_text == "True":
                tool, n = instruments[instrument], len(values)
                sigma = pool.sigma((tool.kind, quantity), UNKNOWN[quantity], n, tool.resolution)
                self.lengths[specimen, quantity].append(HeadReading(instrument, sum(values) / n, sigma))
        self.areas = {
            specimen: area_of(readings, instruments)
            for (specimen, quantity), readings in self.lengths.items()
            if quantity == "head_area"
        }


def area_of(readings: list[HeadReading], instruments: dict[str, Instrument]) -> tuple[float, float]:
    """The mean of a head's areas [cm2], and its relative standard uncertainty; every instrument in error by its own amount, all
    at once.
    """
    n = len(readings)
    area = sum(reading.value for reading in readings) / n
    scatter = sum(reading.sigma**2 for reading in readings) / n**2
    together = sum(instruments[reading.instrument].u_error for reading in readings) / n
    return area, math.sqrt(scatter + together**2) / area
