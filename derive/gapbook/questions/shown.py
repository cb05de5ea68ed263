"""Results that show themselves: `print` gives what the command line prints, and a notebook shows it as HTML.

Screens and pictures lie above the results (see Layers in DEVELOPERS.md). So they are looked up by name, and only if somebody
asks to see something.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

SCREENS = "gapbook.screens.shown"
_OWN = "gapbook."


def above(name: str) -> Any:
    """A module of a layer above, by its name."""
    return import_module(name)


class Shown:
    """A result that shows itself."""

    def __str__(self) -> str:
        return str(above(SCREENS).as_text(self))

    def _repr_html_(self) -> str:
        """The same for a notebook."""
        return str(above(SCREENS).as_html(self))

    def __dir__(self) -> list[str]:
        """What gapbook itself gives the result: completion shows no names of the libraries it is made with."""
        own = [vars(kind) for kind in type(self).__mro__ if kind.__module__.startswith(_OWN)]
        names = {name for one in own for name in (*one, *one.get("__annotations__", ()))}
        return sorted(name for name in names if not name.startswith("_") and name != "model_config")


class Picture:
    """A picture that a notebook shows, and that is saved as SVG, PNG or PDF."""

    def __init__(self, draw: Callable[[Path], object], title: str) -> None:
        self._draw, self._title = draw, title

    def __repr__(self) -> str:
        return f"<Picture: {self._title}>"

    def save(self, path: str | Path) -> None:
        """Write the picture to a file; its suffix says how: .svg, .png or .pdf."""
        above("gapbook.pictures.figure").checked(Path(path))
        self._draw(Path(path))

    def _repr_svg_(self) -> str:
        with tempfile.TemporaryDirectory(prefix="gapbook-") as folder:
            path = Path(folder) / "picture.svg"
            self._draw(path)
            return path.read_text(encoding="utf-8")
