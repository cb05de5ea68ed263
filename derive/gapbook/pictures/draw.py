"""The picture of one bed, of its stiffness, or of two beds laid over each other: a page at half size, with scales, gaps
and figures.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from gapbook.pictures import beds, drawnwords, figure, strips
from gapbook.pictures.drawnwords import FOOT, LEFT, RIGHT, Page
from gapbook.pictures.figure import SMALL_PT, Theme, shown
from gapbook.questions.drawings import DrawnBed
from gapbook.science.meshes import meshes, size_over

if TYPE_CHECKING:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Colormap, Normalize
    from matplotlib.figure import Figure

PAPER_SCALE = 0.5
"""Pictures are printed at half size: 1 mm of paper for 2 mm of frame."""
SMALLEST_MM, LARGEST_MM = 8.0, 18.0
"""Ends of the scale of mesh sizes, the same in every picture, so that pictures can be laid side by side."""
DIFFERENCES_MM = (1.0, 2.0, 4.0, 8.0)
"""Ends a scale of differences may have; the least that holds nineteen of twenty meshes."""
LEVELS_N_PER_MM = (36, 80, 4)
"""First, end and step of the lines of equal stiffness, the same in every picture [N/mm]."""
ROOM, STRIP, HEADING = 6.0, 12.0, 21.0


def draw(bed: DrawnBed, other: DrawnBed | None, out: Path, *, dark: bool, caution: str | None) -> None:
    """Draw the bed to a file whose suffix says how; with `other` laid over it, shaded by how their meshes differ."""
    colours = figure.theme(dark)
    with figure.style(colours):
        made = bed_figure(bed, other, colours, caution)
        kind = "stiffness of the string bed" if bed.stiffness else "string bed"
        title = f"The {kind} of {shown(bed.specimen_id)}"
        figure.save(made, out, title + (f" and {shown(other.specimen_id)}" if other else ""))


def bed_figure(bed: DrawnBed, other: DrawnBed | None, colours: Theme, caution: str | None) -> Figure:
    """The whole page."""
    page = _page(bed, other, colours)
    _fill(page, bed, other, colours)
    beds.strings(page.bed, bed, colours, PAPER_SCALE)
    beds.hoop(page.bed, bed, colours)
    if other is not None:
        beds.plain_strings(page.bed, other, colours.other)
    beds.zones(page.bed, colours, {} if other else drawnwords.by_zone(bed))
    _strips(page, bed, colours)
    drawnwords.heading(page, bed, other, colours)
    drawnwords.table(page, bed, other, colours)
    drawnwords.foot(page, bed, other, colours, caution)
    return page.figure


def _page(bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> Page:
    hoops = [one.hoop for one in (bed, other) if one is not None]
    half_x = max(hoop.width for hoop in hoops) / 2.0 + ROOM
    half_y = max(hoop.length for hoop in hoops) / 2.0 + ROOM
    across, along = 2.0 * half_x * PAPER_SCALE, 2.0 * half_y * PAPER_SCALE
    width, heading = LEFT + across + STRIP + RIGHT, HEADING + (8.0 if other else 0.0)
    below = heading + along + STRIP + 8.0
    made = figure.blank(width, below + FOOT, colours)
    axes = figure.area(made, LEFT, heading, across, along)
    axes.set(xlim=(-half_x, half_x), ylim=(-half_y, half_y), xticks=[])
    strips.bare_sides(axes)
    axes.set_gid("bed")
    return Page(made, axes, half_x, half_y, below, width)


def _fill(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> None:
    from matplotlib import colormaps
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize

    if bed.stiffness is not None:
        levels = [float(level) for level in range(*LEVELS_N_PER_MM)]
        filled = beds.bands(page.bed, bed.stiffness, bed, levels)
        _colour_bar(page, filled, "stiffness where struck, N/mm, at 245 N pull: a model", levels[::2], colours)
        return
    found = meshes(bed.strings)
    scale: tuple[Colormap, Normalize] = (colormaps[figure.SIZES], Normalize(SMALLEST_MM, LARGEST_MM))
    values, label = found.size, "local mesh, mm: √(main gap × cross gap)"
    if other is not None:
        values = found.size - size_over(other.strings, found.corners)
        end = _end_of_scale([abs(one) for column in values.tolist() for one in column if one == one])
        scale = colormaps[colours.diverging], Normalize(-end, end)
        label = f"local mesh of {shown(bed.copy)} less that of {shown(other.copy)}, mm"
    beds.shade(page.bed, bed, found.corners.tolist(), values.tolist(), scale)
    low, high = float(scale[1].vmin or 0.0), float(scale[1].vmax or 0.0)
    steps = 5 if low > 0.0 else 4
    ticks = [low + (high - low) * step / steps for step in range(steps + 1)]
    _colour_bar(page, ScalarMappable(scale[1], scale[0]), label, ticks, colours)


def _end_of_scale(differences: list[float]) -> float:
    held = sorted(differences)[: max(1, int(0.95 * len(differences)))]
    return next((end for end in DIFFERENCES_MM if not held or held[-1] <= end), DIFFERENCES_MM[-1])


def _colour_bar(page: Page, mapped: ScalarMappable, label: str, ticks: list[float], colours: Theme) -> None:
    axes = figure.area(page.figure, LEFT, page.below + 6.0, (page.width - LEFT) * 0.42, 3.5)
    bar = page.figure.colorbar(mapped, cax=axes, orientation="horizontal", extend="both")
    bar.set_ticks(ticks)
    bar.set_label(label, fontsize=SMALL_PT, labelpad=2.0)
    bar.ax.tick_params(labelsize=SMALL_PT, length=2.5, pad=1.5)
    bar.outline.set_edgecolor(colours.quiet)
    if bar.solids is not None:
        bar.solids.set_edgecolor("face")


def _strips(page: Page, bed: DrawnBed, colours: Theme) -> None:
    across, along = 2.0 * page.half_x * PAPER_SCALE, 2.0 * page.half_y * PAPER_SCALE
    top = page.below - 8.0 - STRIP
    mains = figure.area(page.figure, LEFT, top, across, STRIP)
    strips.along_x(mains, bed.strings.main_at_0.tolist(), page.half_x, colours)
    crosses = figure.area(page.figure, LEFT + across, top - along, STRIP, along)
    strips.along_y(crosses, bed.strings.cross_y.tolist(), page.half_y, colours)
    strips.scale_y(page.bed, page.half_y)
