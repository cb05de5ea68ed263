"""What stands on the measuring sheet to look at: how to hold the frame and the rule, and where the inner edge is."""

from __future__ import annotations

from typing import Any

from matplotlib.axes import Axes
from matplotlib.patches import Ellipse, Rectangle

from gapbook.pictures.figure import LIGHT
from gapbook.questions.measuring_sheet import Session
from gapbook.science.bed_geometry import BedStrings, Hoop, cross_ends, main_ends, outline, schematic

MIDDLE_X, MIDDLE_Y = 53.0, 73.0
SCALE = 0.245
"""Paper per frame [mm/mm]."""
USUAL_AREA_CM2, ASPECT, EXPONENT = 632.0, 1.33, 2.1
"""Head of a bare pattern, and the shape of any: a drawing to count on, not to measure. Common practice, no source."""
FILL = 0.793
"""Area of a superellipse with EXPONENT over its width times length: good enough for a drawing."""
TEXT_PT, TINY_PT = 5.6, 4.4


def hoop_of(area_cm2: float | None) -> Hoop:
    """A head of about this area [cm2]."""
    width = ((area_cm2 or USUAL_AREA_CM2) * 100.0 / ASPECT / FILL) ** 0.5
    return Hoop(width, ASPECT * width, EXPONENT)


def head(axes: Axes, session: Session, area_cm2: float | None) -> None:
    """The frame as it is held: tip up, the marked face in view, strings numbered, station lines, the rule on the first."""
    hoop = hoop_of(area_cm2)
    strings = schematic(session.mains, session.crosses, hoop)
    _strings(axes, strings, hoop)
    _outline(axes, hoop)
    _numbers(axes, session, strings, hoop)
    _stations(axes, session, hoop)
    _rule(axes, hoop, session)
    _tape(axes, hoop)


def _at(x: float, y: float) -> tuple[float, float]:
    return MIDDLE_X + SCALE * x, MIDDLE_Y - SCALE * y


def _path(axes: Axes, points: list[tuple[float, float]], colour: str, width: float, order: float = 2.0, **more: object) -> None:
    across, along = zip(*(_at(*point) for point in points), strict=True)
    axes.plot(across, along, color=colour, linewidth=width, zorder=order, **more)  # type: ignore[arg-type]


def _strings(axes: Axes, strings: BedStrings, hoop: Hoop) -> None:
    for x, (low, high) in zip(strings.main_at_0.tolist(), main_ends(hoop, strings).tolist(), strict=True):
        _path(axes, [(x, low), (x, high)], LIGHT.quiet, 0.5)
    for y, end in zip(strings.cross_y.tolist(), cross_ends(hoop, strings.cross_y).tolist(), strict=True):
        _path(axes, [(-end, y), (end, y)], LIGHT.quiet, 0.5)


def _outline(axes: Axes, hoop: Hoop) -> None:
    edge = [tuple(point) for point in outline(hoop).tolist()]
    _path(axes, [*edge, edge[0]], LIGHT.ink, 2.2, 3.0)
    low = -hoop.length / 2.0
    for side in (-1.0, 1.0):
        _path(axes, [(side * 62.0, low + 26.0), (side * 14.0, low - 52.0), (side * 14.0, low - 70.0)], LIGHT.ink, 1.4, 2.5)
    axes.text(*_at(0.0, hoop.length / 2.0 + 27.0), "tip, up", ha="center", va="center", fontsize=TEXT_PT)
    axes.text(*_at(0.0, low - 78.0), "handle, towards you", ha="center", va="center", fontsize=TEXT_PT)


def _numbers(axes: Axes, session: Session, strings: BedStrings, hoop: Hoop) -> None:
    small: dict[str, Any] = {"ha": "center", "va": "center", "fontsize": TINY_PT, "color": LIGHT.ink}
    high = hoop.length / 2.0 + 10.0
    for number, x in enumerate(strings.main_at_0.tolist(), 1):
        if _numbered(number, session.mains):
            axes.text(*_at(x, high), str(number), **small)
    right = hoop.width / 2.0 + 10.0
    for number, y in enumerate(strings.cross_y.tolist(), 1):
        if _numbered(number, session.crosses):
            axes.text(*_at(right, y), str(number), **small)


def _numbered(number: int, last: int) -> bool:
    """Whether a string has its number beside it: the first, the last, and every other one between."""
    return number in (1, last) or (number % 2 == 1 and number < last - 1)


def _stations(axes: Axes, session: Session, hoop: Hoop) -> None:
    end = -hoop.width / 2.0 - 12.0
    for station in session.stations:
        y = float(station)
        _path(axes, [(end, y), (hoop.width / 2.0 + 3.0, y)], LIGHT.accent, 0.9, 4.0, linestyle=(0, (4, 2)))
        words = f"y = {y:+g}".replace("-", "−") if y else "y = 0"
        axes.text(*_at(end - 3.0, y), words, ha="right", va="center", fontsize=TEXT_PT, color=LIGHT.accent)
    half = hoop.length / 2.0
    _path(axes, [(0.0, -half - 4.0), (0.0, half + 18.0)], LIGHT.other, 0.9, 4.0, linestyle=(0, (1, 1.5)))


def _rule(axes: Axes, hoop: Hoop, session: Session) -> None:
    """The rule, its upper edge on the line y = 0, from edge to edge."""
    if session.kind != "mark":
        return
    half, high = hoop.width / 2.0 - 1.0, 20.0
    left, low = _at(-half, -high)
    body = Rectangle((left, low), 2.0 * half * SCALE, -high * SCALE, facecolor=LIGHT.paper, edgecolor=LIGHT.ink)
    body.set(linewidth=0.8, alpha=0.92, zorder=5)
    axes.add_patch(body)
    for mark in range(int(2.0 * half) // 10 + 1):
        tall = 8.0 if mark % 5 == 0 else 4.5
        _path(axes, [(-half + 10.0 * mark, 0.0), (-half + 10.0 * mark, -tall)], LIGHT.ink, 0.4, 6.0)
    axes.text(*_at(0.0, -14.5), "rule", ha="center", va="center", fontsize=TINY_PT, zorder=6)


def _tape(axes: Axes, hoop: Hoop) -> None:
    x, y = _at(20.0, -hoop.length / 2.0 - 18.0)
    axes.add_patch(Rectangle((x, y), 3.4, 2.6, facecolor=LIGHT.accent, edgecolor="none", zorder=6))
    words = "tape: this face\ntowards you"
    axes.text(x + 5.0, y + 1.3, words, fontsize=TEXT_PT, color=LIGHT.accent, va="center")


def section(axes: Axes, left: float, top: float) -> None:
    """A cut through the hoop below `top`: strings and rule in one plane, the inner edge where it meets the inner wall."""
    y = top + 9.8
    axes.text(left, y - 6.4, "cut through the hoop", fontsize=TEXT_PT, fontweight="bold")
    axes.add_patch(Ellipse((left + 4.0, y), 7.0, 9.0, facecolor=LIGHT.faint, edgecolor=LIGHT.ink, linewidth=1.0))
    for x in (18.0, 26.0, 34.0, 42.0):
        axes.add_patch(Ellipse((left + x, y), 1.5, 1.5, facecolor=LIGHT.ink, edgecolor="none", zorder=4))
    axes.add_patch(Rectangle((left + 8.2, y - 0.25), 44.0, 0.5, facecolor=LIGHT.other, edgecolor="none", zorder=3))
    axes.annotate(
        "inner edge", (left + 7.5, y), (left + 17.0, y + 3.9), fontsize=TEXT_PT, color=LIGHT.accent, va="center",
        arrowprops={"arrowstyle": "->", "color": LIGHT.accent, "linewidth": 0.7, "shrinkA": 1, "shrinkB": 0},
    )  # fmt: skip
    axes.text(left + 54.0, y, "rule in the plane\nof the strings", fontsize=TEXT_PT, va="center", color=LIGHT.other)
