"""Propagation of the plain derive, against the `uncertainties` package on the definitions."""

from __future__ import annotations

import math
from itertools import accumulate, pairwise

import numpy as np
import pytest
from scipy.special import beta
from uncertainties import ufloat, umath

from bench.tiny import Package

MAIN_GAPS = [12.9, 12.1, 11.6, 11.2, 10.9, 10.4, 10.2, 9.9, 10.1, 10.6, 10.8, 11.1, 11.9, 12.4, 12.7]
CROSS_GAPS = [
    14.2,
    13.6,
    13.1,
    12.7,
    12.2,
    12.0,
    11.7,
    11.4,
    11.3,
    *(11.5, 11.6, 11.9, 12.3, 12.6, 13.0, 13.4, 14.1, 14.9),
]
ONCE = {"gap": math.hypot(0.1, 0.01 / math.sqrt(12)), "mark": math.hypot(0.25, 0.5 / math.sqrt(12))}
"""One reading: by definition 0.1 mm with a calliper, 0.25 mm with a rule, and their steps of 0.01 and 0.5 mm."""
ERRORS = {"cal": 0.05 / math.sqrt(3), "rule": 0.5 / math.sqrt(3)}


def spec(family, kind, edges=False, scale=1.0, station=0, **more):
    """What one run reads: gaps of the bed times `scale`, or their running sums."""
    gaps = [gap * scale for gap in (MAIN_GAPS if family == "main" else CROSS_GAPS)]
    gaps = [29.3, *gaps, 28.1] if edges else gaps
    values = gaps if kind == "gap" else [3.0 + x for x in accumulate([0.0, *gaps])]
    instrument = "cal" if kind == "gap" else "rule"
    rule = {"kind": kind, "edges": edges, "station": station, "instrument_id": instrument}
    return {"family": family, "values": values} | rule | more


CASES = {
    "gaps with edges, one calliper": [spec("main", "gap", True), spec("cross", "gap", True)],
    "marks without edges": [spec("main", "mark"), spec("cross", "mark")],
    "three stations": [
        *(spec("main", "gap", station == 0, 1 - station / 4000, station) for station in (-90, 0, 95)),
        spec("cross", "mark", True),
    ],
    "two sessions": [
        *(spec("main", "mark", True, 1 - s / 5000, s) for s in (0, 90)),
        *(spec("main", "gap", False, 1 - s / 5000, s) for s in (0, 90)),
        *(spec("cross", kind, kind == "gap") for kind in ("mark", "gap")),
    ],
}


def points_with_uncertainty(run, error, person, placement, shift):
    """Points of a run about its origin, every reading, string, instrument and person a ufloat."""
    readings = [ufloat(value, ONCE[run["kind"]]) for value in run["values"]]
    if run["kind"] == "gap":
        points = [0.0, *accumulate(reading + error + person for reading in readings)]
    else:
        stretch = (error + person * (len(readings) - 1)) / (run["values"][-1] - run["values"][0])
        points = [reading * (1 + stretch) for reading in readings]
    inner = slice(1, -1) if run["edges"] else slice(None)
    points[inner] = [point + wander for point, wander in zip(points[inner], placement, strict=True)]
    origin = (points[0] + points[-1]) / 2 + (0 if run["edges"] else shift)
    return [point - origin for point in points]


def pitch_with_uncertainty(strings, middle):
    """Covered over the sum of overlap by gap, straight from the definition."""
    a, b = middle - 33.5, middle + 33.5
    total, count = 0.0, 0.0
    for left, right in pairwise(strings):
        if right.n > a and left.n < b:
            overlap = (right if right.n < b else b) - (left if left.n > a else a)
            total, count = total + overlap, count + overlap / (right - left)
    return total / count


def width_by_area(area):
    """Width of a superellipse of exponent 2.1 ± 0.15, whose effect on ln k is a difference over both sides, and aspect 1.33."""
    k = {n: beta(1 / n, 1 / n) / (2 * n) for n in (1.95, 2.1, 2.25)}
    return umath.sqrt(area / (k[2.1] * (1 + ufloat(0, math.log(k[2.25] / k[1.95]) / 2)) * ufloat(1.33, 0.04)))


def scores_with_uncertainty(runs, length):
    """Every score of a bed by the definitions, on ufloats."""
    errors = {name: ufloat(0, u) for name, u in ERRORS.items()}
    people = {name: ufloat(0, 0.05) for name in ERRORS}
    lines, widths = {}, []
    for family, count, u in (("main", 16, 1.0), ("cross", 19, 3.0)):
        placement, shift = [ufloat(0, 0.3) for _ in range(count)], ufloat(0, u)
        stations = {}
        for run in (run for run in runs if run["family"] == family):
            points = points_with_uncertainty(run, errors[run["instrument_id"]], people[run["instrument_id"]], placement, shift)
            stations.setdefault(run["station"], []).append(points[1:-1] if run["edges"] else points)
            if family == "main" and run["edges"] and run["station"] == 0:
                widths.append(points[-1] - points[0])
        means = {s: [sum(x) / len(x) for x in zip(*there, strict=True)] for s, there in stations.items()}
        lines[family] = means

    def mains(y):
        """Least squares by numpy's pseudo-inverse."""
        s = np.array(list(lines["main"]), dtype=float)
        design = np.stack([np.ones_like(s), s], axis=1) if len(s) > 1 else np.ones((1, 1))
        weights = (np.array([1.0, y])[: design.shape[1]] @ np.linalg.pinv(design)).tolist()
        places = zip(*lines["main"].values(), strict=True)
        return [sum(w * x for w, x in zip(weights, xs, strict=True)) for xs in places]

    splay = ufloat(0, 0.015) if len(lines["main"]) == 1 else 0.0
    main = {zone: pitch_with_uncertainty(mains(0), x) for zone, x in (("centre", 0), ("left", -60), ("right", 60))}
    main |= {z: pitch_with_uncertainty(mains(y), 0) * (1 + splay * y / 80) for z, y in (("tip", 80), ("throat", -80))}
    down = {"centre": 0, "left": 0, "right": 0, "tip": -80, "throat": 80}
    cross = {zone: pitch_with_uncertainty(lines["cross"][0], y) for zone, y in down.items()}
    o = {zone: 10 * umath.sqrt(main[zone] * cross[zone]) for zone in main}
    width = sum(widths) / len(widths) if widths else width_by_area(ufloat(62_000, 620))
    length = length + errors["cal"]
    found = {f"openness_{zone}": value for zone, value in o.items()}
    found |= {f"main_pitch_{zone}_mm": value for zone, value in main.items()}
    found |= {f"cross_pitch_{zone}_mm": value for zone, value in cross.items()}
    found["density_centre_per_cm2"] = 100 / (main["centre"] * cross["centre"])
    found["openness_sides"] = umath.sqrt(o["left"] * o["right"])
    found["side_opening"] = found["openness_sides"] / o["centre"] - 1
    found["uniformity"] = max(
        ((o["centre"] / o[zone]) ** 2 for zone in ("left", "right", "tip", "throat")), key=lambda ratio: ratio.n
    )
    found["openness_even"] = 10 * umath.sqrt(width * length / 304)
    found["drilling_main"] = main["centre"] * 16 / width
    found["drilling_cross"] = cross["centre"] * 19 / length
    return found


@pytest.mark.parametrize("runs", CASES.values(), ids=CASES)
def test_propagation_agrees_with_the_uncertainties_package(runs):
    package = Package()
    package.frame("one")
    for run in runs:
        package.run("one-a", **run)
    package.head("one-a", "head_length", 341.0)
    row = package.bed().row
    expected = scores_with_uncertainty(runs, ufloat(341.0, math.hypot(0.5, 0.01 / math.sqrt(12))))
    assert len(expected) == 22
    for name, value in expected.items():
        assert row[name] == pytest.approx(value.nominal_value, rel=1e-10, abs=1e-12), name
        assert row[f"u_{name}"] == pytest.approx(value.std_dev, rel=1e-9), name
