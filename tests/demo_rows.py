"""The demo catalogue's rows as text, read without the package under test."""

from __future__ import annotations

import csv
from collections import defaultdict
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
RAW = (
    "frames", "specimens", "spacings", "readings", "instruments", "contributors", "playtests", "testers", "exceptions",
)  # fmt: skip
TO_MM = {"mm": 1.0, "in": 25.4, "[in_i]": 25.4}  # NIST SP 811 (2008), B.8
TO_BASE = TO_MM | {"g": 1.0, "oz": 28.349523125, "kg.cm2": 1.0, "kg cm2": 1.0, "cm2": 1.0}  # NIST SP 811, B.8
TO_N = {"N": 1.0, "kgf": 9.80665, "lb": 4.4482216152605}  # NIST SP 811, B.8


def rows_of(folder: Path, table: str) -> list[dict[str, str]]:
    """Rows of a CSV table in a folder."""
    with (folder / f"{table}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def demo(table: str) -> list[dict[str, str]]:
    """Rows of a raw table of the demo."""
    return rows_of(ROOT / "catalogue", table)


@cache
def derived(table: str) -> dict[str, dict[str, str]]:
    """Rows of a derived table of the demo by their first column."""
    rows = rows_of(ROOT / "catalogue" / "derived", table)
    return {next(iter(row.values())): row for row in rows}


def runs_of(spacings: list[dict[str, str]]) -> dict[tuple, list[dict[str, str]]]:
    """Spacings by specimen, contributor, instrument, day, kind, family, station."""
    runs = defaultdict(list)
    keys = ("specimen_id", "contributor_id", "instrument_id", "taken_on", "kind", "family", "station_mm")
    for row in spacings:
        runs[tuple(row[key] for key in keys)].append(row)
    return runs


@cache
def demo_runs() -> dict[tuple, list[dict[str, str]]]:
    """The demo's spacings by run, see `runs_of`."""
    return runs_of(demo("spacings"))


SHARED = ("centre", "left", "right", "tip", "throat", "sides", "even")
"""Zones in the order in which the column `shared` of beds.csv and scores.csv has them, after the name of what is shared."""


def shared_steps(text: str | None) -> dict[str, list[int]]:
    """What a cell of the column `shared` says: by cause, its effects on ln openness in the zones SHARED, in steps of 1e-6."""
    parts = [part.split() for part in (text or "").split("; ") if part]
    told = {name: [int(step) for step in steps] for name, *steps in parts}
    assert len(told) == len(parts), f"a cause comes twice in {text!r}"
    return told


def covariance(one: dict, other: dict, zone: str) -> float:
    """Covariance of the ln openness of two frames: the products of what each thing that both were read with does to each."""
    place = SHARED.index(zone)
    told = [{name: steps[place] / 1e6 for name, steps in shared_steps(row["shared"]).items()} for row in (one, other)]
    return sum(effect * told[1].get(name, 0.0) for name, effect in told[0].items())
