"""What the invented beds really are: the drilled designs, the copies' own deviations, and the scores they truly have.

Nothing here has been read. `draw_designs` makes frames, `draw_beds` copies of them, `true_scores` their scores by
the definitions of pitch, mesh and openness.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.units import INCH
from inventing.geometry import (
    ALONG,
    MAX_CROSSES,
    MAX_MAINS,
    SIDE,
    area_factor,
    drilled,
    half_width,
    window_pitch,
)
from inventing.streams import within

SPLAY_MEAN, SPLAY_SD = 0.009, 0.0138
"""How much wider the mains lie at the tip station than at 0 [1].

The pitch in the tip window follows by some nine tenths of it, for fewer of the wider gaps lie in the window: 1.5 %
root mean square, which is what an unread splay counts for.
"""
COPY_SD = 0.0113
"""Deviation of a copy's main and of its cross spacing from the design, each [1]; 0.8 % of mesh together."""
PLACEMENT_SD = 0.3
"""How far a strung string stands from where it would rest [mm]."""
SHIFT_SD = 0.5
"""How far a copy's strings sit to one side of the middle of its head, all together [mm]."""
HEAD_SD = 0.0015
"""Deviation of a copy's head width and of its length, each [1]."""
SQUARE_INCH = INCH * INCH
"""mm² in a square inch."""


class Beds(NamedTuple):
    """Rest beds of N frames or copies. Padded with NaN (see inventing.geometry); x to the right, y to the tip.

    `mains` (N, 20): x at y = 0, left to right [mm]. `crosses` (N, 21): y, tip to throat, descending [mm].
    `m`, `c`: string counts. `splay`: x at y is x(0) * (1 + splay * y / 80 mm) [1]. `width`, `length`: inner, of the
    head [mm], `exponent` of its superellipse.
    """

    mains: np.ndarray
    crosses: np.ndarray
    m: np.ndarray
    c: np.ndarray
    splay: np.ndarray
    width: np.ndarray
    length: np.ndarray
    exponent: np.ndarray

    def take(self, rows: np.ndarray) -> Beds:
        """The beds of these rows, in this order."""
        return Beds(*(column[rows] for column in self))

    def mains_at(self, y: np.ndarray | float) -> np.ndarray:
        """x of the mains (N, 20) at height y, a number or one a bed [mm]."""
        return self.mains * (1 + self.splay * y / ALONG)[:, None]

    def edge_at(self, y: np.ndarray | float) -> np.ndarray:
        """Half the inner width at height y (N,) [mm]."""
        return half_width(self.width, self.length, self.exponent, y)

    @property
    def area(self) -> np.ndarray:
        """Head area (N,) [cm²]."""
        return self.width * self.length * area_factor(self.exponent) / 100


def draw_designs(rng: np.random.RandomState, m, c, square_inches, main_mm, cross_mm) -> Beds:
    """Designs of frames: string counts, declared head [sq in] and centre pitches [mm] as asked (N,), the rest drawn.

    The outermost mains stay clear of the hoop at both ±80 mm stations.
    """
    m, c = np.asarray(m), np.asarray(c)
    count = len(m)
    exponent = rng.uniform(2.03, 2.17, count)
    aspect = rng.uniform(1.30, 1.36, count)
    area = (np.asarray(square_inches) + rng.uniform(-0.35, 0.35, count)) * SQUARE_INCH
    width = np.sqrt(area / (area_factor(exponent) * aspect))
    length = aspect * width
    splay = np.clip(SPLAY_MEAN + rng.normal(0.0, SPLAY_SD, count), -0.03, 0.045)
    outer = np.minimum(
        width / 2 - rng.uniform(20.0, 25.0, count),
        half_width(width, length, exponent, ALONG) / (1 + np.abs(splay)) - 7.0,
    )
    power = rng.uniform(1.4, 1.8, count)
    mains = drilled(m, -outer, 2 * outer, np.asarray(main_mm), power, np.zeros(count), MAX_MAINS)
    end, uneven = rng.uniform(31.0, 34.0, count), within(rng, 1.2, 2.0, count)
    power, lean = rng.uniform(1.3, 1.6, count), within(rng, 0.05, 0.1, count)
    first = end + uneven - length / 2
    depth = drilled(c, first, length - 2 * end, np.asarray(cross_mm), power, lean, MAX_CROSSES)
    return Beds(mains, -depth, m, c, splay, width, length, exponent)


def draw_beds(rng: np.random.RandomState, designs: Beds) -> Beds:
    """One copy of each design: spacing, profile, head and single holes off by what production lets pass."""
    count = len(designs.m)

    def off(positions: np.ndarray) -> np.ndarray:
        reach = np.nanmax(np.abs(positions), axis=1, keepdims=True)
        scale = within(rng, COPY_SD, 2.5 * COPY_SD, (count, 1))
        bend = within(rng, 0.003, 0.0075, (count, 1))
        holes = within(rng, 0.1, 0.3, positions.shape)
        shift = within(rng, SHIFT_SD, 3 * SHIFT_SD, (count, 1))
        return positions * (1 + scale + bend * (positions / reach) ** 2) + shift + holes

    mains, crosses = off(designs.mains), off(designs.crosses)
    width, length = (size * (1 + within(rng, HEAD_SD, 0.004, count)) for size in (designs.width, designs.length))
    return designs._replace(mains=mains, crosses=crosses, width=width, length=length)


def place_strings(rng: np.random.RandomState, beds: Beds) -> tuple[np.ndarray, np.ndarray]:
    """How far each main (N, 20) and each cross (N, 21) of a strung bed stands from where it would rest [mm]."""
    return tuple(rng.normal(0.0, PLACEMENT_SD, family.shape) for family in (beds.mains, beds.crosses))


def true_scores(beds: Beds) -> dict[str, np.ndarray]:
    """The scores of rest beds by their definitions, each (N,).

    Keys: main_pitch_ZONE_mm, cross_pitch_ZONE_mm, openness_ZONE, coverage_ZONE for the five zones; openness_sides,
    side_opening, uniformity, openness_even, drilling_main, drilling_cross.
    """
    level, down = beds.mains_at(0.0), -beds.crosses
    windows = {
        "centre": (level, 0.0, 0.0),
        "left": (level, -SIDE, 0.0),
        "right": (level, SIDE, 0.0),
        "tip": (beds.mains_at(ALONG), 0.0, -ALONG),
        "throat": (beds.mains_at(-ALONG), 0.0, ALONG),
    }
    scores: dict[str, np.ndarray] = {}
    for zone, (mains, across, along) in windows.items():
        main, main_part = window_pitch(mains, across)
        cross, cross_part = window_pitch(down, along)
        scores[f"main_pitch_{zone}_mm"], scores[f"cross_pitch_{zone}_mm"] = main, cross
        scores[f"openness_{zone}"] = 10 * np.sqrt(main * cross)
        scores[f"coverage_{zone}"] = np.minimum(main_part, cross_part)
    centre = scores["openness_centre"]
    sides = np.sqrt(scores["openness_left"] * scores["openness_right"])
    tightest = np.min([scores[f"openness_{zone}"] for zone in ("left", "right", "tip", "throat")], axis=0)
    even_main, even_cross = beds.width / beds.m, beds.length / beds.c
    return scores | {
        "openness_sides": sides,
        "side_opening": sides / centre - 1,
        "uniformity": (centre / tightest) ** 2,
        "openness_even": 10 * np.sqrt(even_main * even_cross),
        "drilling_main": scores["main_pitch_centre_mm"] / even_main,
        "drilling_cross": scores["cross_pitch_centre_mm"] / even_cross,
    }
