"""An interrupt or a request to terminate ends the command without a message, whatever it was doing.

A signal that was ignored before, as an interrupt is in the background, is still ignored.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable

INTERRUPTED = 130
"""Exit status of a command that was interrupted: 128 and the number of the signal, as in shells."""
_SIGNALS = (signal.SIGINT, signal.SIGTERM)
_came = False


def end_at_once() -> None:
    """From now on an interrupt ends the process at once. For when nothing has begun, or nothing is left to remove."""
    _on_interrupt(lambda number, frame: os._exit(INTERRUPTED))


def heed() -> None:
    """From now on an interrupt raises KeyboardInterrupt, so that unfinished files are removed, and `came` is true."""
    _on_interrupt(_note)
    sys.unraisablehook = _unless_interrupted


def came() -> bool:
    """Whether there was an interrupt, even if it became another error: DuckDB and class bodies make another of it."""
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
    """Print errors that cannot be raised, as Python does, but no KeyboardInterrupt."""
    if lost.exc_type is not KeyboardInterrupt:
        sys.__unraisablehook__(lost)
