"""The derivation in Spark, for spacings that outgrow one machine: the passes of `batches`, mapped over partitions.

Spark deals the rows out by specimen, once. The first pass turns each partition into averaged blocks, which Spark keeps; the
second maps over these. The job (`batches.Job`: schema and small tables) is broadcast. A worker needs numpy, scipy and
pyarrow; the code itself is sent along unless the workers are processes of this machine. What the second pass gives comes
back to the driver, which makes frames' scores, handling and mechanics of it by the functions that `gapbook derive` calls.
"""

from __future__ import annotations

import os
import pickle
import sys
import tempfile
import warnings
import zipfile
from collections.abc import Collection, Iterable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import pyarrow as pa

from gapbook.errors import GapbookError, Place, Problem, fail
from gapbook.tables.batches import REJECTS, SPACINGS, first_pass, job_of, pooled_of, second_pass
from gapbook.tables.catalogue import RawTables
from gapbook.tables.derivation import Measured, Pooled
from gapbook.tables.files import ANY_SIZE, open_file
from gapbook.tables.package import Package
from gapbook.tables.records import LONGEST_HEADER, schema_header

LOCAL = "local[*]"
"""The master if none is named: all cores of this machine."""
PART_BYTES = 1 << 26
"""Bytes of spacings that a partition has, about, if no number of partitions is asked for."""
_FIRST = pa.schema([("sums", pa.binary()), ("rejects", pa.binary()), ("block", pa.binary())])
_SECOND = pa.schema([("measured", pa.binary())])
_BROKEN = "_broken"
_NEEDS = "Spark 4 needs Java 17 or newer: install a JRE, or point JAVA_HOME at one"
_SETTINGS = {
    "spark.ui.enabled": "false",
    "spark.ui.showConsoleProgress": "false",
    "spark.log.level": "ERROR",
    "spark.driver.maxResultSize": "0",
    "spark.sql.execution.arrow.maxRecordsPerBatch": "100000",
    "spark.executorEnv.OPENBLAS_NUM_THREADS": "1",
}


class Found(NamedTuple):
    """What Spark gives back.

    measured: the measured beds, in parts
    rejects: the specimens that could not be used, with the columns of `batches.REJECTS`
    """

    measured: list[Measured]
    rejects: pa.Table


def measure(
    package: Package,
    catalogue: RawTables,
    wanted: Collection[str],
    master: str | None = None,
    parts: int | None = None,
    spacings: str | None = None,
) -> Found:
    """The measured beds of a package, by Spark.

    package: the package
    catalogue: its small tables
    wanted: as of `derivation.measure`
    master: Spark's master; LOCAL if None
    parts: partitions that specimens are dealt into; if None, by the size of spacings
    spacings: Parquet at any path that Spark can read, in place of the package's own spacings

    GapbookError if Spark cannot be started, or stops.
    """
    with session(master) as spark, _told():
        rows = _rows(spark, package, spacings)
        parts = parts or max(2 * spark.sparkContext.defaultParallelism, 1 + _size(package, spacings) // PART_BYTES)
        job = spark.sparkContext.broadcast(job_of(package, catalogue))
        dealt = rows.repartition(parts, "specimen_id")
        first = dealt.mapInArrow(partial(_first, job), "sums binary, rejects binary, block binary").persist()
        told = first.select("sums", "rejects").where("sums is not null").toArrow()
        known = pooled_of(job.value, map(pickle.loads, told["sums"].to_pylist()))
        blocks = first.select("block").where("block is not null")
        second = blocks.mapInArrow(partial(_second, job, known, tuple(wanted)), "measured binary").toArrow()
        first.unpersist()
        rejects = [REJECTS.empty_table(), *map(pickle.loads, told["rejects"].to_pylist())]
        found = [pickle.loads(cell.as_buffer()) for cell in second["measured"]]
        return Found(found, pa.concat_tables(rejects).sort_by([("specimen_id", "ascending"), ("code", "ascending")]))


def _first(job: Any, batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
    """The first pass over a partition. job: the broadcast."""
    rows = pa.Table.from_batches(kept) if (kept := list(batches)) else None
    if rows is None or not rows.num_rows:
        return
    broken = rows[_BROKEN].to_numpy() if _BROKEN in rows.column_names else None
    found = first_pass(job.value, rows, broken)
    yield _row(_FIRST, pickle.dumps(found.sums), pickle.dumps(found.rejects), None)
    for block in found.blocks:
        yield _row(_FIRST, None, None, pickle.dumps(block))


def _second(job: Any, known: Pooled, wanted: Collection[str], batches: Iterable[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
    """The second pass over the blocks of a partition. job: the broadcast."""
    blocks = (pickle.loads(cell.as_buffer()) for batch in batches for cell in batch.column(0))
    for measured in second_pass(job.value, known, blocks, wanted):
        yield _row(_SECOND, pickle.dumps(measured))


def _row(schema: pa.Schema, *cells: bytes | None) -> pa.RecordBatch:
    return pa.RecordBatch.from_arrays([pa.array([cell], pa.binary()) for cell in cells], schema=schema)


def _rows(spark: Any, package: Package, spacings: str | None) -> Any:
    """The rows of spacings as Spark reads them: from Parquet as they are typed, from CSV as texts."""
    names = package.schema(SPACINGS).names
    if spacings is not None or package.is_parquet(SPACINGS):
        found = spark.read.parquet(*([spacings] if spacings is not None else map(str, package.paths(SPACINGS))))
        if missing := [name for name in names if name not in found.columns]:
            place = Place(spacings or package.shown(SPACINGS))
            raise GapbookError(
                Problem("header", f"columns are missing: {', '.join(missing)}", place, expected=", ".join(names))
            )
        return found.select(*names)
    with open_file(package.path(SPACINGS), package.shown(SPACINGS), package.root, ANY_SIZE) as stream:
        schema_header(stream.read(LONGEST_HEADER), package.shown(SPACINGS), package.schema(SPACINGS))
    columns = ", ".join(f"`{name}` string" for name in (*names, _BROKEN))
    reader = spark.read.schema(columns).options(
        header=True, mode="PERMISSIVE", columnNameOfCorruptRecord=_BROKEN, escape='"', columnPruning=False
    )
    return reader.csv(str(package.path(SPACINGS))).selectExpr(
        *(f"`{name}`" for name in names), f"{_BROKEN} is not null {_BROKEN}"
    )


def _size(package: Package, spacings: str | None) -> int:
    return 0 if spacings is not None else sum(path.stat().st_size for path in package.paths(SPACINGS))


@contextmanager
def session(master: str | None = None) -> Iterator[Any]:
    """A Spark session: the one of this process if there is one, else one that ends with the context.

    GapbookError if there is no pyspark, or if Spark does not start.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FutureWarning)  # of pandas' version, which nothing here uses
        try:
            from pyspark.sql import SparkSession  # late: an extra
        except ImportError:
            raise fail("no-spark", "Spark is not installed", fix="pip install 'gapbook[spark]'") from None
        if (running := SparkSession.getActiveSession()) is not None:
            yield running
            return
        os.environ.setdefault("PYSPARK_PYTHON", sys.executable)
        builder = SparkSession.builder.appName("gapbook").master(master or LOCAL)
        for name, value in _SETTINGS.items():
            builder = builder.config(name, value)
        try:
            spark = builder.getOrCreate()
        except Exception as error:
            raise fail("spark", f"Spark could not be started: {_first_line(error)}", fix=_NEEDS) from None
        try:
            with tempfile.TemporaryDirectory(prefix="gapbook-") as folder:
                if not spark.sparkContext.master.startswith("local["):
                    spark.sparkContext.addPyFile(_code(Path(folder)))
                yield spark
        finally:
            spark.stop()


def _code(folder: Path) -> str:
    """The package's code in one file, for workers that have none."""
    root, made = Path(__file__).resolve().parents[1], folder / "gapbook.zip"
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(root.rglob("*.py")):
            archive.write(path, Path("gapbook") / path.relative_to(root))
    return str(made)


@contextmanager
def _told() -> Iterator[None]:
    """What Spark raises, as a GapbookError."""
    from py4j.protocol import Py4JError  # late: comes with pyspark
    from pyspark.errors import PySparkException

    try:
        yield
    except (PySparkException, Py4JError) as error:
        raise fail("spark", f"Spark stopped: {_first_line(error)}") from None


def _first_line(error: Exception) -> str:
    return next((line.strip() for line in str(error).splitlines() if line.strip()), type(error).__name__)
