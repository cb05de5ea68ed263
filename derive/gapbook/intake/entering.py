"""Figures typed into the CSVs of a measuring sheet, row by row, each judged as it is typed and kept at once."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby, pairwise
from pathlib import Path

import numpy as np

from gapbook.errors import GapbookError, fail
from gapbook.intake.converting.figures import Habits, figure
from gapbook.intake.rules.misread import LEVEL
from gapbook.science import misread
from gapbook.science.grouping import FloatArray
from gapbook.science.pooling import PERSON_OTHER_MM
from gapbook.science.repeats import DEFAULT_OTHER_MM, DEFAULT_SPACING_MM
from gapbook.science.statistics import bonferroni
from gapbook.science.units import lookup
from gapbook.tables.cells import cell_problem, quoted
from gapbook.tables.files import read_bytes, replacing
from gapbook.tables.package import Package
from gapbook.tables.records import records, schema_header

Row = dict[str, str]
Read = Callable[[], str | None]
"""Gives the next line that is typed; None if there are no more."""
Say = Callable[[str], None]
TABLES = ("readings", "spacings")
"""What is typed in, in the order of the sheet."""
STOP, BACK, NOT_READ = ("stop", "quit", "q"), "back", "-"
CLOSED = {"main": ("head_width", "width"), "cross": ("head_length", "length")}
"""The reading that the mains and the crosses must add up to, and what it is called."""
OTHER_U_MM = 0.5
"""Standard uncertainty of a length that is read once [mm]. Common practice, no source."""
_ONE = re.compile(r"([0-9]{1,2}) ?= ?(.+)")
_FIGURES = re.compile(r"[0-9]+ [0-9]+/[0-9]+[^\s;]*|[^\s;]+")
JUMP = 0.3
"""A gap that differs from the one before by more than this part of it is asked about before its run is whole. Common practice,
no source."""


@dataclass
class Task:
    """What one line is typed for: a run of gaps or marks, or one reading of the whole frame.

    table: where its rows are.
    rows: in the order of the sheet.
    """

    table: str
    rows: list[Row]

    @property
    def blank(self) -> list[Row]:
        """The rows that are still to be typed."""
        return [row for row in self.rows if not row["value"]]

    @property
    def edges(self) -> tuple[str, ...]:
        """The numbers of the rows that hold inner edges, if the run has any."""
        is_whole = self.table == "spacings" and self.rows[0]["no"] == "0" and len(self.rows) > 1
        return (self.rows[0]["no"], self.rows[-1]["no"]) if is_whole else ()

    @property
    def title(self) -> str:
        """What is read, in words."""
        one = self.rows[0]
        again = f", repeat {one['repeat']}" if one["repeat"] != "1" else ""
        if self.table == "readings":
            return f"{one['quantity'].replace('_', ' ')}{again} [{one['unit']}]"
        last = self.rows[-1]["no"]
        where = f" at station {one['station_mm']}" if one["family"] == "main" else ""
        what = {"main": "mains", "cross": "crosses"}.get(one["family"], one["family"])
        return f"{what}{where}{again}, {one['kind']}s {one['no']} to {last} [{one['unit']}]"


@dataclass
class Entry:
    """The CSVs of a sheet that are being filled in.

    package: whose schemas they follow.
    folder: where they are.
    tables: their rows.
    typed: how many figures were typed.
    doubts: how many were kept although they look wrong.
    """

    package: Package
    folder: Path
    tables: dict[str, list[Row]] = field(default_factory=dict)
    typed: int = 0
    doubts: int = 0

    def __post_init__(self) -> None:
        for table in TABLES:
            path = self.folder / f"{table}.csv"
            if path.exists() or path.is_symlink():
                self.tables[table] = _rows(self.package, table, path)
        if not self.tables:
            expected = "the folder that gapbook sheet writes, with spacings.csv and readings.csv"
            raise fail("no-sheet", f"no measuring sheet in {self.folder}", expected=expected)

    def tasks(self) -> list[Task]:
        """Everything that is typed, in the order of the sheet."""
        out = [Task("readings", [row]) for row in self.tables.get("readings", [])]
        spacings = self.tables.get("spacings", [])
        for _, rows in groupby(spacings, lambda row: [row[name] for name in row if name not in ("no", "value")]):
            out.append(Task("spacings", list(rows)))
        return out

    @property
    def left(self) -> int:
        """Figures that are still to be typed."""
        return sum(len(task.blank) for task in self.tasks())

    def keep(self, table: str) -> None:
        """Write a table as it is now; it is replaced whole. GapbookError if it cannot be written."""
        out = io.StringIO()
        names = self.package.schema(table).names
        writer = csv.DictWriter(out, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows(self.tables[table])
        with replacing(self.folder / f"{table}.csv") as stream:
            stream.write(out.getvalue().encode())

    def take_out(self, table: str, row: Row) -> None:
        """Take out the row of something that was not read."""
        self.tables[table] = [one for one in self.tables[table] if one is not row]


def _rows(package: Package, table: str, path: Path) -> list[Row]:
    data = read_bytes(path, str(path))
    schema_header(data, str(path), package.schema(table))
    names = package.schema(table).names
    try:
        found = list(records(data))[1:]
    except (UnicodeDecodeError, csv.Error) as error:
        raise fail("unreadable", f"{path} cannot be read: {error}", fix="Run gapbook check on the folder") from None
    if bad := next((one.line for one in found if len(one.cells) != len(names)), None):
        raise fail("width", f"{path}:{bad}: the row has another number of cells", fix="Run gapbook check on the folder")
    for one in found:
        for item, text in zip(package.schema(table).fields, one.cells, strict=True):
            if text not in ("", NOT_READ) and cell_problem(item, text) is not None:
                what = f"{path}:{one.line}: {item.name} cannot be {text!r}"
                raise fail("type", what, expected=item.says(), fix="Run gapbook check on the folder")
    return [dict(zip(names, one.cells, strict=True)) for one in found]


def enter(entry: Entry, read: Read, say: Say) -> bool:
    """Ask for everything that is blank; whether the sheet is full. What is typed is kept line by line."""
    tasks = entry.tasks()
    number = 0
    while number < len(tasks):
        task = tasks[number]
        if not task.blank:
            number += 1
            continue
        say(f"({sum(len(one.blank) for one in tasks):,} left) {task.title}{_from(task)}: ")
        line = read()
        if line is None or line.strip().lower() in STOP:
            say("\n" if line is None else "")
            return False
        if line.strip().lower() == BACK:
            number = _back(entry, tasks, number, say)
            continue
        _take(entry, task, line, read, say)
        task.rows = [row for row in task.rows if any(row is one for one in entry.tables[task.table])]
    for sentence in closures(entry):
        say(sentence + "\n")
    return True


def _from(task: Task) -> str:
    """Which numbers are still to be typed, if some of the run are typed already."""
    blank = task.blank
    return f", from {blank[0]['no']} on" if task.table == "spacings" and len(blank) < len(task.rows) else ""


def _back(entry: Entry, tasks: Sequence[Task], number: int, say: Say) -> int:
    """Blank the line before, or what is typed of this one."""
    while number > 0 and len(tasks[number].blank) == len(tasks[number].rows):
        number -= 1
        if tasks[number].rows:
            break
    for row in tasks[number].rows:
        row["value"] = ""
    if tasks[number].rows:
        entry.keep(tasks[number].table)
    return number


def _take(entry: Entry, task: Task, line: str, read: Read, say: Say) -> None:
    """Take the figures of a line for the rows that are blank; ask again for what looks wrong."""
    parts = split(line, len(task.blank))
    if not parts:
        return say(f"Type figures with blanks between; {NOT_READ} was not read, {BACK} goes back, stop stops.\n")
    try:
        typed = _judged(entry, task, parts)
    except GapbookError as error:
        return say(f"{error}\nNothing of this line was kept.\n")
    for row, value in typed:
        row["value"] = value
    doubts = _doubts(task, [row for row, _ in typed])
    while doubts:
        say("".join(f"{doubt}\n" for doubt in doubts))
        say("Enter keeps it; NUMBER=VALUE mends one, such as 7=10.4; anything else drops the line: ")
        answer = read()
        if answer is not None and not answer.strip():
            entry.doubts += len(doubts)
            break
        mended = _mended(entry, task, answer or "", say)
        if mended is None:
            for row, _ in typed:
                row["value"] = ""
            return say("Nothing of this line was kept.\n")
        doubts = _doubts(task, [row for row, _ in typed])
    for row, value in typed:
        if value == NOT_READ:
            entry.take_out(task.table, row)
    entry.typed += sum(value != NOT_READ for _, value in typed)
    entry.keep(task.table)
    return None


def _mended(entry: Entry, task: Task, answer: str, say: Say) -> Row | None:
    """The row that NUMBER=VALUE mends; None if the answer is none."""
    found = _ONE.fullmatch(answer.strip())
    row = next((row for row in task.rows if found and row.get("no", "1") == found[1]), None)
    if found is None or row is None:
        return None
    before, row["value"] = row["value"], ""
    try:
        row["value"] = _value(entry, task, row, found[2])
    except GapbookError as error:
        say(f"{error}\n")
        row["value"] = before
    return row


def split(line: str, most: int) -> list[str]:
    """The figures of a line: parted by blanks, tabs or semicolons; `12 15/16` is one figure."""
    if most == 1:
        return [line.strip()] if line.strip() else []
    return _FIGURES.findall(line)


def _judged(entry: Entry, task: Task, parts: Sequence[str]) -> list[tuple[Row, str]]:
    """The figures of a line with their rows. GapbookError if one cannot be."""
    blank = task.blank
    if len(parts) > len(blank):
        expected = f"at most {len(blank)}, for {blank[0].get('no', '')} to {blank[-1].get('no', '')}"
        raise fail("too-many", "there are more figures than are read here", found=f"{len(parts)}", expected=expected)
    typed = [(row, _value(entry, task, row, part)) for row, part in zip(blank, parts, strict=False)]
    whole = [(row, {id(one): value for one, value in typed}.get(id(row), row["value"])) for row in task.rows]
    if task.table == "spacings" and task.rows[0]["kind"] == "mark":
        known = [(row["no"], float(value)) for row, value in whole if value and value != NOT_READ]
        for (no, value), (after, larger) in pairwise(known):
            if larger <= value:
                raise fail("not-rising", f"mark {after} does not lie beyond mark {no}", found=f"{larger:g} after {value:g}")
    return typed


def _value(entry: Entry, task: Task, row: Row, text: str) -> str:
    """A figure as it is written, in the unit of its row. GapbookError if it is none, or nothing like that can be read."""
    if text == NOT_READ:
        if task.table == "spacings" and row["no"] not in task.edges:
            raise fail(
                "required", f"{row['kind']} {row['no']} must be read", fix="Only inner edges may be left out, both of them"
            )
        return NOT_READ
    found = figure(text, Habits(decimal="comma" if "," in text and "." not in text else "point"))
    if found.unit is not None and lookup(found.unit) != lookup(row["unit"]):
        raise fail("unit", "another unit than the sheet's", found=quoted(text), expected=row["unit"])
    item = entry.package.schema(task.table).field("value")
    if cell_problem(item, found.text) is not None or float(found.text) <= 0 < float(row.get("no", "1")):
        raise fail("limit", "nothing of that size is read", found=quoted(text), expected=item.says())
    return found.text


def _doubts(task: Task, new: Sequence[Row]) -> list[str]:
    """What looks wrong among the figures just typed, in words."""
    if task.table != "spacings":
        return []
    one = task.rows[0]
    unit = lookup(one["unit"])
    inner = [row for row in task.rows if row["no"] not in task.edges]
    known = [row for row in inner if row["value"]]
    if unit is None or known != inner[: len(known)]:
        return []
    value = np.array([float(row["value"]) * unit.factor for row in known])
    is_mark = one["kind"] == "mark"
    positions = value if is_mark else np.concatenate([[0.0], np.cumsum(value)])
    if len(known) < len(inner) or len(positions) < misread.FEWEST:
        return _jumps(known, new, np.diff(positions))
    is_main = one["family"] == "main"
    variance = spacing_sd(one["kind"]) ** 2
    model = misread.pass_model(len(positions), is_main, is_mark, variance)
    between = misread.pass_model(len(positions), is_main, is_mark, variance, 0.0)
    group = misread.Group(
        positions[None], np.ones((1, model.shift.shape[1]), bool), np.zeros((1, len(positions))), np.zeros(1, int)
    )
    found, _ = misread.suspects(group, model, between, bonferroni(len(value), LEVEL))
    out = []
    for _, column, shift, *_ in zip(*(part.tolist() for part in found), strict=True):
        row = known[column]
        if any(row is mine for mine in new):
            fitting = float(row["value"]) - shift / unit.factor
            digits = 1 if unit.factor == 1.0 else 3
            out.append(
                f"{one['kind']} {row['no']}: {row['value']} is out of line with its neighbours; {fitting:.{digits}f} would fit"
            )
    return out


def _jumps(known: Sequence[Row], new: Sequence[Row], gaps: FloatArray) -> list[str]:
    """Figures just typed, of a run that is not whole yet, whose gap differs much from the one before; in words."""
    out = []
    for number in range(1, len(gaps)):
        row = known[number - len(gaps)]
        if any(row is mine for mine in new) and abs(gaps[number] - gaps[number - 1]) > JUMP * gaps[number - 1]:
            told = f"{row['kind']} {row['no']}: {row['value']} makes a gap of {gaps[number]:.1f} mm"
            out.append(f"{told} after one of {gaps[number - 1]:.1f} mm")
    return out


def spacing_sd(kind: str) -> float:
    """The usual repeatability of a gap with a calliper or a mark with a rule [mm]."""
    return DEFAULT_SPACING_MM.get("calliper" if kind == "gap" else "rule", DEFAULT_OTHER_MM)


def closures(entry: Entry) -> Iterator[str]:
    """Whether the strings add up to the head's size that was read directly, in words, a sentence a family."""
    for task in entry.tasks():
        if task.table != "spacings" or float(task.rows[0]["station_mm"]) != 0.0 or task.blank:
            continue
        one = task.rows[0]
        quantity, called = CLOSED.get(one["family"], ("", ""))
        direct = [_mm(row) for row in entry.tables.get("readings", []) if _is_of(row, one, quantity) and row["value"]]
        if not direct or one["no"] != "0":
            continue
        values = [_mm(row) for row in task.rows]
        span = values[-1] - values[0] if one["kind"] == "mark" else sum(values)
        off = span - sum(direct) / len(direct)
        sd, many = spacing_sd(one["kind"]), 2 if one["kind"] == "mark" else len(values)
        person = 0.0 if one["kind"] == "mark" else PERSON_OTHER_MM * (many - 2)
        room = 2.0 * math.sqrt(many * sd**2 + person**2 + OTHER_U_MM**2 / len(direct))
        told = f"{task.title.partition(',')[0]}: {span:.1f} mm from edge to edge, "
        told += f"{abs(off):.1f} mm {'more' if off > 0 else 'less'} than the {called} read directly"
        yield told + (" (within what is usual)" if abs(off) <= room else f"; more than ± {room:.1f} mm: read one of them again")


def _mm(row: Row) -> float:
    unit = lookup(row["unit"])
    return float(row["value"]) * (unit.factor if unit else 1.0)


def _is_of(row: Row, one: Row, quantity: str) -> bool:
    return row["quantity"] == quantity and row["specimen_id"] == one["specimen_id"]
