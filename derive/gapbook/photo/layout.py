"""What stands where on the two printed pages: the strip of coded squares, its corners, the scale bar and the tinted field.

Page coordinates are nominal millimetres, as printed without shrinking: x from the page's inner edge, negative on the left page
and positive on the right one, y from the page's middle, upwards. The squares alternate between black ones and white ones with
a code, so that four squares meet in a corner whose place a photograph shows to some hundredths of a millimetre. The codes are
those of OpenCV's general dictionary DICT_4X4_250; no number comes twice on all pages.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray

SQUARE_MM = 13.5
CODE_MM = 10.0
CODE_CELLS = 6
"""Cells along a code: four of its bits and a black border on both sides."""
COLUMNS = 3
OUTER_MM = 7.0
"""White border between the strip and the page's outer edge; most printers leave 3 to 5 mm blank."""
BAR_FROM_STRIP_MM = 3.0
FIELD_FROM_STRIP_MM = 6.0
SIDES = ("left", "right")


class Paper(NamedTuple):
    """A paper size.

    name: as `--paper` takes it
    width, height: of a page [mm]
    rows: of squares in the strip
    first: number of the first code of the left page; the right page's follow
    """

    name: str
    width: float
    height: float
    rows: int
    first: int

    @property
    def bar_mm(self) -> float:
        """Nominal length of the scale bar, which is that of the strip [mm]."""
        return self.rows * SQUARE_MM

    @property
    def field_mm(self) -> float:
        """Width of the tinted field, from the inner edge outwards [mm]."""
        return self.width - OUTER_MM - COLUMNS * SQUARE_MM - FIELD_FROM_STRIP_MM


PAPERS = {"a4": Paper("a4", 210.0, 297.0, 20, 0), "letter": Paper("letter", 215.9, 279.4, 18, 60)}


class Codes(NamedTuple):
    """Coded squares of a page.

    number: of each code [M]
    corners: of its black border: upper left, upper right, lower right, lower left [M, 4, 2] in page coordinates [mm]
    """

    number: IntArray
    corners: FloatArray


def strip_left(paper: Paper, side: str) -> float:
    """x of the strip's left edge [mm]."""
    outer = paper.width - OUTER_MM
    return -outer if side == "left" else outer - COLUMNS * SQUARE_MM


def squares(paper: Paper, side: str) -> tuple[FloatArray, FloatArray]:
    """Lower left corners of the black squares and of those with codes, each [M, 2], row by row from the top [mm]."""
    left, top = strip_left(paper, side), paper.bar_mm / 2.0
    row, column = np.divmod(np.arange(paper.rows * COLUMNS), COLUMNS)
    at = np.column_stack([left + SQUARE_MM * column, top - SQUARE_MM * (row + 1)])
    black = (row + column) % 2 == 0
    return at[black], at[~black]


def codes(paper: Paper, side: str) -> Codes:
    """The codes of a page."""
    at = squares(paper, side)[1] + (SQUARE_MM - CODE_MM) / 2.0
    around = CODE_MM * np.array([[0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]])
    first = paper.first + (len(at) if side == "right" else 0)
    return Codes(first + np.arange(len(at)), at[:, None, :] + around)


def corners(paper: Paper, side: str) -> FloatArray:
    """Corners in which four squares meet [N, 2], row by row from the top [mm]."""
    left, top = strip_left(paper, side), paper.bar_mm / 2.0
    row, column = np.divmod(np.arange((paper.rows - 1) * (COLUMNS - 1)), COLUMNS - 1)
    return np.column_stack([left + SQUARE_MM * (column + 1), top - SQUARE_MM * (row + 1)])


def bar_x(paper: Paper, side: str) -> float:
    """x of the scale bar, beside the strip [mm]."""
    wide = COLUMNS * SQUARE_MM
    left = strip_left(paper, side)
    return left + wide + BAR_FROM_STRIP_MM if side == "left" else left - BAR_FROM_STRIP_MM
