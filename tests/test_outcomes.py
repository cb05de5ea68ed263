"""Exit statuses tell what was done: whatever becomes of stdout, for names no system takes, and for faults of gapbook's own."""

from __future__ import annotations

import errno
import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from contributed import even_bed, package_in, sent, state
from gapbook.commands import app
from gapbook.tables.package import Package
from opens import DECIDED, DRILL, PHOTO, STARTED
from running import started_anew

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="module")
def package(tmp_path_factory) -> Package:
    return package_in(tmp_path_factory.mktemp("outcomes") / "package")


@pytest.fixture
def said(monkeypatch):
    """Run a command in this process; its exit status and what it said on stderr."""

    def run(*arguments: object) -> tuple[int, str]:
        error = io.StringIO()
        monkeypatch.setattr(sys, "argv", ["gapbook", *map(str, arguments)])
        monkeypatch.setattr(sys, "stderr", error)
        return app._status(), error.getvalue()

    return run


# What becomes of stdout


def in_a_shell(command: str, *arguments: object, **environment: str) -> int:
    """The exit status of gapbook with these arguments, as a part of a shell's command."""
    env = {**os.environ, "PYTHONPATH": str(ROOT / "derive"), **environment}
    call = [sys.executable, "-m", "gapbook", *map(str, arguments)]
    run = subprocess.run(["bash", "-c", command, "bash", *call], env=env, capture_output=True, text=True)
    assert "Traceback" not in run.stderr
    return run.returncode


STREAMS = {
    "closed": '"$@" >&-',
    "full": '"$@" > /dev/full',
    "a reader that went away": '"$@" | true; exit ${PIPESTATUS[0]}',
    "ASCII": 'PYTHONIOENCODING=ascii "$@"',
    "both closed": '"$@" >&- 2>&-',
    "both full": '"$@" > /dev/full 2>&1',
}


@pytest.mark.slow_after(1)
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is always full")
@pytest.mark.parametrize("command", STREAMS.values(), ids=STREAMS)
def test_admit_tells_what_was_done_whatever_becomes_of_stdout(tmp_path, command):
    package = package_in(tmp_path / "package")
    mine = sent(even_bed("three", "three-a"), tmp_path / "mine")
    bad = sent(even_bed("four", "four-a", main=-1.0), tmp_path / "bad")
    assert in_a_shell(command, "admit", bad, "--package", package.root) == 1
    assert b"four" not in package.read("frames")
    assert in_a_shell(command, "admit", mine, "--package", package.root) == 0
    assert b"three" in package.read("frames")


class Full(io.StringIO):
    """A stream on a full disk."""

    def write(self, _: str) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


class Ascii(io.TextIOWrapper):
    """A stream that takes no other letters."""

    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="ascii")


@pytest.mark.parametrize("stream", [Full, Ascii], ids=lambda stream: stream.__name__)
@pytest.mark.slow_after(1)
def test_commands_that_do_something_tell_what_they_did(package, tmp_path, monkeypatch, said, stream):
    bad = sent(even_bed("four", "four-a", main=-1.0), tmp_path / "×bad")
    monkeypatch.setattr(sys, "stdout", stream())
    where = ("--package", package.root)
    assert said("check", bad, *where)[0] == 1
    assert said("check", *where)[0] == 0
    assert said("derive", *where)[0] == 0
    assert said("export", "--out", tmp_path / "×", *where)[0] == 0
    assert (tmp_path / "×" / "SHA256SUMS").is_file()
    assert said("draw", "one", "--out", tmp_path / "×.svg", *where)[0] == 0
    assert (tmp_path / "×.svg").is_file()


def test_an_answer_that_cannot_be_printed_is_not_answered(package, monkeypatch, said):
    monkeypatch.setattr(sys, "stdout", Full())
    status, error = said("ask", "measured", "--package", package.root)
    assert status == 2
    assert error.startswith("gapbook: stdout")


@pytest.mark.slow
def test_json_is_the_same_document_whatever_letters_stdout_has():
    """A stand-in for a quotation mark would end a text."""
    told = [started_anew("check", "--json", PYTHONIOENCODING=one).stdout for one in ("ascii", "utf-8")]
    assert "“" in told[1]
    assert json.loads(told[0]) == json.loads(told[1])


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1", "cp437"])
@pytest.mark.parametrize(
    "command",
    [["ask", "measured"], ["show", "one"], ["compare", "one", "two"], ["agreement"], ["advise", "one"], ["near", "one"]],
    ids=lambda command: command[0],
)
def test_letters_that_stdout_lacks_have_stand_ins(package, monkeypatch, said, command, encoding):
    """As on Windows, where a redirected stdout takes the letters of one code page."""
    printed = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr(sys, "stdout", printed)
    status, error = said(*command, "--package", package.root)
    assert (status, error) == (0, "")
    text = printed.buffer.getvalue().decode(encoding)
    assert "one" in text
    if encoding == "ascii":
        assert "+/-" in text or "16x19" in text


# Faults of gapbook's own


def test_a_fault_has_a_status_of_its_own_and_no_traceback(monkeypatch, said):
    def broken(_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(app, "build", broken)
    status, error = said("ask", "measured")
    assert status == app.FAULT == 70
    assert error.count("\n") == 1
    assert "ZeroDivisionError: division by zero" in error
    assert "test_outcomes.py:" in error  # where it happened
    assert "Traceback" not in error


def test_what_the_system_refuses_is_no_fault(monkeypatch, said):
    def refused(_: object) -> None:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), "x" * 5000)

    monkeypatch.setattr(app, "build", refused)
    status, error = said("ask", "measured")
    assert status == 2
    assert os.strerror(errno.EACCES) in error
    assert len(error) < 500


# Names that no system takes

LONG = "x" * 300
NAMES = [
    ("ask", "{name}"),
    ("ask", "tighter than {name}"),
    ("ask", "measured", "--package", "{name}"),
    ("find", "--like", "{name}"),
    ("show", "{name}"),
    ("show", "one", "--add", "{name}"),
    ("compare", "one", "{name}"),
    ("check", "{name}"),
    ("check", "--package", "{name}"),
    ("admit", "{name}"),
    ("derive", "--package", "{name}"),
    ("derive", "--part", "{name}"),
    ("sql", "{name}"),
    ("sql", "select 1", "--parquet", "{out}/{name}"),
    ("draw", "{name}", "--out", "{out}/a.svg"),
    ("draw", "one", "--out", "{out}/{name}.svg"),
    ("chart", "{name}", "mass", "--out", "{out}/a.svg"),
    ("chart", "head area", "centre mesh", "--out", "{out}/{name}/a.svg"),
    ("sheet", "{name}", "--out", "{out}/a.pdf"),
    ("sheet", "one", "--out", "{out}/{name}.pdf"),
    ("relate", "{name}", "control_vs_own"),
    ("design", "{name}", "control_vs_own", "--effect", "1"),
    ("export", "--out", "{out}/{name}"),
    ("retension", "one", "{name}", "--at", "24kg"),
    ("advise", "{name}"),
    ("agreement", "--package", "{name}"),
    ("atlas", "--out", "{out}/{name}"),
    ("near", "{name}"),
    ("compare", "one", "two", "--out", "{out}/{name}.pdf"),
    ("drill", *DRILL, "--out", "{out}/{name}.svg"),
    ("start", "{out}/{name}", *STARTED),
    ("convert", "{name}", "--out", "{out}/a"),
    ("convert", str(ROOT / "catalogue" / "specimens.csv"), "--out", "{out}/{name}"),
    ("enter", "{name}"),
    ("upgrade", "--package", "{name}"),
    ("correct", "{name}", "--value", "12.6", *DECIDED),
    ("correct", "two-a", "--column", "string_gauge_mm", "--value", "{name}", *DECIDED),
    ("withdraw", "{name}", *DECIDED),
    ("rename", "two-a", "{name}", *DECIDED),
    ("merge", "one-a", "{name}", *DECIDED),
    ("forget", "{name}", *DECIDED),
    ("forget", "ida", "--reason", "no longer reads", "--who", "{name}"),
    ("history", "{name}"),
    ("release", "{name}", "--out", "{out}/released"),
    ("pages", "--out", "{out}/{name}.pdf"),
    ("photo", "{name}", *PHOTO, "--out", "{out}/bed"),
    ("release", "1.5.0", "--out", "{out}/{name}"),
    ("release", "1.5.0", "--out", "{out}/released", "--since", "{name}"),
    ("{name}",),
]


@pytest.mark.slow_after(6)
@pytest.mark.parametrize("arguments", NAMES, ids=" ".join)
@pytest.mark.parametrize("name", [LONG, "gap\udcffbook"], ids=["too long", "not UTF-8"])
def test_a_name_no_system_takes_is_told(package, tmp_path, said, name, arguments):
    given = [argument.format(name=name, out=tmp_path) for argument in arguments]
    where = [] if "--package" in given or arguments[0] in ("start", "{name}") else ["--package", package.root]
    before = state(package.root)
    status, error = said(*given, *where)
    assert status == 2, error
    assert error.startswith(("gapbook: ", "Usage: "))
    assert list(tmp_path.iterdir()) == []
    assert state(package.root) == before


def test_every_command_is_given_such_names():
    assert {arguments[0] for arguments in NAMES} == {*app.COMMANDS, "{name}"}
