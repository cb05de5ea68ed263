"""The partial-regression plot of `relate`: what testers and the columns held leave of outcome and trait."""

from __future__ import annotations

from pathlib import Path
from statistics import fmean
from textwrap import fill

from matplotlib.axes import Axes

from gapbook.errors import fail
from gapbook.pictures import figure as paper
from gapbook.questions.relating_words import percent_of
from gapbook.questions.relations_found import Association, Associations, Points
from gapbook.signs import safe

PANEL_MM = (100.0, 76.0)
MARGIN_MM = (17.0, 19.0, 6.0, 18.0)
"""Beside a panel's axes: left, top, right, bottom [mm]."""
PLAYTEST, FRAME, LINE = "#8a949e", "#0072b2", "#d55e00"
"""Grey, and the blue and vermilion of Okabe & Ito's palette, which colour-blind people tell apart."""
MOST_PANELS = 6
FOOT_MM = 12.0
_COLUMNS = {1: 1, 2: 2, 3: 3, 4: 2, 5: 3, 6: 3}
_LINE = 62
"""Characters that fit over a panel."""


def plot_relation(answer: Associations, out: Path, caution: str | None = None) -> None:
    """Draw a panel for each trait that has a figure. GapbookError if there is none, or more than MOST_PANELS.

    answer: what was found
    out: .svg, .png or .pdf
    caution: a sentence on the package's data, set apart at the foot
    """
    drawn = [item for item in answer.associations if item.points is not None]
    if not drawn:
        raise fail("nothing-to-plot", "there is no figure to plot", found=answer.associations[0].sentence)
    if len(drawn) > MOST_PANELS:
        raise fail("too-many-panels", f"a plot has room for {MOST_PANELS} traits", found=str(len(drawn)))
    left, top, right, bottom = MARGIN_MM
    columns = _COLUMNS[len(drawn)]
    width, height = PANEL_MM[0] + left + right, PANEL_MM[1] + top + bottom
    across, down = columns * width, -(-len(drawn) // columns) * height + FOOT_MM
    with paper.style(paper.LIGHT):
        figure = paper.blank(across, down, paper.LIGHT)
        for number, item in enumerate(drawn):
            row, column = divmod(number, columns)
            _panel(paper.area(figure, column * width + left, row * height + top, *PANEL_MM), answer, item)
        foot = figure.text(left / across, 7.5 / down, _foot(answer), size=paper.SMALL_PT, color=paper.LIGHT.quiet, va="bottom")
        foot.set_gid("foot")
        if caution:
            said = figure.text(left / across, 3.2 / down, caution + ".", size=paper.SMALL_PT, color=paper.LIGHT.accent)
            said.set(va="bottom", fontweight="bold", gid="caution")
        paper.save(figure, out, "; ".join(f"{item.outcome} on {item.trait}" for item in drawn))


def _foot(answer: Associations) -> str:
    marks = "Grey: playtests. Blue: means of frames. Line and fan: the slope and its"
    return f"{marks} {percent_of(answer.confidence)} % interval.\n{answer.caution} Package {paper.shown(answer.package.name)}."


def _panel(axes: Axes, answer: Associations, item: Association) -> None:
    points = item.points
    assert points is not None
    low, whole, high = (slope or 0.0 for slope in (item.low, item.slope, item.high))
    axes.scatter(points.trait, points.outcome, s=5.0, color=PLAYTEST, alpha=0.55, linewidths=0.0, zorder=2)
    traits, outcomes = zip(*_frame_means(points), strict=True)
    axes.scatter(traits, outcomes, s=20.0, color=FRAME, edgecolors="white", linewidths=0.5, zorder=4)
    middle, level = fmean(points.trait), fmean(points.outcome)
    ends = [min(points.trait), middle, max(points.trait)]
    lower, line, upper = ([level + slope * (x - middle) for x in ends] for slope in (low, whole, high))
    axes.fill_between(ends, lower, upper, color=LINE, alpha=0.18, linewidth=0.0, zorder=1)
    axes.plot(ends, line, color=LINE, linewidth=1.4, zorder=3)
    held = ", ".join(["tester", *answer.given])
    axes.set_xlabel(fill(f"{_named(item.trait, item.trait_unit)}, adjusted for {held}", _LINE))
    axes.set_ylabel(f"{_named(item.outcome, item.outcome_unit)}, adjusted likewise")
    axes.grid(True, color=paper.LIGHT.faint, linewidth=0.4)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_title(fill(safe(item.sentence), _LINE), loc="left", size=paper.TEXT_PT + 0.5, pad=6.0, color=paper.LIGHT.ink)


def _named(column: str, unit: str) -> str:
    return paper.shown(f"{column} ({unit or '1'})")


def _frame_means(points: Points) -> list[tuple[float, float]]:
    of_frame: dict[str, list[tuple[float, float]]] = {}
    for x, y, frame in zip(points.trait, points.outcome, points.frame_ids, strict=True):
        of_frame.setdefault(frame, []).append((x, y))
    return [(fmean(x for x, _ in pairs), fmean(y for _, y in pairs)) for pairs in of_frame.values()]
