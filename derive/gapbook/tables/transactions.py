"""Change several tables of a package together: if the process is killed, the package is the old one or the new one, whole.

Writers take turns: each holds a lock, which the system releases when the process ends. New versions are written beside the
old ones (`frames.csv.new`) and flushed to the disk. Then a *journal* that names them, with sizes and checksums, is put in
place: from here on the change is *decided*. Each new version is renamed over the old one, and the journal is removed. A
journal that is still there later means that a change was interrupted; whoever opens the package next takes the lock and
renames the rest. New versions without a journal were never decided, and the next change removes them.

Readers take no lock, so a package on read-only storage can be read too. The files that were read belong together if, after
the last one was read, none of them has been replaced and there is no journal: that takes one `stat` a file.

A package may come from a stranger. So the lock's folder and the tables' folders are held open while something is done in
them (`files.py`), no file that is there already is written to, and a journal can name only tables of the package.
"""

from __future__ import annotations

import json
import os
import stat
import time
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from io import BufferedRandom, BufferedReader
from pathlib import Path
from typing import BinaryIO, NamedTuple

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.files import LARGEST_TABLE, LARGEST_TEXT, Folder, open_file, read_whole, sha256, unwritable
from gapbook.tables.locking import FOLDER, WAIT, locked
from gapbook.tables.package import DESCRIPTOR, JOURNAL, LOG_TABLES, OPTIONAL_DERIVED, Package, Signature, inside

CHANGED = "package-changed"
"""Code of the error a reader gets; the command line then reads anew."""
NEW = ".new"
_FORMAT, _DESCRIBING = 1, 2
"""Of the journal: a change of tables alone; one that changes the package's descriptor and schemas with them."""
_JOURNAL = JOURNAL.removeprefix(f"{FOLDER}/")
_DRAFT = _JOURNAL + NEW
_TRIES = (0.0, 0.1, 0.4, 1.5) if os.name == "nt" else (0.0,)
"""Pauses before each try to rename: if a file that somebody reads cannot be replaced, its reader may be done soon."""


# Readers


def signature(path: Path) -> Signature | None:
    """What tells this version of a file from others; None if there is no file."""
    try:
        state = os.lstat(path)
    except OSError:
        return None
    return state.st_ino, state.st_size, state.st_mtime_ns


@contextmanager
def consistent(package: Package, *tables: str) -> Iterator[None]:
    """Read `tables` within this context.

    GapbookError `package-changed` at its end if they do not belong together, or not with what was read of the package before.
    """
    for path in [path for table in tables for path in package.paths(table)]:
        if path not in package.seen and (now := signature(path)) is not None:
            package.seen[path] = now
    try:
        yield
    except GapbookError:
        _must_be_unchanged(package)
        raise
    _must_be_unchanged(package)


def _must_be_unchanged(package: Package) -> None:
    if package.is_changing or any(signature(path) != then for path, then in list(package.seen.items())):
        raise fail(CHANGED, "the package was changed while it was read", fix="Open it and ask again")


# A change


@dataclass(frozen=True)
class Staged(Package):
    """A package as it would be after a change. files: the new version of each table that has one."""

    files: Mapping[str, Path] = field(default_factory=dict)

    def path(self, table: str) -> Path:
        """The table's new version, else its file."""
        return self.files.get(table) or super().path(table)

    def open(self, table: str) -> BufferedReader:
        """The table's new version, else its file, open for reading."""
        if (path := self.files.get(table)) is None:
            return super().open(table)
        return open_file(path, self.shown(table))


class _Entry(NamedTuple):
    """One table of a journal: its path within the package, and the bytes and checksum (hexadecimal) of its new version."""

    path: str
    size: int
    sha256: str


class Change:
    """New versions of a package's tables, not yet in place. `changing` makes one; a trial in a scratch folder makes its own."""

    def __init__(self, package: Package, scratch: Path | None = None, lock: Folder | None = None) -> None:
        """New versions go to the `scratch` folder and are never put in place; without one, `lock` is the lock's folder."""
        self.package = package
        self._scratch = scratch
        self._lock = lock
        self._files: dict[str, Path] = {}
        self._entries: list[_Entry] = []
        self._described: list[Path] = []

    def write(self, table: str, fill: Callable[[BinaryIO], None]) -> None:
        """Write the new version of a table, which `fill` writes to a stream, and flush it to the disk.

        GapbookError if it cannot be written.
        """
        self._put(self.package.path(table), self.package.shown(table), fill, table)

    def describe(self, path: str, fill: Callable[[BinaryIO], None]) -> None:
        """The same for the package's descriptor, or for a schema that it names; `path` is relative to the package."""
        self._put(inside(self.package.root, path), path, fill, None)

    def _put(self, target: Path, shown: str, fill: Callable[[BinaryIO], None], table: str | None) -> None:
        root, new = self.package.root, _new(target)
        if self._scratch is not None:
            root, new = self._scratch, self._scratch / target.name
        if table is None:
            self._described.append(target)
        else:
            self._files[table] = new
        try:
            with _holding(root, new, make=True) as folder:
                if table is None:
                    folder.remove(new.name)  # left over from a change that was never decided
                old = folder.state(target.name)
                with folder.create(new.name) as stream:
                    fill(stream)
                    self._entries.append(_flushed(stream, shown))
                    if old is not None and hasattr(os, "fchmod"):
                        os.fchmod(stream.fileno(), stat.S_IMODE(old.st_mode))
        except OSError as error:
            raise unwritable(shown, error) from None

    def staged(self) -> Package:
        """The package as it would be after the change."""
        whole = self.package
        return Staged(whole.root, whole.descriptor, whole.installed, whole.foreign, dict(self._files))

    def digest(self, table: str) -> tuple[int, str]:
        """The bytes and the SHA-256 of a table as it would be after the change. GapbookError as `files.open_file`."""
        shown = self.package.shown(table)
        for entry in self._entries:
            if entry.path == shown:
                return entry.size, entry.sha256
        with self.package.open(table) as stream:
            return os.fstat(stream.fileno()).st_size, sha256(stream)

    def swap(self) -> None:
        """Decide the change and put every new version in its place. Not for a trial in a scratch folder.

        GapbookError `unwritable` if nothing was changed; `unfinished` if the change is decided but the next command has to
        finish it.
        """
        assert self._lock is not None
        try:
            _flush_folders(self.package, (*self._files.values(), *self._described))
            _write_journal(self.package.root, self._lock, self._entries, _DESCRIBING if self._described else _FORMAT)
        except OSError as error:
            with suppress(OSError):
                self._lock.remove(_JOURNAL)
            if not self.package.is_changing:
                raise unwritable(FOLDER, error) from None
        _rename_all(self.package, self._lock, self._entries)
        self._files.clear()
        self._described.clear()
        self.package.seen.clear()

    def drop(self) -> None:
        """Remove new versions that were not put in place, unless a journal still needs them."""
        if not self.package.is_changing:
            _clear(self.package, (*(self.package.path(table) for table in self._files), *self._described))


@contextmanager
def changing(package: Package, doing: str, wait: float = WAIT) -> Iterator[Change]:
    """Hold the package's lock for a change. An interrupted change is finished or removed first.

    New versions that are not put in place within the context are removed. GapbookError as `locked`.

    package: what is changed
    doing: what others are told who want the lock meanwhile
    wait: how long to wait for a lock that is held [s]
    """
    with locked(package.root, doing, wait) as lock:
        try:
            _finish(package, lock)
            _clear(package, (package.path(table) for table in package.resources))
        except OSError as error:
            raise unwritable(str(error.filename or FOLDER), error) from None
        package.seen.clear()
        change = Change(package, lock=lock)
        try:
            yield change
        finally:
            with suppress(OSError):
                change.drop()


def recover(package: Package) -> None:
    """Finish a change that was interrupted. Called if there is a journal when the package is opened.

    If the change is still under way, this waits for it. GapbookError if it cannot be finished from here.
    """
    try:
        with locked(package.root, "gapbook, finishing a change") as lock:
            _finish(package, lock)
    except (GapbookError, OSError) as error:
        if isinstance(error, GapbookError) and error.problems[0].code != "unwritable":
            raise
        fix = "Run any gapbook command from an account that may write to the package"
        raise fail("unfinished", "a change to the package was broken off half way", place=Place(JOURNAL), fix=fix) from None


# The journal


def _finish(package: Package, lock: Folder) -> None:
    """Finish the journal's change, or take it back if a new version is damaged and none is in place yet. Needs the lock."""
    lock.remove(_DRAFT)
    if not package.is_changing:
        return
    entries = _read_journal(package, lock)
    pending: list[_Entry] = []
    swapped: list[_Entry] = []
    lost: list[_Entry] = []
    for entry in entries:
        target = inside(package.root, entry.path)
        (pending if _holds(package, _new(target), entry) else swapped if _holds(package, target, entry) else lost).append(entry)
    if not lost:
        _rename_all(package, lock, pending, whole=not swapped)
    elif not swapped:
        _undecide(package, lock, entries)
    else:
        fix = f"Restore the catalogue from version control or a copy, then remove {FOLDER}"
        raise fail("torn", "a change was broken off and its new version is spoilt", place=Place(lost[0].path), fix=fix)


def _undecide(package: Package, lock: Folder, entries: list[_Entry]) -> None:
    lock.remove(_JOURNAL)
    lock.flush()
    _clear(package, (inside(package.root, entry.path) for entry in entries))


def _rename_all(package: Package, lock: Folder, entries: list[_Entry], whole: bool = True) -> None:
    """Rename new versions over the old ones and end the change.

    package: what is changed
    lock: the lock's folder
    entries: the new versions to rename
    whole: whether these are all tables of the change, so that it can be taken back as long as none is renamed
    """
    done = 0
    targets = [inside(package.root, entry.path) for entry in entries]
    try:
        for target in targets:
            with _holding(package.root, target) as folder:
                _rename(folder, target.name + NEW, target.name)
                done += 1
        _flush_folders(package, targets)
        lock.remove(_JOURNAL)
        lock.flush()
    except OSError as error:
        # A call that fails may have done its work all the same, so the files tell whether anything was renamed
        if whole and all(_holds(package, _new(target), entry) for target, entry in zip(targets, entries, strict=True)):
            with suppress(OSError):
                _undecide(package, lock, entries)
            if not package.is_changing:
                raise unwritable(entries[0].path if entries else FOLDER, error) from None
        raise fail(
            "unfinished",
            f"the change is decided, but not all of it could be put in its place: {error.strerror or error}",
            place=Place(entries[min(done, len(entries) - 1)].path if entries else JOURNAL),
            fix="Close what holds the file; the next gapbook command finishes it",
        ) from None


def _rename(folder: Folder, new: str, target: str) -> None:
    for number, pause in enumerate(_TRIES, 1):
        time.sleep(pause)
        try:
            return folder.replace(new, target)
        except PermissionError:
            if number == len(_TRIES):
                raise


def _flushed(stream: BufferedRandom, path: str) -> _Entry:
    """Flush a new version to the disk; gives what the journal says of it. GapbookError if it is too large to be read."""
    from concurrent.futures import ThreadPoolExecutor  # here: readers, too, import this module

    stream.flush()
    size = os.fstat(stream.fileno()).st_size
    if size > LARGEST_TABLE:
        raise fail("too-large", "the table would be larger than any that is read", place=Place(path), found=f"{size} bytes")
    with ThreadPoolExecutor(1) as pool:  # the checksum is computed while the disk writes
        flushed = pool.submit(os.fsync, stream.fileno())
        checksum = sha256(stream)
        flushed.result()
    return _Entry(path, size, checksum)


def _write_journal(root: Path, lock: Folder, entries: list[_Entry], form: int) -> None:
    content = {"format": form, "tables": [entry._asdict() for entry in entries]}
    with Folder.at(root) as top:
        top.flush()  # the lock's folder may be new
    with lock.replacing(_JOURNAL, draft=_DRAFT) as stream:
        stream.write(json.dumps(content, indent=1).encode())
    lock.flush()


def _read_journal(package: Package, lock: Folder) -> list[_Entry]:
    """The journal's entries. They can only name tables of the package, and what describes it if the journal is of that format:
    a stranger's journal must not change other files.
    """
    known = {package.shown(table) for table in package.resources}
    try:
        with lock.open(_JOURNAL, JOURNAL, LARGEST_TEXT) as stream:
            content = json.loads(read_whole(stream, JOURNAL, LARGEST_TEXT))
        if content["format"] == _DESCRIBING:
            known |= _describing(package)
        elif content["format"] != _FORMAT:
            raise ValueError(f"its format is {content['format']!r}")
        entries = [_Entry(str(item["path"]), int(item["size"]), str(item["sha256"])) for item in content["tables"]]
        if strangers := [entry.path for entry in entries if entry.path not in known]:
            raise ValueError(f"it names {strangers[0]!r}, no table of the package")
    except (GapbookError, OSError, ValueError, KeyError, TypeError, OverflowError, RecursionError) as error:
        why = error.problems[0].message if isinstance(error, GapbookError) else error
        fix = f"Restore the catalogue from version control or a copy, then remove {FOLDER}"
        raise fail("journal", f"the journal of a change cannot be used: {why}", place=Place(JOURNAL), fix=fix) from None
    return entries


def _describing(package: Package) -> set[str]:
    """The files that a change of the package's description may touch besides its tables."""
    added = {f"catalogue/{table}.csv" for table in LOG_TABLES} | {
        f"catalogue/derived/{table}.csv" for table in OPTIONAL_DERIVED
    }
    schemas = {f"schema/{table}.json" for table in (*LOG_TABLES, *OPTIONAL_DERIVED)}
    named = {str(stated) for item in package.resources.values() if isinstance(stated := item.get("schema"), str)}
    return {DESCRIPTOR, *added, *schemas, *named}


# Files of the tables


@contextmanager
def _holding(root: Path, path: Path, make: bool = False) -> Iterator[Folder]:
    """The folder of a file below `root`, held open; with `make` it is made if it is missing."""
    with Folder.at(root).below(path.relative_to(root).parts[:-1], make) as folder:
        yield folder


def _holds(package: Package, path: Path, entry: _Entry) -> bool:
    """Whether the file is the entry's new version."""
    try:
        with open_file(path, entry.path, package.root) as stream:
            return os.fstat(stream.fileno()).st_size == entry.size and sha256(stream) == entry.sha256
    except (GapbookError, OSError):
        return False


def _new(target: Path) -> Path:
    return target.with_name(target.name + NEW)


def _clear(package: Package, targets: Iterable[Path]) -> None:
    """Remove the new versions beside these files."""
    for target in targets:
        try:
            with _holding(package.root, target) as folder:
                folder.remove(target.name + NEW)
        except FileNotFoundError:
            pass  # the folder is missing, too
        except OSError as error:
            error.filename = str(_new(target).relative_to(package.root))
            raise


def _flush_folders(package: Package, paths: Iterable[Path]) -> None:
    """Flush the names in the folders of these files to the disk."""
    for path in {path.parent: path for path in paths}.values():
        with _holding(package.root, path) as folder:
            folder.flush()
