"""Invented playtests, and the sizes planted in them. Every effect that goes with the bed stands here and nowhere else.

Launch angle, spin, lift and control go with the true openness of the centre, comfort with the mean tension, and
ball speed with neither: it has the tester and chance alone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.units import UNITS
from inventing.people import TESTERS
from inventing.rack import MEASURED
from inventing.streams import stream
from inventing.world import World

LAUNCH_DEG_PER_PERCENT = 0.12
"""Launch angle rises by this for 1 % more openness in the centre [deg]."""
SPIN_RPM_PER_PERCENT = 14.0
"""Spin rises by this for 1 % more openness in the centre [rev/min]."""
LIFT_PER_PERCENT = 0.10
"""The mark for lift rises by this for 1 % more openness, before it is rounded [1]."""
CONTROL_PER_PERCENT = -0.08
"""The mark for control falls by this for 1 % more openness, before it is rounded [1]."""
COMFORT_PER_N = -0.035
"""The mark for comfort falls by this for 1 N more mean tension, before it is rounded [1/N]."""
SPEED_KMH_PER_PERCENT = 0.0
"""Ball speed does not go with the bed [km/h]."""

OPENNESS_AT_REST, TENSION_AT_REST = 110.0, 232.0
"""Where the effects are zero: openness of the centre [1] and mean tension [N]."""

TESTER_SD = {"launch": 1.0, "spin": 160.0, "speed": 5.0, "mark": 0.45}
"""Standard deviation between testers of one style [deg, rev/min, km/h, 1]."""
FRAME_SD = {"launch": 0.2, "spin": 20.0, "mark": 0.15}
"""Standard deviation between frames that has nothing to do with their beds [deg, rev/min, 1]."""
NOISE_SD = {"launch": 0.6, "spin": 90.0, "speed": 3.0, "mark": 0.6}
"""Standard deviation of one playtest [deg, rev/min, km/h, 1]."""
STYLE = {"flat": (9.0, 1500.0, 118.0), "mixed": (11.0, 2000.0, 112.0), "topspin": (13.5, 2600.0, 106.0)}
"""Mean launch angle, spin and ball speed of a style [deg, rev/min, km/h]."""

PLAYTESTS_PER_COPY = 432 / MEASURED
TESTERS_PER_COPY = len(TESTERS) / MEASURED

_TENSIONS = (("lb", 45, 61, 1), ("kgf", 20, 28, 0.5), ("N", 200, 270, 5))
_MATERIALS = ("polyester", "multifilament", "synthetic", "natural")
_GAUGES = (1.20, 1.23, 1.25, 1.28, 1.30, 1.32)


class Playtests(NamedTuple):
    """Playtests (P): rows of copies and testers, the stringing, and the outcomes; blanks are NaN."""

    copy: np.ndarray
    tester: np.ndarray
    day: np.ndarray
    material: np.ndarray
    gauge: np.ndarray
    unit: np.ndarray
    main_tension: np.ndarray
    cross_tension: np.ndarray
    days: np.ndarray
    launch: np.ndarray
    spin: np.ndarray
    speed: np.ndarray
    control: np.ndarray
    lift: np.ndarray
    comfort: np.ndarray


def tester_count(world: World) -> int:
    """Testers in this world: the demo's for the demo, in proportion for a larger one."""
    return max(len(TESTERS), round(int(world.read.sum()) * TESTERS_PER_COPY))


def _tensions(rng: np.random.RandomState, count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Unit words, main and cross tensions in them, and the mean of the two [N]."""
    kind = rng.choice(len(_TENSIONS), count, p=(0.5, 0.35, 0.15))
    word, low, high, step = (np.array(column)[kind] for column in zip(*_TENSIONS, strict=True))
    main = low + step * np.floor(rng.random_sample(count) * ((high - low) / step + 1))
    cross = main - step * rng.choice(3, count, p=(0.5, 0.2, 0.3))
    factor = np.array([UNITS["[lbf_av]"].factor, UNITS["kgf"].factor, 1.0])[kind]
    return word, main, cross, (main + cross) / 2 * factor


def _days(rng: np.random.RandomState, released: np.ndarray) -> np.ndarray:
    """A day of play each, after the scheme began and the frame was out."""
    start, end = np.maximum(released, np.datetime64("2023-05-06")), np.datetime64("2026-11-15")
    return start + np.floor(rng.random_sample(len(start)) * (end - start).astype(int)).astype("timedelta64[D]")


def draw_playtests(world: World) -> Playtests:
    """Who played which copy, how it was strung, and what came of it, with the planted sizes of this module."""
    rng = stream(world.seed, "playtests")
    measured = np.flatnonzero(world.read)
    testers, count = tester_count(world), round(len(measured) * PLAYTESTS_PER_COPY)
    copy = measured[np.concatenate([rng.permutation(len(measured)) for _ in range(count // len(measured) + 1)])[:count]]
    day = _days(rng, np.array([model.released for model in world.models])[world.frame_of[copy]])
    copy, day = (column[np.argsort(day, kind="stable")] for column in (copy, day))
    tester = rng.permutation(np.arange(count) % testers)
    unit, main, cross, tension = _tensions(rng, count)
    percent = 100 * np.log(world.scores()["openness_centre"][copy] / OPENNESS_AT_REST)
    frame = world.frame_of[copy]
    style = np.array([STYLE[TESTERS[number % len(TESTERS)][1]] for number in range(testers)])[tester]

    def chance(kind: str) -> np.ndarray:
        by_tester = rng.normal(0.0, TESTER_SD[kind], testers)[tester]
        by_frame = rng.normal(0.0, FRAME_SD.get(kind, 0.0), len(world.models))[frame]
        return by_tester + by_frame + rng.normal(0.0, NOISE_SD[kind], count)

    def mark(effect: np.ndarray) -> np.ndarray:
        return np.clip(np.rint(effect + chance("mark")), -3, 3)

    unmeasured = rng.random_sample(count) < 0.04

    def measured_only(outcome: np.ndarray, decimals: int) -> np.ndarray:
        return np.where(unmeasured, np.nan, np.round(outcome, decimals))

    return Playtests(
        copy=copy,
        tester=tester,
        day=day,
        material=rng.choice(_MATERIALS, count, p=(0.45, 0.25, 0.2, 0.1)),
        gauge=rng.choice(_GAUGES, count),
        unit=unit,
        main_tension=main,
        cross_tension=cross,
        days=rng.randint(0, 29, count),
        launch=measured_only(style[:, 0] + LAUNCH_DEG_PER_PERCENT * percent + chance("launch"), 1),
        spin=measured_only(style[:, 1] + SPIN_RPM_PER_PERCENT * percent + chance("spin"), -1),
        speed=measured_only(style[:, 2] + SPEED_KMH_PER_PERCENT * percent + chance("speed"), 1),
        control=mark(CONTROL_PER_PERCENT * percent),
        lift=mark(LIFT_PER_PERCENT * percent),
        comfort=mark(COMFORT_PER_N * (tension - TENSION_AT_REST)),
    )
