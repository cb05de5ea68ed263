"""Files before they are read: what is no plain file of a bearable size is not opened, and what is no table is named."""

from __future__ import annotations

import difflib
import os
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path

from gapbook.intake.findings import Finding
from gapbook.intake.structure.fault import MANY, Fault, Source, quoted
from gapbook.tables.faults import header_problem
from gapbook.tables.package import RAW_TABLES

LARGEST = 1 << 30
"""Bytes of the largest file that is read: some 13 million rows of spacings."""
LONGEST_HEADER = 1 << 16
_EXPECTED = "nothing but " + ", ".join(f"{name}.csv" for name in RAW_TABLES)
_OPEN = ("~$", ".~lock.")
"""How the names begin of what spreadsheets put beside a file that is open."""
_LEFT = (".DS_Store", "Thumbs.db", "desktop.ini")
"""What systems leave in any folder they show; passed over."""
_ARCHIVES = (".zip", ".gz", ".tgz", ".tar", ".bz2", ".xz", ".7z", ".rar", ".zst")


def not_to_be_read(source: Source) -> Fault | None:
    """Why a file is not opened: missing, a link, no plain file, too large. OSError where it cannot be looked at."""
    try:
        state = source.path.lstat()
    except FileNotFoundError:
        return Fault("missing-file", None, None, "no file", source.shown)
    if stat.S_ISLNK(state.st_mode):
        return Fault("path", None, None, f"a link to {quoted(os.readlink(source.path))}", "the file itself")
    if not stat.S_ISREG(state.st_mode):
        found = "a folder" if stat.S_ISDIR(state.st_mode) else "no plain file"
        return Fault("unreadable", None, None, found, "a file of comma-separated text", "Put the file itself there")
    if state.st_size > LARGEST:
        found, expected = f"{state.st_size / 1e9:.1f} GB", f"at most {LARGEST / 1e9:.1f} GB"
        return Fault("unreadable", None, None, found, expected, "Send it in several contributions")
    return None


def wrong_header(source: Source) -> Fault | None:
    """What is wrong with the first line; None also where only a look at the whole text can tell."""
    with source.path.open("rb") as stream:
        if b"\n" not in (start := stream.read(LONGEST_HEADER)) and len(start) == LONGEST_HEADER and b"\r" not in start:
            found = f"a first line of more than {LONGEST_HEADER} characters"
            return Fault("header", 1, None, found, ",".join(source.schema.names))
    problem = header_problem(source.path, source.shown, source.schema)
    if problem is None or problem.code != "header" or problem.place is None:
        return None
    return header_fault(problem.place.line or 1, problem.found or "nothing", source, problem.fix)


def header_fault(line: int, found: str, source: Source, fix: str | None = None) -> Fault:
    """A header that is not the schema's."""
    return Fault("header", line, None, quoted(found).strip("'\""), ",".join(source.schema.names), fix)


def strangers(folder: Path, known: Sequence[str]) -> Iterator[tuple[str, Finding]]:
    """The code and finding of each entry of a contribution folder that is no table of the package (`known`), and of a folder
    without any.
    """
    with os.scandir(folder) as entries:
        listed = sorted((entry.name, entry.is_symlink(), entry.is_dir(follow_symlinks=False)) for entry in entries)
    tables = [f"{name}.csv" for name in known]
    if not any(name in tables for name, _, _ in listed):
        yield "missing-file", _finding(folder, "no table", f"one or more of {', '.join(tables)}", "Put a table's CSV in")
    for name, is_link, is_folder in listed[:MANY]:
        if name in tables or (name in _LEFT and not is_link and not is_folder):
            continue
        if is_link:
            found = f"a link to {quoted(os.readlink(folder / name))}"
            yield "path", _finding(folder / name, found, "the file itself, or nothing", "")
        else:
            yield "unknown-file", _finding(folder / name, _kind(name, is_folder), _EXPECTED, _mend(name, is_folder, tables))


def _finding(path: Path, found: str, expected: str, fix: str) -> Finding:
    return Finding("", None, found, expected, fix, file=str(path))


def _kind(name: str, is_folder: bool) -> str:
    kind = "a folder" if is_folder else "an archive" if name.lower().endswith(_ARCHIVES) else "a file"
    return f"{kind} called {quoted(name)}"


def _mend(name: str, is_folder: bool, tables: list[str]) -> str:
    if is_folder:
        return "Take the folder out; a contribution's tables stand side by side"
    if name.lower().endswith(_ARCHIVES):
        return "Unpack the archive; a contribution holds plain CSV files"
    if name.startswith(_OPEN):
        return "Close the spreadsheet: it leaves this file beside a table that is open in it"
    stem = name.lower().partition(".")[0]
    if near := difflib.get_close_matches(stem, [table.removesuffix(".csv") for table in tables], 1, 0.8):
        return f"Call it {near[0]}.csv" if name.lower().endswith(".csv") else f"Save it as {near[0]}.csv, comma-separated"
    return "Take it out: it is neither read nor admitted; words about a copy fit in the note of specimens.csv"
