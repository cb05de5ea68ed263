"""Whatever happens during an admission, the package opened next is the old or the new one, whole.

The faults are made in `kills.py`, in processes of their own. Files are compared byte by byte with the package before and
after an undisturbed admission, derived tables included; then the same contribution is admitted again.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from killing import KILLED, REFUSED, STATUS

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
SIGKILLED = 256 + 9


def outcomes_of(*how: str) -> dict[str, list[dict]]:
    """What was found after each fault, by kind of fault."""
    tests = Path(__file__).resolve().parent
    paths = os.pathsep.join([str(tests.parent / "derive"), str(tests)])
    run = subprocess.run(
        [sys.executable, str(tests / "kills.py"), *how],
        env={**os.environ, "PYTHONPATH": paths},
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout)


@pytest.fixture(scope="module")
def outcomes() -> dict[str, list[dict]]:
    """Every fault of every kind."""
    return outcomes_of()


def all_is_well(runs: list[dict]) -> Counter[str]:
    """Check that every package was whole and could go on; how often it was the old and the new one."""
    assert [one for one in runs if one["after"] not in ("old", "new")] == []
    assert [one for one in runs if not (one["again"] and one["whole"])] == []
    return Counter(one["after"] for one in runs)


@pytest.mark.slow
def test_killed_before_a_few_calls_that_touch_a_file():
    runs = outcomes_of("few")["few"]
    assert all_is_well(runs).keys() == {"old", "new"}
    assert {one["ended"] for one in runs} == {KILLED}
    assert len(runs) >= 4


@pytest.mark.slow
def test_killed_before_every_call_that_touches_a_file(outcomes):
    runs = outcomes["calls"]
    after = all_is_well(runs)
    assert {one["ended"] for one in runs} == {KILLED}
    assert len(runs) >= 50
    assert min(after["old"], after["new"]) >= 10


@pytest.mark.slow
def test_killed_at_lines_of_the_modules_that_write(outcomes):
    runs = outcomes["lines"]
    after = all_is_well(runs)
    assert {one["ended"] for one in runs} == {KILLED}
    assert len(runs) >= 30
    assert min(after["old"], after["new"]) >= 2


@pytest.mark.slow
def test_killed_at_any_time(outcomes):
    runs = outcomes["random_times"]
    all_is_well(runs)
    assert SIGKILLED in {one["ended"] for one in runs}


@pytest.mark.slow
def test_killed_again_while_the_next_command_finishes_the_change(outcomes):
    runs = outcomes["recoveries"]
    assert all_is_well(runs) == {"new": len(runs)}  # the journal stood: the change was decided
    assert Counter(one["ended"] for one in runs)[KILLED] >= 30


@pytest.mark.slow
def test_every_call_that_touches_a_file_fails_once(outcomes):
    runs = outcomes["full"]
    all_is_well(runs)
    assert {one["ended"] for one in runs} <= {REFUSED, STATUS["admitted"]}  # told as an error, never as a traceback
    refused = Counter(one["after"] for one in runs if one["ended"] == REFUSED)
    assert min(refused["old"], refused["new"]) >= 3  # before and after the change was decided


@pytest.mark.slow
def test_a_full_disk(outcomes):
    runs = outcomes["file_limit"]
    assert all_is_well(runs) == {"old": len(runs)}
    assert {one["ended"] for one in runs} == {REFUSED}


@pytest.mark.slow
def test_folders_that_may_not_be_written_to(outcomes):
    runs = outcomes["read_only"]
    assert all_is_well(runs) == {"old": 3}
    assert {one["ended"] for one in runs} == {REFUSED}


@pytest.mark.slow
def test_two_at_once(outcomes):
    for one in outcomes["together"]:
        assert one["derived"], "derived tables do not match"
        if one["same"]:
            assert one["ended"] == sorted(STATUS.values())
            assert (one["frames"], one["spacings"]) == (["one", "three", "two"], 33)
        else:
            assert one["ended"] == [STATUS["admitted"]] * 2
            assert (one["frames"], one["spacings"]) == (["four", "one", "three", "two"], 66)
