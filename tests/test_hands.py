"""Processes that do as they are told, whichever way they were hired."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from gapbook.tables import hands
from gapbook.tables.ownprocess import SPARED

ROOT = Path(__file__).resolve().parents[1]
pytestmark = pytest.mark.skipif(os.name == "nt", reason="pipes and signals are others there")

PROBE = """
import os, sys
from gapbook.tables import hands

class Probe:
    def open_files(self):
        return sorted(int(name) for name in os.listdir('/proc/self/fd'))

    def parent(self):
        return os.getppid()

kept = open(os.devnull)
assert hands._is_alone()
first, second = hands.hire(), hands.hire()
for hand in (first, second):
    hand.tell(Probe)
    hand.tell("open_files")
    print(hand.hear(), end=" ")
    hand.tell("parent")
    print(hand.hear() == os.getpid(), end=" ")
first.close()
first._wait()  # though the second was forked while its pipes were open
second.end()
print(second.hear())
sys.stdout.flush()
"""


KEPT = """
import ctypes, resource, sys
from gapbook.tables.ownprocess import keep_memory
if not hasattr(ctypes.CDLL(None), "mallopt"):
    sys.exit(3)

def faults():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    large = [b"x" * (24 << 20) for _ in range(4)]
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before

if sys.argv[1] == "kept":
    keep_memory()
faults()
print(faults())
"""


def test_a_hand_makes_something_and_calls_its_methods():
    hand = hands._started()
    hand.tell(list, [3, 1, 2, 1])
    hand.tell("sort")
    hand.tell("count", 1)
    hand.send(hands.packed("index", 3))
    assert [hand.hear() for _ in range(3)] == [None, 2, 3]
    hand.end()
    assert hand.hear() is None
    hand.tell("count", 1)  # nobody is there: nothing happens
    hand.close()


@pytest.mark.parametrize("order", [("no_such_method",), ("index", 7), (7,)], ids=["unknown", "raises", "no name"])
def test_a_hand_that_cannot_is_gone(order):
    hand = hands._started()
    hand.tell(list, [1])
    hand.tell(*order)
    assert hand.hear() is None
    hand._wait()  # by itself
    hand.end()
    hand.close()


def test_a_hand_goes_when_its_pipes_are_closed():
    hand = hands._started()
    hand.tell(list, [1])
    hand.close()
    hand._wait()


def test_a_process_with_threads_is_not_forked():
    going = threading.Event()
    thread = threading.Thread(target=going.wait)
    thread.start()
    try:
        assert not hands._is_alone()
    finally:
        going.set()
        thread.join()


@pytest.mark.skipif(sys.platform != "linux", reason="nobody is forked elsewhere")
def test_a_fork_keeps_nothing_open_but_its_pipes():
    environment = {**os.environ, **SPARED, "PYTHONPATH": str(ROOT / "derive")}
    ran = subprocess.run([sys.executable, "-c", PROBE], capture_output=True, text=True, env=environment, timeout=60, check=True)
    # 0, 1 and 2, the copy of 1 that answers go to, and the listing itself
    assert (ran.stdout, ran.stderr) == ("[0, 1, 2, 3, 4] True [0, 1, 2, 3, 4] True None\n", "")


@pytest.mark.skipif(sys.platform != "linux", reason="only glibc can be told")
def test_what_a_hand_frees_is_kept():
    found = []
    for way in ("kept", "given back"):
        command = [sys.executable, "-c", KEPT, way]
        ran = subprocess.run(command, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": str(ROOT / "derive")})
        if ran.returncode == 3:
            pytest.skip("another C library")
        found.append(int(ran.stdout))
    assert found[0] * 10 < found[1], "pages that had to be asked for again"
