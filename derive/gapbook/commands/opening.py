"""Opening a package in the background, while the question is still being read."""

from __future__ import annotations

from concurrent.futures import Future
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from gapbook.catalogue import Catalogue


def opening(package: Path | None) -> Future[Catalogue]:
    """The catalogue, opened by a thread: loading the database is half the time a question takes, and waits for nothing."""
    found: Future[Catalogue] = Future()

    def work() -> None:
        try:
            from gapbook.catalogue import open_catalogue

            found.set_result(open_catalogue(package))
        except BaseException as error:
            found.set_exception(error)

    Thread(target=work, daemon=True).start()
    return found
