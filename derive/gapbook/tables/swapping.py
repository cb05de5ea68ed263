"""Several tables of a package changed together: killed at any moment, the package is the old or the new one, whole.

New versions are written beside the old ones (`frames.csv.new`) and flushed to the disk. Then a journal that names them,
with sizes and checksums, is put in place: from here on the change is decided. Each new version is renamed over the old
one, and the journal removed. A journal found later means that a change was broken off; whoever opens the package next
takes the lock and renames the rest. New versions without a journal were never decided and are cleared away by the next
change.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, NamedTuple

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.locking import FOLDER, WAIT, locked, unwritable
from gapbook.tables.package import JOURNAL, Package, inside

NEW = ".new"
_FORMAT = 1
_TRIES = (0.0, 0.1, 0.4, 1.5) if os.name == "nt" else (0.0,)
"""Pauses before each try to rename: where a file that somebody reads cannot be replaced, its reader may be done soon."""


@dataclass(frozen=True)
class Staged(Package):
    """A package as it would be: the tables of `files` are read from there."""

    files: Mapping[str, Path] = field(default_factory=dict)

    def path(self, table: str) -> Path:
        """The table's new version, else its file."""
        return self.files.get(table) or super().path(table)


class _Entry(NamedTuple):
    """One table of a journal: its path within the package, and size and checksum of the new version."""

    path: str
    size: int
    sha256: str


class Change:
    """New versions of a package's tables, not yet in their place. Made by `changing`, or for a look in a scratch `folder`."""

    def __init__(self, package: Package, folder: Path | None = None) -> None:
        self.package = package
        self._folder = folder
        self._files: dict[str, Path] = {}
        self._entries: list[_Entry] = []

    def write(self, table: str, fill: Callable[[BinaryIO], None]) -> None:
        """Write the new version of a table and flush it to the disk. GapbookError where it cannot be written."""
        target = self.package.path(table)
        new = _new(target) if self._folder is None else self._folder / target.name
        self._files[table] = new
        try:
            new.parent.mkdir(parents=True, exist_ok=True)
            with new.open("xb") as stream:
                fill(stream)
                stream.flush()
                with ThreadPoolExecutor(1) as pool:  # the disk takes its time, and so does the checksum
                    flushed = pool.submit(os.fsync, stream.fileno())
                    checksum = _sha256(new)
                    flushed.result()
            if target.exists():
                shutil.copymode(target, new)
            self._entries.append(_Entry(self.package.shown(table), new.stat().st_size, checksum))
        except OSError as error:
            raise unwritable(self.package.shown(table), error) from None

    def staged(self) -> Package:
        """The package as it would be."""
        whole = self.package
        return Staged(whole.root, whole.descriptor, whole.installed, dict(self._files))

    def swap(self) -> None:
        """Decide the change and put every new version in its place. Not for a look in a scratch folder.

        GapbookError `unwritable` where nothing was changed, `unfinished` where the change stands but the next command has
        to finish it.
        """
        journal = self.package.root / JOURNAL
        try:
            for folder in {path.parent for path in self._files.values()}:
                _flush_folder(folder)
            _write_journal(journal, self._entries)
        except OSError as error:
            with suppress(OSError):
                journal.unlink()
            if not self.package.is_changing:
                raise unwritable(FOLDER, error) from None
        _rename_all(self.package, self._entries)
        self._files.clear()
        self.package.seen.clear()

    def drop(self) -> None:
        """Clear away what was not swapped, unless a journal still needs it."""
        if not self.package.is_changing:
            _clear(list(self._files.values()))


@contextmanager
def changing(package: Package, doing: str, wait: float = WAIT) -> Iterator[Change]:
    """Hold the package's lock for a change. What was broken off before is finished or cleared away first; what is not
    swapped within is cleared away. GapbookError as of `locked`.
    """
    with locked(package.root, doing, wait):
        _finish(package)
        try:
            _clear(_new(package.path(table)) for table in package.resources)
        except OSError as error:
            raise unwritable(str(error.filename or FOLDER), error) from None
        package.seen.clear()
        change = Change(package)
        try:
            yield change
        finally:
            with suppress(OSError):
                change.drop()


def recover(package: Package) -> None:
    """Bring a change that was broken off to its end. Called where a journal is found on opening the package.

    A change still under way is waited for. GapbookError where it cannot be finished from here.
    """
    try:
        with locked(package.root, "gapbook, finishing a change"):
            _finish(package)
    except GapbookError as error:
        if error.problems[0].code != "unwritable":
            raise
        fix = "Run any gapbook command from an account that may write to the package"
        raise fail("unfinished", "a change to the package was broken off half way", place=Place(JOURNAL), fix=fix) from None


def _finish(package: Package) -> None:
    """Roll the journal's change forward, or back where a new version is spoilt and none was swapped. Needs the lock."""
    if not package.is_changing:
        return
    entries = _read_journal(package)
    pending: list[_Entry] = []
    swapped: list[_Entry] = []
    lost: list[_Entry] = []
    for entry in entries:
        target = inside(package.root, entry.path)
        (pending if _holds(_new(target), entry) else swapped if _holds(target, entry) else lost).append(entry)
    if not lost:
        _rename_all(package, pending)
    elif not swapped:
        _undecide(package, entries)
    else:
        fix = f"Restore the catalogue from version control or a copy, then remove {FOLDER}"
        raise fail("torn", "a change was broken off and its new version is spoilt", place=Place(lost[0].path), fix=fix)


def _undecide(package: Package, entries: list[_Entry]) -> None:
    (package.root / JOURNAL).unlink()
    _flush_folder(package.root / FOLDER)
    _clear(_new(inside(package.root, entry.path)) for entry in entries)


def _rename_all(package: Package, entries: list[_Entry]) -> None:
    done = 0
    try:
        for entry in entries:
            target = inside(package.root, entry.path)
            _rename(_new(target), target)
            done += 1
        for folder in {inside(package.root, entry.path).parent for entry in entries}:
            _flush_folder(folder)
        (package.root / JOURNAL).unlink()
        _flush_folder(package.root / FOLDER)
    except OSError as error:
        if not done:
            with suppress(OSError):
                _undecide(package, entries)
        if not done and not package.is_changing:
            raise unwritable(entries[0].path if entries else FOLDER, error) from None
        raise fail(
            "unfinished",
            f"the change is decided, but not all of it could be put in its place: {error.strerror or error}",
            place=Place(entries[min(done, len(entries) - 1)].path if entries else JOURNAL),
            fix="Close what holds the file; the next gapbook command finishes it",
        ) from None


def _rename(new: Path, target: Path) -> None:
    for number, pause in enumerate(_TRIES, 1):
        time.sleep(pause)
        try:
            return os.replace(new, target)
        except PermissionError:
            if number == len(_TRIES):
                raise


def _write_journal(journal: Path, entries: list[_Entry]) -> None:
    content = {"format": _FORMAT, "tables": [entry._asdict() for entry in entries]}
    draft = journal.with_name(journal.name + NEW)
    with draft.open("wb") as stream:
        stream.write(json.dumps(content, indent=1).encode())
        stream.flush()
        os.fsync(stream.fileno())
    _flush_folder(journal.parent.parent)
    os.replace(draft, journal)
    _flush_folder(journal.parent)


def _read_journal(package: Package) -> list[_Entry]:
    """The journal's entries, which can only name tables of the package: a package from elsewhere must not write outside."""
    known = {package.shown(table) for table in package.resources}
    journal = package.root / JOURNAL
    try:
        if journal.is_symlink():
            raise ValueError("it is a link")
        content = json.loads(journal.read_bytes())
        if content["format"] != _FORMAT:
            raise ValueError(f"its format is {content['format']!r}")
        entries = [_Entry(str(item["path"]), int(item["size"]), str(item["sha256"])) for item in content["tables"]]
        if strangers := [entry.path for entry in entries if entry.path not in known]:
            raise ValueError(f"it names {strangers[0]!r}, no table of the package")
    except (OSError, ValueError, KeyError, TypeError) as error:
        fix = f"Restore the catalogue from version control or a copy, then remove {FOLDER}"
        raise fail("journal", f"the journal of a change cannot be used: {error}", place=Place(JOURNAL), fix=fix) from None
    return entries


def _holds(path: Path, entry: _Entry) -> bool:
    """Whether the file is the entry's new version."""
    try:
        return not path.is_symlink() and path.stat().st_size == entry.size and _sha256(path) == entry.sha256
    except OSError:
        return False


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _new(target: Path) -> Path:
    return target.with_name(target.name + NEW)


def _clear(paths: Iterable[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)


def _flush_folder(folder: Path) -> None:
    """Flush a folder's names to the disk, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
