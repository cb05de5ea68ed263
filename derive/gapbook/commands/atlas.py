"""`gapbook atlas --out DIR`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, print_written
from gapbook.tables.opening import open_package

HELP = """Write the whole catalogue as one web page, DIR/index.html, that opens from disk without a server or network.

Every frame stands on a line of tightness at its mesh with its uncertainty, about the frame you know. DIR is made if need
be; an earlier atlas in it is replaced. JSON: {"written", "frames", "beds", "bytes"}."""


def atlas(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to write index.html into.")],
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, write, say so."""
    from gapbook.pictures.atlas import write  # late: see shared

    made = write(open_package(package), out)
    document = {name: made[name] for name in ("frames", "beds", "bytes")}
    note = f"{made['frames']:,} frames, {made['beds']:,} beds drawn. Open it in a browser."
    print_written([made["out"]], document, as_json, [note])
