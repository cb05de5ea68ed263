"""Progress on a terminal: what a run of more than two seconds is doing, how much is left, and nothing once it ends."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock, Timer
from types import TracebackType
from typing import TYPE_CHECKING, Any, TextIO

from gapbook.progress import listening
from gapbook.signs import safe

if TYPE_CHECKING:
    from rich.progress import Progress

PATIENCE_S = 2.0
"""A run is shown once it has taken this long [s] since its first report."""


_displays: list[Display] = []


@contextmanager
def shown_on_terminal(as_json: bool) -> Iterator[None]:
    """What is reported within is shown on stderr, if that is a terminal and no JSON was asked for."""
    if as_json or not sys.stderr.isatty():
        yield
        return
    with Display() as display, listening(display):
        _displays.append(display)
        try:
            yield
        finally:
            _displays.remove(display)


def clear() -> None:
    """Take what is shown off the screen, because something else is about to be written there."""
    for display in _displays:
        display.stop()


class Display:
    """Listens to reports (`gapbook.progress`) and shows the last one on a terminal, from PATIENCE_S on.

    A timer starts it, so that it also comes while nothing new is reported. `stop` takes it off the screen, before anything else
    is written there; the next report begins anew. What cannot be shown stops nothing.
    """

    def __init__(self, stream: TextIO | None = None, patience_s: float = PATIENCE_S) -> None:
        self._stream = sys.stderr if stream is None else stream
        self._patience_s = patience_s
        self._lock = Lock()
        self._timer: Timer | None = None
        self._shown: tuple[Progress, Any] | None = None
        self._last: tuple[str, int, int | None] = ("", 0, None)

    def __call__(self, doing: str, done: int, whole: int | None) -> None:
        """Keep the report, and show it if it is time."""
        with self._lock:
            self._last = (doing, done, whole)
            if self._shown is not None:
                self._update()
            elif self._timer is None:
                self._timer = Timer(self._patience_s, self._begin)
                self._timer.daemon = True
                self._timer.start()

    def stop(self) -> None:
        """Take it off the screen."""
        with self._lock:
            if self._timer is not None:
                self._timer.cancel()
            if self._shown is not None:
                self._shown[0].stop()
            self._timer = self._shown = None

    def __enter__(self) -> Display:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.stop()

    def _begin(self) -> None:
        from rich.console import Console  # late: most runs end before
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
        from rich.progress import TimeRemainingColumn as Remaining

        with self._lock:
            if self._timer is None:  # stopped meanwhile
                return
            columns = (
                SpinnerColumn("line"),
                TextColumn("{task.description}", markup=False),
                BarColumn(20),
                MofNCompleteColumn(),
            )
            console = Console(file=self._stream, markup=False, highlight=False, emoji=False)
            shown = Progress(
                *columns, TimeElapsedColumn(), TextColumn("left"), Remaining(), console=console, transient=True,
                redirect_stdout=False, redirect_stderr=False, refresh_per_second=5,
            )  # fmt: skip
            self._shown = shown, shown.add_task("", total=None)
            self._update()
            shown.start()

    def _update(self) -> None:
        assert self._shown is not None
        (shown, task), (doing, done, whole) = self._shown, self._last
        if shown.tasks[0].description != safe(doing):
            shown.reset(task, description=safe(doing), total=whole, completed=done)
        else:
            shown.update(task, total=whole, completed=done)
