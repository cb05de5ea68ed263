"""Phrases of the question language by what they are about, for people who want to see what can be asked."""

from __future__ import annotations

PHRASES: dict[str, tuple[str, ...]] = {
    "Head and strings": (
        *("95-98 sq in", "head 612 to 632 cm2", "95, 97 or 98 sq in", "98s", "16x19", "18x20, 18x19 or 16x20"),
        *("16 or 18 mains", "not 16x19"),
    ),
    "Against a frame": (
        *("tighter than FRAME", "more open sides than FRAME", "at least as open as FRAME", "not tighter than FRAME"),
        *("like FRAME but more open at the tip", "within 2% of FRAME", "tighter everywhere than FRAME", "without FRAME"),
        *("lighter than FRAME", "more head light than FRAME", "stiffer bed than FRAME", "drilled closer than FRAME"),
        *("I play FRAME and want it tighter", "tighter than both FRAME and FRAME-B"),
    ),
    "Against a pattern": ("tighter than most 16x19 98 sq in", "a 16x19 as tight as an 18x20"),
    "Figures": (
        *("mesh under 11 mm", "openness 105-115", "mass about 305 g", "swingweight 320+", "4-6 pts HL", "length over 27 in"),
        *("balance 310-320 mm", "side opening over 8%", "main pitch 9-10 mm", "newer than 2020"),
    ),
    "Order and basis": (
        *("five tightest", "most open first", "lightest first", "lowest swingweight first", "top 5", "measured only"),
        *("sorted by mass", "99% confidence"),
    ),
    "About frames and words": (
        *("how open is FRAME", "FRAME vs FRAME-B", "why is FRAME tighter than FRAME-B", "what is openness"),
    ),
}
"""Every phrase is understood, with the id of a frame in place of FRAME and another in place of FRAME-B; a test holds that."""
