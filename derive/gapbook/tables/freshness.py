"""Whether derived tables follow from the catalogue as it is now.

Beside them stands the table `digests`: for each derived table the bytes and SHA-256 of every table it was derived from, and
its own. It is written in the same change as they are (`transactions.py`), after them.

A check reads every byte (`changed` with `thorough`). A question cannot: it looks at the bytes' number, and at their content
only if a file is younger than the digests (as after an edit, or a fresh checkout) and no larger than LARGEST. So it notices
every change but that of a large file, or one put back with its old time, which keeps its length; a check notices these too.
Nothing here imports numpy or Arrow, because a question must not wait for them.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Mapping, Sequence
from typing import BinaryIO, NamedTuple

from gapbook.errors import GapbookError
from gapbook.tables.files import LARGEST_TEXT, read_bytes, sha256
from gapbook.tables.package import DERIVED_TABLES, DIGESTS, Package
from gapbook.tables.transactions import Change

LARGEST = 1 << 23
"""Bytes of the largest file whose content a question reads only to see whether it changed; about 10 ms."""
_RAW = ("frames", "specimens", "readings", "instruments")
SOURCES: Mapping[str, tuple[str, ...]] = {name: _RAW if name == "handling" else (*_RAW, "spacings") for name in DERIVED_TABLES}
"""What each derived table is derived from. Names of people, playtests and exceptions change no figure."""
_HEADER = "table,source,bytes,sha256"


class StaleTables(UserWarning):
    """What is answered rests on derived tables that do not follow from the catalogue as it is now."""


class Digest(NamedTuple):
    """The version of a file: its bytes and its SHA-256 in hexadecimal digits."""

    size: int
    sha256: str


class Changed(NamedTuple):
    """A derived table, and the table that changed since: one it was derived from, or itself."""

    table: str
    source: str


def write_digests(change: Change, derived: Sequence[str]) -> int:
    """Make the digests of the `derived` tables, which `change` has written, part of it; the number of rows.

    Those of derived tables that are left as they are stay. 0 if the package has no such table.
    """
    package = change.package
    if DIGESTS not in package.resources:
        return 0
    known = {} if (kept := _read(package)) is None else kept
    rows = {pair: digest for pair, digest in known.items() if pair.table not in derived and pair.table in SOURCES}
    digests = {source: Digest(*change.digest(source)) for source in dict.fromkeys(one for t in derived for one in _sources(t))}
    rows |= {Changed(table, source): digests[source] for table in derived for source in _sources(table)}
    lines = [f"{table},{source},{size},{text}" for (table, source), (size, text) in sorted(rows.items())]
    change.write(DIGESTS, _written([_HEADER, *lines]))
    return len(lines)


def _sources(table: str) -> tuple[str, ...]:
    return (*SOURCES[table], table)


def _written(lines: Sequence[str]) -> Callable[[BinaryIO], None]:
    def fill(stream: BinaryIO) -> None:
        stream.write("".join(f"{line}\n" for line in lines).encode())

    return fill


def changed(package: Package, tables: Sequence[str] = DERIVED_TABLES, thorough: bool = True) -> list[Changed] | None:
    """Which derived tables do not follow from what the catalogue's files hold now, and why.

    package: where they are
    tables: the derived tables that are asked about; those that were not derived yet are passed over
    thorough: whether to read every byte; if not, it is as the head of this file says

    None if that cannot be told, because the digests are missing or no such table.
    """
    there = [table for table in tables if table in package.resources and os.path.lexists(package.path(table))]
    if DIGESTS not in package.resources or not there:
        return []
    known = _read(package)
    if known is None or not all(Changed(table, source) in known for table in there for source in _sources(table)):
        return None
    since = None if thorough else os.lstat(package.path(DIGESTS)).st_mtime_ns
    pairs = [Changed(table, source) for table in there for source in _sources(table)]
    same: dict[tuple[str, Digest], bool] = {}
    for pair in pairs:
        if (key := (pair.source, known[pair])) not in same:
            same[key] = _is_same(package, pair.source, known[pair], since)
    return [pair for pair in pairs if not same[pair.source, known[pair]]]


def warn_if_stale(package: Package, table: str) -> None:
    """Warn (StaleTables) if a derived table does not follow from the catalogue, as far as a question can tell."""
    try:
        found = changed(package, [table], thorough=False)
    except (GapbookError, OSError):
        return  # who reads the files themselves is told what is wrong with them
    if found is None:
        text = f"it cannot be told whether {package.shown(table)} follows from the catalogue; run gapbook derive"
    elif found:
        sources = ", ".join(package.shown(pair.source) for pair in found)
        text = f"{package.shown(table)} is out of date: {sources} changed since it was derived; run gapbook derive"
    else:
        return
    warnings.warn(text, StaleTables, stacklevel=2)


def _read(package: Package) -> dict[Changed, Digest] | None:
    """The digests; None if they cannot be used."""
    try:
        text = read_bytes(package.path(DIGESTS), package.shown(DIGESTS), package.root, LARGEST_TEXT).decode()
        header, *rows = text.splitlines()
        if header != _HEADER:
            return None
        cells = [row.split(",") for row in rows]
        return {Changed(table, source): Digest(int(size), digest) for table, source, size, digest in cells}
    except (GapbookError, OSError, ValueError):
        return None


def _is_same(package: Package, table: str, digest: Digest, since: int | None) -> bool:
    """Whether a table's file is the version of a digest. since: the time [ns] up to which a file need not be read."""
    try:
        state = os.lstat(package.path(table))
    except FileNotFoundError:
        return False
    if state.st_size != digest.size:
        return False
    if since is not None and (state.st_mtime_ns <= since or state.st_size > LARGEST):
        return True
    with package.open(table) as stream:
        return sha256(stream) == digest.sha256
