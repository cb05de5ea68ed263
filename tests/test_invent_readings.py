"""The invented readings against the truth they were read from, and the plain cases the demo is built around."""

from __future__ import annotations

import math
from collections import Counter, defaultdict

import numpy as np
import pytest

from definitions import pitch
from demo_rows import TO_BASE, TO_MM, demo, demo_runs
from inventing.rack import RACK


def test_readings_scatter_about_the_truth_as_the_hands_do(world):
    noise = {"calliper": 0.10, "rule": 0.25, "photo": 0.03}  # mm, as the scheme's hands are described
    tools = {row["instrument_id"]: row for row in demo("instruments")}
    place = {copy_id: row for row, copy_id in enumerate(world.copy_ids)}
    beds, scaled = world.beds, defaultdict(list)
    for (specimen, _, tool, _, kind, family, station), rows in demo_runs().items():
        row, about = place[specimen], tools[tool]
        if family == "main":
            rest = beds.mains[row, : beds.m[row]] * (1 + beds.splay[row] * float(station) / 80)
        else:
            rest = -beds.crosses[row, : beds.c[row]]
        step, error = (float(about[name]) * TO_MM[about["unit"]] for name in ("resolution", "max_error"))
        reading = noise[about["kind"]] ** 2 + step**2 / 12
        placement = 2 * 0.3**2
        for repeat in {line["repeat"] for line in rows}:
            own = [line for line in rows if line["repeat"] == repeat]
            read = {int(line["no"]): float(line["value"]) * TO_MM[line["unit"]] for line in own}
            numbers = range(1, len(rest))
            gaps = [read[k] if kind == "gap" else read[k + 1] - read[k] for k in numbers]
            wrong = np.array(gaps) - np.diff(rest)
            variance = placement + (reading + error**2 / 3 if kind == "gap" else 2 * reading)
            scaled[about["kind"]].extend(wrong / math.sqrt(variance))
    for kind, found in scaled.items():
        assert np.std(found) == pytest.approx(1.0, abs=0.1), kind
        assert np.max(np.abs(found)) < 5.0, kind
        assert abs(np.mean(found)) < 0.2, kind


def test_instruments_err_within_their_limits_and_heads_are_read_as_they_are(world):
    place = {copy_id: row for row, copy_id in enumerate(world.copy_ids)}
    limits = [float(row["max_error"]) * TO_BASE[row["unit"]] for row in demo("instruments")]
    assert np.all(np.abs(world.offsets) <= limits)
    assert np.max(np.abs(world.offsets) / limits) > 0.5
    truth = {"head_width": world.beds.width, "head_length": world.beds.length}
    for row in demo("readings"):
        if row["quantity"] in truth:
            wrong = float(row["value"]) * TO_BASE[row["unit"]] - truth[row["quantity"]][place[row["specimen_id"]]]
            # Largest error 0.4 mm, half a step of 1/32 in, and four standard deviations of a hand, 0.35 mm each.
            assert abs(wrong) < 0.4 + 0.4 + 4 * 0.35


def read_openness(specimen: str, zone: float = 0.0) -> float:
    """Openness of one copy at x = `zone` from its first readings at station 0, mean over repeats, by the definitions."""
    pitches = []
    for family in ("main", "cross"):
        runs = [(key, rows) for key, rows in demo_runs().items()
                if (key[0], key[5], key[6]) == (specimen, family, "0")]  # fmt: skip
        (*_, kind, _, _), rows = min(runs, key=lambda run: run[0][3])
        values = defaultdict(list)
        for row in rows:
            values[int(row["no"])].append(float(row["value"]) * TO_MM[row["unit"]])
        means = {no: sum(found) / len(found) for no, found in values.items()}
        points = [means[no] for no in sorted(means)]
        if kind == "gap":
            points = [0.0, *np.cumsum(points)]
        middle = (points[0] + points[-1]) / 2
        strings = points[1:-1] if 0 in means else points
        pitches.append(pitch([point - middle for point in strings], zone if family == "main" else 0.0)[0])
    return 10 * math.sqrt(pitches[0] * pitches[1])


def frame_openness(frame_id: str, zone: float = 0.0) -> float:
    measured = {row["specimen_id"] for row in demo("spacings")}
    copies = [row["specimen_id"] for row in demo("specimens") if row["frame_id"] == frame_id]
    logs = [math.log(read_openness(copy, zone)) for copy in copies if copy in measured]
    return math.exp(sum(logs) / len(logs))


def test_tighter_than_fern_98_has_matches_doubts_and_misses():
    # 1.645 standard uncertainties are P = 0.95. u of ln O between two frames of one to four copies, by hand: specimen
    # spread 0.8 to 0.9 % times √(1 + 1/n) each, reading and placement 0.5 % each: 1.4 to 1.8 %.
    measured = {row["specimen_id"].rsplit("-", 1)[0] for row in demo("spacings")}
    fern = frame_openness("fern-98")
    verdicts = Counter()
    for row in demo("frames"):
        inches = float(row["head_area_cm2"]) / 6.4516
        if row["mains"] != "16" or not 94.5 <= inches < 98.5 or row["frame_id"] not in measured - {"fern-98"}:
            continue
        difference = math.log(frame_openness(row["frame_id"]) / fern)
        verdicts["tighter"] += difference < -1.645 * 0.018
        verdicts["open"] += difference > 1.645 * 0.018
        verdicts["close"] += abs(difference) < 1.645 * 0.014
    assert verdicts["tighter"] >= 3
    assert verdicts["close"] >= 2
    assert verdicts["open"] >= 2


def test_rules_of_the_trade_hold_in_their_plain_cases():
    patterns = {row["frame_id"]: f"{row['mains']}x{row['crosses']}" for row in demo("frames")}
    assert patterns["moraine-98"] == "16x19"
    assert patterns["drumlin-98"] == "18x20"
    assert frame_openness("moraine-98") == pytest.approx(frame_openness("drumlin-98"), rel=0.02)
    opening = [frame_openness(name, -60) / frame_openness(name) for name in ("moraine-98", "drumlin-98")]
    assert opening[0] > opening[1] + 0.06
    assert patterns["squall-100"] == patterns["meadow-100"] == "16x19"
    assert frame_openness("squall-100") < 0.93 * frame_openness("meadow-100")
    assert patterns["tarn-95"] == patterns["tarn-100"] == "18x20"
    # Drilled alike, the mesh goes with the root of the head's area: √(100/95) = 1.026.
    tarns = {model.frame_id: model.main * model.cross for model in RACK if model.frame_id.startswith("tarn")}
    assert math.sqrt(tarns["tarn-100"] / tarns["tarn-95"]) == pytest.approx(1.026, abs=0.002)
    assert frame_openness("tarn-95") < 0.985 * frame_openness("tarn-100")
