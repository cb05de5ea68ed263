"""Invented packages are clean: valid, complete, possible."""

from __future__ import annotations

import json
from collections import defaultdict
from datetime import date

import numpy as np
import pytest
from frictionless import Package

from demo_rows import ROOT, TO_BASE, TO_N, demo, rows_of, runs_of

TODAY = date(2026, 11, 25)


@pytest.mark.slow
def test_package_of_200_is_valid_and_mixed_like_the_demo(package):
    report = Package(str(package / "datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "rowNumber", "fieldName", "note"])[:5]
    assert len(report.tasks) == len(json.loads((ROOT / "datapackage.json").read_text())["resources"])
    folder = package / "catalogue"
    spacings, frames, specimens = (rows_of(folder, table) for table in ("spacings", "frames", "specimens"))
    measured = {row["specimen_id"] for row in spacings}
    assert len(measured) == 200
    assert 60 <= len(spacings) / 200 <= 80
    in_demo = len({row["specimen_id"] for row in demo("spacings")})
    assert len(frames) / 200 == pytest.approx(len(demo("frames")) / in_demo, rel=0.1)
    assert len(rows_of(folder, "playtests")) / 200 == pytest.approx(len(demo("playtests")) / in_demo, rel=0.02)
    assert len(specimens) > 200
    for path in (folder / "derived").iterdir():
        kept = ROOT / "catalogue" / "derived" / path.name
        assert path.read_text().splitlines() == kept.read_text().splitlines()[:1]


@pytest.mark.parametrize("where", ["demo", "package"])
def test_runs_are_complete_keys_unique_days_possible(where, request):
    folder = ROOT / "catalogue" if where == "demo" else request.getfixturevalue("package") / "catalogue"
    frames = {row["frame_id"]: row for row in rows_of(folder, "frames")}
    frame_of = {row["specimen_id"]: frames[row["frame_id"]] for row in rows_of(folder, "specimens")}
    since = {row["contributor_id"]: date.fromisoformat(row["since"]) for row in rows_of(folder, "contributors")}
    tools = {row["instrument_id"]: row for row in rows_of(folder, "instruments")}
    for table in ("spacings", "readings", "playtests"):
        schema = json.loads((ROOT / "schema" / f"{table}.json").read_text())
        keys = [tuple(row[key] for key in schema["primaryKey"]) for row in rows_of(folder, table)]
        assert len(keys) == len(set(keys)), table
    spacings, readings = rows_of(folder, "spacings"), rows_of(folder, "readings")
    for row in spacings + readings:
        day = date.fromisoformat(row["taken_on"])
        assert since[row["contributor_id"]] <= day <= TODAY
        assert day.year >= int(frame_of[row["specimen_id"]]["release_year"])
        tool = tools[row["instrument_id"]]
        assert TO_BASE[tool["unit"]] == TO_BASE[row["unit"]]
        assert len(row["value"].partition(".")[2]) == len(tool["resolution"].partition(".")[2])
        steps = float(row["value"]) / float(tool["resolution"])
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert float(row["value"]) > 0
    for (specimen, _, tool, _, kind, family, _), rows in runs_of(spacings).items():
        strings = int(frame_of[specimen]["mains" if family == "main" else "crosses"])
        assert kind == ("gap" if tools[tool]["kind"] == "calliper" else "mark")
        last = strings if kind == "gap" else strings + 1
        by_repeat = defaultdict(list)
        for row in rows:
            by_repeat[row["repeat"]].append(int(row["no"]))
        assert all(found in (list(range(last + 1)), list(range(1, last))) for found in by_repeat.values())
        if kind == "mark":
            for repeat in by_repeat:
                marks = [float(row["value"]) for row in rows if row["repeat"] == repeat]
                assert marks == sorted(set(marks)), "marks run upwards"
    for row in rows_of(folder, "playtests"):
        assert date.fromisoformat(row["played_on"]) <= TODAY
        assert 180 < float(row["main_tension"]) * TO_N[row["tension_unit"]] < 290


def test_whole_frames_are_what_frames_can_be():
    # Ranges: common practice, no source.
    strung = {"mass": (288, 347), "balance": (303, 342), "swingweight": (298, 342), "length": (682, 693)}
    bare = {"mass": (272, 331), "balance": (292, 334), "swingweight": (268, 315)}
    heads = {"head_width": (227, 264), "head_length": (304, 350), "head_area": (570, 714)}
    for row in demo("readings"):
        low, high = (strung | heads if row["strung"] == "true" else bare)[row["quantity"]]
        assert low <= float(row["value"]) * TO_BASE[row["unit"]] <= high, row
    for row in demo("frames"):
        limits = strung if row["strung"] == "true" else bare
        for name, field in (("mass", "mass_g"), ("balance", "balance_mm"), ("swingweight", "swingweight_kgcm2")):
            assert not row[field] or limits[name][0] <= float(row[field]) <= limits[name][1], row


def test_a_string_bed_weighs_and_moves_what_it_should(world):
    from inventing.bodies import Bodies, unstring

    # By hand: 300 g balancing at 310 mm, swingweight 290; 16 g at 685 - 326/2 - 10 = 512 mm.
    # Balance (300*310 + 16*512)/316 = 320.228; swingweight 290 + 0.016*41.2² + 0.016*16.3²/4 = 318.222 (kg, cm).
    beds = world.designs._replace(length=np.array([326.0]))
    strung = Bodies(np.array([685.0]), np.array([316.0]), np.array([320.22785]), np.array([318.22180]))
    found = unstring(strung, beds, 16.0)
    assert found.mass[0] == pytest.approx(300)
    assert found.balance[0] == pytest.approx(310, abs=1e-3)
    assert found.swingweight[0] == pytest.approx(290, abs=1e-3)
