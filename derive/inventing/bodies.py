"""Mass, balance and swingweight of the invented frames: bare, and with the string bed that strung ones carry.

The bed is a thin elliptical sheet at the head's centre, so strung and bare figures follow from each other.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from inventing.streams import within
from inventing.truth import Beds

BED_G, BED_SD_G = 16.2, 0.6
"""Mass of a string bed and how it varies from copy to copy [g]."""
AXIS = 100.0
"""Distance of the swingweight's axis from the butt [mm]."""


class Bodies(NamedTuple):
    """Whole frames, each array (N,): length [mm], mass [g], balance [mm from the butt], swingweight [kg·cm²]."""

    length: np.ndarray
    mass: np.ndarray
    balance: np.ndarray
    swingweight: np.ndarray

    def take(self, rows: np.ndarray) -> Bodies:
        """The bodies of these rows, in this order."""
        return Bodies(*(column[rows] for column in self))


def draw_bodies(rng: np.random.RandomState, square_inches, club) -> Bodies:
    """Strung frames as designed: larger heads lighter and more head-heavy, club editions heavier (N,)."""
    size, club = np.asarray(square_inches, dtype=float) - 98, np.asarray(club)
    count = len(size)
    mass = np.clip(316 - 1.1 * size + 8 * club + rng.normal(0, 7, count), 297, 337)
    balance = np.clip(322 + 0.5 * size - 0.15 * (mass - 316) + rng.normal(0, 3, count), 311, 333)
    swing = np.clip(320 + 0.25 * (mass - 316) + 0.5 * (balance - 322) + rng.normal(0, 4, count), 307, 331)
    length = 685 + 5 * (rng.uniform(size=count) < 0.08)
    return Bodies(length.astype(float), mass, balance, swing)


def draw_copies(rng: np.random.RandomState, designs: Bodies) -> Bodies:
    """One strung copy of each design, off by what production lets pass."""
    count = len(designs.mass)
    limits = ((0.4, 1.0), (1.8, 4.0), (1.5, 4.0), (2.2, 5.0))
    drawn = zip(designs, limits, strict=True)
    return Bodies(*(column + within(rng, sd, limit, count) for column, (sd, limit) in drawn))


def unstring(bodies: Bodies, beds: Beds, bed_g: np.ndarray | float = BED_G) -> Bodies:
    """The same frames without their string beds of `bed_g` [g]."""
    centre = bodies.length - beds.length / 2 - 10
    bare = bodies.mass - bed_g
    balance = (bodies.mass * bodies.balance - bed_g * centre) / bare
    own = bed_g * (beds.length / 2) ** 2 / 4
    swing = bodies.swingweight - (bed_g * (centre - AXIS) ** 2 + own) / 1e5
    return Bodies(bodies.length, bare, balance, swing)
