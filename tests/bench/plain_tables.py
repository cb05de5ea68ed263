"""Reading a package and averaging its repeats, for the plain twin of `gapbook derive`. Standard library only."""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from bench.plain_bed import Instrument, Run
from gapbook.science.units import lookup

Row = dict[str, str]
Tables = dict[str, list[Row]]
Repeats = dict[int, dict[int, float]]
"""Readings [mm] by repeat and number."""

TABLES = ("frames", "specimens", "spacings", "readings", "instruments")
LEAST_DOF = 10
UNKNOWN_SPACING, UNKNOWN_LENGTH = 0.2, 0.5


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

    def sigma(self, key: tuple[str, str], unknown: float, repeats: int, resolution: float) -> float:
        """Standard uncertainty of the mean of `repeats` readings [mm]."""
        dof = self.dof[key]
        single = math.sqrt(self.squares[key] / dof) if dof >= LEAST_DOF else unknown
        return math.sqrt(max(single**2 / repeats, resolution**2 / 12))


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

    def averaged(self, specimen: str, strings: dict[str, int]) -> list[Run]:
        """The runs of one specimen; `strings` counts its mains and crosses."""
        return [self.run(key, averaged, strings[key[4]]) for key, averaged in self.runs[specimen].items()]

    def run(self, key: RunKey, averaged: Averaged, strings: int) -> Run:
        """One run; `strings` counts those of its family."""
        *session, family, station = key
        _, instrument, _, kind = session
        tool = self.instruments[instrument]
        sigma = {
            n: self.pool.sigma((tool.kind, kind), UNKNOWN_SPACING, n, tool.resolution)
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
    """A head width or length read in one session, repeats averaged [mm]."""

    instrument: str
    value: float
    sigma: float


class Heads:
    """Head readings of every specimen: widths and lengths by session, and areas [cm2]."""

    def __init__(self, tables: Tables, instruments: dict[str, Instrument]) -> None:
        """Only strung readings are used; repeatability is pooled over strung and unstrung ones."""
        sessions: dict[tuple[str, ...], list[float]] = defaultdict(list)
        self.areas: dict[str, list[float]] = defaultdict(list)
        self.lengths: dict[tuple[str, str], list[HeadReading]] = defaultdict(list)
        for row in tables["readings"]:
            strung = row["strung"].lower() in ("true", "1")
            if row["quantity"] == "head_area" and strung:
                self.areas[row["specimen_id"]].append(converted(row["value"], row["unit"]))
            if row["quantity"] in ("head_width", "head_length"):
                key = (row["specimen_id"], row["quantity"], row["instrument_id"], str(strung))
                session = (*key, row["contributor_id"], row["taken_on"])
                sessions[session].append(converted(row["value"], row["unit"]))
        pool = Pool()
        for (_, quantity, instrument, *_), values in sessions.items():
            pool.add((instruments[instrument].kind, quantity), [values])
        for (specimen, quantity, instrument, strung_text, *_), values in sessions.items():
            if strung_text == "True":
                tool, n = instruments[instrument], len(values)
                sigma = pool.sigma((tool.kind, quantity), UNKNOWN_LENGTH, n, tool.resolution)
                self.lengths[specimen, quantity].append(HeadReading(instrument, sum(values) / n, sigma))
