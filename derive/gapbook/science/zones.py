"""The five zones of a bed and their windows. Plain numbers, so that a question need not import array libraries.

A window is a square one ball wide: B = 67.0 mm, the middle of the 65.4 to 68.6 mm of a Type 2 ball (ITF Rules of
Tennis, Appendix I).
"""

from __future__ import annotations

from typing import NamedTuple

BALL_MM = 67.0
"""Side of a window [mm]."""
SIDE_MM = 60.0
"""Distance of the left and right windows from the middle [mm]."""
END_MM = 80.0
"""Distance of the tip and throat windows from the middle [mm]."""
LEAST_COVERAGE = 0.8
"""Part of a window that strings must cover; if they cover less, the zone is blank."""
ZONES = ("centre", "left", "right", "tip", "throat")
OUTER = ZONES[1:]
MIDDLES = {
    "centre": (0.0, 0.0),
    "left": (-SIDE_MM, 0.0),
    "right": (SIDE_MM, 0.0),
    "tip": (0.0, END_MM),
    "throat": (0.0, -END_MM),
}
"""The middle of each zone's window, x and y from the head's centre [mm]."""
HEIGHTS = (0.0, END_MM, -END_MM)
"""Heights y at which the mains' lines are evaluated: of centre, tip and throat [mm]."""


class Window(NamedTuple):
    """A window for one family: the number of its height in HEIGHTS, and its middle across the strings [mm]."""

    height: int
    middle: float


MAIN_WINDOWS = (Window(0, 0.0), Window(0, -SIDE_MM), Window(0, SIDE_MM), Window(1, 0.0), Window(2, 0.0))
"""Mains across centre, left, right, tip, throat."""
CROSS_WINDOWS = (Window(0, 0.0), Window(0, -END_MM), Window(0, END_MM))
"""Crosses down centre (left and right are the same), tip, throat; s runs from the tip, so the tip is negative."""
CROSS_OF_ZONE = (0, 0, 0, 1, 2)
"""The cross window of each zone."""
