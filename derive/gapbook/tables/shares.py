"""A large table of spacings in stretches of whole specimens, so that several processes can read, average and score it at once.

It is the quick way for sound tables: what is wrong is not told here, only that it has to be read at once (`derived.py`),
which knows every line.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pyarrow as pa

from gapbook.errors import GapbookError
from gapbook.science.grouping import FloatArray, IntArray
from gapbook.tables import spacings
from gapbook.tables.catalogue import RawTables, only_named
from gapbook.tables.derived import Measured, score_bench
from gapbook.tables.reading import read_rows, texts
from gapbook.tables.runs import NotWholeError, lay_out

STRETCH = 16 << 20
"""Bytes in a stretch, about: some 200,000 rows, which stay in cache."""
_AHEAD = 1 << 16


class Stretch(NamedTuple):
    """Bytes of a file from `start` to before `stop`, whole lines below the header."""

    start: int
    stop: int


def stretches(path: Path) -> list[Stretch]:
    """A CSV file below its header in about equal stretches; a specimen whose rows stand together is in one of them."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        stream.readline()
        cuts = [stream.tell()]
        while (target := cuts[-1] + STRETCH) < size:
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
    """What a share has averaged: the ids of the specimens in each of its stretches, and `spacings.repeat_sums` of each."""

    ids: list[list[str]]
    sums: list[tuple[FloatArray, IntArray]]


class Share:
    """One process's share: some stretches, read and averaged at once; scored when catalogue and repeatability are known.

    tools: a catalogue of instruments alone; parents: what may stand in columns that refer to other tables.
    """

    def __init__(self, tools: RawTables, parents: dict[str, frozenset[str]], own: Sequence[Stretch]) -> None:
        self.tools, self.parents, self.own = tools, parents, own
        self._parent = os.getppid()
        self.schema = tools.package.schema("spacings")
        self.blocks: list[spacings.Block] = []

    def average(self) -> Averaged | None:
        """Read and average. None where a row is not as it should be."""
        found = Averaged([], [])
        with self.tools.package.path("spacings").open("rb") as stream:
            for start, stop in self.own:
                self._stop_if_left()
                stream.seek(start)
                data = read_rows(stream.read(stop - start), self.schema)
                if data is None or not all(allowed.issuperset(texts(data[name])) for name, allowed in self.parents.items()):
                    return None
                ids = texts(data["specimen_id"])
                try:
                    part = self._block(ids, data)
                except GapbookError:
                    return None
                self.blocks.append(part)
                found.ids.append(ids)
                found.sums.append(spacings.repeat_sums([part], self.tools))
        return found

    def _stop_if_left(self) -> None:
        """End where nobody waits for the answer any more."""
        if os.name != "nt" and os.getppid() != self._parent:
            raise SystemExit(1)

    def _block(self, ids: list[str], data: pa.Table) -> spacings.Block:
        """The rows averaged; specimens are numbered as in `ids`, and their counts not known yet."""
        where = spacings.source(self.tools.package, self.tools._replace(specimens=only_named(ids)), data)
        unknown = np.zeros(len(ids), dtype=np.int64)
        return spacings.block(where, (unknown, unknown), 0, data.num_rows)

    def score(self, catalogue: RawTables, deviation: FloatArray, numbers: list[IntArray]) -> list[Measured] | None:
        """The beds of each stretch; None where one is not whole.

        deviation: repeatability of each pool [mm]; numbers: for each stretch those of the specimens in `Averaged.ids`.
        """
        found = []
        for part, number in zip(self.blocks, numbers, strict=True):
            self._stop_if_left()
            whole = spacings.with_specimens(part, number, spacings.counts(catalogue))
            try:
                laid = lay_out(whole, *spacings.precision(whole, catalogue, deviation), catalogue.specimens.ids)
            except NotWholeError:
                return None
            found.append(score_bench(catalogue, laid))
        return found


def numbers_of(found: Sequence[Averaged], number: dict[str, int]) -> list[list[IntArray]] | None:
    """The number of each specimen in each share's stretches; None where one is unknown, or stands in two stretches."""
    numbers = [[np.array([number.get(name, -1) for name in ids], dtype=np.int64) for ids in share.ids] for share in found]
    every = np.sort(np.concatenate([part for share in numbers for part in share]))
    return None if not len(every) or every[0] < 0 or np.any(every[1:] == every[:-1]) else numbers


def deviation_of(found: Sequence[Averaged]) -> FloatArray:
    """Repeatability of each pool [mm] from what all shares averaged, the same however many they are."""
    squares, freedom = zip(*(sums for share in found for sums in share.sums), strict=True)
    exact = np.array([math.fsum(pool) for pool in zip(*squares, strict=True)])
    return spacings.repeatability_from(exact, np.sum(freedom, axis=0))


def parents_of(tools: RawTables) -> dict[str, frozenset[str]]:
    """What may stand in each column of the spacings that refers to a table of `tools`."""
    keys = [key for key in tools.package.schema("spacings").foreign_keys if key.table in tools.tables]
    return {key.field: frozenset(tools.tables[key.table][key.parent].to_pylist()) for key in keys}
