"""What a long run is doing, told to whoever listens: code that takes long reports, and a terminal listens (`screens.progress`).

Nobody listens unless a command says so: from Python, in pipes and with --json nothing is shown.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

Listener = Callable[[str, int, int | None], None]
"""Is told what is done, how much of it is done, and how much there is in all (None: not known)."""
Item = TypeVar("Item")
_listener: ContextVar[Listener | None] = ContextVar("listener", default=None)


def report(doing: str, done: int = 0, whole: int | None = None) -> None:
    """Tell what is being done, in words, and how much of it is done."""
    if listener := _listener.get():
        listener(doing, done, whole)


def counted(items: Iterable[Item], doing: str, whole: int) -> Iterator[Item]:
    """The items, of which there are `whole`; each is reported as done when the next is asked for."""
    report(doing, 0, whole)
    for done, item in enumerate(items, 1):
        yield item
        report(doing, done, whole)


@contextmanager
def listening(listener: Listener) -> Iterator[None]:
    """Whatever is reported within is told to `listener`."""
    token = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(token)
