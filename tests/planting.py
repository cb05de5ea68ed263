"""Faults planted in a clean package by editing bytes: what is edited, and what a check has to say of it.

Nothing here knows a rule. A row is named by how its line starts; where a finding must stand follows from counting line feeds
in the edited file.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

CATALOGUE, CONTRIBUTION = "catalogue", "contribution"


@dataclass(frozen=True)
class Link:
    """A symbolic link in place of a file."""

    target: str


@dataclass(frozen=True)
class Folder:
    """A folder in place of a file."""


Content = bytes | Link | Folder | None
"""What stands at a path; None: nothing."""


class Files:
    """The files of a package and of a contribution by their path, to be edited. `base` is shared and stays as it is."""

    def __init__(self, base: dict[str, bytes], folder: str = CATALOGUE) -> None:
        self.base, self.folder = base, folder
        self.changed: dict[str, Content] = {}

    def path(self, table: str) -> str:
        """Where a table stands; a name with a point in it is that of a file."""
        return f"{self.folder}/{table if '.' in table else table + '.csv'}"

    def text(self, table: str) -> bytes:
        """The bytes of a table as they now are."""
        path = self.path(table)
        found = self.changed.get(path, self.base.get(path))
        assert isinstance(found, bytes), f"no bytes at {path}"
        return found

    def put(self, table: str, content: Content) -> None:
        """Replace a table."""
        self.changed[self.path(table)] = content

    def line_of(self, table: str, start: str, nth: int = 1) -> int:
        """The physical line of the nth line that starts so; the header is line 1."""
        text = self.text(table)
        at = -1
        for _ in range(nth):
            at = _line_start(text, start, at + 1)
        return text.count(b"\n", 0, at) + 1

    def write(self, root: Path) -> None:
        """Write what was changed below `root`."""
        for path, content in self.changed.items():
            _put(root / path, content)

    def restore(self, root: Path) -> None:
        """Put back what was there before."""
        for path in self.changed:
            _put(root / path, self.base.get(path))


def _put(path: Path, content: Content) -> None:
    if path.is_symlink() or path.is_file():
        path.unlink()
    elif path.is_dir():
        path.rmdir()
    if isinstance(content, bytes):
        path.write_bytes(content)
    elif isinstance(content, Link):
        os.symlink(content.target, path)
    elif isinstance(content, Folder):
        path.mkdir()


Edit = Callable[[Files], None]


@dataclass(frozen=True)
class Plant:
    """One fault: its name, the code it must be found under, the edits, and where it must be found: the table's file, the row
    (how its line starts, which of several such, or its physical line; None: the file as a whole), the column.

    `own` plants it in a contribution. `beside` are codes of warnings that are right to stand beside the finding; `under` is
    the code of another finding that it is rightly listed under; `because` says why.
    """

    name: str
    code: str
    edits: tuple[Edit, ...]
    table: str
    at: str | int | None
    column: str | None
    nth: int = 1
    own: bool = False
    beside: frozenset[str] = frozenset()
    under: str = ""
    because: str = ""

    def __str__(self) -> str:
        return f"{self.code}: {self.name}".replace(" ", "_")


def plant(
    code: str, name: str, *edits: Edit, table: str, at: str | int | None = None, column: str | None = None, **more: object
) -> Plant:
    """A fault in a few words. `beside` may be given as codes with blanks between."""
    beside = frozenset(str(more.pop("beside", "")).split())
    return Plant(name, code, edits, table, at, column, beside=beside, **more)  # type: ignore[arg-type]


def _line_start(text: bytes, start: str, begin: int = 0) -> int:
    """Where the first line from `begin` on that starts so begins."""
    wanted = start.encode()
    at = text.find(wanted, begin)
    while at > 0 and text[at - 1 : at] != b"\n":
        at = text.find(wanted, at + 1)
    assert at >= 0, f"no line starts with {start!r}"
    return at


def cell(table: str, start: str, column: str, old: str, new: str | bytes, nth: int = 1) -> Edit:
    """The cell of the nth line that starts so: `old` becomes `new`. No quoted cell may stand before it."""

    def edit(files: Files) -> None:
        text = files.text(table)
        at = -1
        for _ in range(nth):
            at = _line_start(text, start, at + 1)
        end = text.find(b"\n", at)
        end = len(text) if end < 0 else end
        cells = text[at:end].split(b",")
        place = _columns(text).index(column.encode())
        assert cells[place].rstrip(b"\r") == old.encode(), (cells[place], old)
        ending = cells[place][len(old.encode()) :]
        cells[place] = (new if isinstance(new, bytes) else new.encode()) + ending
        files.put(table, text[:at] + b",".join(cells) + text[end:])

    return edit


def _columns(text: bytes) -> list[bytes]:
    return text[: text.index(b"\n")].removeprefix(b"\xef\xbb\xbf").rstrip(b"\r").split(b",")


def cells(table: str, column: str, change: str | Callable[[str], str], **where: str) -> Edit:
    """The cells of a column in all rows with these cells, changed. For tables without quoted cells."""

    def edit(files: Files) -> None:
        text = files.text(table)
        names = [name.decode() for name in _columns(text)]
        place, wanted = names.index(column), {names.index(name): value.encode() for name, value in where.items()}
        lines, changed = text.split(b"\n"), 0
        for number, line in enumerate(lines):
            row = line.split(b",")
            if len(row) == len(names) and number and all(row[at] == value for at, value in wanted.items()):
                row[place] = (change if isinstance(change, str) else change(row[place].decode())).encode()
                lines[number] = b",".join(row)
                changed += 1
        assert changed, where
        files.put(table, b"\n".join(lines))

    return edit


def swap(table: str, old: str | bytes, new: str | bytes) -> Edit:
    """The first `old` of a file replaced."""
    before, after = (part if isinstance(part, bytes) else part.encode() for part in (old, new))

    def edit(files: Files) -> None:
        text = files.text(table)
        assert before in text, before
        files.put(table, text.replace(before, after, 1))

    return edit


def drop(table: str, *starts: str) -> Edit:
    """The first line that starts so taken out, for each start."""

    def edit(files: Files) -> None:
        text = files.text(table)
        for start in starts:
            at = _line_start(text, start)
            text = text[:at] + text[text.index(b"\n", at) + 1 :]
        files.put(table, text)

    return edit


def drop_all(table: str, start: str) -> Edit:
    """Every line that starts so taken out."""

    def edit(files: Files) -> None:
        lines = files.text(table).splitlines(keepends=True)
        kept = [line for line in lines if not line.startswith(start.encode())]
        assert len(kept) < len(lines), start
        files.put(table, b"".join(kept))

    return edit


def after(table: str, start: str, *lines: str) -> Edit:
    """Lines put in behind the first that starts so."""

    def edit(files: Files) -> None:
        text = files.text(table)
        at = text.index(b"\n", _line_start(text, start)) + 1
        files.put(table, text[:at] + b"".join(line.encode() + b"\n" for line in lines) + text[at:])

    return edit


def append(table: str, *lines: str) -> Edit:
    """Lines put at the end."""
    return whole(table, lambda text: text + b"".join(line.encode() + b"\n" for line in lines))


def again(table: str, start: str, *changes: tuple[str, str]) -> Edit:
    """Every line that starts so put in once more at the end, with pieces of its text replaced."""

    def edit(files: Files) -> None:
        text = files.text(table)
        lines = [line for line in text.splitlines(keepends=True) if line.startswith(start.encode())]
        assert lines, start
        for old, new in changes:
            lines = [line.replace(old.encode(), new.encode(), 1) for line in lines]
        files.put(table, text + b"".join(lines))

    return edit


def whole(table: str, change: Callable[[bytes], bytes]) -> Edit:
    """All bytes of a file changed."""
    return lambda files: files.put(table, change(files.text(table)))


def put(name: str, content: Content) -> Edit:
    """Something else in place of a file, or in a place where none is."""
    return lambda files: files.put(name, content)


def crlf(table: str) -> Edit:
    """Lines ended as spreadsheets end them."""
    return whole(table, lambda text: text.replace(b"\n", b"\r\n"))


def bom(table: str) -> Edit:
    """A byte-order mark in front."""
    return whole(table, lambda text: b"\xef\xbb\xbf" + text)


def two_lines(table: str, old: str) -> Edit:
    """The first blank after `old`, which stands in a quoted cell, becomes a line feed: every row below stands a line lower."""
    return swap(table, old + " ", old + "\n")


def placed(copy: str, family: str, values: str, first: int = 1) -> list[Edit]:
    """The figures of every run of a family of a copy, number by number from `first` on."""
    where = {"specimen_id": copy, "family": family}
    return [cells("spacings", "value", value, no=str(number), **where) for number, value in enumerate(values.split(), first)]
