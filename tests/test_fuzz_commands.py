"""Every command on packages, contributions, arguments and terminals spoilt at random (`spoiling.py`): no traceback, no hang, no
escape, nothing opened or changed outside, no half-written output, little memory, and an exit status that was promised.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import spoiling
from gapbook.commands.app import COMMANDS

pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="the system does not tell which file a handle is of")
ROOT = Path(__file__).resolve().parents[1]
FEW, ALL = 6, 5000
MOST_MB = 2000.0
PROCESSES = 2


def tried(first: int, last: int) -> dict[str, object]:
    """What became of the runs of these numbers, tried in a process of its own."""
    run = subprocess.run(
        [sys.executable, str(ROOT / "tests" / "fuzzing.py"), str(first), str(last)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / "derive"), str(ROOT / "tests")])},
        capture_output=True,
        text=True,
        encoding="utf-8",
    )
    assert run.returncode == 0, run.stderr[-3000:]
    return json.loads(run.stdout.splitlines()[-1])


@pytest.mark.parametrize("count", [FEW, pytest.param(ALL, marks=pytest.mark.slow)])
def test_what_is_promised_holds_whatever_is_spoilt(count):
    ends = [count * number // PROCESSES for number in range(PROCESSES + 1)]
    with ThreadPoolExecutor(PROCESSES) as pool:
        told = list(pool.map(tried, ends, ends[1:]))
    assert sum(one["runs"] for one in told) == count
    assert [bad for one in told for bad in one["bad"]] == []
    assert max(one["megabytes"] for one in told) < MOST_MB


def test_every_command_is_among_them():
    assert set(spoiling.commands("", "", Path())) == set(COMMANDS)
    assert {*spoiling.OFTEN} <= set(COMMANDS)
