"""One writer at a time: a lock on a data package. The system releases it when the process that holds it ends, even if killed.

The lock's folder is held open and must not be a link; nothing that is in it already is written to (`files.py`).
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path

from gapbook.errors import GapbookError, Place, fail
from gapbook.tables.files import Folder, read_whole, unwritable

FOLDER = ".gapbook"
"""The folder, beside the descriptor, that holds the lock and the journal while a package is changed."""
LOCK, HOLDER = "lock", "holder.json"
WAIT = 10.0
"""Seconds a second writer waits for the first."""
_LOOK_AGAIN = 0.05
_LARGEST_HOLDER = 1 << 16

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
def locked(root: Path, doing: str, wait: float = WAIT) -> Iterator[Folder]:
    """Hold the package's lock; gives the lock's folder, held open.

    root: the package's folder
    doing: what others are told who want the lock meanwhile
    wait: how long to wait for a lock that is held [s]

    The file of a lock whose holder was killed is used again. GapbookError: `locked`, which says who holds it, if it was not
    free in time; `path` if the folder or the lock is a link; `unwritable`, `unreadable` or `no-lock` if there can be no lock.
    """
    try:
        folder, handle = _held(root, time.monotonic() + wait)
    except OSError as error:
        raise unwritable(FOLDER, error) from None
    try:
        with folder:
            try:
                _say_who(folder, doing)
                yield folder
            finally:
                _tidy(root, folder)
    finally:
        os.close(handle)


def _held(root: Path, until: float) -> tuple[Folder, int]:
    """The lock's folder and the handle of its file, locked. A holder removes both when it is done, so this tries again if they
    are gone once the lock is free.
    """
    while True:
        top = Folder.at(root)
        try:
            folder = top.below([FOLDER], make=True)
        except FileNotFoundError:  # the last holder removed it just after it was made
            continue
        try:
            if (handle := _locked_in(folder, until)) is not None:
                return folder, handle
        except BaseException:
            folder.close()
            raise
        folder.close()


def _locked_in(folder: Folder, until: float) -> int | None:
    """The handle of the lock's file, locked; None if the file or the folder was removed meanwhile."""
    try:
        handle = folder.lock_file(LOCK, f"{FOLDER}/{LOCK}")
    except FileNotFoundError:
        return None
    try:
        _wait_for(handle, folder, until)
        state = folder.state(LOCK)
        if state is not None and os.path.samestat(os.fstat(handle), state):
            return handle
    except BaseException:
        os.close(handle)
        raise
    os.close(handle)
    return None


def _wait_for(handle: int, folder: Folder, until: float) -> None:
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


def _tidy(root: Path, folder: Folder) -> None:
    """Remove what belongs to the lock, and its folder unless that holds a journal. Some systems keep a file that is open."""
    with suppress(OSError):
        folder.remove(HOLDER)
        folder.remove(LOCK)
        with Folder.at(root) as top:
            top.remove_folder(FOLDER)


def _say_who(folder: Folder, doing: str) -> None:
    from platform import node  # here: readers, too, import this module

    since = datetime.now().astimezone().isoformat(timespec="seconds")
    holder = {"doing": doing, "pid": os.getpid(), "host": node(), "since": since}
    with suppress(OSError):
        folder.remove(HOLDER)
        with folder.create(HOLDER) as stream:
            stream.write(json.dumps(holder).encode())


def _who(folder: Folder) -> str:
    """Who holds the lock, in words."""
    try:
        with folder.open(HOLDER, HOLDER, _LARGEST_HOLDER) as stream:
            holder = json.loads(read_whole(stream, HOLDER, _LARGEST_HOLDER))
        return f"{holder['doing']}, process {holder['pid']} on {holder['host']} since {holder['since']}"
    except (GapbookError, OSError, ValueError, KeyError, TypeError, RecursionError):
        return "another gapbook command at work"
