"""Spark derives what `gapbook derive` does, cell by cell; it runs here on two cores of this machine."""

from __future__ import annotations

import csv
import importlib.util
import json
import random
import shutil

import pyarrow.csv
import pyarrow.parquet as pq
import pytest

from gapbook.errors import GapbookError
from gapbook.tables import spark
from gapbook.tables.derived import compute
from gapbook.tables.derived_out import Cluster, derive_into
from gapbook.tables.export import export
from gapbook.tables.opening import open_package
from running import started_anew
from small import ROOT

MASTER = "local[2]"
DERIVED = ("beds", "scores", "handling", "mechanics")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(importlib.util.find_spec("pyspark") is None, reason="pyspark is not installed"),
    pytest.mark.skipif(shutil.which("java") is None, reason="Spark needs Java, which is not installed"),
]


@pytest.fixture(scope="module")
def running():
    with spark.session(MASTER) as session:
        yield session


@pytest.fixture
def package(tmp_path):
    """A copy of the demo that has no derived tables."""
    root = tmp_path / "package"
    for name in ("schema", "catalogue"):
        shutil.copytree(ROOT / name, root / name)
    shutil.copy(ROOT / "datapackage.json", root)
    for path in (root / "catalogue" / "derived").glob("*.csv"):
        path.unlink()
    return root


def spacings(root):
    with (root / "catalogue" / "spacings.csv").open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    return header, rows


def write(root, header, rows):
    with (root / "catalogue" / "spacings.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([header, *rows])


def derived(root, out, **how):
    """The tables that Spark writes, by name."""
    derive_into(open_package(root), out, cluster=Cluster(MASTER, **how))
    return {path.stem: pq.read_table(path).replace_schema_metadata(None) for path in (out / "data").glob("*.parquet")}


def is_same(found, root):
    """Whether each derived table is, in every cell, what this machine computes of the package."""
    return {
        name: found[name].to_pylist() == table.to_pylist() for name, table in compute(open_package(root)).items()
    } == dict.fromkeys(DERIVED, True)


def test_the_command_from_partitioned_parquet(package, tmp_path):
    """A process of its own starts Spark, reads partitions, and writes the demo's derived tables to the byte."""
    assert export(open_package(package), tmp_path / "raw", raw=True, partitions=3)["spacings"] > 1000
    assert len(list((tmp_path / "raw" / "data" / "spacings").iterdir())) == 3
    out = tmp_path / "out"
    spark_options = ("--engine", "spark", "--master", MASTER, "--parts", 3)
    run = started_anew("derive", *spark_options, "--package", tmp_path / "raw", "--out", out, "--csv", "--json")
    assert run.returncode == 0, run.stderr
    assert json.loads(run.stdout)["rows"].keys() == {*DERIVED, "rejects"}
    assert json.loads(run.stdout)["rows"]["rejects"] == 0
    for name in DERIVED:
        assert (out / "data" / f"{name}.csv").read_bytes() == (ROOT / "catalogue" / "derived" / f"{name}.csv").read_bytes()


def test_rows_far_apart_and_more_partitions_than_specimens(running, package, tmp_path):
    """Rows in any order; of 150 partitions most have no specimen."""
    header, rows = spacings(package)
    random.Random(1).shuffle(rows)
    write(package, header, rows)
    found = derived(package, tmp_path / "out", parts=150)
    assert found["rejects"].num_rows == 0
    assert is_same(found, package)


def test_one_specimen_with_most_rows(running, package, tmp_path):
    """Skew: a copy read by one person 48 times over."""
    header, rows = spacings(package)
    at = {name: header.index(name) for name in ("specimen_id", "repeat", "contributor_id", "instrument_id", "taken_on")}
    mine = [row for row in rows if row[at["specimen_id"]] == rows[0][at["specimen_id"]]]
    for times in range(1, 48):
        rows += [[*row[: at["repeat"]], str(int(row[at["repeat"]]) + 2 * times), *row[at["repeat"] + 1 :]] for row in mine]
    assert len(mine) * 48 > len(rows) / 3
    write(package, header, rows)
    found = derived(package, tmp_path / "out", parts=4)
    assert found["rejects"].num_rows == 0
    assert is_same(found, package)


def test_what_cannot_be_used_is_rejected_and_the_rest_derived(running, package, tmp_path):
    """The same tables as if the specimens had never been read; each is in rejects with its reason and fix."""
    header, rows = spacings(package)
    value, unit, name = (header.index(column) for column in ("value", "unit", "specimen_id"))
    ids = list(dict.fromkeys(row[name] for row in rows))
    first = {one: next(row for row in rows if row[name] == one) for one in ids}
    sound = [list(row) for row in rows if row[name] not in ids[:6]]
    first[ids[0]][value] = "nan"
    first[ids[1]][value] = "-3"
    first[ids[2]][unit] = "g"
    first[ids[3]].append("one cell more")
    first[ids[4]].pop()
    rows = [row for row in rows if row[name] != ids[5] or row[header.index("no")] != "5"]
    rows.append(["no-such-copy", *rows[-1][1:]])
    write(package, header, rows)
    found = derived(package, tmp_path / "out", parts=3)
    rejects = found["rejects"].to_pylist()
    codes = {one: {row["code"] for row in rejects if row["specimen_id"] == one} for one in [*ids[:6], "no-such-copy"]}
    assert [sorted(codes[one])[0] for one in ids[:3]] == ["type", "limit", "unit-dimension"]
    assert "width" in codes[ids[3]] & codes[ids[4]]
    assert codes[ids[5]] == {"missing-numbers"}
    assert codes["no-such-copy"] == {"reference"}
    assert {row["specimen_id"] for row in rejects} == codes.keys()
    assert all(row["reason"] and row["fix"] for row in rejects)
    write(package, header, sound)
    assert is_same(found, package)


def test_parquet_elsewhere_with_figures_that_cannot_be(running, package, tmp_path):
    """A table of spacings at a path of its own, typed; nan and -3 mm do not pass."""
    header, rows = spacings(package)
    typed = pyarrow.csv.read_csv(package / "catalogue" / "spacings.csv")
    ids = list(dict.fromkeys(row[0] for row in rows))
    place = {one: next(n for n, row in enumerate(rows) if row[0] == one) for one in ids[:2]}
    values = typed["value"].to_pylist()
    values[place[ids[0]]], values[place[ids[1]]] = float("nan"), -3.0
    typed = typed.set_column(typed.column_names.index("value"), "value", [values])
    (tmp_path / "far").mkdir()
    for part in range(3):
        pq.write_table(typed.slice(part * 3000, 3000), tmp_path / "far" / f"{part}.parquet")
    write(package, header, [])
    found = derived(package, tmp_path / "out", parts=3, spacings=str(tmp_path / "far"))
    assert {(row["specimen_id"], row["column"]) for row in found["rejects"].to_pylist()} == {(one, "value") for one in ids[:2]}
    write(package, header, [row for row in rows if row[0] not in ids[:2]])
    assert is_same(found, package)


def test_what_spark_cannot_read_is_told(running, package, tmp_path):
    with pytest.raises(GapbookError) as error:
        derive_into(open_package(package), tmp_path / "out", cluster=Cluster(MASTER, 2, str(tmp_path / "nowhere")))
    assert error.value.problems[0].code == "spark"
    assert not (tmp_path / "out").exists()
