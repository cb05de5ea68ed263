"""Files as they were sent, turned into the tables of a contribution: read, made, held together, and written."""

from __future__ import annotations

import csv
import io
import os
import shutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from gapbook.errors import GapbookError, Place, fail
from gapbook.intake.converting.columns import Vocabulary
from gapbook.intake.converting.figures import COMMA, DAY_FIRST, MONTH_FIRST, POINT, Habits, decimal_told, order_told
from gapbook.intake.converting.filling import Filling, distinct
from gapbook.intake.converting.lists import List, lists_of
from gapbook.intake.converting.making import Change, Making, slug
from gapbook.intake.converting.mapping import Names, read_mapping
from gapbook.intake.converting.rows import read_list
from gapbook.questions.measuring_sheet import must_be_free, writing
from gapbook.science.units import lookup
from gapbook.tables.cells import cell_problem, quoted
from gapbook.tables.files import drafting, read_bytes
from gapbook.tables.grids import Grid, grids_of
from gapbook.tables.package import RAW_TABLES, Package
from gapbook.tables.workbooks import LARGEST_FILE

_DATES = {"taken_on", "played_on", "since", "decided_on"}
_CHOICES = {"dates": (DAY_FIRST, MONTH_FIRST), "decimal": (COMMA, POINT)}


@dataclass(frozen=True)
class Wishes:
    """What is said of files that they do not say themselves. None means nothing.

    dates: DAY_FIRST or MONTH_FIRST.
    decimal: COMMA or POINT.
    mapping: the file that names columns.
    given: what holds for all rows, by its name in `mapping.GIVEN`.
    """

    dates: str | None = None
    decimal: str | None = None
    mapping: Path | None = None
    given: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Converted:
    """What became of files.

    rows: by table, its rows as text.
    guesses: what was guessed, assumed or left out, in words.
    changes: the cells that are written otherwise than they were sent.
    originals: by name, the files as they were sent.
    """

    rows: dict[str, list[dict[str, str]]]
    guesses: tuple[str, ...]
    changes: tuple[Change, ...]
    originals: dict[str, bytes]


def convert(files: Sequence[Path], package: Package, wishes: Wishes) -> Converted:
    """The tables of a contribution to `package`, made of `files`.

    GapbookError, with all problems that were found, if a file or a cell cannot be read.
    """
    for name, allowed in _CHOICES.items():
        if (said := getattr(wishes, name)) not in (None, *allowed):
            raise fail("usage", f"--{name} does not take this", found=said, expected=" or ".join(allowed))
    names = Names()
    if wishes.mapping is not None:
        names = read_mapping(wishes.mapping, Vocabulary(package, Names(), Habits()).targets)
    given = _given(package, {**names.given, **wishes.given})
    words = Vocabulary(package, names, Habits(units=names.units))
    making = Making(package, words, Habits())
    originals: dict[str, bytes] = {}
    lists: list[tuple[List, Habits]] = []
    for path in files:
        if path.is_dir():
            fix = "Name the files in it"
            raise fail("unreadable", "it is a folder", place=Place(str(path)), expected="a file", fix=fix)
        data = read_bytes(path, str(path), largest=LARGEST_FILE)
        if path.name in originals:
            raise fail("usage", "two files have one name", found=path.name, fix="Rename one of them")
        originals[path.name] = data
        lists += _lists(making, grids_of(data, str(path)), wishes)
    filling = Filling(making, given)
    for one, habits in sorted(
        lists, key=lambda item: item[0].targets() >= {"instrument_id", "kind", "resolution"}, reverse=True
    ):
        making.habits = habits
        read_list(making, one, filling, given)
    filling.finish()
    distinct(making)
    if making.problems:
        raise GapbookError(*making.problems)
    if not any(making.rows.values()):
        raise fail("no-rows", "no row was found in " + ", ".join(map(str, files)), expected="a header, and rows below it")
    rows = {table: [row.cells for row in making.rows[table]] for table in RAW_TABLES if making.rows.get(table)}
    return Converted(rows, tuple(making.guesses), tuple(making.changes), originals)


def _given(package: Package, said: Mapping[str, str]) -> dict[str, str]:
    """What holds for all rows, as the tables have it. GapbookError if a table cannot hold it."""
    out = {}
    items = {
        "contributor": "contributor_id", "instrument": "instrument_id", "specimen": "specimen_id", "kind": "kind",
        "family": "family", "on": "taken_on", "station": "station_mm",
    }  # fmt: skip
    for name, text in said.items():
        table, column = ("specimens", "frame_id") if name == "frame" else ("readings", "strung")
        if name in items:
            table, column = "spacings", items[name]
        text = slug(text) if column.endswith("_id") else text
        if name == "unit":
            if lookup(text) is None:
                raise fail("unit-unknown", "an unknown unit", found=quoted(text), expected="such as mm, in, g, oz")
        elif (code := cell_problem(item := package.schema(table).field(column), text)) is not None:
            raise fail(code, f"{name} cannot be this", found=quoted(text), expected=item.says())
        out[name] = text
    return out


def _lists(making: Making, grids: Sequence[Grid], wishes: Wishes) -> list[tuple[List, Habits]]:
    """The lists of one file, and how the file writes figures and days."""
    found: list[List] = []
    for grid in grids:
        for guess in grid.guesses:
            making.guess(guess)
        lists, guesses = lists_of(grid, making.words)
        found += lists
        if not lists and any(cell is not None for row in grid.rows for cell in row):
            making.guess(f"{grid.name} is left out: it has no header")
        elif lists:
            for guess in guesses:
                making.guess(guess)
    if not found:
        shown = grids[0].file if grids else "the file"
        expected = "a row of names such as specimen_id, family, gap 1, gap 2"
        fix = "Write the names of the columns above the figures, or name yours in a --map file (gapbook convert --map-example)"
        widest = max(
            (row for grid in grids for row in grid.rows), key=lambda row: sum(cell is not None for cell in row), default=[]
        )
        cells = quoted(", ".join(str(cell) for cell in widest if cell is not None))
        raise fail("no-header", "no row names the columns", place=Place(shown), found=cells, expected=expected, fix=fix)
    kinds = {item.name: item.type for table in RAW_TABLES for item in making.package.schema(table).fields}
    days = [text for one in found for text in _texts(one, lambda target: target in _DATES)]
    figures = [
        text for one in found for text in _texts(one, lambda target: kinds.get(target, "number") in ("number", "integer"))
    ]
    habits = Habits(wishes.decimal or decimal_told(figures), wishes.dates or order_told(days), making.words.names.units)
    return [(one, habits) for one in found]


def _texts(one: List, is_meant: Callable[[str], bool]) -> list[str]:
    """The texts of a list in columns, and above it, that hold what is meant: days, or figures."""
    places = [place for place, column in one.columns.items() if column.target and is_meant(column.target)]
    cells = [one.cell(row, place) for row in one.rows for place in places]
    said = [one.context[name].cell for name in one.context if is_meant(name)]
    return [cell for cell in (*cells, *said) if isinstance(cell, str)]


# Writing


def sent_folder(out: Path) -> Path:
    """Where originals and report of a contribution in `out` are kept: beside it, because a contribution holds tables only."""
    return out.with_name(f"{out.name}-sent")


def write(converted: Converted, package: Package, out: Path) -> list[Path]:
    """Write the tables into the new folder `out`, and beside it the originals, changes.csv and report.md.

    GapbookError if a folder already holds something, or cannot be written; then neither is left.
    """
    kept = sent_folder(out)
    for folder in (out, kept):
        must_be_free(folder)
    with drafting(kept) as draft:
        for name, data in converted.originals.items():
            (draft / name).write_bytes(data)
        for name, text in (("changes.csv", _changes(converted)), ("report.md", report(converted))):
            if name not in converted.originals:
                (draft / name).write_bytes(text.encode())
        try:
            with writing(converted.rows, package, out) as written:
                must_be_free(kept)
                if kept.exists():
                    kept.rmdir()
                os.rename(draft, kept)
        except (GapbookError, OSError):
            if not draft.exists():
                shutil.rmtree(kept)
            raise
    return written


def _changes(converted: Converted) -> str:
    """Every cell that was changed, as CSV; texts that a spreadsheet would run are put in quotation marks."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(Change._fields)
    for change in converted.changes:
        writer.writerow([f"'{one}" if one.startswith(("=", "+", "@", "\t")) else one for one in change])
    return text.getvalue()


def report(converted: Converted) -> str:
    """What was read, guessed and changed, as Markdown."""
    rows = "".join(f"- {table}.csv: {len(listed):,} rows\n" for table, listed in converted.rows.items())
    guesses = "".join(f"- {guess}\n" for guess in converted.guesses) or "Nothing.\n"
    changed = f"{len(converted.changes):,} cells are written otherwise than they were sent; changes.csv has each.\n"
    files = "".join(f"- {name}\n" for name in converted.originals)
    told = f"## Guessed, assumed or left out\n\n{guesses}\n## Changed\n\n{changed}"
    return f"# What was converted\n\n{files}\n## Rows\n\n{rows}\n{told}"
