"""Hostile runs: a command with something spoilt (`spoiling.py`), and what is promised of it whatever that is.

`python fuzzing.py FIRST LAST` tries the runs of these numbers and prints what is wrong, as JSON.
"""

from __future__ import annotations

import io
import json
import os
import re
import resource
import shutil
import signal
import sys
import tempfile
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

from contributed import even_bed, package_in, sent
from gapbook.commands import app
from gapbook.signs import safe
from opens import Watch, system
from spoiling import Case, case

ROOT = Path(__file__).resolve().parents[1]
LONGEST_S = 10
"""Processor time after which a command is taken to hang [s]; on a busy machine it may take six times as long."""
STATUSES = (0, 1, 2)
"""Exit statuses that a command may have; 70 would be a fault of gapbook's own."""
COLOUR = re.compile(r"\x1b\[[0-9;]*m")
SECRET = b"what is kept elsewhere"
CHANGING = ("derive", "admit", "release", "correct", "rename", "merge", "withdraw", "forget")
"""Commands that change the package, if they end with 0."""
LEFT = re.compile(r"\.gapbook|\.(export|club|released)\.")
"""Names of what is left of an output that was not finished."""


class Run(NamedTuple):
    """How a command ended (None: it did not), and what it printed."""

    status: int | None
    out: str
    error: str


class Hangs(BaseException):
    """The command takes too long; no error that it may handle."""


class Terminal(io.TextIOWrapper):
    """Something printed to, with an encoding; a terminal or not."""

    def __init__(self, encoding: str, terminal: bool) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, write_through=True)
        self._terminal = terminal

    def isatty(self) -> bool:
        return self._terminal

    def text(self) -> str:
        return self.buffer.getvalue().decode(self.encoding, "replace")


class Full(Terminal):
    """A disk that is full."""

    def write(self, text: str) -> int:
        raise OSError(28, "No space left on device")


def ran(given: Case) -> Run:
    """Run a command in this process."""
    out = (Full if given.full else Terminal)(given.encoding, given.terminal)
    error = Terminal(given.encoding, given.terminal)
    os.environ.pop("COLUMNS", None)
    if given.columns is not None:
        os.environ["COLUMNS"] = given.columns
    sys.argv = ["gapbook", *given.arguments]
    status: int | None = None
    try:
        with redirect_stdout(out), redirect_stderr(error), at_most(LONGEST_S):
            status = app._status()
    except Hangs:
        pass
    except BaseException:
        error.buffer.write(traceback.format_exc().encode())
        status = -1
    os.environ.pop("COLUMNS", None)
    return Run(status, out.text(), error.text())


@contextmanager
def at_most(seconds: int) -> Iterator[None]:
    """Raise Hangs in this context if it takes longer."""

    def stop(*_: object) -> None:
        raise Hangs

    before = {number: signal.signal(number, stop) for number in (signal.SIGALRM, signal.SIGVTALRM)}
    signal.setitimer(signal.ITIMER_VIRTUAL, seconds)
    signal.alarm(6 * seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.alarm(0)
        for number, handler in before.items():
            signal.signal(number, handler)


# What is promised


def state(folder: Path) -> dict[str, object]:
    """Every entry below a folder: the bytes of small files, and what others are."""
    found: dict[str, object] = {}
    for path in sorted(folder.rglob("*")) if folder.is_dir() else []:
        is_small = not path.is_symlink() and path.is_file() and path.stat().st_size < 1 << 22
        found[str(path.relative_to(folder))] = path.read_bytes() if is_small else "no small file"
    return found


def wrong_texts(given: Case, run: Run) -> Iterator[str]:
    """What is wrong with what a run printed."""
    if "Traceback" in run.error + run.out:
        yield "traceback"
    for text in (run.out if given.terminal else "", run.error):
        plain = COLOUR.sub("", text)
        for line in plain.split("\n"):
            if safe(line) != line:
                yield f"escape {line[:200]!r}"
    if run.status == 0 and "--json" in given.arguments and run.out.startswith(("{", "[")):
        yield from wrong_json(run.out)


def wrong_json(text: str) -> Iterator[str]:
    """What is wrong with a JSON document."""
    try:
        json.loads(text, parse_constant=lambda name: [][1])
    except (ValueError, IndexError) as error:
        yield f"json {error}"


def wrong_files(out: Path, run: Run) -> Iterator[str]:
    """What is wrong with the files a run wrote."""
    here = state(out)
    if left := [name for name in here if any(LEFT.match(part) for part in Path(name).parts)]:
        yield f"left {left}"
    if here and run.status not in (0, None):
        yield f"half written {sorted(here)[:5]}"
    for name, content in here.items():
        if name.endswith(".svg") and isinstance(content, bytes):
            try:
                ElementTree.fromstring(content)
            except ElementTree.ParseError as error:
                yield f"svg {error}"
        if name.endswith(".json") and isinstance(content, bytes):
            yield from wrong_json(content.decode())


def problems(number: int, whole: Path, watch: Watch) -> tuple[Case, Run, list[str]]:
    """A run by its number, and what is wrong with it."""
    scratch = Path(tempfile.mkdtemp(prefix="hostile-"))
    secret, tmp = scratch / "secret", scratch / "tmp"
    secret.write_bytes(SECRET)
    tmp.mkdir()
    try:
        given = case(number, scratch, whole)
        before = state(given.package)
        os.chdir(scratch / "mine")
        tempfile.tempdir = str(tmp)
        named = [os.path.abspath(one) for one in given.arguments if "\0" not in one]
        watch.allow([str(given.package), str(scratch / "mine"), str(scratch / "out"), str(tmp), *named])
        run = ran(given)
        outside = sorted(watch.outside)
        wrong = [*wrong_texts(given, run), *wrong_files(scratch / "out", run)]
        if run.status is None or "Hangs" in run.error:
            wrong.append("hangs")
        elif run.status not in STATUSES:
            wrong.append(f"status {run.status}")
        if outside or secret.read_bytes() != SECRET or SECRET.decode() in run.out:
            wrong.append(f"outside {outside}")
        if os.listdir(tmp):
            wrong.append(f"left {os.listdir(tmp)}")
        if not given.littered and state(given.package) != before and (run.status != 0 or given.arguments[0] not in CHANGING):
            wrong.append("the package changed")
        return given, run, wrong
    finally:
        tempfile.tempdir = None
        os.chdir(ROOT)
        shutil.rmtree(scratch, ignore_errors=True)


def main(first: int, last: int) -> None:
    """Try the runs of these numbers; print what is wrong."""
    warnings.showwarning = app._show
    whole = Path(tempfile.mkdtemp(prefix="hostile-whole-"))
    os.environ |= {name: str(whole) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME")}
    package_in(whole / "package")
    sent(even_bed("three", "three-a"), whole / "mine")
    watch, bad = Watch([str(whole), *system(), str(ROOT)]), []
    for number in range(first, last):
        given, run, wrong = problems(number, whole, watch)
        if wrong:
            told = {"arguments": given.arguments, "spoilt": given.told, "error": run.error[-1000:]}
            bad.append({"number": number, "wrong": wrong, **told})
            print(json.dumps(bad[-1]), file=sys.stderr, flush=True)
    shutil.rmtree(whole)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
    print(json.dumps({"runs": last - first, "bad": bad, "megabytes": megabytes}))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
