"""Processes that share the spacings of a large package between them: each reads its stretches and scores their beds.

The spacings are read while this process reads the catalogue, and rows are written out while it scores the frames.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from itertools import islice
from types import TracebackType
from typing import NamedTuple, TypeVar

import numpy as np

from gapbook.science.grouping import FloatArray, IntArray
from gapbook.tables.catalogue import RawTables
from gapbook.tables.derived import Assembly, Measured, head_readings
from gapbook.tables.hands import Hand, hire, packed
from gapbook.tables.shares import Averaged, Share, Stretch, deviation_of, numbers_of, parents_of
from gapbook.tables.writing import lines_of

_Answer = TypeVar("_Answer")

MOST = 8
"""Processes that gain by it: beyond, what is not shared takes longer than what is."""
WORTH_SHARING = 1 << 26
"""Bytes of spacings from which it is worth while to start them."""
AHEAD = 2
"""Stretches a hand is told of at once."""


class _Scored(NamedTuple):
    """Where the beds of each stretch of a hand stand among all, and their rows of beds.csv, if they were asked for."""

    places: list[IntArray]
    rows: Future[list[memoryview] | None] | None


class Crew:
    """Hands at work on the stretches of one package. Use as a context: hands that are left are sent home."""

    def __init__(self, stretches: Sequence[Stretch]) -> None:
        self.stretches = stretches
        self.hands: list[Hand] = []
        self.ears = ThreadPoolExecutor(MOST)
        """A thread a hand, which tells it what to do and waits for what it answers."""
        self._known: Future[bytes] = Future()
        """What tells a hand the catalogue, once that is read."""
        self._together: Future[Assembly] = Future()
        """Where the beds that are scored are put."""
        self._averaging: list[Future[list[Averaged] | None]] = []
        self._scored: list[_Scored] = []
        with suppress(OSError):  # with fewer hands or none it only takes longer
            for _ in range(min(cores(), len(stretches), MOST)):
                self.hands.append(hire())

    def __enter__(self) -> Crew:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.send_home()

    def send_home(self) -> None:
        """End everybody at once."""
        self._known.cancel()
        self._together.cancel()
        for hand in self.hands:
            hand.end()
        self.ears.shutdown()
        for hand in self.hands:
            hand.close()
        self.hands = []

    def average(self, tools: RawTables) -> None:
        """Set everybody to read and average; nobody waits for it here. tools: a catalogue of instruments alone."""
        share, left = (Share, tools._replace(tables={}), parents_of(tools)), iter(self.stretches)
        self._averaging = [self.ears.submit(_average, hand, share, left, self._known) for hand in self.hands]

    def score(self, catalogue: RawTables, rows: bool) -> Measured | None:
        """The beds of the whole package, once all is averaged; None where it has to be read at once.

        With `rows`, everybody also writes out the rows of its beds, which the method `rows` gives then.
        """
        specimens = catalogue.specimens._replace(number={})
        bare = catalogue._replace(tables={}, specimens=specimens, readings=head_readings(catalogue))
        self._known.set_result(packed("know", bare))
        averaged = _all(self._averaging)
        if averaged is None or (numbers := numbers_of(averaged, catalogue.specimens.number)) is None:
            return None
        deviation = deviation_of(averaged)
        each = zip(self.hands, numbers, strict=True)
        scoring = [self.ears.submit(self._score, hand, deviation, own, rows) for hand, own in each]
        self._together.set_result(Assembly(catalogue, np.concatenate([part for own in numbers for part in own])))
        if (scored := _all(scoring)) is None:
            return None
        self._scored = scored
        return self._together.result().measured()

    def _score(self, hand: Hand, deviation: FloatArray, numbers: Sequence[IntArray], rows: bool) -> _Scored | None:
        """Have a hand score what it averaged, stretch by stretch, put the beds together, and go on with their `rows`.

        It is told of one at a time: more might not fit into the pipe while it waits for its answer to be heard.
        """
        places: list[IntArray] = []
        for specimens in numbers:
            hand.tell("score", deviation, specimens)
            if (part := hand.hear()) is None:
                return None
            places.append(self._together.result().put(part))
        return _Scored(places, self.ears.submit(_rows, hand, len(places)) if rows else None)

    def rows(self) -> list[memoryview] | None:
        """The rows of beds.csv in their order; None where they were not asked for, or somebody could not."""
        lines: list[memoryview] = []
        for hand, scored in zip(self.hands, self._scored, strict=False):
            if scored.rows is None or (own := scored.rows.result()) is None:
                return None
            hand.dismiss()  # there is nothing left to do
            lines += own
        if not lines:
            return None
        order = np.argsort(np.concatenate([place for own in self._scored for place in own.places]))
        return [lines[place] for place in order.tolist()]


def _all(answers: Sequence[Future[_Answer | None]]) -> list[_Answer] | None:
    """What everybody answers; None where somebody could not, or is gone, or nobody is there."""
    found = [answer.result() for answer in answers]
    known = [answer for answer in found if answer is not None]
    return known if known and len(known) == len(found) else None


def _average(hand: Hand, share: tuple[object, ...], left: Iterator[Stretch], known: Future[bytes]) -> list[Averaged] | None:
    """What a hand averages of the stretches left; it is told of the next before it has answered, so that it never waits.

    In the end it is told the catalogue.
    """
    hand.tell(*share)
    found: list[Averaged] = []
    waiting = 0
    for stretch in islice(left, AHEAD):
        hand.tell("average", stretch)
        waiting += 1
    while waiting:
        if (answer := hand.hear()) is None:
            deque(left, maxlen=0)  # nobody needs the others any more
            return None
        found.append(answer)
        waiting -= 1
        for stretch in islice(left, 1):
            hand.tell("average", stretch)
            waiting += 1
    hand.send(known.result())
    return found if hand.hear() else None


def _rows(hand: Hand, stretches: int) -> list[memoryview] | None:
    """The rows of beds.csv that a hand writes out of as many stretches."""
    lines: list[memoryview] = []
    for _ in range(stretches):
        hand.tell("rows")
        if (text := hand.hear()) is None:
            return None
        lines += lines_of(text)
    return lines


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
