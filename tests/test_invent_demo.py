"""What the invented demo catalogue holds."""

from __future__ import annotations

from collections import Counter, defaultdict

from demo_rows import demo, demo_runs


def test_frames_of_many_patterns_and_sizes():
    frames = demo("frames")
    assert len(frames) >= 66
    patterns = Counter(f"{row['mains']}x{row['crosses']}" for row in frames)
    assert set(patterns) >= {"14x18", "16x18", "16x19", "16x20", "18x19", "18x20", "16x15", "20x21"}
    assert patterns["16x19"] == max(patterns.values())
    inches = [float(row["head_area_cm2"]) / 6.4516 for row in frames]
    assert round(min(inches)) == 89
    assert round(max(inches)) == 110
    # A declared head is a whole number of square inches, kept as cm² with one decimal: 98 sq in is 632.3 cm².
    for row, size in zip(frames, inches, strict=True):
        assert row["head_area_cm2"] == f"{round(size) * 6.4516:.1f}"
    assert next(row for row in frames if row["frame_id"] == "fern-98")["head_area_cm2"] == "632.3"


def test_editions_specimens_and_counted_frames():
    frames = {row["frame_id"]: row for row in demo("frames")}
    specimens = {row["specimen_id"]: row["frame_id"] for row in demo("specimens")}
    measured = {row["specimen_id"] for row in demo("spacings")}
    per_frame = Counter(specimens[specimen] for specimen in measured)
    assert len(specimens) >= 84
    assert sum(count >= 2 for count in per_frame.values()) >= 12
    assert sum(count >= 3 for count in per_frame.values()) >= 5
    assert per_frame["fern-98"] >= 2
    counted = set(frames) - set(per_frame)
    assert len(counted) >= 14
    assert counted & set(specimens.values()), "some counted frames hang in the rack unread"
    assert counted - set(specimens.values()), "some counted frames are known from a leaflet alone"
    clubs = [name for name, row in frames.items() if row["edition"] == "club"]
    assert len(clubs) >= 8
    assert all(name.removesuffix("-club") in frames for name in clubs if name.endswith("-club"))
    assert not set(frames) & set(specimens), "a name means one thing"
    assert all("nvented" in row["note"] for row in demo("specimens"))


def test_declared_figures_are_mixed():
    declared = Counter((row["strung"], row["mass_g"] != "") for row in demo("frames"))
    assert declared["true", True] >= 10
    assert declared["false", True] >= 10
    assert declared["", False] >= 3
    assert set(declared) == {("true", True), ("false", True), ("", False)}


def test_spacings_are_read_in_many_ways():
    runs = demo_runs()
    kinds = Counter()
    stations = defaultdict(set)
    repeats = set()
    sessions = defaultdict(set)
    for (specimen, who, tool, day, kind, family, station), rows in runs.items():
        edges = any(row["no"] == "0" for row in rows)
        kinds[kind, tool.split("-")[0], rows[0]["unit"], edges] += 1
        repeats.add(max(int(row["repeat"]) for row in rows))
        sessions[specimen].add((who, tool, day, kind))
        if family == "main":
            stations[specimen].add(int(station))
        else:
            assert station == "0"
    assert kinds["gap", "calliper", "mm", True] > kinds["gap", "calliper", "mm", False] > 0
    assert kinds["mark", "rule", "mm", True] > 0
    assert kinds["mark", "rule", "mm", False] > 0
    assert kinds["mark", "rule", "in", True] > 0
    assert kinds["mark", "photo", "mm", True] > 0
    assert kinds["gap", "calliper", "[in_i]", True] > 0
    assert repeats == {1, 2, 3}
    plans = Counter(tuple(sorted(places)) for places in stations.values())
    assert set(plans) == {(0,), (0, 80), (-80, 0, 80)}
    assert plans[(0,)] > plans[(-80, 0, 80)] > 3
    assert sum(len(found) >= 2 for found in sessions.values()) >= 12
    assert sum(len({who for who, *_ in found}) >= 2 for found in sessions.values()) >= 6


def test_readings_are_mixed():
    rows = demo("readings")
    quantities = Counter(row["quantity"] for row in rows)
    assert set(quantities) == {"head_length", "head_width", "head_area", "length", "mass", "balance", "swingweight"}
    assert quantities["head_width"] > 50
    assert 3 <= quantities["head_area"] <= 30
    assert {row["repeat"] for row in rows} == {"1", "2", "3"}
    assert {row["unit"] for row in rows if row["quantity"] == "mass"} == {"g", "oz"}
    assert {row["unit"] for row in rows if row["quantity"] == "balance"} == {"mm", "in"}
    states = defaultdict(set)
    for row in rows:
        if row["quantity"] in ("mass", "balance", "swingweight"):
            states[row["specimen_id"]].add(row["strung"])
        else:
            assert row["strung"] == "true"
    assert all(len(found) == 1 for found in states.values())
    assert Counter(next(iter(found)) for found in states.values())["false"] >= 10


def test_instruments_people_and_playtests():
    instruments = demo("instruments")
    every = {"calliper", "rule", "photo", "scale", "balance_board", "swing_rig", "planimeter"}
    assert {row["kind"] for row in instruments} == every
    assert all(float(row["resolution"]) > 0 and float(row["max_error"]) > 0 for row in instruments)
    assert len({row["contributor_id"] for row in demo("spacings")}) >= 5
    testers = demo("testers")
    assert len(testers) >= 10
    assert {row["style"] for row in testers} == {"flat", "mixed", "topspin"}
    tests = demo("playtests")
    outcomes = ("launch_angle_deg", "spin_rpm", "ball_speed_kmh", "comfort_vs_own")
    assert sum(all(row[name] for name in outcomes) for row in tests) >= 360
    assert {row["tester_id"] for row in tests} == {row["tester_id"] for row in testers}
    assert {row["tension_unit"] for row in tests} == {"lb", "kgf", "N"}
    assert {row["string_material"] for row in tests} == {"polyester", "multifilament", "synthetic", "natural"}
