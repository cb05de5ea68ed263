"""A large table of spacings in stretches of whole specimens, so that several processes can read, average and score it at once.

It is the quick way for sound tables: what is wrong is not told here, only that it has to be read at once (`derived.py`),
which knows every line.
"""

from __future__ import annotations

import math
import os
from collections import deque
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import GapbookError
from gapbook.science.grouping import FloatArray, IntArray
from gapbook.tables import spacings
from gapbook.tables.catalogue import RawTables, only_named
from gapbook.tables.derived import Measured, beds_table, score_bench
from gapbook.tables.reading import read_rows, texts
from gapbook.tables.runs import NotWholeError, lay_out
from gapbook.tables.writing import rows_of

STRETCH = 16 << 20
"""Bytes in a stretch, about: some 200,000 rows, which stay in cache."""
_AHEAD = 1 << 16


class Stretch(NamedTuple):
    """Bytes of a file from `start` to before `stop`, whole lines below the header."""

    start: int
    stop: int


def stretches(path: Path) -> list[Stretch]:
    """A CSV file below its header in stretches, shorter ones at the end so that all who read them are done at about one time;
    a specimen whose rows stand together is in one of them.
    """
    size = path.stat().st_size
    with path.open("rb") as stream:
        stream.readline()
        cuts = [stream.tell()]
        while (target := cuts[-1] + max(STRETCH // 4, min(STRETCH, (size - cuts[-1]) // 4))) < size:
            ahead, step = None, _AHEAD
            while ahead is None and target + step // 4 < size:
                stream.seek(target)
                ahead, step = _to_next_specimen(stream.read(step)), step * 4
            cuts.append(size if ahead is None else target + ahead)
    return [Stretch(*cut) for cut in zip(cuts, [*cuts[1:], size], strict=True) if cut[0] < cut[1]]


def _to_next_specimen(text: bytes) -> int | None:
    """Where in `text` the first line starts whose first cell is not that of the line before; None where that is not seen."""
    start, before = text.find(b"\n") + 1, b""
    while start and (end := text.find(b",", start)) >= 0:
        if before and text[start:end] != before:
            return start
        before = text[start:end]
        start = text.find(b"\n", start) + 1
    return None


class Averaged(NamedTuple):
    """A stretch averaged: the ids of its specimens, and its `spacings.repeat_sums`."""

    ids: list[str]
    squares: FloatArray
    freedom: IntArray


class Share:
    """One process's share: stretches read and averaged one by one, scored when catalogue and repeatability are known, and
    written out: always in the order in which they came.

    tools: a catalogue of instruments alone; parents: what may stand in columns that refer to other tables.
    """

    def __init__(self, tools: RawTables, parents: dict[str, frozenset[str]]) -> None:
        self.tools, self.parents, self.catalogue = tools, parents, tools
        self._parent = os.getppid()
        self.schema = tools.package.schema("spacings")
        self._counts = spacings.counts(tools)
        self._blocks: deque[spacings.Block] = deque()
        self._measured: deque[Measured] = deque()

    def average(self, stretch: Stretch) -> Averaged | None:
        """Read and average. None where a row is not as it should be."""
        self._stop_if_left()
        with self.tools.package.path("spacings").open("rb") as stream:
            stream.seek(stretch.start)
            data = read_rows(stream.read(stretch.stop - stretch.start), self.schema)
        if data is None or not all(allowed.issuperset(texts(data[name])) for name, allowed in self.parents.items()):
            return None
        ids = texts(data["specimen_id"])
        try:
            part = self._block(ids, data)
        except GapbookError:
            return None
        self._blocks.append(_slim(part))
        return Averaged(ids, *spacings.repeat_sums([part], self.tools))

    def _stop_if_left(self) -> None:
        """End where nobody waits for the answer any more."""
        if os.name != "nt" and os.getppid() != self._parent:
            raise SystemExit(1)

    def _block(self, ids: list[str], data: pa.Table) -> spacings.Block:
        """The rows averaged; specimens are numbered as in `ids`, and their counts not known yet."""
        where = spacings.source(self.tools.package, self.tools._replace(specimens=only_named(ids)), data)
        unknown = np.zeros(len(ids), dtype=np.int64)
        return spacings.block(where, (unknown, unknown), 0, data.num_rows)

    def know(self, catalogue: RawTables) -> bool:
        """Take the catalogue, which is read while the spacings are averaged."""
        self.catalogue, self._counts = catalogue, spacings.counts(catalogue)
        return True

    def score(self, deviation: FloatArray, specimens: IntArray) -> Measured | None:
        """Score the beds of the next stretch that it averaged. None where one is not whole.

        deviation: repeatability of each pool [mm]; specimens: the numbers of those in `Averaged.ids`.
        """
        self._stop_if_left()
        whole = spacings.with_specimens(self._blocks.popleft(), specimens, self._counts)
        try:
            laid = lay_out(whole, *spacings.precision(whole, self.catalogue, deviation), self.catalogue.specimens.ids)
        except NotWholeError:
            return None
        self._measured.append(score_bench(self.catalogue, laid))
        return self._measured[-1]

    def rows(self) -> bytes:
        """The rows of beds.csv of the next stretch that it scored."""
        self._stop_if_left()
        return rows_of(beds_table(self.tools.package, self.catalogue, self._measured.popleft()))


def _slim(part: spacings.Block) -> spacings.Block:
    """A block without what only errors and the repeatability need; it is kept until all are averaged."""
    size = len(part.averages.run)
    squares, row = np.broadcast_to(np.float64(0.0), size), np.broadcast_to(np.int64(0), size)
    return part._replace(averages=part.averages._replace(squares=squares, row=row))


def numbers_of(found: Sequence[Sequence[Averaged]], number: dict[str, int]) -> list[list[IntArray]] | None:
    """The number of each specimen in each share's stretches; None where one is unknown, or stands in two stretches."""
    numbers = [[np.array([number.get(name, -1) for name in part.ids], dtype=np.int64) for part in share] for share in found]
    every = np.sort(np.concatenate([part for share in numbers for part in share]))
    return None if not len(every) or every[0] < 0 or np.any(every[1:] == every[:-1]) else numbers


def deviation_of(found: Sequence[Sequence[Averaged]]) -> FloatArray:
    """Repeatability of each pool [mm] from what all shares averaged, the same however many they are."""
    parts = [part for share in found for part in share]
    exact = np.array([math.fsum(pool) for pool in zip(*(part.squares for part in parts), strict=True)])
    return spacings.repeatability_from(exact, np.sum([part.freedom for part in parts], axis=0))


def parents_of(tools: RawTables) -> dict[str, frozenset[str]]:
    """What may stand in each column of the spacings that refers to a table of `tools`."""
    keys = [key for key in tools.package.schema("spacings").foreign_keys if key.table in tools.tables]
    return {key.field: frozenset(tools.tables[key.table][key.parent].to_pylist()) for key in keys}
