"""Old or new, never half of each: a reader notices that tables were swapped while it read.

A change swaps several files, one after the other, while its journal stands (`swapping.py`). So what was read belongs
together if, after the last file was read, no file read before it has been swapped and no journal stands. That takes a
`stat` a file, and no lock: a package on read-only storage can be read as well.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from gapbook.errors import GapbookError, fail
from gapbook.tables.package import Package, Signature

CHANGED = "package-changed"
"""Code of the error a reader gets; the command line then reads anew."""


def signature(path: Path) -> Signature | None:
    """What tells one version of a file from another; None where there is none."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


@contextmanager
def steady(package: Package, *tables: str) -> Iterator[None]:
    """Read `tables` within. GapbookError `package-changed` if they do not belong together, or not to what was read of the
    package before.
    """
    for table in tables:
        path = package.path(table)
        if path not in package.seen and (now := signature(path)) is not None:
            package.seen[path] = now
    try:
        yield
    except GapbookError:
        _compare(package)
        raise
    _compare(package)


def _compare(package: Package) -> None:
    if package.is_changing or any(signature(path) != then for path, then in list(package.seen.items())):
        raise fail(CHANGED, "the package was changed while it was read", fix="Open it and ask again")
