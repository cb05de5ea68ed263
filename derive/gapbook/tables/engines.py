"""Where the second pass of a derivation runs: in this process, or over a pool of processes.

Nothing else knows of processes. A pool is one of `concurrent.futures`, started once for a derivation. Its processes are
spawned, on every system: a fork would inherit the locks that threads of this process hold at that moment (Arrow's, a
notebook's), and could wait for them for ever. Measured with Python 3.11 on two cores, two processes are ready 0.45 s after
they are spawned, 0.35 s after a fork server is asked for them and 0.02 s after a fork. They are started when the small tables
have been read: they import while this process averages spacings, which it does on one core.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Callable, Collection, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from functools import partial
from multiprocessing import Pipe, get_context
from multiprocessing.connection import Connection
from types import ModuleType
from typing import Any

from gapbook.tables import derivation
from gapbook.tables.package import Package

MOST = 8
"""Processes that gain by it: beyond, what is not shared takes longer than what is."""
WORTH_SHARING = 1 << 24
"""Bytes of spacings from which it is worth while to start them."""
_IN_A_WORKER = {"OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "PYTHONSAFEPATH": "1"}
"""One thread for linear algebra and for Arrow each; and no module of the folder that gapbook happens to be called in."""

Engine = Callable[[Callable[[Any], Any], Iterable[Any]], Iterator[Any]]
"""Maps a function over items; answers come in the items' order."""


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def workers_for(package: Package, passes: Collection[str]) -> int:
    """How many processes are worth while for what is asked of the second pass: one, unless many beds are solved."""
    size = sum(path.stat().st_size for path in package.paths("spacings") if path.is_file())
    many = derivation.MECHANICS in passes and size >= WORTH_SHARING
    return min(cores(), MOST) if many else 1


@contextmanager
def engine(workers: int) -> Iterator[Engine]:
    """What maps functions over items within: in this process for one worker, else over a pool of processes.

    If the system has no processes to give, it only takes longer.
    """
    if workers < 2:
        yield map
        return
    lifeline, end = Pipe(duplex=False)
    with lifeline, end:
        try:
            with _of_workers():
                executor = ProcessPoolExecutor(workers, get_context("spawn"), _begin, (lifeline,))
        except (OSError, ImportError, NotImplementedError):
            yield map
            return
        with executor:
            try:
                _start(executor, workers)
                yield partial(_mapped, executor)
            except BaseException:
                end.close()  # nobody waits any more for what they are about
                raise


def _start(executor: ProcessPoolExecutor, workers: int) -> None:
    """Start all processes at once, so that they import what they need before there is work for them."""
    with suppress(OSError, BrokenProcessPool), _of_workers(), _interrupts_held():
        for _ in range(workers):
            executor.submit(derivation.prepare)


def _mapped(executor: ProcessPoolExecutor, function: Callable[[Any], Any], items: Iterable[Any]) -> Iterator[Any]:
    """Have all items worked on from now on. If a process is lost, this one does what is left."""
    kept = list(items)
    futures = [_submitted(executor, function, item) for item in kept]

    def answers() -> Iterator[Any]:
        for future, item in zip(futures, kept, strict=True):
            try:
                yield future.result()
            except BrokenProcessPool:
                yield function(item)

    return answers()


def _submitted(executor: ProcessPoolExecutor, function: Callable[[Any], Any], item: Any) -> Future[Any]:
    try:
        return executor.submit(function, item)
    except (BrokenProcessPool, OSError) as error:
        lost: Future[Any] = Future()
        lost.set_exception(BrokenProcessPool(str(error)))
        return lost


def _begin(lifeline: Connection) -> None:
    """What a process of a pool does first."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started it is interrupted too, and ends it
    threading.Thread(target=_end_with, args=(lifeline,), daemon=True).start()


def _end_with(lifeline: Connection) -> None:
    """End this process when the one that started it closes the other end, or is gone, however it ended."""
    with suppress(EOFError, OSError):
        lifeline.recv_bytes()
    os._exit(1)


@contextmanager
def _of_workers() -> Iterator[None]:
    """Processes started within take over _IN_A_WORKER, and do not import the program that called gapbook, as else they do."""
    main, before = sys.modules["__main__"], {name: os.environ.get(name) for name in _IN_A_WORKER}
    try:
        sys.modules["__main__"] = ModuleType("__main__")
        os.environ.update(_IN_A_WORKER)
        yield
    finally:
        sys.modules["__main__"] = main
        for name, value in before.items():
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Processes started within never hear of an interrupt, not even before `_begin`; this one hears of it afterwards, since
    a process that is started halfway complains.
    """
    came: list[int] = []
    before = {}
    if threading.current_thread() is threading.main_thread():
        for number in (signal.SIGINT, signal.SIGTERM):
            if (handler := signal.getsignal(number)) not in (signal.SIG_IGN, signal.SIG_DFL, None):
                before[number] = handler
                signal.signal(number, lambda number, frame: came.append(number))
    held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT}) if hasattr(signal, "pthread_sigmask") else None
    try:
        yield
    finally:
        if held is not None:
            signal.pthread_sigmask(signal.SIG_SETMASK, held)
        for number, handler in before.items():
            signal.signal(number, handler)
        for first in came[:1]:
            signal.raise_signal(first)
