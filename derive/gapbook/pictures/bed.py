"""A bed on paper: meshes shaded by size or stiffness in bands, strings woven over and under, the hoop, the five windows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.colors import Colormap, Normalize
from matplotlib.contour import ContourSet
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Shape
from matplotlib.patheffects import Normal, Stroke

from gapbook.pictures.figure import SMALL_PT, STIFFNESSES, Theme
from gapbook.questions.bed_data import DrawnBed, StiffnessMap
from gapbook.science.bed_geometry import BedStrings, Hoop, cross_ends, inside, main_ends, outline, windows
from gapbook.science.zones import BALL_MM

POINTS_A_MM = 72.0 / 25.4
CLEAR = 0.9
"""Free space on either side of a string that lies on top, in string diameters."""

Piece = tuple[tuple[float, float], tuple[float, float]]


class Woven(NamedTuple):
    """Pieces of mains and of crosses, each from point to point [mm], string by string."""

    mains: list[list[Piece]]
    crosses: list[list[Piece]]


def closed(hoop: Hoop) -> Shape:
    """A hoop's inner edge as a closed shape [mm]."""
    return Shape([*outline(hoop).tolist(), (0.0, 0.0)], closed=True)


def shade(
    axes: Axes,
    bed: DrawnBed,
    corners: list,  # type: ignore[type-arg]
    values: list,  # type: ignore[type-arg]
    scale: tuple[Colormap, Normalize],
    plain: list | None = None,  # type: ignore[type-arg]
) -> None:
    """Fill meshes by value; what lies beyond the hoop is cut off, and a mesh without a value (NaN) is hatched.

    axes: of the bed [mm]
    bed: whose hoop cuts the meshes off
    corners: as `science.bed_geometry.Meshes` has them, as nested lists
    values: a value a mesh, in the same order
    scale: the map of colours and its ends
    plain: whether a mesh has no colour, in the same order; None if all have one
    """
    cells = [cell for column in corners for cell in column]
    sizes = [size for column in values for size in column]
    colourless = [one for column in plain for one in column] if plain is not None else [False] * len(cells)
    known = [number for number, size in enumerate(sizes) if size == size and not colourless[number]]
    unknown = [number for number, size in enumerate(sizes) if size != size]
    hidden = PathPatch(closed(bed.hoop), transform=axes.transData)
    for name, numbers in (("meshes", known), ("unknown", unknown)):
        if not numbers:
            continue
        filled = PolyCollection([cells[number] for number in numbers], linewidths=0.0, antialiaseds=False, zorder=1)
        if name == "meshes":
            filled.set(cmap=scale[0], norm=scale[1], array=[sizes[number] for number in numbers])
        else:
            filled.set(facecolor="none", hatch="////")
        filled.set_gid(name)
        axes.add_collection(filled, autolim=False)
        filled.set_clip_path(hidden)


def bands(axes: Axes, stiffness: StiffnessMap, bed: DrawnBed, levels: list[float]) -> ContourSet:
    """Fill the bands between lines of equal stiffness, as far as a whole ball lies within the hoop.

    axes: of the bed [mm]
    stiffness: the map
    bed: whose hoop bounds it
    levels: stiffness of the lines [N/mm], rising
    """
    within = Hoop(bed.hoop.width - BALL_MM, bed.hoop.length - BALL_MM, bed.hoop.exponent)
    filled = axes.contourf(
        stiffness.across, stiffness.along, stiffness.values, levels=levels, cmap=STIFFNESSES, extend="both", zorder=1
    )
    filled.set_clip_path(PathPatch(closed(within), transform=axes.transData))
    filled.set_gid("stiffness")
    return filled


def strings(axes: Axes, bed: DrawnBed, colours: Theme, paper_scale: float) -> None:
    """The strings, woven.

    axes: of the bed [mm]
    bed: whose strings are drawn
    colours: of a string's core and edges
    paper_scale: paper per frame [mm/mm], which gives how thick a string is drawn
    """
    pieces = woven(bed.strings, bed.hoop, bed.gauge_mm)
    thick = bed.gauge_mm * paper_scale * POINTS_A_MM
    for name, family in (("mains", pieces.mains), ("crosses", pieces.crosses)):
        lines = [piece for one in family for piece in one]
        for part, colour, width, order in (("edge", colours.edge, thick, 3), ("core", colours.core, 0.55 * thick, 4)):
            drawn = LineCollection(lines, colors=colour, linewidths=width, capstyle="butt", zorder=order)
            drawn.set_gid(f"{name}-{part}")
            axes.add_collection(drawn, autolim=False)


def plain_strings(axes: Axes, bed: DrawnBed, colour: str) -> None:
    """A second bed laid over the first: its strings as thin lines, not woven, and its hoop dashed."""
    pieces = woven(bed.strings, bed.hoop, 0.0)
    lines = [(family[0][0], family[-1][1]) for family in (*pieces.mains, *pieces.crosses) if family]
    axes.add_collection(LineCollection(lines, colors=colour, linewidths=0.9, zorder=6, gid="other-strings"), autolim=False)
    edge = PathPatch(closed(bed.hoop), fill=False, edgecolor=colour, linewidth=1.4, linestyle=(0, (4, 2)), zorder=7)
    edge.set_gid("other-hoop")
    axes.add_patch(edge)


def hoop(axes: Axes, bed: DrawnBed, colours: Theme) -> None:
    """The inner edge of the hoop."""
    edge = PathPatch(closed(bed.hoop), fill=False, edgecolor=colours.ink, linewidth=2.4, zorder=8, gid="hoop")
    axes.add_patch(edge)


def zones(axes: Axes, colours: Theme, figures: Mapping[str, str]) -> None:
    """The five windows; at its upper edge stands the zone's name, with its figure if there is one."""
    for zone, (left, low, side) in windows().items():
        width = 1.6 if zone == "centre" else 1.0
        frame = Rectangle((left, low), side, side, fill=False, edgecolor=colours.ink, linewidth=width, zorder=9)
        frame.set_linestyle((0, (3, 1.5)) if zone in ("left", "right") else "-")
        frame.set_path_effects([Stroke(linewidth=width + 1.4, foreground=colours.paper), Normal()])
        frame.set_gid(f"window-{zone}")
        axes.add_patch(frame)
        words = f"{zone} {figures[zone]}" if zone in figures else zone
        tag = axes.text(left + side / 2.0, low + side, words, ha="center", va="center", fontsize=SMALL_PT, zorder=10)
        tag.set_bbox({"boxstyle": "round,pad=0.25", "facecolor": colours.paper, "edgecolor": colours.ink, "linewidth": 0.6})
        tag.set_gid(f"name-{zone}")


def woven(strings: BedStrings, hoop: Hoop, gauge: float) -> Woven:
    """The pieces of every string within the hoop, which stop short of the strings it runs under.

    Main i lies over cross j if i + j is even, counted from 0. `gauge` is the strings' diameter [mm].
    """
    crossing = strings.mains_at(strings.cross_y)
    held = inside(hoop, crossing, strings.cross_y)
    y, clear = strings.cross_y.tolist(), CLEAR * gauge
    mains = []
    for i, (low, high) in enumerate(main_ends(hoop, strings).tolist()):
        under = [y[j] for j in range(len(y)) if held[i, j] and (i + j) % 2]
        at, slope = float(strings.main_at_0[i]), float(strings.main_slope[i])
        pieces = _between(low, high, under, clear)
        mains.append([((at + slope * a, a), (at + slope * b, b)) for a, b in pieces])
    crosses = []
    for j, end in enumerate(cross_ends(hoop, strings.cross_y).tolist()):
        under = [float(crossing[i, j]) for i in range(len(crossing)) if held[i, j] and (i + j) % 2 == 0]
        crosses.append([((a, y[j]), (b, y[j])) for a, b in _between(-end, end, under, clear)])
    return Woven(mains, crosses)


def _between(low: float, high: float, under: Sequence[float], clear: float) -> list[tuple[float, float]]:
    """What is left from `low` to `high` if `clear` is taken away on either side of each place in `under`."""
    pieces, start = [], low
    for place in sorted(under):
        if place - clear > start:
            pieces.append((start, place - clear))
        start = max(start, place + clear)
    return [*pieces, (start, high)] if high > start else pieces
