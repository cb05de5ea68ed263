"""Beds whose truth is known, and people who read them, made to break what the budget of uncertainty takes for granted.

Nothing here comes from the demo's generator or from the code under test, but the names of tables and their columns: heads
are superellipses of varied exponent, gaps widen from the middle by a cosine, mains fan out, and every hand, person,
instrument and displaced string is drawn here. What is true of a bed follows from where its strings would rest.
"""

from __future__ import annotations

import csv
import math
import shutil
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bench.plain_net import PlainBed, stiffness
from gapbook.tables.derived import compute
from gapbook.tables.opening import open_package
from small import NAMES, RAW, ROOT

BALL = 67.0
PLACES = {"centre": (0.0, 0.0), "left": (-60.0, 0.0), "right": (60.0, 0.0), "tip": (0.0, 80.0), "throat": (0.0, -80.0)}
PATTERNS = ((16, 19), (16, 18), (18, 20), (16, 20), (18, 19), (14, 18), (16, 15))


class Heads(NamedTuple):
    """How heads and drilling vary.

    patterns: mains and crosses, each as likely as the next
    area: least and greatest [cm2]
    aspect: length over width, mean and standard deviation
    exponent: of the superellipse, least and greatest
    splay: standard deviation of the relative change of the main pitch from the middle to 80 mm towards the tip
    astray: standard deviation of the middle of the outer strings about the head's centre, mains and crosses [mm]
    """

    patterns: tuple[tuple[int, int], ...] = PATTERNS
    area: tuple[float, float] = (580.0, 690.0)
    aspect: tuple[float, float] = (1.33, 0.04)
    exponent: tuple[float, float] = (1.85, 2.5)
    splay: float = 0.015
    astray: tuple[float, float] = (1.0, 3.0)


class Way(NamedTuple):
    """How a bed is read, and how wrong.

    tool: kind of instrument; a calliper reads gaps, others marks
    resolution: of the instrument [mm]
    limit: greatest error of the instrument [mm]
    hand: standard deviation of one reading before it is rounded [mm]
    repeats: of each reading in a session
    sessions: how many
    people: numbers of who reads, in turn; None for somebody new for each session, () for somebody new for each bed
    bias: standard deviation of a person's offset on each gap [mm]
    placement: standard deviation of a string's place [mm]
    straightened: whether strings are straightened anew before each session; else all sessions read them where they lie
    stations: of the mains [mm]
    edges: whether the inner edges are read
    head: whether width and length are read too
    declared: standard deviation of the declared area, relative
    """

    tool: str = "calliper"
    resolution: float = 0.01
    limit: float = 0.03
    hand: float = 0.10
    repeats: int = 2
    sessions: int = 1
    people: tuple[int, ...] | None = None
    bias: float = 0.05
    placement: float = 0.3
    straightened: bool = True
    stations: tuple[float, ...] = (0.0,)
    edges: bool = True
    head: bool = False
    declared: float = 0.0


class Bed(NamedTuple):
    """Strings at rest and the head [mm]: x of the mains at y = 0 and their slopes, crosses from the tip as -y, rising."""

    mains: np.ndarray
    slopes: np.ndarray
    crosses: np.ndarray
    width: float
    length: float
    exponent: float

    @property
    def area(self) -> float:
        """Of the head [cm2]: 4·∫y dx over a quarter is W·L·Γ(1 + 1/n)²/Γ(1 + 2/n)."""
        n = self.exponent
        return self.width * self.length * math.gamma(1 + 1 / n) ** 2 / math.gamma(1 + 2 / n) / 100.0

    def half_width(self, y: float) -> float:
        """Half the width of the hoop at a height [mm]."""
        return self.width / 2 * (1 - abs(2 * y / self.length) ** self.exponent) ** (1 / self.exponent)


def drilled(strings: int, extent: float, deep: float, uneven: float = 0.0, middle: float = 0.0) -> np.ndarray:
    """Strings over an extent about its middle [mm]: gaps widen outwards by a cosine, by `deep` of the one in the middle, and a
    little more on one side.
    """
    at = np.linspace(-1.0, 1.0, strings - 1)
    gaps = 1.0 + deep * (1.0 - np.cos(np.pi * at)) / 2.0 + uneven * np.sin(np.pi * at / 2.0)
    places = np.concatenate([[0.0], np.cumsum(gaps)])
    return middle + extent * (places / places[-1] - 0.5)


def _drilled(rng: np.random.Generator, strings: int, extent: float, middle: float) -> np.ndarray:
    return drilled(strings, extent, rng.uniform(0.05, 0.6), rng.normal(0.0, 0.03), middle)


def new_bed(rng: np.random.Generator, heads: Heads, pattern: tuple[int, int] | None = None) -> Bed:
    """A design, as it would be built without any scatter: no main near the hoop at the tip's window, no side uncovered."""
    while True:
        bed = _any_bed(rng, heads, pattern)
        reach = min(bed.mains[-1], -bed.mains[0])
        most = max(np.abs(bed.mains + bed.slopes * y).max() for y in (-80.0, 0.0, 80.0))
        if most < min(bed.half_width(80.0), bed.half_width(-80.0)) - 4.0 and reach > 60.0 - BALL / 2 + 0.85 * BALL:
            return bed


def _any_bed(rng: np.random.Generator, heads: Heads, pattern: tuple[int, int] | None) -> Bed:
    mains, crosses = pattern or heads.patterns[rng.integers(len(heads.patterns))]
    n, aspect = rng.uniform(*heads.exponent), rng.normal(*heads.aspect)
    size = rng.uniform(*heads.area) * 100.0 * math.gamma(1 + 2 / n) / math.gamma(1 + 1 / n) ** 2
    width = math.sqrt(size / aspect)
    length = aspect * width
    across = _drilled(rng, mains, rng.uniform(0.72, 0.79) * width, rng.normal(0.0, heads.astray[0]))
    down = _drilled(rng, crosses, rng.uniform(0.76, 0.83) * length, rng.normal(0.0, heads.astray[1]))
    return Bed(across, across * rng.normal(0.0, heads.splay) / 80.0, down, width, length, n)


def copy_of(rng: np.random.Generator, bed: Bed, spread: float) -> Bed:
    """Another copy of a design, its mains and its crosses a little wider or closer: so much that openness in the centre spreads
    by `spread` (standard deviation of its logarithm), of which both families have the same part.
    """
    mains, crosses = (
        math.exp(rng.normal(0.0, math.sqrt(2.0) * spread) / _gain(strings)) for strings in (bed.mains, bed.crosses)
    )
    return bed._replace(mains=bed.mains * mains, slopes=bed.slopes * mains, crosses=bed.crosses * crosses)


def _gain(strings: np.ndarray) -> float:
    """Change of ln pitch in the centre by one of ln scale: below 1 if gaps widen outwards, as fewer of those stay inside."""
    return (math.log(window_pitch(strings * 1.01, 0.0)) - math.log(window_pitch(strings, 0.0))) / math.log(1.01)


def window_pitch(strings: np.ndarray, middle: float) -> float:
    """Pitch across a window [mm]: the length that strings cover over the fractional strings in it."""
    low, high = (float(np.clip(middle + side * BALL / 2, strings[0], strings[-1])) for side in (-1, 1))
    number = np.interp([low, high], strings, np.arange(len(strings)))
    return (high - low) / float(number[1] - number[0])


def truth(bed: Bed) -> dict[str, float]:
    """The scores of strings at rest, from their definitions."""
    found, pitches = {}, {}
    for zone, (x, y) in PLACES.items():
        pitches[zone] = window_pitch(bed.mains + bed.slopes * y, x), window_pitch(bed.crosses, -y)
        found[f"openness_{zone}"] = 10.0 * math.sqrt(pitches[zone][0] * pitches[zone][1])
        found[f"main_pitch_{zone}_mm"], found[f"cross_pitch_{zone}_mm"] = pitches[zone]
    centre = found["openness_centre"]
    found["density_centre_per_cm2"] = 1e4 / centre**2
    found["openness_sides"] = math.sqrt(found["openness_left"] * found["openness_right"])
    found["side_opening"] = found["openness_sides"] / centre - 1.0
    found["uniformity"] = max((centre / found[f"openness_{zone}"]) ** 2 for zone in PLACES if zone != "centre")
    m, c = len(bed.mains), len(bed.crosses)
    found["openness_even"] = 10.0 * math.sqrt(bed.width * bed.length / (m * c))
    found["drilling_main"] = pitches["centre"][0] / (bed.width / m)
    found["drilling_cross"] = pitches["centre"][1] / (bed.length / c)
    return found


IN_BED_N = 0.7 * 245.0
"""Tension in the strings for which mechanics.csv is made [N]: a pull of 245 N less 30 %."""


def true_stiffness(bed: Bed) -> dict[str, float]:
    """Stiffness of strings at rest [N/mm], by a plain net that shares nothing with the code under test."""
    net = PlainBed(list(zip(bed.mains, bed.slopes, strict=True)), (-bed.crosses).tolist(), bed.width, bed.length, bed.exponent)
    found = stiffness(net, IN_BED_N, IN_BED_N)
    return {f"stiffness_{place}_n_per_mm": value for place, value in zip(PLACES, found, strict=True)}


class Rack:
    """A package that is being filled: rows of its tables, the people and the instruments, each with its own error."""

    def __init__(self, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.rows: dict[str, list[tuple[object, ...]]] = {name: [] for name in RAW}
        self.true: dict[str, Bed] = {}
        self.lying: dict[str, tuple[np.ndarray, ...]] = {}
        self._bias: dict[tuple[object, str], float] = {}
        self._newcomers = 0

    def add(self, table: str, **cells: object) -> None:
        """One row; cells not named stay blank."""
        self.rows[table].append(tuple(cells.get(name, "") for name in NAMES[table]))

    def frame(self, name: str, bed: Bed, declared: float = 0.0) -> None:
        """A frame as its maker declares it, its area off by a share of standard deviation `declared`."""
        area = bed.area * (1.0 + self.rng.normal(0.0, declared)) if declared else bed.area
        self.add(
            "frames", frame_id=name, maker="Nobody", model=name, edition="retail", mains=len(bed.mains),
            crosses=len(bed.crosses), head_area_cm2=f"{area:.3f}",
        )  # fmt: skip

    def specimen(self, name: str, frame: str, bed: Bed, gauge: str = "1.25") -> None:
        """One copy of a frame."""
        self.add("specimens", specimen_id=name, frame_id=frame, string_gauge_mm=gauge)
        self.true[name] = bed

    def instrument(self, name: str, kind: str, resolution: float, limit: float) -> float:
        """An instrument of its own; its error is anywhere within its limit [mm]."""
        self.add("instruments", instrument_id=name, kind=kind, resolution=f"{resolution:g}", max_error=f"{limit:g}", unit="mm")
        return float(self.rng.uniform(-limit, limit))

    def _person(self, number: int | None, way: Way) -> tuple[str, float]:
        """A reader's id, and their offset on each gap with that kind of instrument [mm]."""
        if number is None:
            self._newcomers += 1
        name = f"newcomer-{self._newcomers}" if number is None else f"person-{number}"
        if not any(name == known for known, _ in self._bias):
            self.add("contributors", contributor_id=name, name=name, since="2020-01-01")
        offset = self._bias.setdefault((name, way.tool), float(self.rng.normal(0.0, way.bias)) if way.bias else 0.0)
        return name, offset

    def read(self, specimen: str, way: Way) -> None:
        """Read one copy. Its instrument reads nothing else."""
        error = self.instrument(f"tool-{specimen}", way.tool, way.resolution, way.limit)
        self.read_with(specimen, way, f"tool-{specimen}", error)

    def read_with(self, specimen: str, way: Way, tool: str, error: float) -> None:
        """Read one copy with an instrument whose error [mm] is known to nobody in the package."""
        for session in range(way.sessions):
            if way.people or way.people is None or session == 0:
                number = way.people[session % len(way.people)] if way.people else None
                person, offset = self._person(number, way)
            day = date(2026, 1, 1) + timedelta(days=session)
            self._session(specimen, way, (person, tool, day.isoformat()), error, offset)
        if way.head:
            self._read_head(specimen, person, day.isoformat())

    def _session(self, specimen: str, way: Way, by: tuple[str, str, str], error: float, offset: float) -> None:
        bed = self.true[specimen]
        if way.straightened or specimen not in self.lying:
            self.lying[specimen] = tuple(
                self.rng.normal(0.0, way.placement, len(strings)) for strings in (bed.mains, bed.crosses)
            )
        off_main, off_cross = self.lying[specimen]
        for station in way.stations:
            at = bed.mains + bed.slopes * station + off_main
            self._run(specimen, "main", station, at, bed.half_width(station), way, by, error, offset)
        self._run(specimen, "cross", 0.0, bed.crosses + off_cross, bed.length / 2, way, by, error, offset)

    def _run(self, specimen, family, station, strings, half, way, by, error, offset) -> None:
        """The repeats of one run, as figures of whole steps of the instrument."""
        places = np.concatenate([[-half], strings, [half]]) if way.edges else strings
        first = 0 if way.edges else 1
        kind = "gap" if way.tool == "calliper" else "mark"
        digits = max(0, math.ceil(-math.log10(way.resolution)))
        for repeat in range(1, way.repeats + 1):
            if kind == "gap":
                read = np.diff(places) + error + offset
            else:
                span = places[-1] - places[0]
                long = 1.0 + (error + offset * (len(places) - 1)) / span
                read = self.rng.uniform(5.0, 15.0) + (places - places[0]) * long
            read = read + self.rng.normal(0.0, way.hand, len(read))
            for no, value in enumerate(np.rint(read / way.resolution) * way.resolution, first):
                key = (specimen, family, f"{station:g}", kind, no, *by, repeat)
                self.rows["spacings"].append((*key, f"{value:.{digits}f}", "mm"))

    def _read_head(self, specimen: str, person: str, day: str, hand: float = 0.5) -> None:
        """Width and length, read once with a rule of millimetres."""
        tool = f"rule-{specimen}"
        error = self.instrument(tool, "rule", 0.5, 0.3)
        for quantity, size in (("head_width", self.true[specimen].width), ("head_length", self.true[specimen].length)):
            value = round((size + error + self.rng.normal(0.0, hand)) * 2) / 2
            self.add(
                "readings", specimen_id=specimen, quantity=quantity, strung="true", contributor_id=person, instrument_id=tool,
                taken_on=day, repeat=1, value=value, unit="mm",
            )  # fmt: skip

    def write(self, folder: Path) -> Path:
        """The package in a new folder."""
        (folder / "catalogue" / "derived").mkdir(parents=True)
        shutil.copyfile(ROOT / "datapackage.json", folder / "datapackage.json")
        shutil.copytree(ROOT / "schema", folder / "schema")
        for name, rows in self.rows.items():
            with (folder / "catalogue" / f"{name}.csv").open("w", newline="", encoding="utf-8") as stream:
                out = csv.writer(stream, lineterminator="\n")
                out.writerow(NAMES[name])
                out.writerows(rows)
        return folder


def derived(folder: Path, part: str = "beds") -> dict[str, dict[str, dict[str, object]]]:
    """What `gapbook derive` makes of a package: rows by their first column, by table."""
    tables = compute(open_package(folder), [part], workers=1)
    return {name: {next(iter(row.values())): row for row in data.to_pylist()} for name, data in tables.items()}


def away(row: dict[str, object], true: dict[str, float], names: Iterable[str]) -> list[float]:
    """Value less truth in standard uncertainties, NaN for a blank."""
    found = []
    for name in names:
        value, u = row[name], row[f"u_{name}"]
        found.append(math.nan if value is None or u is None else (float(str(value)) - true[name]) / float(str(u)))
    return found


def inside(found: Sequence[float] | np.ndarray, k: float = 2.0) -> float:
    """The part of the values that lies within k standard uncertainties; a blank lies in none."""
    return float(np.mean(np.abs(np.nan_to_num(np.asarray(found), nan=math.inf)) <= k))
