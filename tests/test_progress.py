"""Progress: what long runs report, what a terminal shows of it, and that nothing of it reaches pipes or JSON."""

from __future__ import annotations

import io
import os
import pty
import signal
import subprocess
import sys
import time
from contextlib import suppress

import pytest

from gapbook.intake.check import check
from gapbook.pictures.atlas import write
from gapbook.progress import counted, listening, report
from gapbook.screens.progress import Display
from gapbook.tables.derived import compute
from gapbook.tables.export import export
from gapbook.tables.opening import open_package
from small import ROOT


def heard(run):
    told = []
    with listening(lambda *one: told.append(one)):
        run()
    return told


def test_what_is_counted_is_told_one_by_one():
    assert heard(lambda: list(counted("ab", "reading", 2))) == [("reading", 0, 2), ("reading", 1, 2), ("reading", 2, 2)]
    report("nobody listens")


@pytest.mark.parametrize(
    ("run", "last"),
    [
        (lambda package, out: compute(package, ["beds"]), "scoring beds"),
        (lambda package, out: export(package, out / "data"), "exporting tables"),
        (lambda package, out: write(package, out / "atlas"), "drawing beds"),
    ],
    ids=["derive", "export", "atlas"],
)
def test_long_runs_tell_how_much_is_left(run, last, tmp_path):
    told = heard(lambda: run(open_package(ROOT), tmp_path))
    doing, done, whole = told[-1]
    assert doing == last
    assert done == whole > 0


@pytest.mark.slow
def test_a_check_tells_its_rules():
    told = heard(lambda: check(ROOT, say=report))
    assert told[0] == ("reading", 0, None)
    assert [done for doing, done, _ in told if doing == "checking"] == list(range(told[-1][2]))


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_short_run_shows_nothing():
    screen = Terminal()
    with Display(screen, patience_s=30.0) as display:
        display("reading", 0, None)
    assert screen.getvalue() == ""


def test_a_long_run_shows_what_is_left_and_takes_it_away(monkeypatch):
    monkeypatch.setenv("TERM", "xterm")
    screen = Terminal()
    with Display(screen, patience_s=0.01) as display:
        display("scoring \x1b[31mbeds", 1, 4)
        until = time.monotonic() + 10.0
        while "1/4" not in screen.getvalue() and time.monotonic() < until:
            time.sleep(0.02)
        display("solving", 2, 8)
    shown = screen.getvalue()
    assert "scoring" in shown
    assert "1/4" in shown
    assert "\x1b[31mbeds" not in shown  # what a package says cannot colour the screen
    assert shown.rstrip().endswith(("\x1b[2K", "\x1b[?25h"))  # the line is erased and the cursor is there again


RUN = """
import signal, sys, time
from gapbook.progress import counted
from gapbook.screens import progress
from gapbook.tables import derived

def working(*given, **named):
    for number in counted(range(100), "scoring beds", 100):
        time.sleep(0.05)
        if number == {until}:
            {then}
    return {{"beds": 4}}

progress.Display.__init__.__defaults__ = (None, 0.2)
derived.derive = working
sys.argv = ["gapbook", "derive", "--package", {root!r}, *{more!r}]
from gapbook.commands.app import main
main()
"""


def on_a_terminal(then: str, more: tuple[str, ...] = (), until: int = 30) -> tuple[int, str, str]:
    """Exit status, stdout and what a terminal on stderr was sent, of a derivation that takes a while and then ends so."""
    ours, theirs = pty.openpty()
    code = RUN.format(then=then, until=until, root=str(ROOT), more=more)
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "derive"), "TERM": "xterm", "COLUMNS": "100"}
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=theirs, env=environment, text=True
    ) as run:
        os.close(theirs)
        sent = b""
        with suppress(OSError):  # the terminal is gone
            while part := os.read(ours, 4096):
                sent += part
        out = run.communicate()[0]
    os.close(ours)
    return run.returncode, out, sent.decode()


@pytest.mark.skipif(os.name == "nt", reason="a terminal is made otherwise there")
@pytest.mark.parametrize(
    ("then", "more", "status", "shows"),
    [
        ("break", (), 0, True),
        ("signal.raise_signal(signal.SIGINT)", (), 128 + signal.SIGINT, True),
        ("break", ("--json",), 0, False),
    ],
    ids=["to its end", "interrupted", "JSON"],
)
@pytest.mark.slow_after(1)
def test_a_terminal_shows_progress_and_is_left_clean(then, more, status, shows):
    found, out, sent = on_a_terminal(then, more)
    assert found == status
    assert ("scoring beds" in sent) == shows
    assert "scoring" not in out
    assert sent.count("\x1b[?25h") >= sent.count("\x1b[?25l")  # a cursor that was hidden is shown again
    assert "Traceback" not in sent
