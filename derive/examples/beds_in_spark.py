"""The beds of a package, derived by Spark from its Parquet export: for spacings that outgrow one machine.

`gapbook export --out EXPORT`, then `python derive/examples/beds_in_spark.py PACKAGE EXPORT OUT`. Spark hands over Arrow
tables of whole specimens; what they are given to is the code that `gapbook derive` runs. PACKAGE must be readable by every
worker; its small tables (frames, specimens, instruments, readings) are read there, its spacings are not. `gapbook check`
is what looks at the readings first: nothing here does.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np
import pyarrow as pa
from pyspark.sql import DataFrame, SparkSession
from pyspark.sql.functions import col, lit, pmod
from pyspark.sql.functions import hash as hash_of

from gapbook.tables.batches import SUMS, beds_of, beds_schema, deviation, repeat_sums, small_tables

PARTS = 16
"""Batches that specimens are dealt into; take more for more workers."""


def sums_of(path: str) -> Callable[[pa.Table], pa.Table]:
    """The first pass: what a batch says of how well readings repeat."""
    return lambda batch: repeat_sums(*small_tables(path), batch)


def scored_by(path: str, repeatability: list[float]) -> Callable[[pa.Table], pa.Table]:
    """The second pass: the beds of a batch."""
    return lambda batch: beds_of(*small_tables(path), np.array(repeatability), batch)


def spark_type(kind: pa.DataType) -> str:
    """Spark's name of an Arrow type that occurs in beds or sums."""
    return "string" if pa.types.is_string(kind) else "bigint" if pa.types.is_integer(kind) else "double"


def spark_schema(schema: pa.Schema) -> str:
    """A schema as Spark is told it."""
    return ", ".join(f"`{field.name}` {spark_type(field.type)}" for field in schema)


def beds_in_spark(spark: SparkSession, package: str, spacings: str, parts: int = PARTS) -> DataFrame:
    """The rows of beds.csv, from the Parquet file(s) of spacings at a path Spark can read."""
    batches = spark.read.parquet(spacings).groupBy(pmod(hash_of(col("specimen_id")), lit(parts)))
    sums = batches.applyInArrow(sums_of(package), spark_schema(SUMS)).toArrow()
    columns = spark_schema(beds_schema(small_tables(package)[0]))
    return batches.applyInArrow(scored_by(package, deviation([sums]).tolist()), columns)


if __name__ == "__main__":
    package_path, export_path, out = sys.argv[1:4]
    session = SparkSession.builder.appName("gapbook").getOrCreate()
    beds_in_spark(session, package_path, f"{export_path}/data/spacings.parquet").write.parquet(out)
