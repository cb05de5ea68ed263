"""A derivation by several processes, forked or started afresh, as a process of its own does it: its bytes, and its end."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from gapbook.tables import regenerate
from gapbook.tables.opening import open_package
from gapbook.tables.ownprocess import SPARED

ROOT = Path(__file__).resolve().parents[1]
WAYS = ("started", *(("forked",) if sys.platform == "linux" else ()))


def alone() -> dict[str, str]:
    """The environment of a process with one thread."""
    return {**os.environ, **SPARED, "PYTHONPATH": str(ROOT / "derive")}


def tables(folder: Path) -> dict[str, bytes]:
    return {name: (folder / "catalogue" / "derived" / f"{name}.csv").read_bytes() for name in ("beds", "scores")}


INTERRUPTED = """
import os, signal, sys, time
from gapbook.commands import app
from gapbook.tables import crew, hands, regenerate, shares

signal.signal(signal.SIGINT, signal.default_int_handler)  # where the tests run in the background, it is ignored

def wait(mask=None):
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    open(f'{told}/{os.getpid()}', 'w')
    time.sleep(60)

regenerate.WORTH_SHARING, shares.STRETCH = 0, 40_000
regenerate.cores = crew.cores = lambda: 2
hands.serve = wait
hands._SERVE = (
    "import os, signal, sys, time; signal.signal(signal.SIGINT, signal.SIG_IGN); "
    "open(f'{sys.argv[2]}/{os.getpid()}', 'w'); time.sleep(60)"
)
alone, real = hands._is_alone, hands.subprocess.Popen
hands._is_alone = lambda: alone() if way == "forked" else False
told, way = sys.argv[2:]
sys.argv = ["gapbook", "derive", "--part", "beds", "--package", sys.argv[1]]
hands.subprocess.Popen = lambda command, **more: real([*command, told], **more)
hands._started = hands._started if way == "started" else None
app.main()
"""


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.skipif(os.name == "nt", reason="interrupts are sent otherwise there")
def test_an_interrupt_ends_everybody(copied, tmp_path, way):
    at_work = tmp_path / "hands"
    at_work.mkdir()
    before = (copied / "catalogue" / "derived" / "beds.csv").read_bytes()
    command = [sys.executable, "-c", INTERRUPTED, str(copied), str(at_work), way]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True, start_new_session=True, env=alone()) as running:
        patience = time.monotonic() + 60
        while len(list(at_work.iterdir())) < 2 and time.monotonic() < patience:
            time.sleep(0.05)
        time.sleep(0.5)  # until it waits for them
        os.killpg(running.pid, signal.SIGINT)
        told = running.communicate(timeout=60)[1]
    assert (running.returncode, told) == (130, "")
    assert len(list(at_work.iterdir())) == 2
    for hand in at_work.iterdir():
        with pytest.raises(ProcessLookupError):
            os.kill(int(hand.name), 0)
    assert (copied / "catalogue" / "derived" / "beds.csv").read_bytes() == before
    regenerate.derive(open_package(copied), ["beds"])  # the lock is free


FORKED = """
import sys
from gapbook.tables import crew, hands, regenerate, shares
from gapbook.tables.opening import open_package

hands._started = None  # would fail
regenerate.WORTH_SHARING, shares.STRETCH = 0, 40_000
regenerate.cores = crew.cores = lambda: 2
score, found = crew.Crew.score, []
crew.Crew.score = lambda *given: found.append(score(*given)) or found[-1]
regenerate.derive(open_package(sys.argv[1]), ["beds"])
print(len(found), len(found[0].specimen))
"""


@pytest.mark.skipif(sys.platform != "linux", reason="nobody is forked elsewhere")
def test_forks_give_the_bytes_of_one(copied):
    kept = tables(copied)
    for name in kept:
        (copied / "catalogue" / "derived" / f"{name}.csv").unlink()
    ran = subprocess.run([sys.executable, "-c", FORKED, str(copied)], capture_output=True, text=True, env=alone(), check=True)
    assert (ran.stdout, ran.stderr) == (f"1 {len(kept['beds'].splitlines()) - 1}\n", "")
    assert tables(copied) == kept
