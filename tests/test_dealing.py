"""Derivation within a limit of memory, into a folder of its own, and from raw tables in partitions: the same tables."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys

import pyarrow.parquet as pq
import pytest

from gapbook.errors import GapbookError
from gapbook.tables import dealing
from gapbook.tables.catalogue import read_catalogue
from gapbook.tables.derived import compute
from gapbook.tables.derived_out import derive_into
from gapbook.tables.export import export
from gapbook.tables.opening import open_package
from gapbook.tables.reader import read_table
from running import gapbook
from small import ROOT, even

DERIVED = ("beds", "scores", "handling", "mechanics")
ENOUGH = dealing.BASE + (20 << 20)


@pytest.fixture(scope="module")
def raw(tmp_path_factory):
    """The demo's raw tables in three partitions."""
    out = tmp_path_factory.mktemp("raw") / "raw"
    export(open_package(ROOT), out, raw=True, partitions=3)
    return out


def of_demo(name):
    return (ROOT / "catalogue" / "derived" / f"{name}.csv").read_bytes()


@pytest.mark.parametrize("memory", [None, ENOUGH])
@pytest.mark.parametrize("is_raw", [False, True])
@pytest.mark.slow_after(2)
def test_the_same_to_the_byte(raw, tmp_path, memory, is_raw):
    """From CSV and from partitioned Parquet, which names no derived table; with the limit rows are dealt into files."""
    package = open_package(raw if is_raw else ROOT)
    rows = derive_into(package, tmp_path / "out", form="csv", memory=memory)
    assert tuple(rows) == DERIVED
    assert all((tmp_path / "out" / "data" / f"{name}.csv").read_bytes() == of_demo(name) for name in DERIVED)


def test_the_limit_makes_several_files():
    package = open_package(ROOT)
    files = dealing._files_needed(package, len(read_catalogue(package).specimens.ids), dealing.BASE + (2 << 20))
    assert 4 < files <= dealing.MOST_FILES


def test_raw_tables_need_nothing_derived(raw, tmp_path):
    shutil.copytree(raw, tmp_path / "copy")
    parts = sorted((raw / "data" / "spacings").iterdir())
    assert [path.name for path in parts] == ["part-00000.parquet", "part-00001.parquet", "part-00002.parquet"]
    assert sum(pq.read_metadata(path).num_rows for path in parts) == read_table(open_package(ROOT), "spacings").num_rows
    named = {item["name"] for item in json.loads((raw / "datapackage.json").read_text(encoding="utf-8"))["resources"]}
    assert "spacings" in named
    assert not named & {*DERIVED, "playtests_with_beds"}
    small = even().write(tmp_path / "small")
    assert not list((small / "catalogue" / "derived").iterdir())
    assert export(open_package(small), tmp_path / "out", raw=True)["spacings"] == 33
    assert read_table(open_package(raw), "spacings").to_pylist() == read_table(open_package(ROOT), "spacings").to_pylist()


BROKEN = {
    "nan": ("gap,1,ida,cal,2026-03-01,1,12.5", "gap,1,ida,cal,2026-03-01,1,nan", "type"),
    "negative": ("gap,1,ida,cal,2026-03-01,1,12.5", "gap,1,ida,cal,2026-03-01,1,-3", "limit"),
    "unit": ("12.5,mm", "12.5,g", "unit-dimension"),
    "missing": ("one-a,main,0,gap,7,ida,cal,2026-03-01,1,12.5,mm\n", "", "missing-numbers"),
    "width": ("12.5,mm", "12.5,mm,more", "unreadable"),
}


@pytest.mark.parametrize("fault", BROKEN)
def test_the_limit_refuses_what_is_refused_without(tmp_path, fault):
    """Nothing is left out silently on one machine."""
    before, after, code = BROKEN[fault]
    root = even().write(tmp_path / "package")
    path = root / "catalogue" / "spacings.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(before, after, 1), encoding="utf-8")
    with pytest.raises(GapbookError):
        compute(open_package(root))
    with pytest.raises(GapbookError) as error:
        compute(open_package(root), memory=ENOUGH)
    assert error.value.problems[0].code == code
    assert error.value.problems[0].fix


@pytest.mark.slow_after(3)
@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--memory", "lots"), "no size"),
        (("--engine", "spark"), "--engine spark without --out"),
        (("--memory", "10MB"), "memory is too small"),
        (("--csv",), "--csv without --out"),
        (("--parts", "3"), "without --engine spark"),
        (("--check", "--memory", "1GB"), "--memory with --check"),
    ],
)
def test_options_that_do_not_go(tmp_path, options, told):
    root = even().write(tmp_path / "package")
    run = gapbook("derive", "--package", root, *options)
    assert run.returncode == 2
    assert told in run.stderr
    assert not list((root / "catalogue" / "derived").iterdir())


def test_the_command_writes_the_package_within_memory(tmp_path):
    root = even().write(tmp_path / "package")
    assert gapbook("derive", "--package", root, "--memory", "0.5GB").returncode == 0
    kept = {path.name: path.read_bytes() for path in (root / "catalogue" / "derived").iterdir()}
    assert gapbook("derive", "--package", root).returncode == 0
    assert {path.name: path.read_bytes() for path in (root / "catalogue" / "derived").iterdir()} == kept


@pytest.mark.slow
def test_spark_that_is_not_there_is_told(tmp_path):
    """Without pyspark the command says what to install."""
    (tmp_path / "pyspark").mkdir()
    (tmp_path / "pyspark" / "__init__.py").write_text("raise ImportError('none')\n")
    command = [
        sys.executable,
        "-m",
        "gapbook",
        "derive",
        "--engine",
        "spark",
        "--package",
        str(ROOT),
        "--out",
        str(tmp_path / "o"),
    ]
    paths = os.pathsep.join([str(tmp_path), str(ROOT / "derive")])
    run = subprocess.run(command, capture_output=True, text=True, env={**os.environ, "PYTHONPATH": paths})
    assert run.returncode == 2
    assert "pip install 'gapbook[spark]'" in run.stderr
    assert not (tmp_path / "o").exists()
