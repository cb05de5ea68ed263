"""`gapbook atlas --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption

HELP = """Write the whole catalogue as one web page, DIR/index.html, that opens from disk without a server or network.

Every frame stands on a line of tightness at its mesh with its uncertainty, about the frame you know. DIR is made if need
be; an earlier atlas in it is replaced. JSON: {"written", "frames", "beds", "bytes"}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("atlas", help=HELP)(atlas)


def atlas(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write index.html into.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, write, say so."""
    from gapbook.commands.written import told
    from gapbook.pictures.atlas import write
    from gapbook.tables.opening import open_package

    found = write(open_package(package), out)
    more = {name: found[name] for name in ("frames", "beds", "bytes")}
    told(as_json, [found["out"]], more, [f"{found['frames']:,} frames, {found['beds']:,} beds drawn. Open it in a browser."])
