"""The one opener: inside its folder, through no link, a plain file, not too large, and never waiting; and whole writing."""

from __future__ import annotations

import errno
import os
import signal
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from gapbook.errors import GapbookError, Problem
from gapbook.tables import files
from gapbook.tables.files import LARGEST_TABLE, LARGEST_TEXT, Folder, open_file, read_bytes, read_whole, replacing

pytestmark = pytest.mark.skipif(os.name == "nt", reason="makes links and special files as POSIX has them")


class Hangs(BaseException):
    """It waits for what never comes; no error that a function may handle."""


@pytest.fixture(autouse=True)
def _alarm():
    """Nothing here may wait: a pipe that is opened carelessly waits for ever."""

    def stop(*_: object) -> None:
        raise Hangs

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(5)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture(params=[True, False], ids=["relative to an open folder", "by paths, as on Windows"])
def way(request, monkeypatch):
    """Both ways in which a file is reached."""
    monkeypatch.setattr(files, "_RELATIVE", request.param)


both = pytest.mark.usefixtures("way")


def refusal(act: Callable[[], object]) -> Problem:
    with pytest.raises(GapbookError) as stop:
        act()
    (problem,) = stop.value.problems
    return problem


def opened(root: Path, name: str, largest: int = LARGEST_TABLE) -> bytes:
    return read_bytes(root / name, name, root, largest)


@both
def test_a_plain_file_is_read_whole(tmp_path):
    (tmp_path / "deep" / "deeper").mkdir(parents=True)
    (tmp_path / "deep" / "deeper" / "a.csv").write_bytes(b"a\n1\n")
    assert opened(tmp_path, "deep/deeper/a.csv") == b"a\n1\n"
    with open_file(tmp_path / "deep" / "deeper" / "a.csv", "a.csv") as stream:
        assert os.pread(stream.fileno(), 10, 0) == b"a\n1\n"  # a real file: it can be mapped into memory


def test_the_folder_that_was_named_may_be_reached_through_links(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "real" / "a.csv").write_bytes(b"a\n")
    (tmp_path / "alias").symlink_to("real")
    assert opened(tmp_path / "alias", "a.csv") == b"a\n"


def _link(path: Path) -> None:
    path.with_name("elsewhere").write_bytes(b"secret")
    path.symlink_to("elsewhere")


def _zeros(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _sparse(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(LARGEST_TABLE + 1)


def _listening(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as door:
        here = Path.cwd()
        os.chdir(path.parent)  # a socket's name may have 100 characters only
        door.bind(path.name)
        os.chdir(here)


def _device(path: Path) -> None:
    try:
        os.mknod(path, 0o666 | 0o020000, os.makedev(1, 5))  # as /dev/zero
    except OSError:
        pytest.skip("only the system's administrator can make a device")


INSTEAD = [
    (_link, "path"),
    (_zeros, "path"),
    (os.mkfifo, "unreadable"),
    (os.mkdir, "unreadable"),
    (_listening, "unreadable"),
    (_device, "unreadable"),
    (_sparse, "unreadable"),
    (lambda path: None, "missing-file"),
]


@both
@pytest.mark.parametrize(("make", "code"), INSTEAD, ids=lambda value: getattr(value, "__name__", value))
def test_what_stands_in_a_files_place_is_refused_at_once(tmp_path, make, code):
    make(tmp_path / "a.csv")
    begun = time.monotonic()
    problem = refusal(lambda: opened(tmp_path, "a.csv"))
    assert time.monotonic() - begun < 1
    assert (problem.code, problem.place.file) == (code, "a.csv")


@both
@pytest.mark.parametrize("make", [make for make, code in INSTEAD if code != "missing-file"], ids=lambda make: make.__name__)
def test_a_lock_is_a_plain_file(tmp_path, make):
    make(tmp_path / "lock")
    if make is _sparse:
        return
    with Folder.at(tmp_path) as folder:
        assert refusal(lambda: folder.lock_file("lock", "lock")).code in ("path", "unreadable")


@both
def test_a_link_to_nothing_is_refused_and_makes_nothing(tmp_path):
    (tmp_path / "lock").symlink_to(tmp_path / "elsewhere")
    with Folder.at(tmp_path) as folder:
        assert refusal(lambda: folder.lock_file("lock", "lock")).code == "path"
    assert not (tmp_path / "elsewhere").exists()


@both
def test_no_folder_on_the_way_may_be_a_link(tmp_path):
    (tmp_path / "outside").mkdir()
    (tmp_path / "outside" / "a.csv").write_bytes(b"secret")
    (tmp_path / "root").mkdir()
    (tmp_path / "root" / "in").symlink_to("../outside")
    problem = refusal(lambda: opened(tmp_path / "root", "in/a.csv"))
    assert (problem.code, problem.place.file) == ("path", "in/a.csv")


@both
@pytest.mark.parametrize("name", ["../outside.csv", "in/../../outside.csv"])
def test_nothing_outside_is_opened(tmp_path, name):
    (tmp_path / "root" / "in").mkdir(parents=True)
    (tmp_path / "outside.csv").write_bytes(b"secret")
    assert refusal(lambda: opened(tmp_path / "root", name)).code == "path"
    assert refusal(lambda: read_bytes(tmp_path / "outside.csv", "x", tmp_path / "root")).code == "path"


@both
def test_a_file_where_a_folder_should_be(tmp_path):
    (tmp_path / "in").write_bytes(b"")
    assert refusal(lambda: opened(tmp_path, "in/a.csv")).code == "unreadable"


def test_sizes_count_to_the_byte(tmp_path):
    (tmp_path / "a.json").write_bytes(b"x" * 10)
    assert opened(tmp_path, "a.json", 10) == b"x" * 10
    assert refusal(lambda: opened(tmp_path, "a.json", 9)).code == "unreadable"


def test_a_file_that_grows_is_not_read_beyond_its_limit(tmp_path):
    path = tmp_path / "a.json"
    path.write_bytes(b"x")
    with open_file(path, "a.json", largest=LARGEST_TEXT) as stream:
        with path.open("ab") as more:
            more.truncate(LARGEST_TABLE)
        assert refusal(lambda: read_whole(stream, "a.json", LARGEST_TEXT)).code == "unreadable"


def test_a_folder_that_is_held_open_stays_the_same_one(tmp_path):
    """Whoever swaps it for a link gets nothing written, renamed or removed elsewhere."""
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "old").write_bytes(b"kept")
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "old").write_bytes(b"old")
    with Folder.at(tmp_path).below(["in"]) as folder:
        (tmp_path / "in").rename(tmp_path / "moved")
        (tmp_path / "in").symlink_to("outside")
        with folder.create("new") as stream:
            stream.write(b"new")
        assert folder.open("old", "old").read() == b"old"
        folder.remove("old")
        folder.replace("new", "newer")
        folder.flush()
    assert {path.name: path.read_bytes() for path in outside.iterdir()} == {"old": b"kept"}
    assert [path.name for path in (tmp_path / "moved").iterdir()] == ["newer"]


def test_a_folder_that_was_let_go_of_is_not_the_current_one(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "in").mkdir()
    with Folder.at(tmp_path / "in") as folder:
        pass
    with folder.create("a"):
        pass
    assert not (tmp_path / "a").exists()


@both
def test_folders_are_made_on_the_way_but_not_through_links(tmp_path):
    with Folder.at(tmp_path).below(["a", "b"], make=True) as folder, folder.create("c"):
        pass
    assert (tmp_path / "a" / "b" / "c").is_file()
    (tmp_path / "gone").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OSError, match="link") as stop:
        Folder.at(tmp_path).below(["gone", "b"], make=True)
    assert stop.value.errno == errno.ELOOP
    assert not (tmp_path / "elsewhere").exists()


@both
@pytest.mark.parametrize("make", [_link, os.mkfifo, _sparse], ids=lambda make: make.__name__)
def test_a_new_file_is_a_new_one(tmp_path, make):
    make(tmp_path / "a.new")
    with Folder.at(tmp_path) as folder, pytest.raises(FileExistsError):
        folder.create("a.new")


# Writing whole


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


@both
def test_a_file_takes_its_place_when_it_is_whole(tmp_path):
    path = tmp_path / "out.json"
    path.write_bytes(b"old")
    with replacing(path) as stream:
        stream.write(b"new")
        stream.flush()
        assert path.read_bytes() == b"old"
    assert path.read_bytes() == b"new"
    assert names(tmp_path) == ["out.json"]
    mask = os.umask(0)
    os.umask(mask)
    assert path.stat().st_mode & 0o777 == 0o666 & ~mask  # as any new file of this person's


@pytest.mark.parametrize("error", [ValueError("no"), KeyboardInterrupt()], ids=["an error", "an interrupt"])
def test_nothing_is_left_of_a_file_that_was_not_finished(tmp_path, error):
    (tmp_path / "out.json").write_bytes(b"old")

    def write_half() -> None:
        with replacing(tmp_path / "out.json") as stream:
            stream.write(b"half")
            raise error

    with pytest.raises(type(error)):
        write_half()
    assert names(tmp_path) == ["out.json"]
    assert (tmp_path / "out.json").read_bytes() == b"old"


def test_a_full_disk_is_told(tmp_path, monkeypatch):
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(GapbookError) as stop, replacing(tmp_path / "out.json") as stream:
        stream.write(b"new")
    assert stop.value.problems[0].code == "unwritable"
    assert names(tmp_path) == []


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(GapbookError) as stop, replacing(tmp_path / "nowhere" / "out.json"):
        pass
    assert stop.value.problems[0].code == "unwritable"


@both
def test_a_link_is_replaced_and_what_it_leads_to_stays(tmp_path):
    _link(tmp_path / "out.json")
    with replacing(tmp_path / "out.json") as stream:
        stream.write(b"new")
    assert (tmp_path / "elsewhere").read_bytes() == b"secret"
    assert not (tmp_path / "out.json").is_symlink()


@both
@pytest.mark.parametrize("make", [_link, lambda path: path.write_bytes(b"left"), os.mkfifo], ids=["link", "file", "pipe"])
def test_a_draft_that_stands_there_is_removed_and_not_written_through(tmp_path, make):
    make(tmp_path / "out.json.new")
    with Folder.at(tmp_path) as folder, folder.replacing("out.json", "out.json.new") as stream:
        stream.write(b"new")
    assert (tmp_path / "out.json").read_bytes() == b"new"
    if (tmp_path / "elsewhere").exists():
        assert (tmp_path / "elsewhere").read_bytes() == b"secret"
    assert not (tmp_path / "out.json.new").is_symlink()
