"""No command opens or changes a file outside the package, the contribution, the interpreter's own files and its outputs.

An audit hook (PEP 578) hears what Python code opens, not what is opened inside DuckDB or Arrow.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from contributed import even_bed, package_in, sent
from gapbook.commands.app import COMMANDS
from opens import ROOT, commands
from photographed import example

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="the system does not tell which file a handle is of"),
]


@pytest.fixture(scope="module")
def told(tmp_path_factory) -> dict[str, dict]:
    """By command: its exit status, and what it touched outside."""
    scratch = tmp_path_factory.mktemp("opens")
    package = package_in(scratch / "package").root
    for name in ("out", "here"):
        (scratch / name).mkdir()
    (scratch / "out" / "bed.jpg").write_bytes(example())
    mine = sent(even_bed("three", "three-a"), scratch / "mine")
    run = subprocess.run(
        [sys.executable, str(ROOT / "tests" / "opens.py"), str(package), str(mine), str(scratch / "out")],
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / "derive"), str(ROOT / "tests")])},
        cwd=scratch / "here",
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout.splitlines()[-1])


def test_every_command_is_watched(told):
    assert set(told) == {*COMMANDS, "a file outside"} == {*commands("", "", Path()), "a file outside"}


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_touches_nothing_outside(told, command):
    assert told[command]["status"] == 0, told[command]["said"]
    assert told[command]["outside"] == []


def test_a_file_outside_would_be_seen(told):
    assert told["a file outside"]["outside"] == ["/", "/elsewhere"]
