"""The only way to open a file of a package or a contribution, and the only way to write a file whole.

Packages and contributions come from strangers. What is opened here for reading lies inside the folder that was named,
is reached through no link, is a plain file, and is no larger than a file of its kind may be. What was checked is what is
read, because both happen on one open file. If something else is in a file's place (a pipe, a device, a link), nothing waits
for it.

The folder that a person named may itself be reached through links; what lies below it may not. Windows cannot open a file
relative to an open folder. There each step is checked and then opened by its path: a link is refused just as well, but a
change to the folder between the two is not noticed.
"""

from __future__ import annotations

import errno
import os
import re
import shutil
import stat
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from io import BufferedRandom, BufferedReader
from pathlib import Path
from typing import BinaryIO

from gapbook.errors import GapbookError, Place, fail

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

LARGEST_TABLE = 1 << 30
"""Bytes of the largest table that is read whole: some 13 million rows of spacings."""
ANY_SIZE = 1 << 62
"""The largest table that is read piece by piece."""
LARGEST_TEXT = 1 << 22
"""Bytes of the largest descriptor, schema or journal that is read; those that come with gapbook have 1 to 20 thousand."""
_RELATIVE = os.open in os.supports_dir_fd
"""Whether this system opens files relative to an open folder."""
_FOLDER = getattr(os, "O_PATH", os.O_RDONLY) | getattr(os, "O_DIRECTORY", 0)
_NEVER_WAIT = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)
_DRAFT = re.compile(r"\.gapbook-[0-9a-f]{12}")
_PLAIN = getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NOINHERIT", 0)
_READ_FOLDER = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) | _NO_LINK | _PLAIN


def open_file(path: Path, shown: str, root: Path | None = None, largest: int = LARGEST_TABLE) -> BufferedReader:
    """A file of a package or a contribution, open for reading.

    path: the file.
    shown: how errors name it.
    root: the folder that was named, which holds the file; without one, the folder the file lies in. No step from
        there to the file may be a link.
    largest: bytes it may have.

    GapbookError: `missing-file`; `path` if it is a link, is reached through one, or is outside `root`; `unreadable` if it
    is no plain file, too large, or the system refuses it.
    """
    root = path.parent if root is None else root
    try:
        *folders, name = path.relative_to(root).parts
    except ValueError:
        raise fail("path", "a path leaves the package", place=Place(shown), expected=f"a file inside {root}") from None
    try:
        with Folder.at(root).below(folders) as folder:
            return folder.open(name, shown, largest)
    except OSError as error:
        raise _refused(shown, error) from None


def read_bytes(path: Path, shown: str, root: Path | None = None, largest: int = LARGEST_TABLE) -> bytes:
    """The whole of a file of a package or a contribution; GapbookError as `open_file`.

    path: the file.
    shown: how errors name it.
    root: the folder that was named, as in `open_file`.
    largest: bytes it may have.
    """
    with open_file(path, shown, root, largest) as stream:
        return read_whole(stream, shown, largest)


def read_whole(stream: BinaryIO, shown: str, largest: int) -> bytes:
    """The rest of an open file. GapbookError if that is more than `largest` bytes, as when the file grows meanwhile."""
    try:
        text = stream.read(largest + 1)
    except OSError as error:
        raise _refused(shown, error) from None
    if len(text) > largest:
        raise _too_large(shown, len(text), largest)
    return text


def sha256(stream: BufferedRandom | BufferedReader) -> str:
    """The checksum, in hexadecimal digits, of a whole file that is open for reading."""
    import hashlib  # here: a question needs no checksum

    stream.seek(0)
    return hashlib.file_digest(stream, "sha256").hexdigest()


def copy_whole(stream: BufferedReader, path: Path) -> None:
    """Copy an open file, at its present length, to a new file. GapbookError `unwritable` if that fails."""
    left = os.fstat(stream.fileno()).st_size
    try:
        with path.open("xb") as out:
            while left and (text := stream.read(min(left, 1 << 20))):
                out.write(text)
                left -= len(text)
    except OSError as error:
        raise unwritable(str(path), error) from None


class Folder:
    """A folder that is held open, so that its entries are reached through no link even if its path changes meanwhile.

    A context manager. Its methods raise OSError, with ELOOP for a link on the way to a folder; `open` and `lock_file` raise
    GapbookError, as `open_file` does, if the entry itself is a link, no plain file, or too large.
    """

    def __init__(self, path: Path, handle: int | None) -> None:
        """Take over an open handle; None if the system opens nothing relative to one. Use `at` and `below` to get a folder."""
        self.path, self._handle = path, handle

    @classmethod
    def at(cls, path: Path) -> Folder:
        """The folder a person named, which may be reached through links."""
        if not _RELATIVE and not path.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(path))
        return cls(path, os.open(path, _FOLDER | _PLAIN) if _RELATIVE else None)

    def __enter__(self) -> Folder:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the folder."""
        handle, self._handle = self._handle, None
        if handle is not None:
            os.close(handle)

    def below(self, names: Sequence[str], make: bool = False) -> Folder:
        """The folder reached by these `names`, which replaces this one. With `make`, those that are missing are made."""
        folder = self
        for name in names:
            with folder:
                if make and folder.state(name) is None:
                    with suppress(FileExistsError):
                        os.mkdir(folder._of(name), dir_fd=folder._handle)
                folder = folder._step(name)
        return folder

    def _step(self, name: str) -> Folder:
        path, state = self.path / name, os.stat(self._of(name), dir_fd=self._handle, follow_symlinks=False)
        if is_link(state):
            raise OSError(errno.ELOOP, "a link is not followed", str(path))
        if not stat.S_ISDIR(state.st_mode):
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(path))
        handle = None if self._handle is None else os.open(name, _FOLDER | _NO_LINK | _PLAIN, dir_fd=self._handle)
        return Folder(path, handle)

    def _of(self, name: str) -> str:
        """An entry in the form that system calls take."""
        if name in ("", ".", "..") or "/" in name or os.sep in name:
            raise fail("path", "a path leaves its folder", found=repr(name))
        return str(self.path / name) if self._handle is None else name

    def state(self, name: str) -> os.stat_result | None:
        """The state of an entry, of a link itself; None if there is no entry."""
        try:
            return os.stat(self._of(name), dir_fd=self._handle, follow_symlinks=False)
        except FileNotFoundError:
            return None

    def open(self, name: str, shown: str, largest: int = LARGEST_TABLE) -> BufferedReader:
        """A plain file of at most `largest` bytes, open for reading; errors name it as `shown`."""
        return os.fdopen(self._opened(name, os.O_RDONLY, shown, largest), "rb")

    def lock_file(self, name: str, shown: str) -> int:
        """The handle of a plain file, made if it is missing. It is only locked: nothing may be written to it."""
        return self._opened(name, os.O_RDWR | os.O_CREAT, shown, LARGEST_TEXT)

    def _opened(self, name: str, flags: int, shown: str, largest: int) -> int:
        if (state := self.state(name)) is not None:  # some devices act as soon as they are opened
            _must_be_plain(state, shown, largest)
        handle = os.open(self._of(name), flags | _NO_LINK | _NEVER_WAIT | _PLAIN, 0o666, dir_fd=self._handle)
        try:
            _must_be_plain(os.fstat(handle), shown, largest)
        except BaseException:
            os.close(handle)
            raise
        return handle

    def create(self, name: str) -> BufferedRandom:
        """A new file for writing. FileExistsError if there is any entry of this name, a link included."""
        flags = os.O_RDWR | os.O_CREAT | os.O_EXCL | _NO_LINK | _PLAIN
        return os.fdopen(os.open(self._of(name), flags, 0o666, dir_fd=self._handle), "w+b")

    def replace(self, old: str, new: str) -> None:
        """Rename an entry. If there is an entry `new`, it is replaced: of a link the link itself, not what it leads to."""
        os.replace(self._of(old), self._of(new), src_dir_fd=self._handle, dst_dir_fd=self._handle)

    def remove(self, name: str) -> None:
        """Remove a file or a link, if there is one."""
        with suppress(FileNotFoundError):
            os.unlink(self._of(name), dir_fd=self._handle)

    def remove_folder(self, name: str) -> None:
        """Remove an empty folder."""
        os.rmdir(self._of(name), dir_fd=self._handle)

    def flush(self) -> None:
        """Flush the folder's names to the disk, if the system can."""
        if self._handle is None:
            return
        handle = os.open(".", os.O_RDONLY | _PLAIN, dir_fd=self._handle)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)

    @contextmanager
    def replacing(self, name: str, draft: str | None = None) -> Iterator[BufferedRandom]:
        """A new file to write to. It is flushed and takes the place of `name` if all went well, and is removed if not.

        name: what it is called in the end
        draft: what it is called until then, if a later process must know what to clear away. An entry of that name is
            removed first. By default it has a name of its own, and what killed processes left of this kind is removed
        """
        if draft is None:
            self.clear_drafts()
            draft, stream = self._new_draft()
        else:
            self.remove(draft)
            stream = self.create(draft)
        try:
            with stream:
                yield stream
                stream.flush()
                os.fsync(stream.fileno())
            self.replace(draft, name)
        except BaseException:
            with suppress(OSError):
                self.remove(draft)
            raise

    def _new_draft(self) -> tuple[str, BufferedRandom]:
        """A new file under a draft's name, marked as in use."""
        while True:
            stream = self.create(name := _draft_name())
            if self._marked(name, stream.fileno()):
                return name, stream
            stream.close()

    def draft_folder(self) -> tuple[str, int | None]:
        """A new folder under a draft's name, and the handle that marks it as in use until it is closed."""
        while True:
            os.mkdir(self._of(name := _draft_name()), dir_fd=self._handle)
            if self._handle is None:
                return name, None
            handle = os.open(name, _READ_FOLDER, dir_fd=self._handle)
            if self._marked(name, handle):
                return name, handle
            os.close(handle)

    def _marked(self, name: str, handle: int) -> bool:
        """Mark a new draft as in use. False if it was just removed, because it was not marked yet."""
        _take(handle)
        state = self.state(name)
        return state is not None and os.path.samestat(os.fstat(handle), state)

    def clear_drafts(self) -> None:
        """Remove drafts of processes that were killed: the system has taken their marks off."""
        with suppress(OSError):
            for name in filter(_DRAFT.fullmatch, os.listdir(self.path)):
                with suppress(OSError):
                    self._clear(name)

    def _clear(self, name: str) -> None:
        state = self.state(name)
        if self._handle is None or state is None or not (stat.S_ISDIR(state.st_mode) or stat.S_ISREG(state.st_mode)):
            return
        is_folder = stat.S_ISDIR(state.st_mode)
        flags = _READ_FOLDER if is_folder else os.O_RDONLY | _NO_LINK | _NEVER_WAIT | _PLAIN
        handle = os.open(name, flags, dir_fd=self._handle)
        try:
            if not _take(handle):
                return
            if is_folder:
                shutil.rmtree(name, dir_fd=self._handle)
            else:
                self.remove(name)
        finally:
            os.close(handle)


def _draft_name() -> str:
    return f".gapbook-{os.urandom(6).hex()}"


def _take(handle: int) -> bool:
    """Mark an open draft as in use, unless another process does; False if that cannot be done here."""
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (OSError, AttributeError):
        return False
    return True


@contextmanager
def drafting(path: Path) -> Iterator[Path]:
    """A new folder beside `path`, to be filled and moved into its place. What was not moved is removed at the end.

    If the process is killed, the next that writes beside `path` removes it. Missing folders above `path` are made. GapbookError
    `unwritable` if it cannot be made or filled.
    """
    name, handle = None, None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with Folder.at(path.parent) as folder:
            folder.clear_drafts()
            name, handle = folder.draft_folder()
        yield path.with_name(name)
    except OSError as error:
        raise unwritable(str(path), error) from None
    finally:
        if name is not None:
            shutil.rmtree(path.with_name(name), ignore_errors=True)
        if handle is not None:
            os.close(handle)


@contextmanager
def replacing(path: Path) -> Iterator[BufferedRandom]:
    """A new file beside `path` to write to. It is flushed and takes its place if all went well, and is removed if not.

    If the process is killed, `path` is either as it was, or new and whole. GapbookError `unwritable` if it cannot be written.
    """
    try:
        with Folder.at(path.parent) as folder, folder.replacing(path.name) as stream:
            yield stream
    except OSError as error:
        raise unwritable(str(path), error) from None


def unwritable(shown: str, error: OSError) -> GapbookError:
    """The error for a file or folder that cannot be written; `path` if it is because of a link."""
    if error.errno == errno.ELOOP:
        return _a_link(shown)
    return fail("unwritable", f"{shown} cannot be written: {error.strerror or error}")


def is_link(state: os.stat_result) -> bool:
    """Whether an entry leads elsewhere: a symbolic link, or on Windows any other kind, such as a junction."""
    return stat.S_ISLNK(state.st_mode) or bool(getattr(state, "st_reparse_tag", 0) & 0x20000000)


def _must_be_plain(state: os.stat_result, shown: str, largest: int) -> None:
    if is_link(state):
        raise _a_link(shown)
    if not stat.S_ISREG(state.st_mode):
        found = "a folder" if stat.S_ISDIR(state.st_mode) else "no plain file, but a pipe, a device or the like"
        raise fail("unreadable", "it is no plain file", place=Place(shown), found=found, fix="Put the file itself there")
    if state.st_size > largest:
        raise _too_large(shown, state.st_size, largest)


def _a_link(shown: str) -> GapbookError:
    expected = "the file itself, inside its folder"
    return fail("path", "a link is not followed", place=Place(shown), found="a link", expected=expected)


def _too_large(shown: str, size: int, largest: int) -> GapbookError:
    found, expected = (f"{number / 1e6:,.1f} MB" for number in (size, largest))
    return fail(
        "unreadable", "the file is too large to be read", place=Place(shown), found=found, expected=f"at most {expected}"
    )


def _refused(shown: str, error: OSError) -> GapbookError:
    if isinstance(error, FileNotFoundError):
        return fail("missing-file", "the file is missing", place=Place(shown))
    if error.errno == errno.ELOOP:
        return _a_link(shown)
    return fail("unreadable", f"the file cannot be read: {error.strerror or error}", place=Place(shown))
