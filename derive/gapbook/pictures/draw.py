"""The picture of one bed, of its stiffness, or of two beds laid over each other: a page at half size, with scales, gaps
along both axes, words and figures.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure

from gapbook.pictures import bed as parts
from gapbook.pictures import figure
from gapbook.pictures.figure import SMALL_PT, TEXT_PT, TITLE_PT, Theme, shown
from gapbook.questions.bed_data import DrawnBed, StiffnessMap
from gapbook.questions.comparing import Contrast
from gapbook.science.bed_geometry import differences, meshes
from gapbook.science.comparison import COVERAGE_FACTOR
from gapbook.science.zones import ZONES
from gapbook.screens.text import head_area, pattern, percent, plural, signed, with_u, with_u_if_known

PAPER_SCALE = 0.5
"""Pictures are printed at half size: 1 mm of paper for 2 mm of frame."""
SMALLEST_MM, LARGEST_MM = 8.0, 18.0
"""Ends of the scale of mesh sizes, the same in every picture, so that pictures can be laid side by side."""
DIFFERENCE_MM = 2.0
"""End of the scale of differences between meshes, likewise the same in every picture."""
LEVELS_N_PER_MM = (36, 80, 4)
"""First, end and step of the lines of equal stiffness, the same in every picture [N/mm]."""
LEFT, RIGHT, FOOT, COLUMN = 19.0, 6.0, 46.0, 26.0
ROOM, STRIP, HEADING = 6.0, 12.0, 21.0
"""Margins and parts of the page [mm of paper]; ROOM is around the hoop [mm of frame]."""
TICK_MM = 50
"""Step of the scales [mm]."""
NUMBER_PT, GAP_PT = 5.0, 5.4


class Page(NamedTuple):
    """The page being drawn.

    figure: the whole of it
    bed: the bed's axes on it [mm of frame]
    half_x, half_y: how far the bed's axes reach from the head's centre [mm of frame]
    below: where what stands below the bed begins [mm of paper from the top]
    width: of the page [mm of paper]
    """

    figure: Figure
    bed: Axes
    half_x: float
    half_y: float
    below: float
    width: float


def draw(
    bed: DrawnBed,
    other: DrawnBed | None,
    out: Path,
    *,
    dark: bool,
    caution: str | None,
    contrast: Contrast | None = None,
) -> None:
    """Draw a bed to a file whose suffix says how.

    bed: the copy that is drawn
    other: a second copy laid over it; the meshes are then shaded by how the two differ
    out: .svg, .png or .pdf
    dark: light on dark, for a screen
    caution: a sentence on the data, set apart at the foot
    contrast: the first bed against the second in the centre, which the title tells; None if it is not known
    """
    colours = figure.theme(dark)
    with figure.style(colours):
        made = bed_figure(bed, other, colours, caution, contrast)
        kind = "stiffness of the string bed" if bed.stiffness else "string bed"
        title = f"The {kind} of {shown(bed.specimen_id)}"
        figure.save(made, out, title + (f" and {shown(other.specimen_id)}" if other else ""))


def bed_figure(
    bed: DrawnBed, other: DrawnBed | None, colours: Theme, caution: str | None, contrast: Contrast | None = None
) -> Figure:
    """The whole page.

    bed, other, colours, caution, contrast: as of `draw`, colours being those of its theme
    """
    page = _page(bed, other, colours)
    _fill(page, bed, other, colours)
    parts.strings(page.bed, bed, colours, PAPER_SCALE)
    parts.hoop(page.bed, bed, colours)
    if other is not None:
        parts.plain_strings(page.bed, other, colours.other)
    parts.zones(page.bed, colours, {} if other else _by_zone(bed))
    _strips(page, bed, colours)
    _heading(page, bed, other, colours, contrast)
    _table(page, bed, other, colours)
    _foot(page, bed, other, colours, caution)
    return page.figure


def _page(bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> Page:
    hoops = [one.hoop for one in (bed, other) if one is not None]
    half_x = max(hoop.width for hoop in hoops) / 2.0 + ROOM
    half_y = max(hoop.length for hoop in hoops) / 2.0 + ROOM
    across, along = 2.0 * half_x * PAPER_SCALE, 2.0 * half_y * PAPER_SCALE
    width, heading = LEFT + across + STRIP + RIGHT, HEADING + (12.6 if other else 0.0)
    below = heading + along + STRIP + 8.0
    made = figure.blank(width, below + FOOT, colours)
    axes = figure.area(made, LEFT, heading, across, along)
    axes.set(xlim=(-half_x, half_x), ylim=(-half_y, half_y), xticks=[])
    axes.spines[:].set_visible(False)
    axes.set_gid("bed")
    return Page(made, axes, half_x, half_y, below, width)


def _fill(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> None:
    if bed.stiffness is not None:
        levels = [float(level) for level in range(*LEVELS_N_PER_MM)]
        filled = parts.bands(page.bed, bed.stiffness, bed, levels)
        label = "stiffness where struck, N/mm, at 245 N pull: a model"
        _colour_bar(page, filled, label, levels[::2], ("← softer", "stiffer →"), colours)
        return
    drawn = meshes(bed.strings)
    scale: tuple[Colormap, Normalize] = (colormaps[figure.SIZES], Normalize(SMALLEST_MM, LARGEST_MM))
    values, plain, label, ends = drawn.size, None, "local mesh, mm: √(main gap × cross gap)", ("← tighter", "more open →")
    if other is not None:
        differing = differences(bed.strings, other.strings, bed.u_gap, other.u_gap)
        values, plain = differing.size, (abs(differing.size) <= COVERAGE_FACTOR * differing.u).tolist()
        scale = colormaps[colours.diverging], Normalize(-DIFFERENCE_MM, DIFFERENCE_MM)
        label = f"local mesh of {shown(bed.copy)} less that of {shown(other.copy)}, mm"
    parts.shade(page.bed, bed, drawn.corners.tolist(), values.tolist(), scale, plain)
    low, high = float(scale[1].vmin or 0.0), float(scale[1].vmax or 0.0)
    steps = 5 if low > 0.0 else 4
    ticks = [low + (high - low) * step / steps for step in range(steps + 1)]
    _colour_bar(page, ScalarMappable(scale[1], scale[0]), label, ticks, ends, colours)


def _colour_bar(
    page: Page, mapped: ScalarMappable, label: str, ticks: list[float], ends: tuple[str, str], colours: Theme
) -> None:
    """The scale of colours, with words over its two ends that say what these mean."""
    width = (page.width - LEFT) * 0.42
    axes = figure.area(page.figure, LEFT, page.below + 6.0, width, 3.5)
    bar = page.figure.colorbar(mapped, cax=axes, orientation="horizontal", extend="both")
    bar.set_ticks(ticks)
    bar.set_label(label, fontsize=SMALL_PT, labelpad=2.0)
    bar.ax.tick_params(labelsize=SMALL_PT, length=2.5, pad=1.5)
    bar.outline.set_edgecolor(colours.quiet)
    if bar.solids is not None:
        bar.solids.set_edgecolor("face")
    words = _canvas(page)
    for at, text, side in ((LEFT, ends[0], "left"), (LEFT + width, ends[1], "right")):
        words.text(at, page.below + 4.8, text, fontsize=SMALL_PT, color=colours.ink, ha=side)


def _strips(page: Page, bed: DrawnBed, colours: Theme) -> None:
    across, along = 2.0 * page.half_x * PAPER_SCALE, 2.0 * page.half_y * PAPER_SCALE
    top = page.below - 8.0 - STRIP
    mains = figure.area(page.figure, LEFT, top, across, STRIP)
    _gaps_of_mains(mains, bed.strings.main_at_0.tolist(), page.half_x, colours)
    crosses = figure.area(page.figure, LEFT + across, top - along, STRIP, along)
    _gaps_of_crosses(crosses, bed.strings.cross_y.tolist(), page.half_y, colours)
    _scale_y(page.bed, page.half_y)


def _gaps_of_mains(axes: Axes, places: Sequence[float], half: float, colours: Theme) -> None:
    """Gaps of the mains; `places` are x of each at the middle line [mm], and the axes reach ±`half`."""
    axes.set(xlim=(-half, half), ylim=(0.0, 1.0), yticks=[], xlabel="x across the head, mm from its centre")
    axes.spines[["left", "right", "top"]].set_visible(False)
    axes.set_xticks(_ticks(half))
    axes.tick_params(labelsize=SMALL_PT, length=2.5, pad=1.5)
    axes.xaxis.label.set_fontsize(SMALL_PT)
    for number, place in enumerate(places, 1):
        axes.plot([place, place], [0.62, 1.0], color=colours.quiet, linewidth=0.6)
        axes.text(place, 0.32, str(number), ha="center", va="center", fontsize=NUMBER_PT, color=colours.quiet)
    for left, right in pairwise(places):
        middle, gap = (left + right) / 2.0, f"{right - left:.1f}"
        axes.text(middle, 0.8, gap, ha="center", va="center", fontsize=GAP_PT, gid="main-gap")


def _gaps_of_crosses(axes: Axes, places: Sequence[float], half: float, colours: Theme) -> None:
    """Gaps of the crosses; `places` are y of each [mm] from tip to throat, and the axes reach ±`half`."""
    axes.spines[:].set_visible(False)
    axes.set(ylim=(-half, half), xlim=(0.0, 1.0), xticks=[], yticks=[])
    for number, place in enumerate(places, 1):
        axes.plot([0.0, 0.38], [place, place], color=colours.quiet, linewidth=0.6)
        axes.text(0.62, place, str(number), ha="center", va="center", fontsize=NUMBER_PT, color=colours.quiet)
    for upper, lower in pairwise(places):
        middle, gap = (upper + lower) / 2.0, f"{upper - lower:.1f}"
        axes.text(0.19, middle, gap, ha="center", va="center", fontsize=GAP_PT, gid="cross-gap")


def _scale_y(axes: Axes, half: float) -> None:
    """A scale in mm at the left of the bed's axes."""
    axes.set_yticks(_ticks(half))
    axes.spines["left"].set_visible(True)
    axes.tick_params(axis="y", labelsize=SMALL_PT, length=2.5, pad=1.5)
    axes.set_ylabel("y towards the tip, mm from the head's centre", fontsize=SMALL_PT)


def _ticks(half: float) -> list[int]:
    most = int(half) // TICK_MM
    return [TICK_MM * step for step in range(-most, most + 1)]


def _heading(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme, contrast: Contrast | None) -> None:
    """What is drawn, and its figure in the centre; of two beds the verdict."""
    lines = [(_title(bed), TITLE_PT, "bold", colours.ink), (_subtitle(bed), TEXT_PT, "normal", colours.quiet)]
    lines.append((_score(bed), TEXT_PT, "normal", colours.ink))
    if other is not None:
        verdict, figures = _verdict(bed, other, contrast)
        lines = [
            (verdict, TITLE_PT, "bold", colours.ink),
            (figures, TEXT_PT, "normal", colours.ink),
            (f"woven, shaded: {_title(bed)}, {_subtitle(bed)}", SMALL_PT, "normal", colours.ink),
            (_score(bed), SMALL_PT, "normal", colours.quiet),
            (f"thin lines, dashed hoop: {_title(other)}, {_subtitle(other)}", SMALL_PT, "normal", colours.other),
            (_score(other), SMALL_PT, "normal", colours.quiet),
        ]
    axes = _canvas(page)
    y = 7.0
    for text, size, weight, colour in lines:
        drawn = axes.text(LEFT, y, text, fontsize=size, fontweight=weight, color=colour, va="center")
        figure.fit(page.figure, drawn, page.width - LEFT - RIGHT)
        y += 6.0 if size == TITLE_PT else 4.6


def _canvas(page: Page) -> Axes:
    """Axes over the whole page in mm of paper, from the top left corner down."""
    height = page.figure.get_figheight() * figure.INCH_MM
    axes = figure.bare(figure.area(page.figure, 0.0, 0.0, page.width, height))
    axes.set(xlim=(0.0, page.width), ylim=(height, 0.0))
    return axes


def _title(bed: DrawnBed) -> str:
    if bed.is_drawing:
        return f"A drilling of {shown(bed.name)}"
    return shown(f"{bed.frame['maker']} {bed.frame['model']}, {bed.frame['edition']}")


def _subtitle(bed: DrawnBed) -> str:
    counts = pattern(bed.frame["mains"], bed.frame["crosses"])
    area = head_area(bed.frame["head_area_cm2"] or bed.bed["head_area_cm2"], None)
    if bed.is_drawing:
        return f"{counts}, {area}, a drawing: nobody read it off a frame"
    return f"{counts}, {area}, copy {shown(bed.specimen_id)} from {plural(bed.bed['sessions'], 'session')}"


def _verdict(bed: DrawnBed, other: DrawnBed, contrast: Contrast | None) -> tuple[str, str]:
    """What can be said of the centre, and by how much and how surely."""
    names = shown(bed.name), shown(other.name)
    if contrast is None:
        return f"{names[0]} with {names[1]} laid over it", "The mesh in the centre is not known of both."
    likelier = "tighter" if contrast.probability_tighter >= 0.5 else "more open"
    sure = percent(max(contrast.probability_tighter, 1.0 - contrast.probability_tighter))
    by = with_u(contrast.difference_percent, contrast.u_difference_percent, plus=True)
    figures = f"{names[0]} over {names[1]} in the centre: mesh {by} %, {sure} % sure to be {likelier}"
    if contrast.verdict == "too close to call":
        return f"{names[0]} and {names[1]} are too close to call", figures
    return f"{names[0]} is {contrast.verdict} than {names[1]}", figures


def _score(bed: DrawnBed) -> str:
    if bed.stiffness is not None:
        return _stiffness(bed.stiffness, shown(bed.name))
    if bed.is_drawing:
        opening = bed.bed["side_opening"]
        sides = f"{signed(100.0 * abs(opening), 1)} % {'tighter' if opening < 0.0 else 'more open'} than the centre"
        return f"centre mesh {bed.bed['openness_centre'] / 10.0:.2f} mm, sides {sides}"
    text = f"centre mesh of this copy {with_u(bed.bed['openness_centre'], bed.bed['u_openness_centre'], 0.1)} mm"
    if bed.scores is not None:
        frame = with_u(bed.scores["openness_centre"], bed.scores["u_openness_centre"], 0.1)
        text += f"; of any copy of {shown(bed.name)} {frame} mm"
    return text


def _stiffness(stiffness: StiffnessMap, name: str) -> str:
    text = f"stiffness of this copy in the centre {stiffness.zones['centre']:.1f} N/mm"
    frame = stiffness.frame
    if frame is not None and frame["stiffness_centre_n_per_mm"] is not None:
        whole = with_u(frame["stiffness_centre_n_per_mm"], frame["u_stiffness_centre_n_per_mm"])
        text += f"; of any copy of {name} {whole} N/mm"
    return text + ", a model"


def _by_zone(bed: DrawnBed) -> dict[str, str]:
    """The figure of each zone as the picture shows it: stiffness if there is a map of it, else mesh."""
    if bed.stiffness is not None:
        return {zone: f"{value:.0f} N/mm" for zone, value in bed.stiffness.zones.items() if value == value}
    known = {zone: bed.bed[f"openness_{zone}"] for zone in ZONES}
    return {zone: f"{value / 10.0:.1f} mm" for zone, value in known.items() if value is not None}


def _table(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> None:
    """Figures by window: the mesh of one or two beds with its ±, or stiffness."""
    if bed.stiffness is not None:
        _rows(page, ["window", "this copy, N/mm", "any copy (±, k = 2)"], _stiffness_rows(bed.stiffness), colours)
        return
    drawn = [one for one in (bed, other) if one is not None]
    headings = ["window, 67 mm", "mesh, mm" if bed.is_drawing else "mesh of this copy, mm (±, k = 2)"]
    over = ""
    if other is not None:
        headings = ["window", *(shown(one.copy)[:18] for one in drawn)]
        over = "mesh of each copy in 67 mm windows, mm (±, k = 2)"
    scores = [(zone, f"openness_{zone}", 0.1) for zone in ZONES] + [("sides open, %", "side_opening", 100.0)]
    rows = [[name, *(_figure(one, score, factor) for one in drawn)] for name, score, factor in scores]
    _rows(page, headings, rows, colours, over)


def _rows(page: Page, headings: list[str], rows: list[list[str]], colours: Theme, over: str = "") -> None:
    axes = _canvas(page)
    left, right = LEFT + (page.width - LEFT) * 0.52, page.width - RIGHT
    places = [left, *(right - COLUMN * place for place in reversed(range(len(headings) - 1)))]
    y = page.below + 4.0
    if over:
        drawn = axes.text(right, y, over, fontsize=SMALL_PT, color=colours.quiet, ha="right")
        figure.fit(page.figure, drawn, right - left)
        y += 4.0
    axes.plot([left, right], [y + 1.2, y + 1.2], color=colours.quiet, linewidth=0.6)
    for cells in (headings, *rows):
        colour = colours.quiet if cells is headings else colours.ink
        for place, (at, cell) in enumerate(zip(places, cells, strict=True)):
            axes.text(at, y, cell, fontsize=SMALL_PT, color=colour, ha="right" if place else "left")
        y += 4.0


def _stiffness_rows(stiffness: StiffnessMap) -> list[list[str]]:
    rows = []
    for zone in ZONES:
        column = f"stiffness_{zone}_n_per_mm"
        value, u = (stiffness.frame[column], stiffness.frame["u_" + column]) if stiffness.frame else (None, None)
        frame = "–" if value is None or u is None else with_u(value, u)
        here = stiffness.zones[zone]
        rows.append([zone, f"{here:.1f}" if here == here else "–", frame])
    return rows


def _figure(bed: DrawnBed, score: str, factor: float) -> str:
    is_part = score == "side_opening"
    value, u = bed.bed[score], bed.bed["u_" + score]
    if bed.is_drawing and value is not None:
        return signed(value * factor, 1 if is_part else 2, plus=is_part)
    return with_u_if_known(value, u, factor, plus=is_part)


def _foot(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme, caution: str | None) -> None:
    """How to read the picture, and the caution."""
    axes = _canvas(page)
    whose = "" if other is None else f" of {shown(bed.copy)}"
    made = "" if bed.is_drawing else "from the readings "
    notes = [f"Drawn {made}at half size, tip up. Gaps{whose} in mm: mains at y = 0, crosses down the middle."]
    if bed.stiffness is not None:
        notes.append("A model of geometry and tension, not a reading of any machine; shown where a whole ball fits the hoop.")
    elif other is None:
        notes.append("Darker is tighter; the scale is the same in every picture of mesh sizes.")
    else:
        notes.append(
            "No colour: within the uncertainty of two gaps (k = 2). Hatched: the other covers less than 80 % of a mesh."
        )
    y = page.below + FOOT - 9.5
    for note in notes:
        figure.fit(page.figure, axes.text(LEFT, y, note, fontsize=SMALL_PT, color=colours.quiet), page.width - LEFT - RIGHT)
        y += 3.4
    if caution:
        axes.text(LEFT, y, caution + ".", fontsize=SMALL_PT, color=colours.accent, fontweight="bold")
