"""The chart of two traits: every frame a mark whose shape is its string pattern, with error bars and names."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from gapbook.pictures import figure
from gapbook.pictures.figure import SMALL_PT, TEXT_PT, TITLE_PT, Theme, shown
from gapbook.questions.chart_data import ChartData, Point

WIDTH, HEIGHT = 180.0, 150.0
LEFT, TOP, ACROSS, ALONG = 18.0, 19.0, 132.0, 108.0
SHAPES = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "p", "h", "d")
"""Shapes of marks, that of the commonest pattern first."""
OTHERS = "*"
"""Shape that all other patterns share."""
MANY = 300
"""Beyond this many frames marks are smaller and bars fainter."""
Box = tuple[float, float, float, float]
"""Left, bottom, right and top [pixels]."""
Spot = tuple[float, float]

_TURNS = (0.0, 180.0, 45.0, 135.0, 315.0, 225.0, 90.0, 270.0, 20.0, 160.0, 340.0, 200.0, 70.0, 110.0, 290.0, 250.0)
_STEPS = (1.0, 1.8, 3.0, 4.5)
"""Directions [degrees] and distances from its mark in which a place for a name is looked for, in this order."""
CELL = 64.0
"""Side of a cell of `Taken` [pixels]."""


def chart(data: ChartData, out: Path, *, dark: bool, most: int, caution: str | None) -> int:
    """Draw the chart to a file whose suffix says how; returns how many frames are named on it.

    data: the axes and the frames
    out: .svg, .png or .pdf
    dark: light on dark, for a screen
    most: names at most
    caution: a sentence on the data, set apart at the foot
    """
    colours = figure.theme(dark)
    with figure.style(colours):
        made, named = chart_figure(data, colours, most, caution)
        figure.save(made, out, _title(data))
    return named


def chart_figure(data: ChartData, colours: Theme, most: int, caution: str | None) -> tuple[Figure, int]:
    """The whole page, and how many frames are named on it.

    data, colours, most, caution: as of `chart`, colours being those of its theme
    """
    made = figure.blank(WIDTH, HEIGHT, colours)
    axes = figure.area(made, LEFT, TOP, ACROSS, ALONG)
    _frame(axes, data, colours)
    shapes = shapes_of(data.points)
    _bars(axes, data, colours)
    _marks(axes, data, shapes, colours)
    _reference(axes, data, colours)
    named = _names(made, axes, data, colours, most)
    _legend(axes, data, shapes, colours)
    _words(made, data, colours, named, caution)
    return made, named


def shapes_of(points: tuple[Point, ...]) -> dict[str, str]:
    """A shape for each pattern, the commonest first."""
    common = sorted(Counter(point.pattern for point in points).items(), key=lambda item: (-item[1], item[0]))
    return {pattern: SHAPES[place] if place < len(SHAPES) else OTHERS for place, (pattern, _) in enumerate(common)}


def _frame(axes: Axes, data: ChartData, colours: Theme) -> None:
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_xlabel(shown(data.x.label), fontsize=TEXT_PT)
    axes.set_ylabel(shown(data.y.label), fontsize=TEXT_PT)
    axes.tick_params(labelsize=TEXT_PT, length=2.5)
    axes.grid(color=colours.faint, linewidth=0.4)
    axes.set_axisbelow(True)
    axes.margins(0.06)


def _bars(axes: Axes, data: ChartData, colours: Theme) -> None:
    lines = []
    for point in data.points:
        if point.u_x:
            lines.append(((point.x - point.u_x, point.y), (point.x + point.u_x, point.y)))
        if point.u_y:
            lines.append(((point.x, point.y - point.u_y), (point.x, point.y + point.u_y)))
    colour = colours.faint if len(data.points) > MANY else colours.quiet
    axes.add_collection(LineCollection(lines, colors=colour, linewidths=0.5, alpha=0.55, zorder=2, gid="bars"))
    axes.autoscale_view()


def _marks(axes: Axes, data: ChartData, shapes: dict[str, str], colours: Theme) -> None:
    size = _size(data)
    for shape in dict.fromkeys(shapes.values()):
        for measured in (True, False):
            chosen = [one for one in data.points if shapes[one.pattern] == shape and one.measured == measured]
            if not chosen:
                continue
            axes.scatter(
                [one.x for one in chosen], [one.y for one in chosen], s=size, marker=shape, linewidths=0.8,
                facecolors=colours.ink if measured else colours.paper, edgecolors=colours.ink, zorder=3, gid="marks",
            )  # fmt: skip


def _size(data: ChartData) -> float:
    return 6.0 if len(data.points) > MANY else 16.0


def _reference(axes: Axes, data: ChartData, colours: Theme) -> None:
    for point in data.points:
        if point.frame_id == data.against:
            axes.axhline(point.y, color=colours.accent, linewidth=0.8, linestyle=(0, (4, 2)), zorder=1.5)
            axes.axvline(point.x, color=colours.accent, linewidth=0.8, linestyle=(0, (4, 2)), zorder=1.5)
            ring = axes.scatter([point.x], [point.y], s=90, facecolors="none", edgecolors=colours.accent, linewidths=1.6)
            ring.set(zorder=4, gid="reference")


def _names(made: Figure, axes: Axes, data: ChartData, colours: Theme, most: int) -> int:
    """Write the names that have a free place; returns how many do. The axes keep the limits they had meanwhile."""
    axes.set(xlim=axes.get_xlim(), ylim=axes.get_ylim())
    renderer = figure.renderer(made)
    spots = [(x, y) for x, y in axes.transData.transform([(one.x, one.y) for one in data.points]).tolist()]
    named = 0
    first = [number for number, one in enumerate(data.points) if one.frame_id == data.against]
    order = outermost_first(spots, first)[: max(4 * most, most)]
    sizes = [(0.0, 0.0)] * len(spots)
    for number in order:
        text = axes.text(0.0, 0.0, shown(data.points[number].frame_id), fontsize=SMALL_PT, zorder=5, va="bottom")
        box = text.get_window_extent(renderer)
        sizes[number] = (box.width + 2.0, box.height + 1.0)
        text.remove()
    inner = axes.get_window_extent(renderer)
    bounds = (inner.x0 + 2.0, inner.y0 + 2.0, inner.x1, inner.y1)
    mark = _size(data) ** 0.5 / 2.0 * made.dpi / 72.0 + 1.5
    back = axes.transData.inverted()
    for spot in place(spots, sizes, order, bounds, mark, most):
        point = data.points[spot.point]
        marked = point.frame_id == data.against
        left, low = back.transform((spot.box[0] + 1.0, spot.box[1] + 0.5)).tolist()
        if spot.far:
            middle = back.transform(((spot.box[0] + spot.box[2]) / 2.0, (spot.box[1] + spot.box[3]) / 2.0)).tolist()
            axes.plot([point.x, middle[0]], [point.y, middle[1]], color=colours.quiet, linewidth=0.4, zorder=2)
        text = axes.text(left, low, shown(point.frame_id), fontsize=SMALL_PT, va="bottom", zorder=5)
        text.set(color=colours.accent if marked else colours.ink, gid="name")
        text.set_bbox({"boxstyle": "square,pad=0.05", "facecolor": colours.paper, "edgecolor": "none", "alpha": 0.8})
        named += 1
    return named


def _legend(axes: Axes, data: ChartData, shapes: dict[str, str], colours: Theme) -> None:
    def key(label: str, shape: str, face: str, edge: str, size: float = 4.5) -> Line2D:
        return Line2D([], [], linestyle="", marker=shape, color=edge, markerfacecolor=face, markersize=size, label=label)

    handles = [key(pattern, shape, colours.ink, colours.ink) for pattern, shape in shapes.items() if shape != OTHERS]
    if OTHERS in shapes.values():
        handles.append(key("others", OTHERS, colours.ink, colours.ink))
    if not all(point.measured for point in data.points):
        handles.append(key("hollow: counted,\nnot measured", "o", colours.paper, colours.ink))
    if data.against is not None:
        handles.append(key(shown(data.against)[:20], "o", "none", colours.accent, 8.0))
    drawn = axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False, fontsize=SMALL_PT, borderaxespad=0.0,
        title="pattern", title_fontsize=SMALL_PT, alignment="left", handletextpad=0.4, labelspacing=0.6,
    )  # fmt: skip
    drawn.set_gid("legend")


def _title(data: ChartData) -> str:
    title = shown(f"{data.y.title} against {data.x.title}")
    return title[:1].upper() + title[1:]


def _words(made: Figure, data: ChartData, colours: Theme, named: int, caution: str | None) -> None:
    axes = figure.bare(figure.area(made, 0.0, 0.0, WIDTH, HEIGHT))
    axes.set(xlim=(0.0, WIDTH), ylim=(HEIGHT, 0.0), zorder=-1)
    figure.fit(made, axes.text(LEFT, 7.5, _title(data), fontsize=TITLE_PT, fontweight="bold"), WIDTH - LEFT - 6.0)
    count = f"{len(data.points)} frames"
    count += f"; {data.left_out} have no value for one of the two" if data.left_out else ""
    axes.text(LEFT, 13.0, count, fontsize=TEXT_PT, color=colours.quiet)
    notes = ["Bars are ± at k = 2; where none is drawn, none is stated."]
    if "mechanics" in (data.x.table, data.y.table):
        notes.append("Stiffness and frequency are a model.")
    if named < len(data.points):
        notes.append(f"{named} of {len(data.points)} are named, from the outside in.")
    drawn = axes.text(LEFT, HEIGHT - 8.0, " ".join(notes), fontsize=SMALL_PT, color=colours.quiet)
    figure.fit(made, drawn, WIDTH - LEFT - 6.0)
    if caution:
        axes.text(LEFT, HEIGHT - 4.0, caution + ".", fontsize=SMALL_PT, color=colours.accent, fontweight="bold")


class Placed(NamedTuple):
    """Where a name goes: its point's number, its box, and whether it is far enough off to need a line to its point."""

    point: int
    box: Box
    far: bool


class Taken:
    """Boxes that are taken, kept by cell so that only those nearby have to be compared."""

    def __init__(self) -> None:
        self._cells: dict[tuple[int, int], list[Box]] = {}

    def add(self, box: Box) -> None:
        """Take a box."""
        for cell in _cells(box):
            self._cells.setdefault(cell, []).append(box)

    def meets(self, box: Box) -> bool:
        """Whether `box` overlaps one that is taken."""
        return any(overlap(box, other) for cell in _cells(box) for other in self._cells.get(cell, ()))


def overlap(a: Box, b: Box) -> bool:
    """Whether two boxes overlap."""
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def place(
    points: Sequence[Spot], sizes: Sequence[tuple[float, float]], order: Sequence[int], bounds: Box, mark: float, most: int
) -> list[Placed]:
    """Places for names: the first free one of a few beside its point. A name that finds none is left out.

    points: where the marks are [pixels]
    sizes: width and height of each point's name [pixels]
    order: numbers of the points in the order in which their names are tried
    bounds: the box that names must not leave
    mark: half the width of a mark [pixels]
    most: names at most
    """
    taken = Taken()
    for x, y in points:
        taken.add((x - mark, y - mark, x + mark, y + mark))
    placed: list[Placed] = []
    for number in order:
        if len(placed) >= most:
            break
        spot = _free(points[number], sizes[number], taken, bounds, mark)
        if spot is not None:
            placed.append(spot._replace(point=number))
            taken.add(spot.box)
    return placed


def _free(point: Spot, size: tuple[float, float], taken: Taken, bounds: Box, mark: float) -> Placed | None:
    wide, high = size
    for step in _STEPS:
        away = mark + 0.45 * high * step
        for turn in _TURNS:
            angle = math.radians(turn)
            across, along = math.cos(angle), math.sin(angle)
            x = point[0] + across * away + (across - 1.0) / 2.0 * wide
            y = point[1] + along * away + (along - 1.0) / 2.0 * high
            box = (x, y, x + wide, y + high)
            within = bounds[0] <= x and bounds[1] <= y and box[2] <= bounds[2] and box[3] <= bounds[3]
            if within and not taken.meets(box):
                return Placed(-1, box, step > _STEPS[1])
    return None


def outermost_first(points: Sequence[Spot], first: Sequence[int] = ()) -> list[int]:
    """An order in which to name points: those of `first`, then from the outside of the cloud inwards."""
    if not points:
        return []
    middle = [sorted(one[axis] for one in points)[len(points) // 2] for axis in (0, 1)]
    spread = [max(max(abs(one[axis] - middle[axis]) for one in points), 1e-9) for axis in (0, 1)]
    far = [math.hypot(*((one[axis] - middle[axis]) / spread[axis] for axis in (0, 1))) for one in points]
    rest = sorted((number for number in range(len(points)) if number not in first), key=lambda number: (-far[number], number))
    return [*first, *rest]


def _cells(box: Box) -> list[tuple[int, int]]:
    low, high = (math.floor(box[0] / CELL), math.floor(box[1] / CELL)), (math.floor(box[2] / CELL), math.floor(box[3] / CELL))
    return [(x, y) for x in range(low[0], high[0] + 1) for y in range(low[1], high[1] + 1)]
