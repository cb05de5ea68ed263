"""Beds from batches of whole specimens are the beds of the whole; and so in Spark, where that is installed."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pytest

from demo_rows import shared_steps
from gapbook import open_catalogue
from gapbook.tables import batches
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.opening import open_package
from gapbook.tables.reader import read_table
from small import ROOT


@pytest.fixture(scope="module")
def demo():
    package = open_package(ROOT)
    return package, read_catalogue(package), read_table(package, "spacings")


def dealt(data, parts):
    """The rows of spacings dealt into batches of whole specimens, text as plain text."""
    plain = pa.schema([(f.name, pa.string() if pa.types.is_dictionary(f.type) else f.type) for f in data.schema])
    data = data.cast(plain)
    names = sorted(set(data["specimen_id"].to_pylist()))
    groups = [pa.array(names[part::parts]) for part in range(parts)]
    return [data.filter(pc.is_in(data["specimen_id"], value_set=group)) for group in groups]


@pytest.mark.parametrize("parts", [1, 3, 11])
def test_batches_give_the_beds_of_the_whole(demo, parts):
    package, catalogue, data = demo
    dealt_out = dealt(data, parts)
    known = batches.pooled(catalogue, [batches.repeat_sums(package, catalogue, batch) for batch in dealt_out])
    found = pa.concat_tables([batches.beds_of(package, catalogue, known, batch) for batch in dealt_out])
    assert found.schema.names == batches.beds_schema(package).names
    same(found, package)


def same(found, package):
    """Rows of beds are those kept in the package, to the last of their six digits, or of the steps of what is shared."""
    kept = read_table(package, "beds")
    kept = kept.cast(batches.beds_schema(package)).sort_by("specimen_id")
    found = found.sort_by("specimen_id")
    assert found["specimen_id"].to_pylist() == kept["specimen_id"].to_pylist()
    assert sum(text is not None for text in kept["shared"].to_pylist()) > kept.num_rows / 2
    for beds in zip(*(table["shared"].to_pylist() for table in (found, kept)), strict=True):
        told, wanted = map(shared_steps, beds)
        assert told.keys() == wanted.keys()
        assert all(told[name] == pytest.approx(steps, abs=1) for name, steps in wanted.items())
    for name in [name for name in kept.column_names[2:] if name != "shared"]:
        numbers = [np.array(table[name].to_pylist(), dtype=float) for table in (found, kept)]
        np.testing.assert_allclose(*numbers, rtol=2e-5, err_msg=name)


def test_repeatability_of_one_batch_alone_is_another(demo):
    """Why there are two passes."""
    package, catalogue, data = demo
    one, *_ = dealt(data, 3)
    alone = batches.pooled(catalogue, [batches.repeat_sums(package, catalogue, one)])
    whole = batches.pooled(catalogue, [batches.repeat_sums(package, catalogue, batch) for batch in dealt(data, 3)])
    assert not np.allclose(alone.repeatability.deviation, whole.repeatability.deviation, rtol=1e-3)
    assert not np.allclose(alone.people.deviation, whole.people.deviation, rtol=1e-3)


def test_spark(tmp_path):
    pytest.importorskip("pyspark", reason="pyspark is not installed")
    if shutil.which("java") is None:
        pytest.skip("Spark needs Java, which is not installed")
    open_catalogue(ROOT).export(tmp_path / "export")
    script = ROOT / "derive" / "examples" / "beds_in_spark.py"
    env = {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT / "derive"), *sys.path]), "PYSPARK_PYTHON": sys.executable}
    arguments = [str(ROOT), str(tmp_path / "export"), str(tmp_path / "beds")]
    subprocess.run([sys.executable, str(script), *arguments], check=True, capture_output=True, env=env)
    same(pq.read_table(tmp_path / "beds"), open_package(ROOT))
