"""Why a photograph is refused: a code, what was found, what was expected, and what would help."""

from __future__ import annotations

from typing import NamedTuple

FIXES = {
    "corners": "Lay the pages so that both strips of squares are whole in the picture, flat, in even light and not covered",
    "pixels": "Go nearer, or take the picture with more pixels; do not cut or shrink it",
    "blur": "Hold the phone still and let it focus on the strings; more light helps",
    "scales": "Measure both bars again, and print both pages alike at 100 %",
    "residuals": "Tape the pages flat, do not move anything between pictures, and send the picture as the phone made it",
    "bow": "Tape the pages flat on the table and keep their outer edges down",
    "contrast": "Print the pages with another --tint, one that the strings do not have",
    "shadows": "Use soft light from all sides: no lamp, no sun, no flash",
    "count": "Give the frame or --pattern that the strings have; if it is right, push the strings straight and keep fingers, "
    "stencils and other things off them",
    "seam": "Shift the head 5 mm sideways on the pages, so that no string lies along the line where they meet",
    "crooked": "Push the strings straight first, then photograph again",
    "second-comb": "Take away what looks like a second bed: another frame, its mirror image, or a patterned ground",
    "off-pages": "Lay the head in the middle of both pages, tip up in the picture (or say --tip)",
    "glare": "Switch the flash off, and turn the pages away from the lamp or window that they mirror",
    "different-lays": "Take all pictures of one lay without moving head or pages",
}
"""What would help, by code."""


class Refusal(NamedTuple):
    """Why a photograph is not read.

    code: one of FIXES
    found: what was seen
    expected: what a photograph needs
    fix: what would help
    """

    code: str
    found: str
    expected: str
    fix: str


class RefusedError(Exception):
    """A photograph that cannot be read honestly; `refusal` says why."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(f"{refusal.code}: {refusal.found}; expected {refusal.expected}")
        self.refusal = refusal


def refuse(code: str, found: str, expected: str, hint: str = "") -> RefusedError:
    """The error for a photograph that is not read.

    code: one of FIXES
    found: what was seen
    expected: what a photograph needs
    hint: words that come before the usual fix
    """
    return RefusedError(Refusal(code, found, expected, f"{hint}{FIXES[code]}"))
