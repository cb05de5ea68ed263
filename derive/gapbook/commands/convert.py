"""`gapbook convert FILE... --out DIR`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from gapbook.commands.shared import JsonOption, PackageOption, print_written
from gapbook.errors import fail
from gapbook.screens import page
from gapbook.screens.text import plural
from gapbook.signs import safe
from gapbook.tables.opening import open_package

HELP = """Make a contribution of the lists that people send: xlsx, xls, ods, or text with commas, semicolons or tabs.

One row a reading, or one row a bed with columns gap 1, gap 2, ... (main gap 1, cross gap 1; mark 0, mark 1, ...), or one column
for mains and one for crosses. Decimal commas, fractions of an inch, units in names of columns or beside figures, and title rows
are read. What has to be guessed or assumed (names of columns, days, units) is shown before it is used: it is asked about on a
terminal, and elsewhere needs --yes. Names in other languages are told by a --map file; --map-example prints one.

DIR holds the tables only. DIR-sent beside it keeps the files as they were sent, changes.csv with every cell that was changed,
and report.md. A cell that cannot be read is an error, and nothing is written.
JSON: {"written", "sent", "rows", "guesses", "changes"}."""


def convert(
    files: Annotated[list[Path] | None, typer.Argument(metavar="FILE...", help="The files that were sent.")] = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="DIR", help="Folder of the contribution; new or empty.")] = None,
    names: Annotated[
        Path | None, typer.Option("--map", metavar="TOML", help="How your lists name columns, words, units.")
    ] = None,
    example: Annotated[bool, typer.Option("--map-example", help="Print a file for --map, and end.")] = False,
    dates: Annotated[str | None, typer.Option("--dates", help="What 03/04/2026 means: day-first or month-first.")] = None,
    decimal: Annotated[str | None, typer.Option("--decimal", help="What parts decimals in 1,125: comma or point.")] = None,
    contributor: Annotated[str | None, typer.Option("--contributor", help="Who read it, if no column says so.")] = None,
    instrument: Annotated[str | None, typer.Option("--instrument", help="What it was read with.")] = None,
    specimen: Annotated[str | None, typer.Option("--specimen", help="Id of the copy.")] = None,
    frame: Annotated[str | None, typer.Option("--frame", help="Id of its frame.")] = None,
    kind: Annotated[str | None, typer.Option("--kind", help="gap or mark.")] = None,
    family: Annotated[str | None, typer.Option("--family", help="main or cross.")] = None,
    unit: Annotated[str | None, typer.Option("--unit", help="Unit of figures without one: mm, in, g, oz, ...")] = None,
    on: Annotated[str | None, typer.Option("--on", help="The day of reading, YYYY-MM-DD.")] = None,
    station: Annotated[str | None, typer.Option("--station", help="Where the rule lay across the mains, mm.")] = None,
    strung: Annotated[str | None, typer.Option("--strung", help="true or false, of mass, balance and the like.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Use what was guessed without asking.")] = False,
    package: PackageOption = None,
    as_json: JsonOption = False,
) -> None:
    """Convert, show what was guessed, write."""
    from gapbook.intake.converting.convert import Wishes, sent_folder, write  # late: see shared
    from gapbook.intake.converting.convert import convert as converting
    from gapbook.intake.converting.mapping import example as map_example
    from gapbook.questions.measuring_sheet import must_be_free

    if example:
        return page.write(map_example())
    if not files or out is None:
        raise fail("usage", "FILE and --out are needed", expected="gapbook convert FILE... --out DIR")
    for folder in (out, sent_folder(out)):
        must_be_free(folder)
    said = {
        "contributor": contributor, "instrument": instrument, "specimen": specimen, "frame": frame, "kind": kind,
        "family": family, "unit": unit, "on": on, "station": station, "strung": strung,
    }  # fmt: skip
    opened = open_package(package)
    given = {name: text for name, text in said.items() if text is not None}
    converted = converting(files, opened, Wishes(dates, decimal, names, given))
    if converted.guesses and not yes:
        _ask(converted.guesses)
    written = write(converted, opened, out)
    rows = {table: len(listed) for table, listed in converted.rows.items()}
    document = {
        "sent": str(sent_folder(out)),
        "rows": rows,
        "guesses": list(converted.guesses),
        "changes": [change._asdict() for change in converted.changes],
    }
    notes = [
        ", ".join(f"{table} {plural(number, 'row')}" for table, number in rows.items()),
        f"{plural(len(converted.changes), 'cell')} changed; what was sent, and each change: {sent_folder(out)}",
        f"Next: gapbook check {out}",
    ]
    return print_written(written, document, as_json, notes)


def _ask(guesses: tuple[str, ...]) -> None:
    """Show what was guessed, and go on only if somebody says so. GapbookError `guessed` if nobody can be asked."""
    sys.stderr.write("Guessed, assumed or left out:\n" + "".join(f"  {safe(guess)}\n" for guess in guesses))
    sys.stderr.flush()
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        fix = (
            "Look at the list above; if it is right, add --yes. Else name columns in a --map file, or use the options of --help"
        )
        raise fail(
            "guessed",
            "nothing was written, because something had to be guessed",
            found=plural(len(guesses), "guess", "guesses"),
            fix=fix,
        )
    if not typer.confirm("Is this right?", default=False, err=True):
        raise fail(
            "guessed", "nothing was written", fix="Name columns in a --map file, or use the options of gapbook convert --help"
        )
