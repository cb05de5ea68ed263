"""The words and figures around a drawn bed."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from gapbook.pictures import figure
from gapbook.pictures.figure import SMALL_PT, TEXT_PT, TITLE_PT, Theme, shown
from gapbook.questions.drawings import DrawnBed, StiffnessMap
from gapbook.science.zones import ZONES
from gapbook.screens.text import head_area, pattern, plural, with_u

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LEFT, RIGHT, FOOT, COLUMN = 19.0, 6.0, 46.0, 26.0


class Page(NamedTuple):
    """The figure, the bed's axes on it and how far they reach [mm of frame], where what stands below the bed begins and
    how wide the page is [mm of paper].
    """

    figure: Figure
    bed: Axes
    half_x: float
    half_y: float
    below: float
    width: float


def heading(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> None:
    """What is drawn, and its centre mesh."""
    lines = [(_title(bed), TITLE_PT, "bold", colours.ink), (_subtitle(bed), TEXT_PT, "normal", colours.quiet)]
    lines.append((_score(bed), TEXT_PT, "normal", colours.ink))
    if other is not None:
        lines[0] = (f"{shown(bed.name)} with {shown(other.name)} laid over it", TITLE_PT, "bold", colours.ink)
        lines[1:] = [
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
    return shown(f"{bed.frame['maker']} {bed.frame['model']}, {bed.frame['edition']}")


def _subtitle(bed: DrawnBed) -> str:
    counts = pattern(bed.frame["mains"], bed.frame["crosses"])
    area = head_area(bed.frame["head_area_cm2"], None)
    return f"{counts}, {area}, copy {shown(bed.specimen_id)} from {plural(bed.bed['sessions'], 'session')}"


def _score(bed: DrawnBed) -> str:
    text = f"centre mesh of this copy {with_u(bed.bed['openness_centre'], bed.bed['u_openness_centre'], 0.1)} mm"
    if bed.scores is not None:
        frame = with_u(bed.scores["openness_centre"], bed.scores["u_openness_centre"], 0.1)
        text += f"; of any copy of {shown(bed.name)} {frame} mm"
    return text


def by_zone(bed: DrawnBed) -> dict[str, str]:
    """The figure of each zone as it stands on the picture: stiffness where there is a map of it, else mesh."""
    if bed.stiffness is not None:
        return {zone: f"{value:.0f} N/mm" for zone, value in bed.stiffness.zones.items() if value == value}
    known = {zone: bed.bed[f"openness_{zone}"] for zone in ZONES}
    return {zone: f"{value / 10.0:.1f} mm" for zone, value in known.items() if value is not None}


def table(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme) -> None:
    """Figures by window: mesh with ± of one or two beds, or stiffness."""
    if bed.stiffness is not None:
        _rows(page, ["window", "this copy, N/mm", "any copy (±, k = 2)"], _stiffness_rows(bed.stiffness), colours)
        return
    drawn = [one for one in (bed, other) if one is not None]
    headings = ["window, 67 mm", "mesh of this copy, mm (±, k = 2)"]
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


def _stiffness_rows(found: StiffnessMap) -> list[list[str]]:
    rows = []
    for zone in ZONES:
        column = f"stiffness_{zone}_n_per_mm"
        value, u = (found.frame[column], found.frame["u_" + column]) if found.frame else (None, None)
        frame = "–" if value is None or u is None else with_u(value, u)
        here = found.zones[zone]
        rows.append([zone, f"{here:.1f}" if here == here else "–", frame])
    return rows


def _figure(bed: DrawnBed, score: str, factor: float) -> str:
    value, u = bed.bed[score], bed.bed["u_" + score]
    return "not known" if value is None or u is None else with_u(value, u, factor, plus=score == "side_opening")


def foot(page: Page, bed: DrawnBed, other: DrawnBed | None, colours: Theme, caution: str | None) -> None:
    """How to read the picture, and what to be careful of."""
    axes = _canvas(page)
    whose = "" if other is None else f" of {shown(bed.copy)}"
    notes = [f"Drawn from the readings at half size, tip up. Gaps{whose} in mm: mains at y = 0, crosses down the middle."]
    if bed.stiffness is not None:
        notes.append("A model of geometry and tension, not a reading of any machine; shown where a whole ball fits the hoop.")
    elif other is None:
        notes.append("Darker is tighter. The colours mean the same in every picture.")
    else:
        notes.append(f"Below 0 {shown(bed.copy)} is tighter there. Hatched: the other covers less than 80 % of a mesh.")
    y = page.below + FOOT - 9.5
    for note in notes:
        figure.fit(page.figure, axes.text(LEFT, y, note, fontsize=SMALL_PT, color=colours.quiet), page.width - LEFT - RIGHT)
        y += 3.4
    if caution:
        axes.text(LEFT, y, caution + ".", fontsize=SMALL_PT, color=colours.accent, fontweight="bold")
