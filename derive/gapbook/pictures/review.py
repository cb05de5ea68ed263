"""A comparison on one page, for a review: verdicts, the beds at one scale, their figures, why they differ, and cautions.

The page is A4, upright. What is written takes the room that it needs, and the beds are drawn as large as the rest allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from matplotlib import colormaps
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from gapbook.errors import fail
from gapbook.pictures import bed as parts
from gapbook.pictures import figure
from gapbook.pictures.draw import LARGEST_MM, SMALLEST_MM
from gapbook.pictures.figure import SIZES, SMALL_PT, TEXT_PT, TITLE_PT, Theme, shown
from gapbook.questions.bed_data import DrawnBed
from gapbook.questions.comparing import Comparison, Contrast
from gapbook.questions.traits import ZONE_WORDS, ZONES
from gapbook.science.bed_geometry import Hoop, hoop_of_area, meshes
from gapbook.screens import comparisons
from gapbook.screens.frames import CAUTIONS
from gapbook.screens.text import NOT_KNOWN, with_u
from gapbook.signs import safe

WIDTH, HEIGHT = 210.0, 297.0
LEFT, RIGHT, TOP, FOOT = 14.0, 12.0, 11.0, 9.0
LABELS = 34.0
"""Width of the labels of rows [mm]."""
SENTENCE, TITLE, ROW, NOTE = 5.4, 3.6, 3.6, 3.1
"""Heights of lines: of the verdicts, of a bed's titles, of the table at least, and of the notes [mm]."""
LONGEST_TITLE = 30
"""Characters of a title above a bed; of a longer one, the middle is left out."""
ABOVE, BETWEEN = 2.2, 2.5
"""Room above a heading in the table, and between parts of the page [mm]."""
WIDEST = 1.25
"""Rows are set wider, at most by this factor, if beds side by side leave room."""
SPARE = 0.95
"""Part of a line that text may fill, because its measured width is not quite that on paper."""
MOST_BEDS = 4
LARGEST = 0.3
"""The largest scale at which beds are drawn [mm of paper per mm of frame]."""
ROOM_MM = 8.0
"""Around each hoop [mm of frame]."""


class Entry(NamedTuple):
    """A bed on the page.

    drawn: its copy; None if nobody measured one
    titles: what stands above it, its name first
    hoop: its inner edge, as read, or as it follows from the head's area
    """

    drawn: DrawnBed | None
    titles: tuple[str, ...]
    hoop: Hoop


def entries(comparison: Comparison, drawn: Sequence[DrawnBed | None]) -> list[Entry]:
    """The beds of a comparison as they stand on the page; `drawn` are their copies, None for a bed that nobody measured."""
    made = []
    for bed, copy in zip(comparison.beds, drawn, strict=True):
        if copy is None:
            titles = (bed.name, "nobody measured it", "from counts and head area")
            made.append(Entry(None, titles, hoop_of_area(bed.head_area_cm2)))
            continue
        maker = f"{copy.frame['maker']} {copy.frame['model']}, {copy.frame['edition']}"
        made.append(Entry(copy, (bed.name, maker, f"drawn: copy {copy.specimen_id}"), copy.hoop))
    return made


def must_fit(names: Sequence[str]) -> None:
    """GapbookError if there are more beds than a page holds."""
    if len(names) > MOST_BEDS:
        found, fix = f"{len(names)} beds", "Leave some out, or make two pages"
        raise fail("too-many-beds", f"a page holds at most {MOST_BEDS} beds", found=found, fix=fix)


def review(
    comparison: Comparison,
    drawn: Sequence[DrawnBed | None],
    out: Path,
    *,
    units: str | None = None,
    dark: bool = False,
    caution: str | None = None,
) -> None:
    """Write a comparison as one page to a file whose suffix says how. GapbookError if there are too many beds.

    comparison: the beds and their contrasts
    drawn: the copy of each bed that is drawn, None for a bed that nobody measured
    out: .svg, .png or .pdf
    units: metric, imperial, or None for the usual ones
    dark: light on dark, for a screen
    caution: a sentence on the data, set apart at the foot
    """
    must_fit([bed.name for bed in comparison.beds])
    colours = figure.theme(dark)
    with figure.style(colours):
        made = review_figure(comparison, entries(comparison, drawn), colours, units, caution)
        figure.save(made, out, "String beds compared: " + ", ".join(shown(bed.name) for bed in comparison.beds))


def review_figure(
    comparison: Comparison, beds: Sequence[Entry], colours: Theme, units: str | None, caution: str | None
) -> Figure:
    """The whole page.

    comparison: the beds and their contrasts
    beds: as they stand on the page
    colours, units, caution: as of `review`, colours being those of its theme
    """
    made = figure.blank(WIDTH, HEIGHT, colours)
    axes = figure.bare(figure.area(made, 0.0, 0.0, WIDTH, HEIGHT))
    axes.set(xlim=(0.0, WIDTH), ylim=(HEIGHT, 0.0))
    page = _Page(made, axes, colours, len(beds))
    below = page.notes(_notes(comparison, units), caution)
    rows = _rows(comparison, units)
    high = sum(ROW if cells else ROW + ABOVE for _, cells in rows)
    top = page.beds(beds, page.verdicts(comparison), below - high - 3.0 * BETWEEN) + BETWEEN
    page.table(rows, top, min((below - BETWEEN - top) / high, WIDEST))
    return made


def _notes(comparison: Comparison, units: str | None) -> list[str]:
    sure = (
        f"Verdicts need {100.0 * comparison.confidence:g} %. Drawn from the readings at one scale, tip up; darker is tighter."
    )
    return [sure, *comparisons.notes_on(comparison, units), *CAUTIONS]


def _rows(comparison: Comparison, units: str | None) -> list[tuple[str, list[str]]]:
    """Rows of the table: a label and a cell for each bed; a heading has no cells."""
    first, others = comparison.beds[0], comparison.beds[1:]
    rows = comparisons.figures(comparison, units)
    rows.append((f"Against {shown(first.name)}: how much more open, %", []))
    for zone in (zone for zone in ZONES if zone != "even"):
        cells = [_against(comparison.contrast(bed.name, zone)) for bed in others]
        if any(cell != NOT_KNOWN for cell in cells):
            rows.append((zone, ["", *cells]))
    rows.append((f"Why they differ {ZONE_WORDS[comparison.where].place}, in %", []))
    each = [item.why for item in comparisons.asked(comparison)]
    for label, name in (("head size", "size"), ("string count", "count"), ("drilling", "drilling"), ("zone", "zone")):
        cells = [comparisons.share_words(getattr(why, name, None)) for why in each]
        if label != "zone" or any(cell != NOT_KNOWN for cell in cells):
            rows.append((label, ["", *cells]))
    return rows


def _short(title: str) -> str:
    """A title as it is drawn above a bed: of a long one, its beginning and its end."""
    title = safe(title)
    return title if len(title) <= LONGEST_TITLE else f"{title[: LONGEST_TITLE // 2]}…{title[-LONGEST_TITLE // 3 :]}"


def _against(item: Contrast | None) -> str:
    if item is None:
        return NOT_KNOWN
    verdict = "too close" if item.verdict == "too close to call" else item.verdict
    return f"{with_u(item.difference_percent, item.u_difference_percent, plus=True)}, {verdict}"


class _Page(NamedTuple):
    """The page being made.

    figure: the whole of it
    axes: over all of it, in mm from its top left corner
    colours: of its theme
    columns: how many beds stand on it
    """

    figure: Figure
    axes: Axes
    colours: Theme
    columns: int

    @property
    def column(self) -> float:
        """Width of a bed's column [mm]."""
        return (WIDTH - LEFT - RIGHT - LABELS) / self.columns

    def middle(self, place: int) -> float:
        """x of the middle of a bed's column [mm]."""
        return LEFT + LABELS + (place + 0.5) * self.column

    def verdicts(self, comparison: Comparison) -> float:
        """The verdicts in words; returns where they end [mm]."""
        size = (TITLE_PT + TEXT_PT) / 2.0
        y = TOP
        for item in comparisons.asked(comparison):
            for line in self._wrapped(comparisons.sentence(item, comparison.confidence), size, "bold"):
                self.axes.text(LEFT, y, line, fontsize=size, fontweight="bold", va="center", gid="verdict")
                y += SENTENCE
        return y

    def beds(self, beds: Sequence[Entry], top: float, bottom: float) -> float:
        """The beds at one scale, their titles above and the scale of colours beside them, between two heights; returns where
        they end [mm].
        """
        for place, one in enumerate(beds):
            for number, title in enumerate(one.titles):
                style = {"fontsize": TEXT_PT, "fontweight": "bold"} if number == 0 else {"fontsize": SMALL_PT}
                colour = self.colours.quiet if number else self.colours.ink
                text = self.axes.text(
                    self.middle(place), top + number * TITLE, _short(title), ha="center", va="center", color=colour, **style
                )
                figure.fit(self.figure, text, self.column - 2.0)
        top += 3 * TITLE
        wide = max(one.hoop.width for one in beds) + ROOM_MM
        high = max(one.hoop.length for one in beds) + ROOM_MM
        scale = min((self.column - 1.0) / wide, (bottom - top) / high, LARGEST)
        for place, one in enumerate(beds):
            left = self.middle(place) - wide * scale / 2.0
            self._bed(one, (left, top, wide, high), scale, place)
        self._scale(top + high * scale)
        return top + high * scale

    def _bed(self, one: Entry, box: tuple[float, float, float, float], scale: float, place: int) -> None:
        """One bed: left and top of its axes [mm of paper], how far they reach [mm of frame], and the scale."""
        left, top, wide, high = box
        axes = figure.bare(figure.area(self.figure, left, top, wide * scale, high * scale))
        axes.set(xlim=(-wide / 2.0, wide / 2.0), ylim=(-high / 2.0, high / 2.0))
        axes.set_gid(f"bed-{place + 1}")
        if one.drawn is None:
            edge = PathPatch(
                parts.closed(one.hoop), fill=False, edgecolor=self.colours.quiet, linewidth=1.2, linestyle=(0, (4, 2))
            )
            edge.set_hatch("///")
            axes.add_patch(edge)
            axes.text(0.0, 0.0, "not measured", ha="center", va="center", fontsize=SMALL_PT).set_bbox(
                {"boxstyle": "round,pad=0.4", "facecolor": self.colours.paper, "edgecolor": "none"}
            )
            return
        drawn = meshes(one.drawn.strings)
        colour = colormaps[SIZES], Normalize(SMALLEST_MM, LARGEST_MM)
        parts.shade(axes, one.drawn, drawn.corners.tolist(), drawn.size.tolist(), colour)
        parts.strings(axes, one.drawn, self.colours, scale)
        parts.hoop(axes, one.drawn, self.colours)
        parts.zones(axes, self.colours, {})

    def _scale(self, bottom: float) -> None:
        """The scale of colours beside the beds, its lower end at this height [mm]."""
        axes = figure.area(self.figure, LEFT, bottom - 12.0, LABELS - 9.0, 2.8)
        mapped = ScalarMappable(Normalize(SMALLEST_MM, LARGEST_MM), colormaps[SIZES])
        bar = self.figure.colorbar(mapped, cax=axes, orientation="horizontal", extend="both")
        bar.set_ticks([8.0, 13.0, 18.0])
        bar.set_label("local mesh, mm", fontsize=SMALL_PT, labelpad=2.0)
        bar.ax.tick_params(labelsize=SMALL_PT, length=2.0, pad=1.5)
        bar.outline.set_edgecolor(self.colours.quiet)
        if bar.solids is not None:
            bar.solids.set_edgecolor("face")

    def table(self, rows: Sequence[tuple[str, Sequence[str]]], top: float, stretch: float) -> None:
        """The table from this height down [mm]; rows are `stretch` times as high as they must be."""
        size, ink, quiet = SMALL_PT + 0.5, self.colours.ink, self.colours.quiet
        self._rule(top)
        y = top + stretch * ROW / 2.0
        for label, cells in rows:
            if not cells:
                self._rule(y + stretch * (ABOVE - ROW) / 2.0)
                y += stretch * ABOVE
                self.axes.text(LEFT, y, label, fontsize=size, fontweight="bold", va="center")
            for place, cell in enumerate(cells):
                colour = quiet if cell == NOT_KNOWN else ink
                text = self.axes.text(self.middle(place), y, cell, fontsize=size, ha="center", va="center", color=colour)
                figure.fit(self.figure, text, self.column - 1.5)
            if cells:
                text = self.axes.text(LEFT, y, label, fontsize=size, va="center", color=quiet)
                figure.fit(self.figure, text, LABELS - 1.0)
            y += stretch * ROW

    def _rule(self, y: float) -> None:
        self.axes.plot([LEFT, WIDTH - RIGHT], [y, y], color=self.colours.faint, linewidth=0.6)

    def notes(self, notes: Sequence[str], caution: str | None) -> float:
        """Notes and caution at the foot; returns where they begin [mm]."""
        lines = [line for note in notes for line in self._wrapped(note, SMALL_PT, "normal")]
        begin = HEIGHT - FOOT - NOTE * (len(lines) + (1.4 if caution else 0.0))
        y = begin + NOTE / 2.0
        for line in lines:
            self.axes.text(LEFT, y, line, fontsize=SMALL_PT, color=self.colours.quiet, va="center", gid="note")
            y += NOTE
        if caution:
            y += 0.4 * NOTE
            self.axes.text(LEFT, y, caution + ".", fontsize=SMALL_PT, color=self.colours.accent, fontweight="bold", va="center")
        return begin

    def _wrapped(self, text: str, size: float, weight: str) -> list[str]:
        """A text in lines that fit between the margins."""
        lines: list[str] = []
        trial = self.axes.text(0.0, 0.0, "", fontsize=size, fontweight=weight)
        room = SPARE * (WIDTH - LEFT - RIGHT) * self.figure.dpi / figure.INCH_MM
        for word in text.replace(" ± ", "\0±\0").split(" "):
            word = word.replace("\0", " ")
            trial.set_text(f"{lines[-1]} {word}" if lines else word)
            if lines and trial.get_window_extent(figure.renderer(self.figure)).width <= room:
                lines[-1] = trial.get_text()
            else:
                lines.append(word)
        trial.remove()
        return lines
