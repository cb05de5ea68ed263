"""The definitions, worded gap by gap, for tests to compare with."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

BALL = 67.0
ZONES = ("centre", "left", "right", "tip", "throat")
ACROSS = {"centre": 0.0, "left": -60.0, "right": 60.0, "tip": 0.0, "throat": 0.0}
"""Middle of each window across the mains [mm]."""
DOWN = {"centre": 0.0, "left": 0.0, "right": 0.0, "tip": -80.0, "throat": 80.0}
"""Middle of each window along the crosses, counted from the centre towards the throat [mm]."""


def pitch(positions: Sequence[float], middle: float) -> tuple[float, float]:
    """Pitch and covered length [mm] of a 67 mm window about `middle`, gap by gap; positions rising."""
    a, b = middle - BALL / 2, middle + BALL / 2
    covered = count = 0.0
    for low, high in pairwise(positions):
        overlap = max(0.0, min(high, b) - max(low, a))
        covered += overlap
        count += overlap / (high - low)
    return covered / count, covered
