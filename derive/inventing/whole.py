"""Readings of whole frames: head size, length, mass, balance, swingweight, each copy read in part."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from inventing.bodies import Bodies, unstring
from inventing.hand import to_steps
from inventing.people import CONTRIBUTORS, INSTRUMENT_IDS, INSTRUMENTS
from inventing.streams import stream
from inventing.world import World

HEAD_TOOLS = ("rule-maud", "rule-tam", "rule-jorun")
SCALES = ("scale-post", "scale-kitchen", "scale-ounces")
BOARDS = ("board-tam", "board-jorun")
RIGS = ("swing-weir", "swing-lathe")
PLANIMETERS = ("planimeter-school",)

NOISE = {
    "head_length": 0.35, "head_width": 0.3, "head_area": 1.0, "length": 0.4, "mass": 0.15, "balance": 0.4,
    "swingweight": 0.6,
}  # fmt: skip
"""Standard deviation of one reading by a hand, by quantity [mm, cm², mm, g, mm, kg·cm²]."""
QUANTITIES = tuple(NOISE)

_LAST_DAY = np.datetime64("2026-11-20")


class Readings(NamedTuple):
    """Readings (N): row of the copy, place in QUANTITIES, strung or not, row of INSTRUMENTS, day, repeat, steps."""

    copy: np.ndarray
    quantity: np.ndarray
    strung: np.ndarray
    instrument: np.ndarray
    day: np.ndarray
    repeat: np.ndarray
    steps: np.ndarray


def _occasions(world: World) -> list[tuple[str, np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """What is read: quantity, copies, strung, instruments, days after the copy's first day."""
    rng = stream(world.seed, "readings")
    count = len(world.copy_ids)
    every = np.arange(count)

    def tools(names: tuple[str, ...]) -> np.ndarray:
        return np.array([INSTRUMENT_IDS.index(name) for name in names])[rng.randint(0, len(names), count)]

    state = rng.choice(3, count, p=(0.62, 0.25, 0.13))
    state[~world.read & (state == 2)] = 0
    weighed, strung = state < 2, state == 0
    bare_days = np.where(strung, 0, -rng.randint(2, 12, count))
    head, again = tools(HEAD_TOOLS), tools(HEAD_TOOLS)
    sized = world.read & (rng.random_sample(count) < 0.72)
    checked = sized & (again != head) & (rng.random_sample(count) < 0.15)
    drawn = world.read & (rng.random_sample(count) < 0.10)
    balanced, swung = weighed & (rng.random_sample(count) < 0.85), weighed & (rng.random_sample(count) < 0.55)
    long = rng.random_sample(count) < 0.45
    same_day, yes = np.zeros(count, dtype=int), np.ones(count, dtype=bool)
    plan = [
        ("head_length", sized, yes, head, same_day),
        ("head_width", sized, yes, head, same_day),
        ("head_length", checked, yes, again, same_day + 9),
        ("head_width", checked, yes, again, same_day + 9),
        ("head_area", drawn, yes, tools(PLANIMETERS), same_day + 3),
        ("length", long, yes, tools(HEAD_TOOLS), same_day),
        ("mass", weighed, strung, tools(SCALES), bare_days),
        ("balance", balanced, strung, tools(BOARDS), bare_days),
        ("swingweight", swung, strung, tools(RIGS), bare_days),
    ]
    return [(name, every[some], state[some], tool[some], after[some]) for name, some, state, tool, after in plan]


def _true_values(world: World) -> dict[tuple[str, bool], np.ndarray]:
    """What is there to be read: by quantity and state, each (S,), in computing units."""
    bare = unstring(world.bodies, world.beds, world.bed_g)
    values = {
        ("head_length", True): world.beds.length,
        ("head_width", True): world.beds.width,
        ("head_area", True): world.beds.area,
    }
    for strung, bodies in ((True, world.bodies), (False, bare)):
        values |= {(name, strung): getattr(bodies, name) for name in Bodies._fields}
    return values


def draw_readings(world: World) -> Readings:
    """Every reading of a whole frame, in the catalogue's order."""
    rng = stream(world.seed, "readings by hand")
    truth = _true_values(world)
    since = {name: np.datetime64(day) for name, _, day in CONTRIBUTORS}
    earliest = np.array([since[instrument.keeper] for instrument in INSTRUMENTS])
    step = np.array([instrument.step for instrument in INSTRUMENTS])
    parts = []
    for order, (name, copies, strung, tool, after) in enumerate(_occasions(world)):
        day = np.clip(world.days[copies] + after.astype("timedelta64[D]"), earliest[tool], _LAST_DAY)
        times = 1 + rng.choice(3, len(copies), p=(0.62, 0.28, 0.10))
        true = np.where(strung, truth[name, True][copies], truth.get((name, False), truth[name, True])[copies])
        for repeat in (1, 2, 3):
            some = np.flatnonzero(times >= repeat)
            value = true[some] + world.offset_of(copies[some], tool[some]) + rng.normal(0.0, NOISE[name], len(some))
            quantity = np.full(len(some), QUANTITIES.index(name))
            parts.append((copies[some], quantity, strung[some], tool[some], day[some], np.full(len(some), repeat),
                          to_steps(value, step[tool[some]]), np.full(len(some), order)))  # fmt: skip
    *columns, order = (np.concatenate(column) for column in zip(*parts, strict=True))
    rows = np.lexsort((columns[5], order, columns[0]))
    return Readings(*(column[rows] for column in columns))
