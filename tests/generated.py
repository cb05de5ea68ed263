"""Small packages drawn from a seed: a few beds read in every way a bed may be read, to be written in other words."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from typing import NamedTuple

from small import Small, marks

PATTERNS = ((16, 19), (18, 20), (16, 18), (14, 18), (16, 20), (18, 19), (16, 15))
DAYS = ("2026-03-01", "2026-03-02", "2026-03-15")


@dataclass(frozen=True)
class Laid:
    """One repeat of a run as gaps in mm, edges included where read."""

    copy: str
    family: str
    station: float
    kind: str
    edges: bool
    gaps: tuple[float, ...]
    tool: str
    day: str
    repeat: int

    @property
    def turned(self) -> Laid:
        """The same strings numbered from the other end."""
        return replace(self, gaps=self.gaps[::-1])


class Rack(NamedTuple):
    """frame_id, counts and area [cm2]; copies with their frame; runs; head readings (copy, quantity, value [mm])."""

    frames: list[tuple[str, int, int, float]]
    copies: list[tuple[str, str]]
    runs: list[Laid]
    heads: list[tuple[str, str, float]]


def _bed(rng: random.Random, strings: int, extent: float) -> list[float]:
    """Gaps with both edge gaps, closer in the middle [mm]."""
    middle = (strings - 2) / 2
    depth = rng.uniform(0.1, 0.5)
    gaps = [1 + depth * abs((k - middle) / middle) ** 1.5 + rng.uniform(-0.03, 0.03) for k in range(strings - 1)]
    scale = rng.uniform(0.72, 0.8) * extent / sum(gaps)
    gaps = [gap * scale for gap in gaps]
    near = (extent - sum(gaps)) / 2 + rng.uniform(-1, 1)
    return [near, *gaps, extent - sum(gaps) - near]


def _read(rng: random.Random, rack: Rack, copy: str, beds: dict[str, list[float]]) -> None:
    """Read one copy: one or two sessions, gaps or marks, one to three stations, with or without edges, once or twice."""
    stations = rng.choice([(0,), (0,), (-80, 0, 80), (0, 85)])
    for session in range(rng.choice([1, 1, 2])):
        kind = rng.choice(["gap", "mark"])
        tool = rng.choice(["cal", "cal-2"] if kind == "gap" else ["rule", "rule-in"])
        edges, repeats = rng.random() < 0.6, rng.choice([1, 1, 2])
        for family, places in (("main", stations), ("cross", (0,))):
            for station in places:
                fan = 1 + station / 6000 if family == "main" else 1.0
                for repeat in range(1, repeats + 1):
                    gaps = [round(gap * fan + rng.gauss(0, 0.15), 2) for gap in beds[family]]
                    gaps = gaps if edges else gaps[1:-1]
                    rack.runs.append(Laid(copy, family, station, kind, edges, tuple(gaps), tool, DAYS[session], repeat))
    if rng.random() < 0.5:
        for quantity, family in (("head_width", "main"), ("head_length", "cross")):
            rack.heads.append((copy, quantity, round(sum(beds[family]) + rng.gauss(0, 0.4), 1)))


def rack_of(seed: int, frames: int = 3) -> Rack:
    """A rack of frames of one or two copies, all read, and one frame that nobody read."""
    rng = random.Random(seed)
    rack = Rack([], [], [], [])
    for number in range(frames):
        mains, crosses = rng.choice(PATTERNS)
        name = f"frame-{number}"
        rack.frames.append((name, mains, crosses, round(rng.uniform(600, 680), 1)))
        for letter in "ab"[: rng.choice([1, 2])]:
            rack.copies.append((f"{name}-{letter}", name))
            beds = {"main": _bed(rng, mains, rng.uniform(240, 256)), "cross": _bed(rng, crosses, rng.uniform(325, 342))}
            _read(rng, rack, f"{name}-{letter}", beds)
    rack.frames.append(("nobodys", 16, 19, 640.0))
    return rack


def written(rack: Rack, unit: str = "mm", kind: str | None = None, start: float = 12.0) -> Small:
    """The package of a rack: lengths in `unit`, every run as `kind` (None: as it was read), marks from `start` mm on."""
    small = Small()
    scale = {"mm": 1.0, "in": 25.4}[unit]
    for name, mains, crosses, area in rack.frames:
        small.frame(name, mains, crosses, area)
    for copy, frame in rack.copies:
        small.copy(copy, frame)
    for run in rack.runs:
        own = kind or run.kind
        values = [value / scale for value in (run.gaps if own == "gap" else marks(run.gaps, start))]
        more = {"instrument_id": run.tool, "taken_on": run.day, "repeat": run.repeat, "unit": unit}
        small.run(run.copy, run.family, values, run.edges, own, run.station, **more)
    for copy, quantity, value in rack.heads:
        small.reading(copy, quantity, value / scale, unit)
    return small
