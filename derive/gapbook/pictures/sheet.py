"""The measuring sheet: one A4 page with a drawing of what to hold how, the steps in order, and a box for every figure."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from gapbook.errors import fail
from gapbook.pictures import figure, sheet_drawing
from gapbook.pictures.figure import LIGHT, shown
from gapbook.questions.measuring_sheet import Run, Session, Tool
from gapbook.screens.text import pattern

WIDTH, HEIGHT = 210.0, 297.0
LEFT, RIGHT = 12.0, 198.0
WORDS_LEFT, WORDS_WIDTH, FOOT_WIDTH = 104.0, 72, 138
BOXES_FROM, BOXES_TO = 143.0, 284.0
LOWEST_BOX, HIGHEST_BOX, LABEL_HIGH, BETWEEN = 6.0, 10.5, 3.5, 1.8
WIDEST_BOX, MOST_IN_A_LINE = 9.3, 26
BODY_PT, TINY_PT, HEAD_PT = 6.8, 4.6, 7.8
LINE_MM = 2.9
QUANTITIES = {
    "head_length": "inner length of the head",
    "head_width": "inner width of the head",
    "length": "overall length",
    "mass": "mass, strung",
    "balance": "balance, from the butt",
}
FAMILIES = {"main": "Mains", "cross": "Crosses"}

CAUTIONS = (
    "Strings are under great tension: a weak one can give way without warning. Keep your face away from the bed and wear "
    "glasses.",
    "Never lever, spread or press strings with jaws or rule. Do not measure a bed with a frayed, broken or cut string: all "
    "strings pull one-sidedly on the frame until they are out.",
    "Cut ends are sharp and spring back. Leave cutting and stringing to a qualified stringer.",
)


class Line(NamedTuple):
    """One line of boxes: what stands above it, the number in each box, and which of them are at the inner edges."""

    label: str
    numbers: tuple[str, ...]
    edges: tuple[int, ...] = ()


def sheet(session: Session, area_cm2: float | None, folder: str, out: Path) -> None:
    """Draw the sheet to a file whose suffix says how; GapbookError if the boxes need more than one page.

    session: what is to be read
    area_cm2: head area that the drawing shows; None for a usual one
    folder: name of the folder with the CSVs
    out: .pdf, .svg or .png
    """
    with figure.style(LIGHT):
        figure.save(sheet_figure(session, area_cm2, folder), out, f"Measuring sheet for {shown(session.specimen_id)}")


def sheet_figure(session: Session, area_cm2: float | None, folder: str) -> Figure:
    """The page."""
    made = figure.blank(WIDTH, HEIGHT, LIGHT)
    axes = figure.bare(figure.area(made, 0.0, 0.0, WIDTH, HEIGHT))
    axes.set(xlim=(0.0, WIDTH), ylim=(HEIGHT, 0.0))
    _heading(made, axes, session)
    sheet_drawing.head(axes, session, area_cm2)
    sheet_drawing.section(axes, WORDS_LEFT, _steps(axes, session))
    _boxes(axes, session)
    _after(axes, session, shown(folder))
    return made


def _heading(made: Figure, axes: Axes, session: Session) -> None:
    title = f"Measuring sheet: {shown(session.frame_id)}, {pattern(session.mains, session.crosses)}"
    figure.fit(made, axes.text(LEFT, 13.0, title, fontsize=13.0, fontweight="bold"), RIGHT - LEFT)
    how = "marks along a rule laid once" if session.kind == "mark" else "gaps, each taken singly"
    parts = [f"copy {session.specimen_id}", f"read by {session.contributor_id}", f"on {session.taken_on}"]
    unit = _unit_words(session.tool.unit)
    parts += [f"strings with {session.tool.instrument_id} ({session.tool.kind}): {how}, in {unit}"]
    words = "   ·   ".join(shown(part) for part in parts)
    figure.fit(made, axes.text(LEFT, 18.6, words, fontsize=7.2, color=LIGHT.quiet), RIGHT - LEFT)
    axes.plot([LEFT, RIGHT], [21.0, 21.0], color=LIGHT.ink, linewidth=0.8)


def _steps(axes: Axes, session: Session) -> float:
    """The steps and the cautions; returns where they end [mm]."""
    y = 26.0
    y = _block(axes, "Before", _wrapped(_prepare(session), WORDS_WIDTH), y)
    y = _block(axes, "Reading", _wrapped(_reading(session), WORDS_WIDTH), y + 1.6)
    lines = _wrapped(CAUTIONS, WORDS_WIDTH, numbers=False)
    high = LINE_MM * len(lines) + 6.6
    frame = (WORDS_LEFT - 2.0, y + 0.6), RIGHT - WORDS_LEFT + 2.0, high
    axes.add_patch(Rectangle(*frame, fill=False, edgecolor=LIGHT.accent, linewidth=1.0))
    _block(axes, "Caution", lines, y + 4.6, LIGHT.accent)
    return y + 0.6 + high


def _block(axes: Axes, heading: str, lines: list[str], y: float, colour: str = LIGHT.ink) -> float:
    """A heading and lines below it; returns where the next may begin [mm]."""
    axes.text(WORDS_LEFT, y, heading, fontsize=HEAD_PT, fontweight="bold", color=colour)
    for line in lines:
        y += LINE_MM
        axes.text(WORDS_LEFT, y + 0.7, line, fontsize=BODY_PT, gid="words")
    return y + LINE_MM + 1.2


def lines_of(session: Session) -> list[Line]:
    """Every line of boxes, in the order of reading."""
    quantities = [(QUANTITIES[name], tool) for name, tool in session.whole_frame]
    lines = [Line("", tuple(f"{words}, {_unit_words(tool.unit)}" for words, tool in quantities[:2]))]
    for run in session.runs:
        rest = run.numbers
        label = _label(run, session)
        while rest:
            numbers = tuple(str(number) for number in rest[:MOST_IN_A_LINE])
            lines.append(Line(label, numbers, (run.numbers[0], run.numbers[-1])))
            rest, label = rest[MOST_IN_A_LINE:], ""
    if quantities[2:]:
        lines.append(Line("", tuple(f"{words}, {_unit_words(tool.unit)}" for words, tool in quantities[2:])))
    return lines


def _label(run: Run, session: Session) -> str:
    height = f"{float(run.station):+g}".replace("-", "−").replace("+0", "0")
    where = f"across, at y = {height} mm" if run.family == "main" else "down the middle, x = 0"
    order = "left to right" if run.family == "main" else "tip to throat"
    again = f", reading {run.repeat}" if session.repeats > 1 else ""
    what = "marks" if session.kind == "mark" else "gaps"
    return f"{FAMILIES[run.family]} {where}: {what} {order}{again}, in {_unit_words(session.tool.unit)}"


def _boxes(axes: Axes, session: Session) -> None:
    lines = lines_of(session)
    room = BOXES_TO - LINE_MM * len(_after_lines(session, "x" * 20)) - BOXES_FROM
    high = min(HIGHEST_BOX, room / len(lines) - LABEL_HIGH - BETWEEN)
    if high < LOWEST_BOX:
        raise fail("sheet-full", "the boxes do not fit on one page", fix="Ask for fewer --stations or --repeats")
    y, step = BOXES_FROM, 0
    for line in lines:
        whole = not line.numbers[0].isdigit()
        if whole or line.label:
            step += 1
            _step_number(axes, step, y + 1.6)
        if whole:
            _named_boxes(axes, line.numbers, y, high)
        else:
            axes.text(LEFT + 5.0, y + 2.6, line.label, fontsize=BODY_PT, fontweight="bold")
            _numbered_boxes(axes, line, y + LABEL_HIGH, high)
        y += high + LABEL_HIGH + BETWEEN


def _step_number(axes: Axes, step: int, y: float) -> None:
    text = axes.text(LEFT + 1.6, y, str(step), fontsize=6.0, ha="center", va="center", color=LIGHT.paper, fontweight="bold")
    text.set_bbox({"boxstyle": "circle,pad=0.22", "facecolor": LIGHT.ink, "edgecolor": "none"})


def _numbered_boxes(axes: Axes, line: Line, y: float, high: float) -> None:
    wide = min(WIDEST_BOX, (RIGHT - LEFT) / len(line.numbers))
    for place, number in enumerate(line.numbers):
        _box(axes, LEFT + place * wide, y, wide, high)
        words = f"{number} edge" if int(number) in line.edges else number
        axes.text(LEFT + place * wide + 0.6, y + 0.5, words, fontsize=TINY_PT, va="top", color=LIGHT.quiet)


def _named_boxes(axes: Axes, names: tuple[str, ...], y: float, high: float) -> None:
    for place, name in enumerate(names):
        left = LEFT + place * 62.0
        axes.text(left + (5.0 if place == 0 else 0.0), y + 2.6, name, fontsize=BODY_PT, fontweight="bold")
        _box(axes, left, y + LABEL_HIGH, 30.0, high)


def _after_lines(session: Session, folder: str) -> list[str]:
    return _wrapped(_afterwards(session, folder), FOOT_WIDTH, numbers=False)


def _after(axes: Axes, session: Session, folder: str) -> None:
    lines = _after_lines(session, folder)
    y = HEIGHT - 8.0 - LINE_MM * (len(lines) - 1)
    axes.plot([LEFT, RIGHT], [y - 3.6, y - 3.6], color=LIGHT.quiet, linewidth=0.5)
    for line in lines:
        axes.text(LEFT, y, line, fontsize=BODY_PT, gid="words")
        y += LINE_MM


def _box(axes: Axes, left: float, top: float, wide: float, high: float) -> None:
    axes.add_patch(Rectangle((left, top), wide, high, fill=False, edgecolor=LIGHT.ink, linewidth=0.6, gid="box"))


def _unit_words(unit: str) -> str:
    """A unit in words."""
    return "inches" if unit in ("in", "[in_i]") else unit


def _prepare(session: Session) -> list[str]:
    """Steps before the strings are read."""
    handling = [
        "Read last: overall length from the butt to the tip; mass as it is played, strung; balance over an edge, from the "
        "butt to the edge."
    ]
    return [
        "The frame must be strung. Push crooked strings straight with your fingers.",
        "Stick a piece of tape on one face, near the throat. That face is always towards you, the tip up, the handle towards "
        "you: left stays left.",
        "Read the head's inner length and width, from inner wall to inner wall, in the plane of the strings.",
        "Mark the middle of both on the hoop with pencil: there y = 0 and x = 0. Mark the other station lines from there, in "
        "mm: + towards the tip, − towards the throat.",
    ] + (handling if session.handling else [])


def _reading(session: Session) -> list[str]:
    """How the strings are read."""
    if session.kind == "mark":
        how = [
            "Lay the rule in the plane of the strings, square to them, its edge on the station line. Do not move it until the "
            "row is full.",
            "Box 0 is the rule's figure at the first inner edge, 1 to n at the middle of each string, the last box at the "
            "other inner edge. The first figure need not be zero.",
        ]
    else:
        how = [
            "Measure each gap singly with the calliper on the station line: from the left edge of a string to the left edge of "
            "the next (crosses: upper to upper), without spreading them.",
            "Box k is the gap between strings k and k + 1. Box 0 is from the inner edge to the near side of string 1, the last "
            "box from string n to the other inner edge: add half the string's diameter to both.",
        ]
    how.append("Mains from left to right; crosses from tip to throat, down the middle. Count strings, not holes.")
    if session.repeats > 1:
        how.append("For a repeat take the instrument away and lay it anew.")
    how.append("If an inner edge is out of reach, leave both edge boxes out and delete their rows.")
    return how


def _afterwards(session: Session, folder: str) -> list[str]:
    """Steps with the figures, after reading."""
    rest = "All else is filled in but what the next line says." if session.by_hand else "All else is filled in."
    steps = [
        f"Type the figures into the column value of the CSVs in {folder}: one row a box, in this order, as read, in "
        f"{_units(session)}. {rest}"
    ]
    steps += [f"To be filled in by hand too: {words}." for words in session.by_hand]
    if session.assumed:
        described = "; ".join(f"{tool.instrument_id} {_described(tool)}" for tool in session.assumed)
        steps.append(f"Assumed in instruments.csv (step read, largest error): {described}. Put right what is not so.")
    if not session.contributor_known:
        steps.append("Put your name into contributors.csv, if you like.")
    compare = f", gapbook compare {session.frame_id} {folder}" if session.frame_known else ""
    steps.append(f"Then: gapbook check {folder}{compare}")
    return steps


def _units(session: Session) -> str:
    units = [session.tool.unit, *(tool.unit for _, tool in session.whole_frame)]
    return ", ".join(dict.fromkeys(_unit_words(unit) for unit in units))


def _described(tool: Tool) -> str:
    return f"{tool.resolution} {tool.unit}, {tool.max_error} {tool.unit}"


def _wrapped(paragraphs: Sequence[str], width: int, numbers: bool = True) -> list[str]:
    """Paragraphs in lines of at most `width` characters, numbered and hanging."""
    lines = []
    for number, text in enumerate(paragraphs, 1):
        lead = f"{number}  " if numbers else "•  "
        lines += [(lead if place == 0 else "    ") + line for place, line in enumerate(textwrap.wrap(text, width))]
    return lines
