"""One writer at a time: who waits, what is told, and that nothing is left behind."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from contributed import even_bed, package_in, sent, state
from gapbook.catalogue import open_catalogue
from gapbook.errors import GapbookError
from gapbook.intake.admit import Terms, admit
from gapbook.tables import derived
from gapbook.tables.package import Package


@pytest.fixture
def package(tmp_path) -> Package:
    return package_in(tmp_path / "package")


HOLD = """
import sys
from pathlib import Path
from gapbook.tables.locking import locked
with locked(Path(sys.argv[1]), "a long piece of work"):
    print("held", flush=True)
    sys.stdin.read()
"""


@pytest.fixture
def holder(package):
    root = Path(__file__).resolve().parents[1]
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(package.root)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(root / "derive")},
    )
    assert process.stdout.readline() == "held\n"
    yield process
    process.kill()
    process.stdout.close()
    process.wait()


def test_the_second_is_told_who_holds_the_lock(package, holder, tmp_path):
    before = state(package.root)
    with pytest.raises(GapbookError) as stop:
        admit(package, sent(even_bed("three", "three-a"), tmp_path / "sent"), Terms(rules=(), wait=0.1))
    assert stop.value.problems[0].code == "locked"
    assert "a long piece of work" in str(stop.value)
    assert f"process {holder.pid}" in str(stop.value)
    assert state(package.root) == before


def test_the_lock_of_a_killed_process_is_free(package, holder, tmp_path):
    holder.kill()
    holder.wait()
    found = admit(package, sent(even_bed("three", "three-a"), tmp_path / "sent"), Terms(rules=(), wait=0.1))
    assert found.status == "admitted"


def test_deriving_waits_for_the_same_lock(package, holder):
    threading.Timer(0.3, lambda: holder.stdin.close()).start()
    assert derived.derive(package)["beds"] == 2


def test_questions_need_no_lock(package, holder):
    assert open_catalogue(package.root).table("frames").num_rows == 2


COUNT = """
import sys
from pathlib import Path
from gapbook.tables.locking import locked
root = Path(sys.argv[1])
for _ in range(60):
    with locked(root, "count", 60.0):
        number = int((root / "count").read_text())
        (root / "count").write_text(str(number + 1))
"""


def test_only_one_at_a_time_though_the_lock_is_tidied_away(tmp_path):
    (tmp_path / "count").write_text("0", encoding="utf-8")
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).resolve().parents[1] / "derive")}
    command = [sys.executable, "-c", COUNT, str(tmp_path)]
    processes = [subprocess.Popen(command, env=environment) for _ in range(3)]
    assert [process.wait() for process in processes] == [0, 0, 0]
    assert (tmp_path / "count").read_text(encoding="utf-8") == "180"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["count"]
