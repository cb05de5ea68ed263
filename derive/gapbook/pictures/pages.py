"""The two pages on which a strung head is photographed: coded strips, scale bars, the tinted field, and the steps in words."""

from __future__ import annotations

import textwrap
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Ellipse, Rectangle

from gapbook.errors import fail
from gapbook.photo.layout import (
    BAR_FROM_STRIP_MM,
    CODE_CELLS,
    CODE_MM,
    COLUMNS,
    SIDES,
    SQUARE_MM,
    Paper,
    bar_x,
    codes,
    squares,
)
from gapbook.photo.library import opencv
from gapbook.pictures import figure
from gapbook.pictures.figure import LIGHT
from gapbook.tables.files import replacing

TINTS = {"blue": "#5f9fd8", "orange": "#e0984a", "green": "#74b06a"}
"""Mid tints, as full of colour as an office printer's: any neutral string differs from them in hue, whatever the light."""
BLACK, WHITE = "#000000", "#ffffff"
WORDS_PT, SIDE_PT = 5.6, 5.2
LINE_MM = 2.35
WORDS_WIDTH = 45
CORNER_MM = 2.5
"""Words begin this far inside the field."""

STEPS = {
    "left": (
        "1  Print both pages at 100 % (no 'fit to page'). Fold the white border of the inner edges under: tint meets tint.",
        "2  Lay the pages side by side on a flat table, this one left, and tape them flat.",
        "3  Push crooked strings straight. Lay the strung head in the middle, tip up, throat down, flat on both pages. Keep "
        "both strips of squares free.",
    ),
    "right": (
        "4  Use soft light from all sides, such as a window away from the sun. No flash, no lamp, no shadow of yours.",
        "5  Hold the phone level over the middle of the head, about 60 cm up, not zoomed. Both strips must be in the picture.",
        "6  Measure the two bars beside the strips with a rule, the frame's height at 3 and 9 o'clock, and, if you can, the "
        "four gaps from the outer strings to the inner edge. Then: gapbook photo --help",
    ),
}
CAUTION = (
    "Strings are under great tension. Do not press on them or lever them, keep your face away, and do not measure a bed with a "
    "broken or frayed string; leave that to a qualified stringer.",
)


def pages(paper: Paper, tint: str, out: Path) -> list[Path]:
    """Draw the pages. A .pdf has both; .svg and .png are one file a page, with -left and -right in their names.

    paper: its size
    tint: one of TINTS
    out: the file
    """
    title = "Pages to photograph a strung head on"
    with figure.style(LIGHT):
        made = [page(paper, side, tint) for side in SIDES]
        if out.suffix.lower() != ".pdf":
            names = [out.with_name(f"{out.stem}-{side}{out.suffix}") for side in SIDES]
            for one, name in zip(made, names, strict=True):
                figure.save(one, name, title)
            return names
        from matplotlib.backends.backend_pdf import PdfPages  # late: only here

        metadata = {"Title": title, "CreationDate": None, "ModDate": None, "Creator": "gapbook", "Producer": None}
        with replacing(out) as stream, PdfPages(stream, metadata=metadata) as pdf:
            for one in made:
                pdf.savefig(one, facecolor=one.get_facecolor())
    return [out]


def page(paper: Paper, side: str, tint: str) -> Figure:
    """One page, left or right. GapbookError if there is no such tint."""
    if tint not in TINTS:
        raise fail("bad-tint", "--tint does not take this", found=tint, expected=", ".join(TINTS))
    made = figure.blank(paper.width, paper.height, LIGHT._replace(paper=WHITE))
    axes = figure.bare(figure.area(made, 0.0, 0.0, paper.width, paper.height))
    inner = (-paper.width, 0.0) if side == "left" else (0.0, paper.width)
    axes.set(xlim=inner, ylim=(-paper.height / 2.0, paper.height / 2.0))
    field = -paper.field_mm if side == "left" else 0.0
    axes.add_patch(
        Rectangle((field, -paper.height / 2.0), paper.field_mm, paper.height, facecolor=TINTS[tint], edgecolor="none")
    )
    _strip(axes, paper, side)
    _bar(axes, paper, side)
    _words(axes, paper, side)
    _drawing(axes, paper, side)
    return made


def _strip(axes: Axes, paper: Paper, side: str) -> None:
    """Black squares, and white ones with codes."""
    for x, y in squares(paper, side)[0].tolist():
        _fill(axes, x, y, SQUARE_MM, SQUARE_MM, BLACK)
    cv2 = opencv()
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)
    cell = CODE_MM / CODE_CELLS
    found = codes(paper, side)
    for number, (x, y) in zip(found.number.tolist(), found.corners[:, 3].tolist(), strict=True):
        _fill(axes, x, y, CODE_MM, CODE_MM, BLACK)
        bits = cv2.aruco.generateImageMarker(dictionary, number, CODE_CELLS)
        for row, column in zip(*(bits > 0).nonzero(), strict=True):
            _fill(axes, x + cell * int(column), y + cell * (CODE_CELLS - 1 - int(row)), cell, cell, WHITE)


def _fill(axes: Axes, x: float, y: float, wide: float, high: float, colour: str) -> None:
    axes.add_patch(Rectangle((x, y), wide, high, facecolor=colour, edgecolor="none", linewidth=0.0, snap=False))


def _bar(axes: Axes, paper: Paper, side: str) -> None:
    """The scale bar, from the outer side of one end line to that of the other."""
    x, half = bar_x(paper, side), paper.bar_mm / 2.0
    _fill(axes, x - 0.1, -half, 0.2, paper.bar_mm, BLACK)
    for y in (-half, half - 0.2):
        _fill(axes, x - 1.6, y, 3.2, 0.2, BLACK)
    words = f"bar-{side}: measure from end to end, {paper.bar_mm:g} mm if nothing was shrunk"
    shift = BAR_FROM_STRIP_MM / 2.0 if side == "left" else -BAR_FROM_STRIP_MM / 2.0
    axes.text(x + shift, 0.0, words, fontsize=SIDE_PT, rotation=90, ha="center", va="center", color=BLACK)


def _corner_x(paper: Paper, side: str) -> float:
    return -paper.field_mm + CORNER_MM if side == "left" else paper.field_mm - CORNER_MM


def _words(axes: Axes, paper: Paper, side: str) -> None:
    """Steps in the upper outer corner of the field, the caution in the lower one of the right page: outside any head."""
    align = "left" if side == "left" else "right"
    top = paper.height / 2.0 - 8.0
    heading = "Left page" if side == "left" else "Right page"
    axes.text(_corner_x(paper, side), top, heading, fontsize=8.0, fontweight="bold", ha=align, va="top", color=BLACK)
    _lines(axes, _corner_x(paper, side), top - 4.6, STEPS[side], align)
    if side == "right":
        _lines(axes, _corner_x(paper, side), -paper.height / 2.0 + 22.0, CAUTION, align)


def _lines(axes: Axes, x: float, y: float, paragraphs: tuple[str, ...], align: str) -> None:
    for text in paragraphs:
        for line in textwrap.wrap(text, WORDS_WIDTH):
            axes.text(x, y, line, fontsize=WORDS_PT, ha=align, va="top", color=BLACK, gid="words")
            y -= LINE_MM
        y -= 0.7


def _drawing(axes: Axes, paper: Paper, side: str) -> None:
    """How the head lies on both pages, small, in the lower outer corner of the left page."""
    if side != "left":
        return
    scale = 0.075
    wide, high = scale * paper.width, scale * paper.height
    middle_x = _corner_x(paper, side) + wide
    middle_y = -paper.height / 2.0 + 7.0 + high / 2.0 + 4.0
    for sign in (-1.0, 1.0):
        left = middle_x - wide if sign < 0.0 else middle_x
        axes.add_patch(Rectangle((left, middle_y - high / 2.0), wide, high, facecolor=WHITE, edgecolor=BLACK, linewidth=0.5))
        strip = left + 1.0 if sign < 0.0 else left + wide - 1.0 - scale * COLUMNS * SQUARE_MM
        axes.add_patch(
            Rectangle((strip, middle_y - high / 2.0 + 1.0), scale * COLUMNS * SQUARE_MM, high - 2.0, facecolor=LIGHT.quiet)
        )
    head = Ellipse((middle_x, middle_y), scale * 262.0, scale * 345.0, fill=False, edgecolor=BLACK, linewidth=1.6)
    axes.add_patch(head)
    for step in range(-4, 5):
        x, y = 2.0 * step, 2.6 * step
        axes.plot([middle_x + x] * 2, [middle_y - 10.5, middle_y + 10.5], color=BLACK, linewidth=0.3)
        axes.plot([middle_x - 8.0, middle_x + 8.0], [middle_y + y] * 2, color=BLACK, linewidth=0.3)
    for x in (-1.6, 1.6):
        axes.plot([middle_x + x, middle_x + 0.5 * x], [middle_y - 12.8, middle_y - 16.0], color=BLACK, linewidth=1.2)
