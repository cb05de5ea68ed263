"""One writer at a time: a lock on a data package that ends with the process that holds it, however that ends."""

from __future__ import annotations

import json
import os
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from gapbook.errors import GapbookError, Place, fail

FOLDER = ".gapbook"
"""Where a package has its lock and its journal while it is changed, beside the descriptor."""
LOCK, HOLDER = "lock", "holder.json"
WAIT = 10.0
"""Seconds a second writer waits for the first."""
_LOOK_AGAIN = 0.05

if sys.platform == "win32":
    import msvcrt

    _BUSY: tuple[type[OSError], ...] = (PermissionError, BlockingIOError)

    def _take(handle: int) -> None:
        os.lseek(handle, 0, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    _BUSY = (BlockingIOError,)

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextmanager
def locked(root: Path, doing: str, wait: float = WAIT) -> Iterator[None]:
    """Hold the package's lock. `doing` is what a second one is told; it waits `wait` seconds.

    The operating system lets go of the lock when the process ends, so a killed one locks nobody out; its file is used again.
    GapbookError `locked`, saying who holds it, where the wait was in vain, and `unwritable` where there can be no lock.
    """
    folder = root / FOLDER
    try:
        handle = _held(folder, time.monotonic() + wait)
    except OSError as error:
        raise unwritable(FOLDER, error) from None
    try:
        _say_who(folder, doing)
        yield
    finally:
        _tidy(folder)
        os.close(handle)


def unwritable(shown: str, error: OSError) -> GapbookError:
    """The error for a file or folder that cannot be written."""
    return fail("unwritable", f"{shown} cannot be written: {error.strerror or error}", place=Place(shown))


def _held(folder: Path, until: float) -> int:
    """The handle of the lock's file, locked. A holder takes the file away when done, so it may be gone once it is free."""
    while True:
        if folder.is_symlink() or (folder / LOCK).is_symlink():
            raise fail("path", f"{FOLDER} is a link", place=Place(FOLDER), fix="Remove it")
        with suppress(FileExistsError):  # and it may go again while we look
            folder.mkdir()
        try:
            handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
        except FileNotFoundError:  # the folder was tidied away meanwhile
            continue
        try:
            _wait_for(handle, folder, until)
            if _is_of(handle, folder / LOCK):
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)


def _is_of(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False


def _wait_for(handle: int, folder: Path, until: float) -> None:
    while True:
        try:
            return _take(handle)
        except _BUSY:
            if time.monotonic() >= until:
                fix = "Try again when it is done"
                raise fail("locked", "the package is being changed", found=_who(folder), fix=fix) from None
        except OSError as error:
            raise fail("no-lock", f"the package cannot be locked here: {error.strerror}", place=Place(FOLDER)) from None
        time.sleep(_LOOK_AGAIN)


def _tidy(folder: Path) -> None:
    """Leave nothing lying about, where the system lets a file that is open be removed, and no journal stands."""
    with suppress(OSError):
        (folder / HOLDER).unlink(missing_ok=True)
        (folder / LOCK).unlink()
        folder.rmdir()


def _say_who(folder: Path, doing: str) -> None:
    since = datetime.now().astimezone().isoformat(timespec="seconds")
    holder = {"doing": doing, "pid": os.getpid(), "host": socket.gethostname(), "since": since}
    with suppress(OSError):
        (folder / HOLDER).write_text(json.dumps(holder), encoding="utf-8")


def _who(folder: Path) -> str:
    """Who holds the lock, in words."""
    try:
        holder = json.loads((folder / HOLDER).read_text(encoding="utf-8"))
        return f"{holder['doing']}, process {holder['pid']} on {holder['host']} since {holder['since']}"
    except (OSError, ValueError, KeyError, TypeError):
        return "another gapbook command at work"
