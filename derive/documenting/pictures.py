"""The pictures in the documents, drawn from the demo by the commands that users call.

Each is a PNG of at most 128 colours, so that it stays below 200 kB.
"""

from __future__ import annotations

import contextlib
import io
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PIL import Image

from gapbook.commands.app import COMMANDS, build

WIDTH = 1000
"""Pixels across at most."""
COLOURS = 128
MOST_BYTES = 200_000
PAGE = "page"
"""The one picture that a browser takes."""
ASKED = "against=fern-98&look=moraine-98"
"""What the page in the picture was asked."""
WINDOW = {"width": 1320, "height": 900}
DRAWN: dict[str, tuple[str, ...]] = {
    "bed": ("draw", "fern-98"),
    "two-beds": ("draw", "fern-98", "--with", "moraine-98"),
    "stiffness": ("draw", "fern-98", "--stiffness"),
    "dark": ("draw", "moraine-98", "--dark"),
    "chart": ("chart", "head area", "centre mesh", "--against", "fern-98"),
    "review": ("compare", "fern-98", "moraine-98", "drumlin-98"),
    "sheet": ("sheet", "fern-98", "--contributor", "ada-moss", "--on", "2024-05-01"),
    "drilling": ("drill", "--head", "98 sq in", "--pattern", "16x19", "--centre", "10.8", "--sides", "+12%"),
    "relation": ("relate", "openness_centre", "launch_angle_deg", "--given", "head_area_cm2,main_tension_n"),
}
"""The command of each picture, without the option that names the file."""
NAMES = (*DRAWN, PAGE)


def draw(name: str, package: Path, folder: Path) -> Path:
    """Write the picture `name` of DRAWN into `folder`, from the package; its file."""
    command, *arguments = DRAWN[name]
    out = folder / f"{name}.png"
    with tempfile.TemporaryDirectory(prefix="picture-") as scratch:
        raw = Path(scratch, f"{name}.png")
        to = "--plot" if command == "relate" else "--out"
        _call([command, *arguments, to, str(raw), "--package", str(package), "--json"])
        shrink(raw, out)
    return out


def _call(arguments: Sequence[str]) -> None:
    """Run a command in this process, with its output thrown away."""
    with contextlib.redirect_stdout(io.StringIO()):
        build(COMMANDS)(list(arguments), standalone_mode=False)


def photograph(browser: Any, package: Path, folder: Path) -> Path:
    """Write the picture of the atlas, as a browser of Playwright's shows it, into `folder`; its file."""
    from gapbook.pictures.atlas import write
    from gapbook.tables.opening import open_package

    out = folder / f"{PAGE}.png"
    with tempfile.TemporaryDirectory(prefix="picture-") as scratch:
        written = write(open_package(package), Path(scratch))["out"]
        raw = Path(scratch, "raw.png")
        page = browser.new_page(viewport=WINDOW, reduced_motion="reduce", color_scheme="light")
        page.goto(f"{written.as_uri()}#{ASKED}")
        page.screenshot(path=raw)
        page.close()
        shrink(raw, out)
    return out


def shrink(raw: Path, out: Path) -> None:
    """Write the picture `raw` again as `out`, WIDTH pixels across at most, in COLOURS colours."""
    with Image.open(raw) as image:
        picture = image.convert("RGB")
        if picture.width > WIDTH:
            picture = picture.resize((WIDTH, round(picture.height * WIDTH / picture.width)), Image.Resampling.LANCZOS)
        picture.quantize(COLOURS, dither=Image.Dither.NONE).save(out, optimize=True)
