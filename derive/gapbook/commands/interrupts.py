"""An interrupt ends the command without a word, whatever it was about, and so does a request to terminate.

One that is ignored, as an interrupt is in the background, stays so.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable

INTERRUPTED = 130
"""Exit status of a command that was interrupted: 128 and the number of the signal, as shells have it."""
_SIGNALS = (signal.SIGINT, signal.SIGTERM)
_came = False


def end_at_once() -> None:
    """From now on an interrupt ends the process: while nothing is begun, and when all is cleared away."""
    _on_interrupt(lambda number, frame: os._exit(INTERRUPTED))


def heed() -> None:
    """From now on an interrupt is a KeyboardInterrupt, so that what is begun is cleared away, and `came` knows of it."""
    _on_interrupt(_note)
    sys.unraisablehook = _unless_interrupted


def came() -> bool:
    """Whether there was an interrupt, though another error may have come of it: DuckDB and class bodies make one."""
    return _came


def _on_interrupt(handler: Callable[[int, object], object]) -> None:
    for number in _SIGNALS:
        if signal.getsignal(number) not in (signal.SIG_IGN, None):
            signal.signal(number, handler)


def _note(number: int, frame: object) -> None:
    global _came
    _came = True
    raise KeyboardInterrupt


def _unless_interrupted(lost: sys.UnraisableHookArgs) -> None:
    """An interrupt that nobody can be told of is not told on the screen either."""
    if lost.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(lost)
