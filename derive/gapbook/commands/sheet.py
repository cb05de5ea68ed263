"""`gapbook sheet FRAME|16x19`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, print_written
from gapbook.tables.opening import open_package

HELP = """A measuring sheet to print (one A4 page), and beside it a folder of CSVs that lack only the figures.

The folder is named after --out: sheet.pdf and sheet-csv. Filled in, it is a contribution: gapbook check, show and compare
read it. A frame that the catalogue does not have is named by its pattern: 16x19 or "16x19 98 sq in".
JSON: {"written", "folder", "specimen_id", "by_hand", "readings"}."""


def sheet(
    name: Annotated[str, typer.Argument(metavar="FRAME", help='A frame, a specimen, 16x19 or "16x19 98 sq in".')],
    out: Annotated[Path, typer.Option("--out", help="The page: .pdf, .svg or .png.")],
    specimen: Annotated[str | None, typer.Option("--specimen", help="Id of the copy; default FRAME-CONTRIBUTOR.")] = None,
    contributor: Annotated[str | None, typer.Option("--contributor", help="Your contributor_id, such as ada-moss.")] = None,
    instrument: Annotated[
        str | None, typer.Option("--instrument", help="What it is read with; default rule-CONTRIBUTOR.")
    ] = None,
    kind: Annotated[str | None, typer.Option("--kind", help="mark (a rule laid once) or gap (a calliper).")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="mm or in; default the instrument's, or mm.")] = None,
    stations: Annotated[str, typer.Option("--stations", help="Heights of the mains' rows, mm, 0 among them.")] = "0,80,-80",
    repeats: Annotated[int, typer.Option("--repeats", min=1, max=3, help="How often every row is read.")] = 1,
    on: Annotated[str | None, typer.Option("--on", help="The day of reading, YYYY-MM-DD; default today.")] = None,
    handling: Annotated[bool, typer.Option("--handling", help="Read length, mass and balance too.")] = False,
    xlsx: Annotated[bool, typer.Option("--xlsx", help="A spreadsheet to fill in, too; gapbook convert reads it.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Open, lay out, write."""
    from gapbook.pictures import sheet as picture  # late: see shared
    from gapbook.pictures.figure import checked
    from gapbook.questions import measuring_sheet as sheets
    from gapbook.questions import measuring_workbook as workbooks
    from gapbook.tables.store import Store

    folder = checked(out).with_name(f"{out.stem}-csv")
    sheets.must_be_free(folder)
    workbook = workbooks.path_of(out) if xlsx else None
    store = Store(open_package(package))
    wishes = sheets.Wishes(specimen, contributor, instrument, kind, unit, stations, repeats, on, handling)
    planned = sheets.session(store, name, wishes)
    with sheets.writing(sheets.tables(planned), store.package, folder) as written:
        picture.sheet(planned, planned.area_cm2, folder.name, out)
        if workbook is not None:
            workbooks.write(planned, store.package, workbook)
            written.append(workbook)
    document = {
        "folder": str(folder),
        "specimen_id": planned.specimen_id,
        "by_hand": list(planned.by_hand),
        "readings": len(planned.whole_frame) + sum(len(run.numbers) for run in planned.runs),
    }
    notes = ["Fill in the column value of readings.csv and spacings.csv.", *(f"Fill in too: {one}." for one in planned.by_hand)]
    if workbook is not None:
        notes.append(f"Or fill in {workbook}; then gapbook convert {workbook} --out DIR.")
    if planned.contributor_id == sheets.NOBODY:
        notes.append(
            f"The reader is called {sheets.NOBODY}, which check refuses. To send it, make it with --contributor YOUR-ID."
        )
    print_written([out, *written], document, as_json, notes)
