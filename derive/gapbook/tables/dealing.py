"""The second pass over spacings that do not fit into memory: rows are dealt into files by specimen, read one after the other.

Only one file's rows, or one block, are in memory at a time, besides the small tables and what was measured of the beds.
"""

from __future__ import annotations

import pickle
import tempfile
import zlib
from collections.abc import Collection, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.tables.batches import SPACINGS, Job, first_pass, job_of, pooled_of, second_pass
from gapbook.tables.catalogue import RawTables
from gapbook.tables.derivation import Measured, Sums
from gapbook.tables.files import ANY_SIZE, open_file
from gapbook.tables.package import Package
from gapbook.tables.records import LONGEST_HEADER, schema_header
from gapbook.tables.units import NAMED

BASE = 300 << 20
"""Bytes that the program and its libraries take, about."""
OF_BED = 9 << 10
"""Bytes that a measured bed takes until all tables are written, about."""
OF_ROW = 700
"""Bytes that a row of spacings takes while it is judged and averaged, about."""
ROW_IN_CSV, ROW_IN_PARQUET = 40, 2
"""Bytes of a file that hold a row, at least."""
MOST_FILES = 400
_PIECE = 4 << 20
"""Bytes of the file that are dealt out at a time."""


def measure(package: Package, catalogue: RawTables, wanted: Collection[str], memory: int) -> Iterator[Measured]:
    """The measured beds of a package, in parts.

    package: the package
    catalogue: its small tables
    wanted: as of `derivation.measure`
    memory: about how many bytes the process may take

    GapbookError if it cannot be done in so little memory, or if specimens cannot be used.
    """
    number = _files_needed(package, len(catalogue.specimens.ids), memory)
    job = job_of(package, catalogue)
    with tempfile.TemporaryDirectory(prefix="gapbook-") as folder:
        dealt = _deal(package, Path(folder), number)
        with (Path(folder) / "blocks").open("w+b") as spool:
            sums = _first(job, package, dealt, spool)
            known = pooled_of(job, sums)
            spool.seek(0)
            yield from second_pass(job, known, _loaded(spool), wanted)


def _files_needed(package: Package, specimens: int, memory: int) -> int:
    paths = package.paths(SPACINGS)
    least = ROW_IN_PARQUET if package.is_parquet(SPACINGS) else ROW_IN_CSV
    rows = sum(path.stat().st_size for path in paths if path.exists()) // least
    left = memory - BASE - OF_BED * specimens
    if left <= 0 or (number := 1 + rows * OF_ROW // left) > MOST_FILES:
        enough = BASE + OF_BED * specimens + max(rows * OF_ROW // MOST_FILES, OF_ROW << 10)
        found, expected = f"{memory / 1e6:.0f} MB", f"{enough / 1e6 + 1:.0f} MB or more for {specimens:,} specimens"
        raise fail("memory", "the memory is too small", found=found, expected=expected, fix="Raise --memory")
    return int(number)


def _deal(package: Package, folder: Path, number: int) -> list[Path]:
    """The rows of spacings in so many files of whole specimens."""
    names = package.schema(SPACINGS).names
    paths = [folder / f"{place}.arrow" for place in range(number)]
    writers: dict[int, pa.RecordBatchStreamWriter] = {}
    with ExitStack() as opened:
        for batch in _pieces(package, names):
            ids = batch.column(0).dictionary_encode()
            place_of = [zlib.crc32((text or "").encode()) % number for text in ids.dictionary.cast(pa.string()).to_pylist()]
            place = np.array([*place_of, 0])[np.asarray(ids.indices.fill_null(len(place_of)))]
            order = np.argsort(place, kind="stable")
            batch, edges = batch.take(pa.array(order)), np.searchsorted(place[order], np.arange(number + 1))
            for one in np.flatnonzero(np.diff(edges)).tolist():
                if one not in writers:
                    sink = opened.enter_context(pa.OSFile(str(paths[one]), "wb"))
                    writers[one] = opened.enter_context(pa.ipc.new_stream(sink, batch.schema))
                writers[one].write_batch(batch.slice(edges[one], edges[one + 1] - edges[one]))
    return [paths[one] for one in sorted(writers)]


def _pieces(package: Package, names: list[str]) -> Iterator[pa.RecordBatch]:
    """The rows of spacings, piece by piece: texts of a CSV file, figures of Parquet."""
    shown = package.shown(SPACINGS)
    try:
        for path in package.paths(SPACINGS):
            with open_file(path, shown, package.root, ANY_SIZE) as stream:
                if package.is_parquet(SPACINGS):
                    yield from _of_parquet(stream, names, shown)
                    continue
                header = schema_header(stream.read(LONGEST_HEADER), shown, package.schema(SPACINGS))
                stream.seek(0)
                options = pa.csv.ReadOptions(block_size=_PIECE, column_names=names, skip_rows=header.lines, use_threads=False)
                types = pa.csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False)
                yield from pa.csv.open_csv(stream, options, convert_options=types)
    except pa.ArrowException as error:
        fix = "gapbook check names the lines"
        raise GapbookError(Problem("unreadable", f"a row cannot be read: {error}", Place(shown), fix=fix)) from None


def _of_parquet(stream: Any, names: list[str], shown: str) -> Iterator[pa.RecordBatch]:
    import pyarrow.parquet as pq  # late: packages hold CSV

    with pq.ParquetFile(stream) as file:
        if file.schema_arrow.names != names:
            expected = ", ".join(names)
            raise GapbookError(Problem("header", "other columns than the schema's", Place(shown), expected=expected))
        for batch in file.iter_batches(batch_size=1 << 16):
            plain = [pc.cast(one, one.type.value_type) if pa.types.is_dictionary(one.type) else one for one in batch.columns]
            yield pa.RecordBatch.from_arrays(plain, names)


def _first(job: Job, package: Package, dealt: list[Path], spool: Any) -> list[Sums]:
    """The first pass over each file, whose blocks go into the spool. GapbookError that names specimens that cannot be used."""
    sums, rejects = [], list[dict[str, Any]]()
    for path in dealt:
        with pa.OSFile(str(path), "rb") as source:
            found = first_pass(job, pa.ipc.open_stream(source).read_all())
        path.unlink()
        sums.append(found.sums)
        rejects += found.rejects.to_pylist()
        for block in found.blocks:
            pickle.dump(block, spool)
    if rejects:
        rejects.sort(key=lambda one: str(one["specimen_id"]))
        more = [Problem("more", f"and {len(rejects) - NAMED} more")] if len(rejects) > NAMED else []
        raise GapbookError(*(_problem(package, one) for one in rejects[:NAMED]), *more)
    return sums


def _problem(package: Package, one: dict[str, Any]) -> Problem:
    place = Place(package.shown(SPACINGS), None, one["column"])
    return Problem(one["code"], f"{one['specimen_id']}: {one['reason']}", place, one["found"], one["expected"], one["fix"])


def _loaded(spool: Any) -> Iterator[Any]:
    while True:
        try:
            yield pickle.load(spool)
        except EOFError:
            return
