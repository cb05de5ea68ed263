"""`gapbook sheet FRAME|16x19`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.options import JsonOption, PackageOption

HELP = """A measuring sheet to print (one A4 page), and beside it a folder of CSVs that lack only the figures.

The folder is named after --out: sheet.pdf and sheet-csv. Filled in, it is a contribution: gapbook check and gapbook
compare read it. JSON: {"written", "folder", "specimen_id", "by_hand", "readings"}."""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("sheet", help=HELP)(sheet)


def sheet(
    name: Annotated[str, typer.Argument(metavar="FRAME", help="A frame, a specimen, or a pattern such as 16x19.")],
    out: Annotated[Path, typer.Option("--out", help="The page: .pdf, .svg or .png.")],
    specimen: Annotated[str | None, typer.Option("--specimen", help="Id of the copy; default FRAME-mine.")] = None,
    contributor: Annotated[str | None, typer.Option("--contributor", help="Who reads; default me.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="What strings are read with; default my-rule.")] = None,
    kind: Annotated[str | None, typer.Option("--kind", help="mark (a rule laid once) or gap (a calliper).")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="mm or in; default the instrument's, or mm.")] = None,
    stations: Annotated[str, typer.Option("--stations", help="Heights of the mains' rows, mm, 0 among them.")] = "0,80,-80",
    repeats: Annotated[int, typer.Option("--repeats", min=1, max=3, help="How often every row is read.")] = 1,
    on: Annotated[str | None, typer.Option("--on", help="The day of reading, YYYY-MM-DD; default today.")] = None,
    handling: Annotated[bool, typer.Option("--handling", help="Read length, mass and balance too.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, lay out, write."""
    from gapbook.pictures.figure import checked
    from gapbook.questions import measuring_sheet
    from gapbook.tables.opening import open_package
    from gapbook.tables.store import Store

    folder = checked(out).with_name(f"{out.stem}-csv")
    measuring_sheet.must_be_free(folder)
    store = Store(open_package(package))
    wishes = measuring_sheet.Wishes(specimen, contributor, instrument, kind, unit, stations, repeats, on, handling)
    found = measuring_sheet.session(store, name, wishes)
    from gapbook.commands.written import told
    from gapbook.pictures import sheet as picture

    picture.sheet(found, measuring_sheet.head_area_cm2(store, found.frame_id), folder.name, out)
    written = measuring_sheet.write(found, store.package, folder)
    notes = ["Fill in the column value of readings.csv and spacings.csv.", *(f"Fill in too: {one}." for one in found.by_hand)]
    count = len(found.whole_frame) + sum(len(run.numbers) for run in found.runs)
    more = {"folder": str(folder), "specimen_id": found.specimen_id, "by_hand": list(found.by_hand), "readings": count}
    told(as_json, [out, *written], more, notes)
