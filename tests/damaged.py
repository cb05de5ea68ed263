"""A good small package, written out, and the means to break one thing in it."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from gapbook.errors import GapbookError, Problem
from gapbook.tables.derived import derive
from gapbook.tables.opening import open_package
from small import Small, marks

KEPT = b"as it was\n"
"""What stands in the derived tables before: nothing may be written unless all can be computed."""
DERIVED = ("beds", "scores", "handling", "mechanics", "digests")
"""The tables in catalogue/derived."""


def good() -> Small:
    """Two frames, one read as gaps with edges twice over, one as marks at two stations."""
    small = Small()
    small.frame("one", 16, 19, mass_g=320, strung="true", release_year=2020)
    small.frame("two", 18, 20, 632.3)
    small.copy("one-a", "one")
    small.copy("two-a", "two")
    for repeat in (1, 2):
        small.run("one-a", "main", [29.5, *[12.5] * 15, 29.5], edges=True, repeat=repeat)
        small.run("one-a", "cross", [30.5, *[12.5] * 18, 29.5], edges=True, repeat=repeat)
    for station in (0, 80):
        small.run("two-a", "main", marks([10.5] * 17), kind="mark", station=station)
    small.run("two-a", "cross", marks([11.5] * 19), kind="mark")
    small.reading("one-a", "head_width", 246.5)
    small.reading("one-a", "mass", 321.5, "g", instrument_id="scale")
    small.add("testers", tester_id="ann", style="flat", own_frame="none")
    return small


class Folder:
    """The good package in a folder, to be damaged."""

    def __init__(self, path: Path) -> None:
        self.path = good().write(path)
        for table in DERIVED:
            (self.path / "catalogue" / "derived" / f"{table}.csv").write_bytes(KEPT)

    def table(self, name: str) -> Path:
        """The file of a raw table."""
        return self.path / "catalogue" / f"{name}.csv"

    def lines(self, table: str) -> list[str]:
        """The physical lines of a table; the header is line 1, which is number 0 here."""
        return self.table(table).read_text(encoding="utf-8").splitlines()

    def rewrite(self, table: str, lines: list[str]) -> None:
        """Write a table's physical lines."""
        self.table(table).write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")

    def edit(self, table: str, line: int, **cells: object) -> None:
        """Change cells of the row on a physical line."""
        lines = self.lines(table)
        names, row = lines[0].split(","), next(csv.reader([lines[line - 1]]))
        for name, value in cells.items():
            row[names.index(name)] = str(value)
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerow(row)
        self.rewrite(table, [*lines[: line - 1], out.getvalue()[:-1], *lines[line:]])

    def drop(self, table: str, *numbers: int) -> None:
        """Take physical lines out."""
        self.rewrite(table, [line for number, line in enumerate(self.lines(table), 1) if number not in numbers])

    def repeat(self, table: str, line: int, **cells: object) -> int:
        """Put a row in once more, at the end, with other cells; the line it then stands on."""
        lines = self.lines(table)
        self.rewrite(table, [*lines, lines[line - 1]])
        if cells:
            self.edit(table, len(lines) + 1, **cells)
        return len(lines) + 1

    def descriptor(self, change: Callable[[dict], object]) -> None:
        """Change the descriptor."""
        path = self.path / "datapackage.json"
        content = json.loads(path.read_text(encoding="utf-8"))
        change(content)
        path.write_text(json.dumps(content), encoding="utf-8")

    def refused(self) -> list[Problem]:
        """The problems the package is refused for; nothing may have been written."""
        with pytest.raises(GapbookError) as stop:
            derive(open_package(self.path))
        derived = self.path / "catalogue" / "derived"
        if derived.is_dir():
            assert {path.name for path in derived.iterdir()} == {f"{table}.csv" for table in DERIVED}
            assert all(path.read_bytes() == KEPT for path in derived.iterdir()), "something was written"
        return list(stop.value.problems)


def line_of(small: Small, table: str, **cells: object) -> int:
    """The physical line of the first row of a table that has these cells."""
    for number, row in enumerate(small.tables[table], 2):
        if all(row[name] == str(value) for name, value in cells.items()):
            return number
    raise LookupError(cells)


def only(problems: list[Problem], code: str) -> Problem:
    """The one problem there is."""
    assert [problem.code for problem in problems] == [code]
    return problems[0]
