"""The raw tables of a package, from the invented world to CSV. Headers come from the Table Schemas."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pyarrow as pa

from inventing.bodies import unstring
from inventing.hand import NOISE, read_gaps, read_marks, read_mask, to_steps, with_edges
from inventing.people import CONTRIBUTORS, INSTRUMENT_IDS, INSTRUMENTS, TESTERS, note
from inventing.play import Playtests, draw_playtests, tester_count
from inventing.protocols import Runs
from inventing.streams import stream
from inventing.truth import SQUARE_INCH
from inventing.whole import QUANTITIES, draw_readings
from inventing.world import World
from inventing.writing import (
    day_texts,
    measured_texts,
    pick,
    step_texts,
    value_texts,
    write_pieces,
    write_rows,
)

_KINDS = tuple(instrument.kind for instrument in INSTRUMENTS)
_RESOLUTIONS = tuple(instrument.resolution for instrument in INSTRUMENTS)
_KEEPERS = tuple(instrument.keeper for instrument in INSTRUMENTS)
_WRITTEN = tuple(instrument.written for instrument in INSTRUMENTS)
_RUNS_A_PIECE = 40_000


def header(schemas: Path, table: str) -> list[str]:
    """Names of a table's fields, in order, from its Table Schema."""
    schema = json.loads((schemas / f"{table}.json").read_text(encoding="utf-8"))
    return [field["name"] for field in schema["fields"]]


def _frame_rows(world: World) -> Iterator[tuple[object, ...]]:
    """What the makers declare: rounded, some strung, some bare, some silent about mass."""
    rng = stream(world.seed, "declared")
    bodies = world.design_bodies
    bare = unstring(bodies, world.designs)
    count = len(world.frame_ids)
    state = rng.choice(3, count, p=(0.45, 0.45, 0.10))
    beam = np.round(rng.uniform(19.0, 26.0, count) * 2) / 2
    with_balance, with_swing = rng.random_sample(count) < 0.85, rng.random_sample(count) < 0.5
    for row, (frame_id, model) in enumerate(zip(world.frame_ids, world.models, strict=True)):
        body = bodies if state[row] == 0 else bare
        silent = state[row] == 2
        name = model.name + frame_id.removeprefix(model.frame_id).replace("-", " ")
        yield (
            frame_id,
            model.maker,
            name,
            model.edition,
            model.year,
            model.mains,
            model.crosses,
            f"{model.square_inches * SQUARE_INCH / 100:.1f}",
            int(bodies.length[row]),
            f"{beam[row]:.1f}",
            "" if silent else round(body.mass[row]),
            "" if silent or not with_balance[row] else round(body.balance[row]),
            "" if silent or not with_swing[row] else round(body.swingweight[row]),
            "" if silent else ("true" if state[row] == 0 else "false"),
        )


def _specimen_rows(world: World) -> Iterator[tuple[object, ...]]:
    rng = stream(world.seed, "specimens")
    count = len(world.copy_ids)
    gauge = rng.choice(("1.20", "1.23", "1.25", "1.28", "1.30", "1.32"), count)
    gauge[rng.random_sample(count) < 0.08] = ""
    for row, copy_id in enumerate(world.copy_ids):
        frame_id = world.frame_ids[world.frame_of[row]]
        yield copy_id, frame_id, str(gauge[row]) if world.read[row] else "", note(row, bool(world.read[row]))


def _tester_ids(world: World) -> list[str]:
    turns = [divmod(number, len(TESTERS)) for number in range(tester_count(world))]
    return [TESTERS[place][0] + (f"-{turn:04d}" if turn else "") for turn, place in turns]


def _tester_rows(world: World) -> Iterator[tuple[object, ...]]:
    for number, tester_id in enumerate(_tester_ids(world)):
        _, style, own = TESTERS[number % len(TESTERS)]
        yield tester_id, style, own


def read_runs(world: World, runs: Runs, rng: np.random.RandomState) -> tuple[np.ndarray, np.ndarray]:
    """Readings of runs in steps of their instruments (R, 23), and which of them a run holds. Numbers start at 0."""
    beds = world.beds.take(runs.copy)
    placed_main, placed_cross = (placed[runs.copy] for placed in world.placed)
    room = np.full((len(runs.copy), 1), np.nan)
    mains = np.concatenate([beds.mains_at(runs.station) + placed_main, room], axis=1)
    along = np.where(runs.main[:, None], mains, -(beds.crosses + placed_cross))
    half = np.where(runs.main, beds.edge_at(runs.station), beds.length / 2)
    count = np.where(runs.main, beds.m, beds.c)
    ladder = with_edges(along, count, half)
    offset = world.offset_of(runs.copy, runs.instrument)
    noise = np.array([NOISE.get(kind, np.nan) for kind in _KINDS])[runs.instrument]
    mark = np.array([kind != "calliper" for kind in _KINDS])[runs.instrument]
    gaps = np.concatenate([read_gaps(rng, ladder, offset, noise), room], axis=1)
    marks = read_marks(rng, ladder, runs.edges, count, offset, noise)
    step = np.array([instrument.step for instrument in INSTRUMENTS])[runs.instrument]
    steps = to_steps(np.where(mark[:, None], marks, gaps), step[:, None])
    return steps, read_mask(mark, runs.edges, count, steps.shape[1])


def _spacing_pieces(world: World) -> Iterator[dict[str, pa.Array]]:
    rng = stream(world.seed, "spacings")
    stations = (-80, 0, 80)
    kinds = tuple("gap" if kind == "calliper" else "mark" for kind in _KINDS)
    for start in range(0, len(world.runs.copy), _RUNS_A_PIECE):
        runs = Runs(*(column[start : start + _RUNS_A_PIECE] for column in world.runs))
        steps, held = read_runs(world, runs, rng)
        run, number = np.nonzero(held)
        tool = runs.instrument[run]
        yield {
            "specimen_id": pick(world.copy_ids, runs.copy).take(pa.array(run)),
            "family": pick(("cross", "main"), runs.main[run].astype(int)),
            "station_mm": pick([str(station) for station in stations], np.searchsorted(stations, runs.station)[run]),
            "kind": pick(kinds, tool),
            "no": step_texts(number, "1"),
            "contributor_id": pick(_KEEPERS, tool),
            "instrument_id": pick(INSTRUMENT_IDS, tool),
            "taken_on": day_texts(runs.day).take(pa.array(run)),
            "repeat": step_texts(runs.repeat[run], "1"),
            "value": value_texts(steps[held], tool, _RESOLUTIONS),
            "unit": pick(_WRITTEN, tool),
        }


def _reading_pieces(world: World) -> Iterator[dict[str, pa.Array]]:
    readings = draw_readings(world)
    yield {
        "specimen_id": pick(world.copy_ids, readings.copy),
        "quantity": pick(QUANTITIES, readings.quantity),
        "strung": pick(("false", "true"), readings.strung.astype(int)),
        "contributor_id": pick(_KEEPERS, readings.instrument),
        "instrument_id": pick(INSTRUMENT_IDS, readings.instrument),
        "taken_on": day_texts(readings.day),
        "repeat": step_texts(readings.repeat, "1"),
        "value": value_texts(readings.steps, readings.instrument, _RESOLUTIONS),
        "unit": pick(_WRITTEN, readings.instrument),
    }


def _playtest_pieces(world: World) -> Iterator[dict[str, pa.Array]]:
    tests: Playtests = draw_playtests(world)
    width = max(3, len(str(len(tests.copy))))
    yield {
        "playtest_id": pa.array([f"hit-{number + 1:0{width}d}" for number in range(len(tests.copy))]),
        "specimen_id": pick(world.copy_ids, tests.copy),
        "tester_id": pick(_tester_ids(world), tests.tester),
        "played_on": day_texts(tests.day),
        "string_material": pa.array(tests.material.tolist(), pa.string()),
        "string_gauge_mm": measured_texts(tests.gauge, "0.01"),
        "main_tension": measured_texts(tests.main_tension, "0.1"),
        "cross_tension": measured_texts(tests.cross_tension, "0.1"),
        "tension_unit": pa.array(tests.unit.tolist(), pa.string()),
        "days_since_stringing": step_texts(tests.days, "1"),
        "launch_angle_deg": measured_texts(tests.launch, "0.1"),
        "spin_rpm": measured_texts(tests.spin, "1"),
        "ball_speed_kmh": measured_texts(tests.speed, "0.1"),
        "control_vs_own": measured_texts(tests.control, "1"),
        "lift_vs_own": measured_texts(tests.lift, "1"),
        "comfort_vs_own": measured_texts(tests.comfort, "1"),
    }


def write_catalogue(world: World, schemas: Path, out: Path) -> None:
    """Write the nine raw tables of `world` into the folder `out`."""
    rows = {
        "frames": _frame_rows(world),
        "specimens": _specimen_rows(world),
        "instruments": ((i.instrument_id, i.kind, i.resolution, i.max_error, i.unit) for i in INSTRUMENTS),
        "contributors": ((*person, "") for person in CONTRIBUTORS),
        "testers": _tester_rows(world),
        "exceptions": iter(()),
    }
    for table, content in rows.items():
        write_rows(out / f"{table}.csv", header(schemas, table), content)
    pieces = {
        "spacings": _spacing_pieces(world),
        "readings": _reading_pieces(world),
        "playtests": _playtest_pieces(world),
    }
    for table, parts in pieces.items():
        write_pieces(out / f"{table}.csv", header(schemas, table), parts)
