"""Processes that share the spacings of a large package between them: each reads its stretches and scores their beds.

A hand is a process of its own, started afresh rather than forked, so that threads and locks of this one do not matter, and
with the same modules on its path. It is told what to do by pickles over its pipes, and ends when they are closed, or after
the stretch at hand when the process that started it is gone.
"""

from __future__ import annotations

import json
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from types import TracebackType
from typing import Any, BinaryIO, cast

from gapbook.tables.catalogue import RawTables
from gapbook.tables.derived import Measured, in_order
from gapbook.tables.nopandas import without_pandas
from gapbook.tables.shares import Averaged, Share, Stretch, deviation_of, numbers_of, parents_of

MOST = 8
"""Processes that gain by it: beyond, what is not shared takes longer than what is."""
WORTH_SHARING = 1 << 26
"""Bytes of spacings from which it is worth while to start them."""
_SERVE = "import json, sys; sys.path[:] = json.loads(sys.argv[1]); from gapbook.tables import crew; crew.serve()"
_ENVIRONMENT = {
    "OPENBLAS_NUM_THREADS": "1",
    "MALLOC_MMAP_THRESHOLD_": str(1 << 25),
    "MALLOC_TRIM_THRESHOLD_": str(1 << 30),
}
"""One thread a hand; and what is freed is kept for the next stretch, which needs as much (glibc, mallopt(3))."""


class Crew:
    """Hands at work on the stretches of one package. Use as a context: hands that are left are sent home."""

    def __init__(self, stretches: Sequence[Stretch]) -> None:
        self.stretches = stretches
        self.hands: list[subprocess.Popen[bytes]] = []
        with suppress(OSError):  # with fewer hands or none it only takes longer
            for _ in range(min(cores(), len(stretches), MOST)):
                self.hands.append(_start())

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        for hand in self.hands:
            hand.kill()
        for hand in self.hands:
            hand.communicate()

    def average(self, tools: RawTables) -> None:
        """Set everybody to read and average; nobody waits for it here. tools: a catalogue of instruments alone."""
        bare, parents = tools._replace(tables={}), parents_of(tools)
        for number, hand in enumerate(self.hands):
            _tell(hand, (bare, parents, self.stretches[number :: len(self.hands)]))

    def score(self, catalogue: RawTables) -> Measured | None:
        """The beds of the whole package, once all is averaged; None where it has to be read at once."""
        averaged: list[Averaged] | None = self._answers()
        if averaged is None or (numbers := numbers_of(averaged, catalogue.specimens.number)) is None:
            return None
        bare = catalogue._replace(
            tables={}, frames=catalogue.frames._replace(ids=[]), specimens=catalogue.specimens._replace(number={})
        )
        common = pickle.dumps((bare, deviation_of(averaged)), pickle.HIGHEST_PROTOCOL)
        for hand, own in zip(self.hands, numbers, strict=True):
            _tell(hand, common, own)
        scored: list[list[Measured]] | None = self._answers()
        return None if scored is None else in_order(catalogue, [part for parts in scored for part in parts])

    def _answers(self) -> list[Any] | None:
        """What everybody answers; None where somebody could not, or is gone, or nobody is there."""
        try:
            answers = [pickle.load(cast(BinaryIO, hand.stdout)) for hand in self.hands]
        except Exception:  # what is no pickle, or the start of one, fails in many ways
            return None
        return None if not answers or any(answer is None for answer in answers) else answers


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _start() -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-P", "-c", _SERVE, json.dumps(sys.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, **_ENVIRONMENT},
    )


def _tell(hand: subprocess.Popen[bytes], *messages: object) -> None:
    """Nothing happens where the hand is gone: its answer will be missing."""
    with suppress(OSError):
        for message in messages:
            pickle.dump(message, cast(BinaryIO, hand.stdin), pickle.HIGHEST_PROTOCOL)
        cast(BinaryIO, hand.stdin).flush()


def serve() -> None:
    """What a hand does."""
    without_pandas()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started it is interrupted too, and ends it
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    with suppress(EOFError, OSError):  # nobody waits for it any more
        share = Share(*pickle.load(sys.stdin.buffer))
        _answer(answers, share.average())
        catalogue, deviation = pickle.loads(pickle.load(sys.stdin.buffer))  # the same bytes for everybody
        _answer(answers, share.score(catalogue, deviation, pickle.load(sys.stdin.buffer)))


def _answer(stream: BinaryIO, what: object) -> None:
    pickle.dump(what, stream, pickle.HIGHEST_PROTOCOL)
    stream.flush()
