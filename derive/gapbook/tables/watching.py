"""A query's limits: a thread beside it that interrupts it, again and again, from when it has taken too much until it is done.

DuckDB forgets an interrupt that comes before a query has begun, and heeds one only between its steps; a single step may
take any time and any memory, so that a program that must not wait is ended from here.
"""

from __future__ import annotations

import math
import os
import threading
import time
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import NamedTuple

import duckdb

from gapbook.errors import GapbookError, fail

LONGEST_S = 86_400.0
"""Most time a query may be given [s]: a day."""
SHORTEST_S = 0.001
LEAST_MB, MOST_MB = 1.0, 1_000_000.0
"""Least and most memory a query may be given [MB]."""
GRACE_S = 2.0
"""How long a query past its limits may take to heed an interrupt [s] before the program is ended."""
_TICK_S = 0.05
_OWN_MB = 64.0
"""What the libraries take for themselves, whatever is asked [MB]."""
_RESIDENT = Path("/proc/self/statm")


class Limits(NamedTuple):
    """What one query may take: time [s], and memory [MB] for the tables and for the result, each."""

    seconds: float = 60.0
    megabytes: float = 2000.0

    def checked(self) -> Limits:
        """The same; GapbookError unless both are figures within what can be meant."""
        for what, value, low, high, unit in (
            ("time", self.seconds, SHORTEST_S, LONGEST_S, "s"),
            ("memory", self.megabytes, LEAST_MB, MOST_MB, "MB"),
        ):
            if not (math.isfinite(value) and low <= value <= high):
                expected = f"from {low:g} to {high:,.0f} {unit}"
                raise fail("bad-limit", f"no query can be given this {what}", found=f"{value:g} {unit}", expected=expected)
        return self


def too_long(limits: Limits) -> GapbookError:
    """What is said of a query that takes too much time."""
    found = f"more than {limits.seconds:g} s"
    return fail("sql-time", "the query takes too long", found=found, fix="Ask for less, or raise --seconds")


def too_large(limits: Limits) -> GapbookError:
    """What is said of a query that takes too much memory."""
    found = f"more than {limits.megabytes:.0f} MB"
    return fail("sql-memory", "the query takes too much memory", found=found, fix="Ask for less, or raise --memory")


class Watch:
    """Watches what runs inside `with Watch(...)`. `passed` is the limit it passed, as an error, or None.

    `end` is called with that error, from the watching thread, where the query has not heeded an interrupt for GRACE_S.
    """

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, limits: Limits, end: Callable[[GapbookError], None] | None = None
    ) -> None:
        self.passed: GapbookError | None = None
        self._connection, self._limits, self._end = connection, limits, end
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> Watch:
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._done.set()
        self._thread.join()

    def _watch(self) -> None:
        begun, before, since = time.monotonic(), resident_mb(), 0.0
        tick = min(_TICK_S, self._limits.seconds)
        while not self._done.wait(tick):
            now = time.monotonic()
            if self.passed is None:
                self.passed, since = self._judged(now - begun, resident_mb() - before), now
                if self.passed is None:
                    continue
            self._connection.interrupt()
            if self._end is not None and now - since > GRACE_S:
                self._end(self.passed)
                return

    def _judged(self, seconds: float, megabytes: float) -> GapbookError | None:
        if seconds > self._limits.seconds:
            return too_long(self._limits)
        return too_large(self._limits) if megabytes > 2.0 * self._limits.megabytes + _OWN_MB else None


def resident_mb() -> float:
    """Memory this process holds [MB]; 0 where the system does not say so."""
    try:
        return int(_RESIDENT.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    except OSError:
        return 0.0
