"""The chart of two traits: every frame a mark whose shape is its string pattern, with error bars and names."""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from gapbook.pictures import figure, labels
from gapbook.pictures.figure import SMALL_PT, TEXT_PT, TITLE_PT, Theme, shown
from gapbook.questions.charted import Charted, Point

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHT = 180.0, 150.0
LEFT, TOP, ACROSS, ALONG = 18.0, 19.0, 132.0, 108.0
SHAPES = ("o", "s", "^", "D", "v", "P", "X", "<", ">", "p", "h", "d")
"""Shapes of marks, for the commonest pattern first; patterns beyond them share the last."""
OTHERS = "*"
LABELS = 40
"""Names there are at most, unless asked otherwise."""
MANY = 300
"""Beyond this many frames marks are smaller and bars fainter."""


def chart(found: Charted, out: Path, *, dark: bool, most: int, caution: str | None) -> int:
    """Draw the chart to a file whose suffix says how, and tell how many frames are named on it."""
    colours = figure.theme(dark)
    with figure.style(colours):
        made, named = chart_figure(found, colours, most, caution)
        figure.save(made, out, _title(found))
    return named


def chart_figure(found: Charted, colours: Theme, most: int, caution: str | None) -> tuple[Figure, int]:
    """The whole page, and how many frames are named."""
    made = figure.blank(WIDTH, HEIGHT, colours)
    axes = figure.area(made, LEFT, TOP, ACROSS, ALONG)
    _frame(axes, found, colours)
    shapes = shapes_of(found.points)
    _bars(axes, found, colours)
    _marks(axes, found, shapes, colours)
    _reference(axes, found, colours)
    named = _names(made, axes, found, colours, most)
    _legend(axes, found, shapes, colours)
    _words(made, found, colours, named, caution)
    return made, named


def shapes_of(points: tuple[Point, ...]) -> dict[str, str]:
    """A shape for each pattern, the commonest first."""
    common = sorted(Counter(point.pattern for point in points).items(), key=lambda item: (-item[1], item[0]))
    return {pattern: SHAPES[place] if place < len(SHAPES) else OTHERS for place, (pattern, _) in enumerate(common)}


def _frame(axes: Axes, found: Charted, colours: Theme) -> None:
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.set_xlabel(shown(found.x.label), fontsize=TEXT_PT)
    axes.set_ylabel(shown(found.y.label), fontsize=TEXT_PT)
    axes.tick_params(labelsize=TEXT_PT, length=2.5)
    axes.grid(color=colours.faint, linewidth=0.4)
    axes.set_axisbelow(True)
    axes.margins(0.06)


def _bars(axes: Axes, found: Charted, colours: Theme) -> None:
    from matplotlib.collections import LineCollection

    lines = []
    for point in found.points:
        if point.u_x:
            lines.append(((point.x - point.u_x, point.y), (point.x + point.u_x, point.y)))
        if point.u_y:
            lines.append(((point.x, point.y - point.u_y), (point.x, point.y + point.u_y)))
    colour = colours.faint if len(found.points) > MANY else colours.quiet
    bars = LineCollection(lines, colors=colour, linewidths=0.5, alpha=0.55, zorder=2)
    bars.set_gid("bars")
    axes.add_collection(bars)
    axes.autoscale_view()


def _marks(axes: Axes, found: Charted, shapes: dict[str, str], colours: Theme) -> None:
    size = _size(found)
    for shape in dict.fromkeys(shapes.values()):
        for measured in (True, False):
            chosen = [one for one in found.points if shapes[one.pattern] == shape and one.measured == measured]
            if not chosen:
                continue
            marks = axes.scatter(
                [one.x for one in chosen], [one.y for one in chosen], s=size, marker=shape, linewidths=0.8,
                facecolors=colours.ink if measured else colours.paper, edgecolors=colours.ink, zorder=3,
            )  # fmt: skip
            marks.set_gid("marks")


def _size(found: Charted) -> float:
    return 6.0 if len(found.points) > MANY else 16.0


def _reference(axes: Axes, found: Charted, colours: Theme) -> None:
    for point in found.points:
        if point.frame_id == found.against:
            axes.axhline(point.y, color=colours.accent, linewidth=0.8, linestyle=(0, (4, 2)), zorder=1.5)
            axes.axvline(point.x, color=colours.accent, linewidth=0.8, linestyle=(0, (4, 2)), zorder=1.5)
            ring = axes.scatter([point.x], [point.y], s=90, facecolors="none", edgecolors=colours.accent, linewidths=1.6)
            ring.set(zorder=4, gid="reference")


def _names(made: Figure, axes: Axes, found: Charted, colours: Theme, most: int) -> int:
    """Write the names that find a place; how many did. The axes keep the limits that the places are found by."""
    axes.set(xlim=axes.get_xlim(), ylim=axes.get_ylim())
    renderer = figure.renderer(made)
    spots = [(x, y) for x, y in axes.transData.transform([(one.x, one.y) for one in found.points]).tolist()]
    texts = []
    first = [number for number, one in enumerate(found.points) if one.frame_id == found.against]
    order = labels.outermost_first(spots, first)[: max(4 * most, most)]
    sizes = [(0.0, 0.0)] * len(spots)
    for number in order:
        text = axes.text(0.0, 0.0, shown(found.points[number].frame_id), fontsize=SMALL_PT, zorder=5, va="bottom")
        box = text.get_window_extent(renderer)
        sizes[number] = (box.width + 2.0, box.height + 1.0)
        text.remove()
    inner = axes.get_window_extent(renderer)
    bounds = (inner.x0 + 2.0, inner.y0 + 2.0, inner.x1, inner.y1)
    mark = _size(found) ** 0.5 / 2.0 * made.dpi / 72.0 + 1.5
    back = axes.transData.inverted()
    for spot in labels.place(spots, sizes, order, bounds, mark, most):
        point = found.points[spot.point]
        marked = point.frame_id == found.against
        left, low = back.transform((spot.box[0] + 1.0, spot.box[1] + 0.5)).tolist()
        if spot.far:
            middle = back.transform(((spot.box[0] + spot.box[2]) / 2.0, (spot.box[1] + spot.box[3]) / 2.0)).tolist()
            axes.plot([point.x, middle[0]], [point.y, middle[1]], color=colours.quiet, linewidth=0.4, zorder=2)
        text = axes.text(left, low, shown(point.frame_id), fontsize=SMALL_PT, va="bottom", zorder=5)
        text.set(color=colours.accent if marked else colours.ink, gid="name")
        text.set_bbox({"boxstyle": "square,pad=0.05", "facecolor": colours.paper, "edgecolor": "none", "alpha": 0.8})
        texts.append(text)
    return len(texts)


def _legend(axes: Axes, found: Charted, shapes: dict[str, str], colours: Theme) -> None:
    from matplotlib.lines import Line2D

    def key(label: str, shape: str, face: str, edge: str, size: float = 4.5) -> Line2D:
        return Line2D([], [], linestyle="", marker=shape, color=edge, markerfacecolor=face, markersize=size, label=label)

    handles = [key(pattern, shape, colours.ink, colours.ink) for pattern, shape in shapes.items() if shape != OTHERS]
    if OTHERS in shapes.values():
        handles.append(key("others", OTHERS, colours.ink, colours.ink))
    if not all(point.measured for point in found.points):
        handles.append(key("hollow: counted,\nnot measured", "o", colours.paper, colours.ink))
    if found.against is not None:
        handles.append(key(shown(found.against)[:20], "o", "none", colours.accent, 8.0))
    drawn = axes.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(1.01, 1.0), frameon=False, fontsize=SMALL_PT, borderaxespad=0.0,
        title="pattern", title_fontsize=SMALL_PT, alignment="left", handletextpad=0.4, labelspacing=0.6,
    )  # fmt: skip
    drawn.set_gid("legend")


def _title(found: Charted) -> str:
    title = shown(f"{found.y.title} against {found.x.title}")
    return title[:1].upper() + title[1:]


def _words(made: Figure, found: Charted, colours: Theme, named: int, caution: str | None) -> None:
    axes = figure.bare(figure.area(made, 0.0, 0.0, WIDTH, HEIGHT))
    axes.set(xlim=(0.0, WIDTH), ylim=(HEIGHT, 0.0), zorder=-1)
    figure.fit(made, axes.text(LEFT, 7.5, _title(found), fontsize=TITLE_PT, fontweight="bold"), WIDTH - LEFT - 6.0)
    count = f"{len(found.points)} frames"
    count += f"; {found.left_out} have no value for one of the two" if found.left_out else ""
    axes.text(LEFT, 13.0, count, fontsize=TEXT_PT, color=colours.quiet)
    notes = ["Bars are ± at k = 2; where none is drawn, none is stated."]
    if "mechanics" in (found.x.table, found.y.table):
        notes.append("Stiffness and frequency are a model.")
    if named < len(found.points):
        notes.append(f"{named} of {len(found.points)} are named, from the outside in.")
    drawn = axes.text(LEFT, HEIGHT - 8.0, " ".join(notes), fontsize=SMALL_PT, color=colours.quiet)
    figure.fit(made, drawn, WIDTH - LEFT - 6.0)
    if caution:
        axes.text(LEFT, HEIGHT - 4.0, caution + ".", fontsize=SMALL_PT, color=colours.accent, fontweight="bold")
