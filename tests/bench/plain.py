"""Beds and scores by a plain loop over specimens: the slow, readable twin of `gapbook derive`.

It follows the definitions and nothing else, shares only the unit factors with the package, and serves as the oracle of
the property tests and the baseline of the benchmark. Student's t is scipy's; `tests` must be on the import path.
"""

from __future__ import annotations

import csv
import math
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from bench.plain_scores import (
    U_DECLARED_AREA,
    ZONES,
    Bed,
    Beds,
    Cells,
    Estimate,
    area_factor,
    by_area_only,
    causes_of,
    shared_text,
    value_and_u,
)
from bench.plain_tables import Row, Tables, read_package, student

__all__ = ["derive", "derive_beds", "derive_scores", "measured_beds", "read_package"]

LEAST_FRAMES = 8
SPREAD_DOF = 5
LEAST_COUNTED = 0.02
DENSITY = "density_centre_per_cm2"
UNKNOWN_SPREAD = {"uniformity": 0.02}
UNKNOWN_SPREAD_OTHERS = 0.01
FRAME_SCORES = (
    *(f"openness_{zone}" for zone in ZONES),
    "openness_sides",
    DENSITY,
    "side_opening",
    "uniformity",
    "openness_even",
    "drilling_main",
    "drilling_cross",
)


def measured_beds(tables: Tables) -> list[Bed]:
    """Every measured specimen, in order of specimen_id."""
    beds = Beds(tables)
    specimens = sorted(tables["specimens"], key=lambda row: row["specimen_id"])
    return [bed for bed in map(beds.measure, specimens) if bed is not None]


def derive_beds(tables: Tables) -> list[Cells]:
    """The rows of beds.csv, unrounded."""
    return [bed.row for bed in measured_beds(tables)]


def specimen_spread(by_frame: list[list[Estimate]], unknown: float) -> float:
    """Standard deviation of ln score from specimen to specimen of a frame, measurement taken out, pooled."""
    squares, dof = 0.0, 0
    for estimates in by_frame:
        n = len(estimates)
        if n >= 2:
            mean = sum(e.log for e in estimates) / n
            squares += sum((e.log - mean) ** 2 for e in estimates)
            squares -= (1 - 1 / n) * sum(e.own for e in estimates)
            for cause in {cause for e in estimates for cause in e.common}:  # as far as it sets the specimens apart
                effects = [e.common.get(cause, 0.0) for e in estimates]
                squares -= sum((effect - sum(effects) / n) ** 2 for effect in effects)
            dof += n - 1
    spread = math.sqrt((max(0.0, squares) + SPREAD_DOF * unknown**2) / (dof + SPREAD_DOF))
    return spread * (student(dof + SPREAD_DOF) if dof else 1.0)


def frame_estimate(estimates: list[Estimate], spread: float) -> Estimate:
    """The score of the copy a buyer gets, from the specimens of its frame."""
    n = len(estimates)
    independent = sum(e.own for e in estimates) / n**2
    causes = {cause for e in estimates for cause in e.common}
    common = {cause: sum(e.common.get(cause, 0.0) for e in estimates) / n for cause in sorted(causes)}
    log = sum(e.log for e in estimates) / n
    shared = sum(effect**2 for effect in common.values())
    return Estimate(log, independent + shared + spread**2 * (1 + 1 / n), common)


@dataclass(frozen=True)
class Counted:
    """Straight line of ln openness - 1/2 ln area [cm2] on ln(mains x crosses), and what predicting by it costs."""

    intercept: float
    slope: float
    residual: float
    n: int
    mean: float
    squares: float

    def predict(self, frame: Row) -> Estimate:
        """Openness of the centre of a frame nobody measured."""
        x = log_count(frame)
        log = self.intercept + self.slope * x + 0.5 * math.log(float(frame["head_area_cm2"]))
        variance = self.residual**2 * (1 + 1 / self.n + (x - self.mean) ** 2 / self.squares)
        return Estimate(log, max(variance * student(self.n - 2) ** 2, LEAST_COUNTED**2), {})


def log_count(frame: Row) -> float:
    """ln(mains x crosses)."""
    return math.log(int(frame["mains"]) * int(frame["crosses"]))


def regress(frames: list[Row], logs: list[float]) -> Counted | None:
    """Ordinary least squares over measured frames; None for fewer than eight, or where all counts are the same."""
    n = len(frames)
    x = [log_count(frame) for frame in frames]
    y = [log - 0.5 * math.log(float(frame["head_area_cm2"])) for frame, log in zip(frames, logs, strict=True)]
    if n < LEAST_FRAMES or max(x) == min(x):
        return None
    mean_x, mean_y = sum(x) / n, sum(y) / n
    squares = sum((a - mean_x) ** 2 for a in x)
    slope = sum((a - mean_x) * (b - mean_y) for a, b in zip(x, y, strict=True)) / squares
    intercept = mean_y - slope * mean_x
    residuals = sum((b - intercept - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    return Counted(intercept, slope, math.sqrt(residuals / (n - 2)), n, mean_x, squares)


def counted_estimates(frame: Row, line: Counted | None) -> dict[str, Estimate]:
    """What can be said of a frame by its head area and counts alone."""
    even = 10 * math.sqrt(100 / area_factor(2.1) * float(frame["head_area_cm2"]) / math.exp(log_count(frame)))
    width, length = (by_area_only(U_DECLARED_AREA, side) for side in (-1, 1))
    variance = sum((width[cause] + length[cause]) ** 2 / 4 for cause in width)
    found = {"openness_even": Estimate(math.log(even), variance, {})}
    if line is not None:
        centre = line.predict(frame)
        found["openness_centre"] = centre
        found[DENSITY] = Estimate(math.log(10_000) - 2 * centre.log, 4 * centre.variance, {})
    return found


def derive_scores(tables: Tables, beds: list[Bed] | None = None) -> list[Cells]:
    """The rows of scores.csv, unrounded, in order of frame_id; `beds` where they have been worked out already."""
    by_frame: dict[str, list[Bed]] = defaultdict(list)
    for bed in measured_beds(tables) if beds is None else beds:
        by_frame[bed.frame_id].append(bed)
    found: dict[str, dict[str, Estimate]] = {frame_id: {} for frame_id in by_frame}
    spreads: dict[str, float] = {}
    for name in FRAME_SCORES:
        known = {f: [b.estimates[name] for b in there if name in b.estimates] for f, there in by_frame.items()}
        spread = specimen_spread(list(known.values()), UNKNOWN_SPREAD.get(name, UNKNOWN_SPREAD_OTHERS))
        spreads[name] = 2 * spreads["openness_centre"] if name == DENSITY else spread
        for frame_id, estimates in known.items():
            if estimates:
                found[frame_id][name] = frame_estimate(estimates, spreads[name])
    frames = sorted(tables["frames"], key=lambda row: row["frame_id"])
    centres = {f: estimates["openness_centre"].log for f, estimates in found.items() if "openness_centre" in estimates}
    measured = [frame for frame in frames if frame["frame_id"] in centres]
    line = regress(measured, [centres[frame["frame_id"]] for frame in measured])
    rows, causes = [], causes_of(tables)
    for frame in frames:
        name = frame["frame_id"]
        of_frame = found[name] if name in found else counted_estimates(frame, line)
        rows.append(score_row(frame, len(by_frame.get(name, [])), of_frame) | {"shared": shared_text(causes, of_frame)})
    return rows


def score_row(frame: Row, specimens: int, estimates: dict[str, Estimate]) -> Cells:
    """One row of scores.csv."""
    row: Cells = {
        "frame_id": frame["frame_id"],
        "basis": "measured" if specimens else "counted",
        "specimens": specimens,
        "mains": int(frame["mains"]),
        "crosses": int(frame["crosses"]),
        "head_area_cm2": float(frame["head_area_cm2"]),
    }
    for name in FRAME_SCORES:
        row |= value_and_u(name, estimates.get(name))
    return row


def derive(path_in: str | Path, path_out: str | Path) -> None:
    """Read the package at `path_in`, write beds.csv and scores.csv into the folder `path_out`."""
    tables = read_package(path_in)
    beds = measured_beds(tables)
    write([bed.row for bed in beds], Path(path_out) / "beds.csv")
    write(derive_scores(tables, beds), Path(path_out) / "scores.csv")


def write(rows: list[Cells], path: Path) -> None:
    """Write a table: floats with six significant digits, None as nothing; no file's worth of rows, no file."""
    if not rows:
        return
    with open(path, "w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        out.writeheader()
        out.writerows({key: f"{v:.6g}" if isinstance(v, float) else v for key, v in row.items()} for row in rows)
