"""What tests of hostile packages share: commands run so that a wait is noticed, how they are refused, links and journals."""

from __future__ import annotations

import contextlib
import io
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NamedTuple

import pytest

from gapbook.commands import app
from gapbook.errors import GapbookError
from gapbook.tables.package import Package

POSIX = pytest.mark.skipif(os.name == "nt", reason="makes links and special files as POSIX has them")
ROOT = Path(__file__).resolve().parents[1]
SECONDS = 20
"""After which a command is taken to hang; the machine may be busy."""
LARGEST_MEMORY = 500.0
"""MB that a command may have before it refuses something."""
EMPTY_JOURNAL = '{"format":1,"tables":[]}'


class Run(NamedTuple):
    """How a command ended (negative: it was stopped), what it printed, and the most memory it had [MB]."""

    status: int
    out: str
    error: str
    memory: float = 0.0


class Hangs(BaseException):
    """A command waits for what never comes; no error that a command may handle."""


def gapbook(*arguments: object) -> Run:
    """A command in this process, which is stopped if it waits for what never comes."""

    def stop(*_: object) -> None:
        raise Hangs(arguments)

    out, error = io.StringIO(), io.StringIO()
    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(SECONDS)
    try:
        with pytest.MonkeyPatch.context() as patch, redirect_stdout(out), redirect_stderr(error):
            patch.setattr(sys, "argv", ["gapbook", *map(str, arguments)])
            status = app._status()
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
    return Run(status, out.getvalue(), error.getvalue())


def gapbook_alone(*arguments: object, cwd: Path = ROOT) -> Run:
    """A command in a process of its own, as a user runs it."""
    env = {name: value for name, value in os.environ.items() if name not in ("GAPBOOK_PACKAGE", "COLUMNS")}
    env |= {"PYTHONPATH": str(ROOT / "derive"), "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "gapbook", *map(str, arguments)]
    with tempfile.TemporaryFile("w+") as out, tempfile.TemporaryFile("w+") as error:
        process = subprocess.Popen(command, cwd=cwd, env=env, stdout=out, stderr=error)
        stop = threading.Timer(SECONDS, process.kill)
        stop.start()
        memory = 0.0
        while process.poll() is None:  # not of rusage, which counts what this process had when it started the other one
            memory = max(memory, _most(process.pid))
            time.sleep(0.01)
        stop.cancel()
        for stream in (out, error):
            stream.seek(0)
        return Run(process.returncode, out.read(), error.read(), memory)


def _most(pid: int) -> float:
    """The most memory that a process has had so far [MB]; 0 where the system does not tell."""
    with contextlib.suppress(OSError):
        for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii", errors="replace").splitlines():
            if line.startswith("VmHWM:"):
                return float(line.split()[1]) / 1e3
    return 0.0


def refused(run: Run, *words: str) -> None:
    """It ended as bad input does, without much memory, in words that name what was found."""
    assert run.status == 2, run
    assert run.memory < LARGEST_MEMORY, run
    assert "Traceback" not in run.error
    assert all(word in run.error for word in words), run.error


def journal(package: Package, text: str = EMPTY_JOURNAL) -> Path:
    folder = package.root / ".gapbook"
    folder.mkdir(exist_ok=True)
    (folder / "journal.json").write_text(text, encoding="utf-8")
    return folder


def code_of(act: Callable[[], object]) -> str:
    with pytest.raises(GapbookError) as stop:
        act()
    return stop.value.problems[0].code


LINKS: dict[str, Callable[[Path, Path], None]] = {
    "a link": lambda path, victim: path.symlink_to(victim),
    "another name of the file": lambda path, victim: path.hardlink_to(victim),
}
"""What leads from a place in a package to a file elsewhere."""
