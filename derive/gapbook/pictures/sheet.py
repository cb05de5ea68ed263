"""The measuring sheet: one A4 page with a drawing of what to hold how, the steps in order, and a box for every figure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from gapbook.errors import fail
from gapbook.pictures import figure, sheetdrawing, sheetwords
from gapbook.pictures.figure import LIGHT, shown
from gapbook.screens.text import pattern
from gapbook.tables.blank import Run, Session

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 210.0, 297.0
LEFT, RIGHT = 12.0, 198.0
WORDS_LEFT, WORDS_WIDTH, FOOT_WIDTH = 104.0, 72, 138
BOXES_FROM, BOXES_TO = 143.0, 284.0
LOWEST_BOX, HIGHEST_BOX, LABEL_HIGH, BETWEEN = 6.0, 10.5, 3.5, 1.8
WIDEST_BOX, MOST_IN_A_LINE = 9.3, 26
BODY_PT, TINY_PT, HEAD_PT = 6.8, 4.6, 7.8
LINE_MM = 2.9


class Line(NamedTuple):
    """One line of boxes: what stands above it, the number in each box, and which of them are at the inner edges."""

    label: str
    numbers: tuple[str, ...]
    edges: tuple[int, ...] = ()


def sheet(session: Session, area_cm2: float | None, folder: str, out: Path) -> None:
    """Draw the sheet to a file whose suffix says how; `folder` is where its CSVs are.

    GapbookError where the boxes need more than the page.
    """
    with figure.style(LIGHT):
        figure.save(sheet_figure(session, area_cm2, folder), out, f"Measuring sheet for {shown(session.specimen_id)}")


def sheet_figure(session: Session, area_cm2: float | None, folder: str) -> Figure:
    """The page."""
    made = figure.blank(WIDTH, HEIGHT, LIGHT)
    axes = figure.bare(figure.area(made, 0.0, 0.0, WIDTH, HEIGHT))
    axes.set(xlim=(0.0, WIDTH), ylim=(HEIGHT, 0.0))
    _heading(made, axes, session)
    sheetdrawing.head(axes, session, area_cm2)
    sheetdrawing.section(axes, WORDS_LEFT, _steps(axes, session))
    _boxes(axes, session)
    _after(axes, session, shown(folder))
    return made


def _heading(made: Figure, axes: Axes, session: Session) -> None:
    title = f"Measuring sheet: {shown(session.frame_id)}, {pattern(session.mains, session.crosses)}"
    figure.fit(made, axes.text(LEFT, 13.0, title, fontsize=13.0, fontweight="bold"), RIGHT - LEFT)
    how = "marks along a rule laid once" if session.kind == "mark" else "gaps, each taken singly"
    parts = [f"copy {session.specimen_id}", f"read by {session.contributor_id}", f"on {session.taken_on}"]
    unit = sheetwords.unit_words(session.tool.unit)
    parts += [f"strings with {session.tool.instrument_id} ({session.tool.kind}): {how}, in {unit}"]
    figure.fit(made, axes.text(LEFT, 18.6, shown_all(parts), fontsize=7.2, color=LIGHT.quiet), RIGHT - LEFT)
    axes.plot([LEFT, RIGHT], [21.0, 21.0], color=LIGHT.ink, linewidth=0.8)


def shown_all(parts: list[str]) -> str:
    """Parts of a line, made safe to draw."""
    return "   ·   ".join(shown(part) for part in parts)


def _steps(axes: Axes, session: Session) -> float:
    """The steps and the cautions; where they end."""
    y = 26.0
    y = _block(axes, "Before", sheetwords.wrapped(sheetwords.prepare(session), WORDS_WIDTH), y)
    y = _block(axes, "Reading", sheetwords.wrapped(sheetwords.reading(session), WORDS_WIDTH), y + 1.6)
    lines = sheetwords.wrapped(sheetwords.CAUTIONS, WORDS_WIDTH, numbers=False)
    high = LINE_MM * len(lines) + 6.6
    axes.add_patch(_rectangle(WORDS_LEFT - 2.0, y + 0.6, RIGHT - WORDS_LEFT + 2.0, high, LIGHT.accent, 1.0))
    _block(axes, "Caution", lines, y + 4.6, LIGHT.accent)
    return y + 0.6 + high


def _block(axes: Axes, heading: str, lines: list[str], y: float, colour: str = LIGHT.ink) -> float:
    """A heading and lines below it; where the next may begin."""
    axes.text(WORDS_LEFT, y, heading, fontsize=HEAD_PT, fontweight="bold", color=colour)
    for line in lines:
        y += LINE_MM
        axes.text(WORDS_LEFT, y + 0.7, line, fontsize=BODY_PT).set_gid("words")
    return y + LINE_MM + 1.2


def lines_of(session: Session) -> list[Line]:
    """Every line of boxes, in the order of reading."""
    quantities = [(sheetwords.QUANTITIES[name], tool) for name, tool in session.whole_frame]
    found = [Line("", tuple(f"{words}, {sheetwords.unit_words(tool.unit)}" for words, tool in quantities[:2]))]
    for run in session.runs:
        rest = run.numbers
        label = _label(run, session)
        while rest:
            numbers = tuple(str(number) for number in rest[:MOST_IN_A_LINE])
            found.append(Line(label, numbers, (run.numbers[0], run.numbers[-1])))
            rest, label = rest[MOST_IN_A_LINE:], ""
    if quantities[2:]:
        found.append(Line("", tuple(f"{words}, {sheetwords.unit_words(tool.unit)}" for words, tool in quantities[2:])))
    return found


def _label(run: Run, session: Session) -> str:
    height = f"{float(run.station):+g}".replace("-", "−").replace("+0", "0")
    where = f"across, at y = {height} mm" if run.family == "main" else "down the middle, x = 0"
    order = "left to right" if run.family == "main" else "tip to throat"
    again = f", reading {run.repeat}" if session.repeats > 1 else ""
    what = "marks" if session.kind == "mark" else "gaps"
    return f"{sheetwords.FAMILIES[run.family]} {where}: {what} {order}{again}, in {sheetwords.unit_words(session.tool.unit)}"


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
        box = _rectangle(LEFT + place * wide, y, wide, high, LIGHT.ink, 0.6)
        box.set_gid("box")
        axes.add_patch(box)
        words = f"{number} edge" if int(number) in line.edges else number
        axes.text(LEFT + place * wide + 0.6, y + 0.5, words, fontsize=TINY_PT, va="top", color=LIGHT.quiet)


def _named_boxes(axes: Axes, names: tuple[str, ...], y: float, high: float) -> None:
    for place, name in enumerate(names):
        left = LEFT + place * 62.0
        axes.text(left + (5.0 if place == 0 else 0.0), y + 2.6, name, fontsize=BODY_PT, fontweight="bold")
        box = _rectangle(left, y + LABEL_HIGH, 30.0, high, LIGHT.ink, 0.6)
        box.set_gid("box")
        axes.add_patch(box)


def _after_lines(session: Session, folder: str) -> list[str]:
    return sheetwords.wrapped(sheetwords.after(session, folder), FOOT_WIDTH, numbers=False)


def _after(axes: Axes, session: Session, folder: str) -> None:
    lines = _after_lines(session, folder)
    y = HEIGHT - 8.0 - LINE_MM * (len(lines) - 1)
    axes.plot([LEFT, RIGHT], [y - 3.6, y - 3.6], color=LIGHT.quiet, linewidth=0.5)
    for line in lines:
        axes.text(LEFT, y, line, fontsize=BODY_PT).set_gid("words")
        y += LINE_MM


def _rectangle(left: float, top: float, wide: float, high: float, colour: str, line: float):  # type: ignore[no-untyped-def]
    from matplotlib.patches import Rectangle

    return Rectangle((left, top), wide, high, fill=False, edgecolor=colour, linewidth=line)
