"""What every picture shares: colours for light and dark paper, sizes in mm, and files that come out the same each time.

Text is drawn as outlines of matplotlib's own DejaVu Sans, so that a picture looks alike everywhere and needs no font.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg, RendererAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from gapbook.errors import fail
from gapbook.signs import safe, safe_lines
from gapbook.tables.files import replacing

SUFFIXES = (".svg", ".png", ".pdf")
INCH_MM = 25.4
PNG_DPI = 200
TITLE_PT, TEXT_PT, SMALL_PT = 11.0, 7.5, 6.5
LONGEST = 72
"""Characters of a name at most; a longer one is cut."""


class Theme(NamedTuple):
    """Colours of a picture.

    paper: the background
    ink: text and lines
    quiet: what is less important
    faint: grids and hatching
    core: the middle of a string
    edge: the sides of a string
    accent: what stands out, such as a reference or a caution
    other: a second bed laid over the first
    diverging: name of matplotlib's map for differences
    """

    paper: str
    ink: str
    quiet: str
    faint: str
    core: str
    edge: str
    accent: str
    other: str
    diverging: str


LIGHT = Theme("#ffffff", "#17202b", "#56616e", "#c4cad1", "#fbf8ef", "#17202b", "#a83c08", "#00796b", "PuOr_r")
DARK = Theme("#11151b", "#ece9e1", "#a3adb8", "#414a55", "#f3efe4", "#0a0d11", "#ff9a5c", "#8df0b4", "managua_r")
SIZES = "cividis"
"""matplotlib's map for mesh sizes: its steps look even, to colour-blind people too. The dark end is tight."""
STIFFNESSES = "magma_r"
"""matplotlib's map for stiffness, likewise even, and unlike that of sizes: nobody takes one for the other. The dark end is
stiff.
"""


def theme(dark: bool) -> Theme:
    """The colours for light or dark paper."""
    return DARK if dark else LIGHT


def checked(out: Path) -> Path:
    """`out`; GapbookError if no picture can have its suffix, or its folder is missing."""
    if out.suffix.lower() not in SUFFIXES:
        found = out.suffix or "no suffix"
        raise fail("picture-suffix", f"{out.name} is no picture file", found=found, expected="one of " + ", ".join(SUFFIXES))
    if not out.parent.is_dir():
        raise fail("no-folder", f"{out} cannot be written: there is no folder {out.parent}", fix="Make it first")
    return out


@contextmanager
def style(colours: Theme) -> Iterator[None]:
    """Settings under which a figure is made and saved: fixed font, no formulae, the same ids each time."""
    settings: dict[Any, Any] = {
        "font.family": "DejaVu Sans",
        "font.size": TEXT_PT,
        "text.parse_math": False,
        "axes.unicode_minus": True,
        "svg.fonttype": "path",
        "svg.hashsalt": "gapbook",
        "pdf.fonttype": 42,
        "pdf.compression": 6,
        "path.simplify": False,
        "text.color": colours.ink,
        "axes.labelcolor": colours.ink,
        "axes.edgecolor": colours.quiet,
        "xtick.color": colours.quiet,
        "ytick.color": colours.quiet,
        "axes.linewidth": 0.6,
        "xtick.major.width": 0.6,
        "ytick.major.width": 0.6,
        "hatch.linewidth": 0.4,
        "hatch.color": colours.faint,
    }
    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()  # not what a matplotlibrc says
        matplotlib.rcParams.update(settings)
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        yield


def blank(width_mm: float, height_mm: float, colours: Theme) -> Figure:
    """An empty figure of this size [mm]."""
    figure = Figure(figsize=(width_mm / INCH_MM, height_mm / INCH_MM), facecolor=colours.paper)
    FigureCanvasAgg(figure)
    return figure


def area(figure: Figure, left: float, top: float, width: float, height: float) -> Axes:
    """Axes on the figure, in mm from its top left corner.

    figure: made by `blank`
    left, top: of the axes' edges
    width, height: of the axes
    """
    across, along = figure.get_figwidth() * INCH_MM, figure.get_figheight() * INCH_MM
    axes = figure.add_axes((left / across, 1.0 - (top + height) / along, width / across, height / along))
    axes.patch.set_visible(False)
    return axes


def bare(axes: Axes) -> Axes:
    """The same axes without ticks and frame."""
    axes.set(xticks=[], yticks=[])
    axes.spines[:].set_visible(False)
    return axes


def shown(name: str) -> str:
    """A name as it can be drawn: control characters written out, not longer than LONGEST."""
    name = safe(name)
    return name if len(name) <= LONGEST else name[: LONGEST - 1] + "…"


def renderer(figure: Figure) -> RendererAgg:
    """The renderer of a figure made by `blank`, which measures text."""
    canvas: Any = figure.canvas
    return canvas.get_renderer()


def fit(figure: Figure, text: Text, width_mm: float) -> None:
    """Make a text small enough for this width [mm]."""
    wide = text.get_window_extent(renderer(figure)).width / figure.dpi * INCH_MM
    if wide > width_mm:
        text.set_fontsize(float(text.get_fontsize()) * width_mm / wide)


def save(figure: Figure, out: Path, title: str) -> None:
    """Write the figure by the suffix of `out`, whole or not at all. The same figure makes the same bytes.

    Its texts and its title are made safe: control characters would make an SVG that no program reads.
    """
    title = safe(title)
    for text in figure.findobj(Text):
        if (said := safe_lines(text.get_text())) != text.get_text():
            text.set_text(said)
    kind = out.suffix.lower().lstrip(".")
    metadata: dict[str, dict[str, str | None]] = {
        "svg": {"Title": title, "Date": None, "Creator": "gapbook"},
        "pdf": {"Title": title, "CreationDate": None, "ModDate": None, "Creator": "gapbook", "Producer": None},
        "png": {"Title": title, "Software": "gapbook"},
    }
    with replacing(out) as stream:
        figure.savefig(stream, format=kind, dpi=PNG_DPI, metadata=metadata[kind], facecolor=figure.get_facecolor())
