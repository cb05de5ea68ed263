"""Processes that do as they are told, by pickles over two pipes: a hand makes something, and then calls its methods.

A hand ends when its pipes are closed. Where this process has no other thread it is forked, since whatever is imported need
not be imported again; else it is started afresh, with the same modules on its path, so that threads and locks of this one
do not matter.
"""

from __future__ import annotations

import json
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import Any, BinaryIO, NoReturn, cast

from gapbook.tables.ownprocess import SPARED, keep_memory, settle

_SERVE = "import json, sys; sys.path[:] = json.loads(sys.argv[1]); from gapbook.tables import hands; hands.serve()"


class Hand:
    """A process and the pipes to and from it. Whatever goes wrong with it shows as an answer that is missing."""

    def __init__(self, orders: BinaryIO, answers: BinaryIO, kill: Callable[[], object], wait: Callable[[], object]) -> None:
        self._orders, self._answers, self._kill, self._wait = orders, answers, kill, wait

    def tell(self, *message: object) -> None:
        """Tell it the class of what to make, and later the method to call, each with its arguments."""
        self.send(packed(*message))

    def send(self, message: bytes) -> None:
        """The same with a message that is `packed`."""
        with suppress(OSError):
            self._orders.write(message)
            self._orders.flush()

    def hear(self) -> Any:
        """What it answers next; None where it could not, or is gone."""
        try:
            return pickle.load(self._answers)
        except Exception:  # what is no pickle, or the start of one, fails in many ways
            return None

    def dismiss(self) -> None:
        """Send it home at once. Whoever waits for it hears nothing."""
        with suppress(OSError):
            self._kill()

    def end(self) -> None:
        """The same, and wait until it is gone."""
        self.dismiss()
        with suppress(OSError):
            self._wait()

    def close(self) -> None:
        """Close the pipes, once nobody waits."""
        for pipe in (self._orders, self._answers):
            with suppress(OSError):  # what was not sent is not needed
                pipe.close()


def packed(*message: object) -> bytes:
    """A message once for several hands."""
    return pickle.dumps(message, pickle.HIGHEST_PROTOCOL)


def hire() -> Hand:
    """A new hand. OSError where there can be none."""
    return _forked() if _is_alone() else _started()


def _is_alone() -> bool:
    """Whether this process can be forked without harm: a lock that another thread holds would stay locked in the fork."""
    try:
        return sys.platform == "linux" and len(os.listdir("/proc/self/task")) == 1
    except OSError:  # who cannot know is not
        return False


def _started() -> Hand:
    process = subprocess.Popen(
        [sys.executable, "-P", "-c", _SERVE, json.dumps(sys.path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={**os.environ, **SPARED},
    )
    return Hand(cast(BinaryIO, process.stdin), cast(BinaryIO, process.stdout), process.kill, process.wait)


def _forked() -> Hand:
    held = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM})
    try:
        theirs, ours = os.pipe(), os.pipe()
        pid = os.fork()
        if not pid:
            _serve_forked(theirs[0], ours[1], held)
        for end in (theirs[0], ours[1]):
            os.close(end)
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, held)
    orders, answers = os.fdopen(theirs[1], "wb"), os.fdopen(ours[0], "rb")
    return Hand(orders, answers, partial(os.kill, pid, signal.SIGKILL), partial(os.waitpid, pid, 0))


def _serve_forked(orders: int, answers: int, mask: set[Any]) -> NoReturn:
    """The life of a fork. It must never come back into what this process was about to do."""
    try:
        os.dup2(orders, 0)
        os.dup2(answers, 1)
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        for name in os.listdir("/proc/self/fd"):
            if int(name) > 2:  # the ends of the other hands too, or they would never be closed
                with suppress(OSError):  # that of the listing is closed already
                    os.close(int(name))
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        serve(mask)
    finally:
        os._exit(0)


def serve(mask: set[Any] | None = None) -> None:
    """What a hand does: make something, and call its methods, until nobody tells it more."""
    settle()
    keep_memory()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that started it is interrupted too, and ends it
    if mask is not None:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
    orders, answers = os.fdopen(0, "rb", closefd=False), os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    with suppress(EOFError, OSError):  # nobody waits for it any more
        kind, *given = pickle.load(orders)
        made = kind(*given)
        while True:
            what, *given = pickle.load(orders)
            pickle.dump(getattr(made, what)(*given), answers, pickle.HIGHEST_PROTOCOL)
            answers.flush()
