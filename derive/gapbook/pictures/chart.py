"""The chart of two traits: every frame a mark whose shape is its string pattern, with error bars and names."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal, NamedTuple

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from gapbook.pictures import figure
from gapbook.pictures.figure import SMALL_PT, TEXT_PT, TITLE_PT, Theme, shown
from gapbook.questions.chart_data import ChartData, Point
from gapbook.screens.text import plural

WIDTH, HEIGHT = 180.0, 150.0
LEFT, TOP, ACROSS, ALONG = 18.0, 19.0, 132.0, 108.0
Shape = str | tuple[int, Literal[0, 1, 2], int]
"""A mark of matplotlib's: its letter, or points, style and angle."""
SHAPES: dict[str, Shape] = {
    "16×19": "o", "18×20": "s", "16×20": "^", "16×18": "D", "18×19": "v", "14×18": "P", "16×15": "X", "18×16": "<",
    "16×16": ">", "20×21": "p", "14×16": "h", "16×17": "d", "17×19": "8", "18×18": "H",
}  # fmt: skip
"""The mark of each pattern that is often seen, the same in every chart."""
OTHERS: tuple[Shape, ...] = (
    (4, 1, 0), (5, 1, 0), (6, 1, 0), (8, 1, 0), (4, 1, 45), (5, 1, 180), (7, 1, 0), (3, 1, 0), (3, 1, 180),
    (12, 1, 0), (3, 1, 90),
)  # fmt: skip
"""Stars (points, style, angle) that other patterns are given by rule."""
MANY = 300
"""Beyond this many frames marks are smaller and bars fainter."""
SIDEWAYS, ALSO = 9, 4
"""How many marks a mark is moved at most from its place, along the axis with fewer values and along the other."""
FEW = 3
"""An axis has few values if there are this many times as many frames."""
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
    axes.update_datalim([end for bar in _bars_of(data) for end in bar])
    axes.update_datalim([(point.x, point.y) for point in data.points])
    axes.autoscale_view()
    apart = _apart(made, axes, data)
    moved = apart.points != data.points
    _bars(axes, apart, colours)
    _marks(axes, apart, shapes, colours)
    _reference(axes, apart, colours)
    named = _names(made, axes, apart, colours, most)
    _legend(axes, data, shapes, colours)
    _words(made, data, colours, named, moved, caution)
    return made, named


def shapes_of(points: tuple[Point, ...]) -> dict[str, Shape]:
    """The shape of each pattern, the commonest first. It depends on the pattern alone."""
    common = sorted(Counter(point.pattern for point in points).items(), key=lambda item: (-item[1], item[0]))
    return {pattern: shape_of(pattern) for pattern, _ in common}


def shape_of(pattern: str) -> Shape:
    """The shape of a pattern, `16×19`: that of SHAPES, else one of OTHERS, by 7 times the mains plus the crosses."""
    mains, crosses = map(int, pattern.split("×"))
    return SHAPES.get(pattern) or OTHERS[(7 * mains + crosses) % len(OTHERS)]


def _apart(made: Figure, axes: Axes, data: ChartData) -> ChartData:
    """The chart with marks moved that would lie over others; from MANY frames on they stay."""
    if len(data.points) > MANY:
        return data
    axes.set(xlim=axes.get_xlim(), ylim=axes.get_ylim())
    spots = [(x, y) for x, y in axes.transData.transform([(one.x, one.y) for one in data.points]).tolist()]
    step = (_size(data) ** 0.5 + 1.6) * made.dpi / 72.0
    few = [FEW * len({getattr(one, name) for one in data.points}) <= len(data.points) for name in ("x", "y")]
    first = [number for number, one in enumerate(data.points) if one.frame_id == data.against]
    placed = spread(spots, step, (few[0], few[1]), first)
    back = axes.transData.inverted()
    points = list(data.points)
    for number, (before, spot) in enumerate(zip(spots, placed, strict=True)):
        if spot != before:
            x, y = back.transform(spot).tolist()
            points[number] = points[number]._replace(x=x, y=y)
    return replace(data, points=tuple(points))


def spread(spots: Sequence[Spot], step: float, few: tuple[bool, bool], first: Sequence[int] = ()) -> list[Spot]:
    """Places of marks of which none lies over another, each in its own place or some steps beside it; one that finds no free
    place stays.

    spots: where the marks are [pixels]
    step: how far apart marks have to be, and by which they are moved [pixels]
    few: whether the axes have few values, across and upwards; marks are only moved along such an axis
    first: numbers of marks that keep their places
    """
    reach = [0 if not one else SIDEWAYS if number == 0 or not few[0] else ALSO for number, one in enumerate(few)]
    moves = [(i, j) for i in range(-reach[0], reach[0] + 1) for j in range(-reach[1], reach[1] + 1)]
    moves.sort(key=lambda move: (move[0] ** 2 + move[1] ** 2, -move[0], -move[1]))
    taken = Taken()
    placed = list(spots)
    half = 0.499 * step
    for number in [*first, *(one for one in range(len(spots)) if one not in first)]:
        for across, along in moves:
            x, y = spots[number][0] + across * step, spots[number][1] + along * step
            box = (x - half, y - half, x + half, y + half)
            if not taken.meets(box):
                placed[number] = (x, y)
                taken.add(box)
                break
    return placed


def _frame(axes: Axes, data: ChartData, colours: Theme) -> None:
    axes.spines[["top", "right"]].set_visible(False)
    axes.set_xlabel(shown(data.x.label), fontsize=TEXT_PT)
    axes.set_ylabel(shown(data.y.label), fontsize=TEXT_PT)
    axes.tick_params(labelsize=TEXT_PT, length=2.5)
    axes.grid(color=colours.faint, linewidth=0.4)
    axes.set_axisbelow(True)
    axes.margins(0.06)


def _bars_of(data: ChartData) -> list[tuple[Spot, Spot]]:
    lines = []
    for point in data.points:
        if point.u_x:
            lines.append(((point.x - point.u_x, point.y), (point.x + point.u_x, point.y)))
        if point.u_y:
            lines.append(((point.x, point.y - point.u_y), (point.x, point.y + point.u_y)))
    return lines


def _bars(axes: Axes, data: ChartData, colours: Theme) -> None:
    lines = _bars_of(data)
    colour = colours.faint if len(data.points) > MANY else colours.quiet
    axes.add_collection(LineCollection(lines, colors=colour, linewidths=0.5, alpha=0.55, zorder=2, gid="bars"), autolim=False)


def _marks(axes: Axes, data: ChartData, shapes: dict[str, Shape], colours: Theme) -> None:
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
    order = (nearest_first(spots, first[0]) if first else outermost_first(spots))[: max(4 * most, most)]
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


def _legend(axes: Axes, data: ChartData, shapes: dict[str, Shape], colours: Theme) -> None:
    def key(label: str, shape: Shape, face: str, edge: str, size: float = 4.5) -> Line2D:
        return Line2D([], [], linestyle="", marker=shape, color=edge, markerfacecolor=face, markersize=size, label=label)

    handles = [
        key(", ".join(one for one in shapes if shapes[one] == shape), shape, colours.ink, colours.ink)
        for shape in dict.fromkeys(shapes.values())
    ]
    bases = {point.measured for point in data.points}
    if False in bases:
        handles += [key("filled: measured", "o", colours.ink, colours.ink)] if True in bases else []
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


def _words(made: Figure, data: ChartData, colours: Theme, named: int, moved: bool, caution: str | None) -> None:
    axes = figure.bare(figure.area(made, 0.0, 0.0, WIDTH, HEIGHT))
    axes.set(xlim=(0.0, WIDTH), ylim=(HEIGHT, 0.0), zorder=-1)
    figure.fit(made, axes.text(LEFT, 7.5, _title(data), fontsize=TITLE_PT, fontweight="bold"), WIDTH - LEFT - 6.0)
    count = plural(len(data.points), "frame")
    count += f" of: {shown(data.asked)}" if data.asked else ""
    count += f"; {data.left_out} more have no value for one of the two" if data.left_out else ""
    figure.fit(made, axes.text(LEFT, 13.0, count, fontsize=TEXT_PT, color=colours.quiet), WIDTH - LEFT - 6.0)
    notes = ["Bars are ± at k = 2; if none is drawn, none is stated."]
    if moved:
        notes.append("Marks that would lie over each other stand side by side.")
    if "mechanics" in (data.x.table, data.y.table):
        notes.append("Stiffness and frequency are a model.")
    if named < len(data.points):
        order = "from the outside in" if data.against is None else f"those nearest {shown(data.against)} first"
        notes.append(f"{named} of {len(data.points)} are named, {order}.")
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


def outermost_first(points: Sequence[Spot]) -> list[int]:
    """An order in which to name points: from the outside of the cloud inwards."""
    if not points:
        return []
    middle = [sorted(one[axis] for one in points)[len(points) // 2] for axis in (0, 1)]
    spread = [max(max(abs(one[axis] - middle[axis]) for one in points), 1e-9) for axis in (0, 1)]
    far = [math.hypot(*((one[axis] - middle[axis]) / spread[axis] for axis in (0, 1))) for one in points]
    return sorted(range(len(points)), key=lambda number: (-far[number], number))


def nearest_first(points: Sequence[Spot], to: int) -> list[int]:
    """An order in which to name points: that with number `to`, then the others by how far they are from it."""
    return sorted(range(len(points)), key=lambda number: (number != to, math.dist(points[number], points[to]), number))


def _cells(box: Box) -> list[tuple[int, int]]:
    low, high = (math.floor(box[0] / CELL), math.floor(box[1] / CELL)), (math.floor(box[2] / CELL), math.floor(box[3] / CELL))
    return [(x, y) for x in range(low[0], high[0] + 1) for y in range(low[1], high[1] + 1)]
