"""An export opens again: it answers as the package does, is read-only, and is valid for frictionless."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess

import pandas
import pyarrow.parquet as pq
import pytest
from frictionless import Package, system

from gapbook import GapbookError, open_catalogue
from gapbook.tables.opening import open_package
from running import gapbook
from small import ROOT, even


@pytest.fixture(scope="module", params=["parquet", "csv"])
def exported(request, catalogue, tmp_path_factory):
    out = tmp_path_factory.mktemp("again") / request.param
    catalogue.export(out, csv=request.param == "csv")
    return out


ASKED = [
    ("ask", "16x19, 98 sq in, tighter than fern-98", "--json"),
    ("show", "fern-98", "--json"),
    ("relate", "openness_centre", "spin_rpm", "--given", "mass_g", "--json"),
    ("sql", "select count(*) as n, sum(openness_centre) as o from playtests_with_beds", "--csv"),
    ("draw", "fern-98", "--out", "OUT"),
]


@pytest.mark.parametrize("called", ASKED, ids=[case[0] for case in ASKED])
@pytest.mark.slow_after(2)
def test_it_answers_as_the_package_does(exported, tmp_path, called):
    found = []
    for number, package in enumerate((ROOT, exported)):
        picture = tmp_path / str(number) / "bed.svg"
        picture.parent.mkdir()
        run = gapbook(*(str(picture) if word == "OUT" else word for word in called), "--package", str(package))
        assert run.returncode == 0, run.stderr
        assert "gapbook:" not in run.stderr
        found.append(picture.read_bytes() if picture.exists() else run.stdout)
    assert found[0] == found[1]


def test_it_is_read_only(exported):
    run = gapbook("derive", "--package", str(exported))
    assert run.returncode == 2
    assert "an export is read-only" in run.stderr


def test_parquet_is_not_checked_as_if_it_were_text(exported):
    run = gapbook("check", str(exported))
    if exported.name == "parquet":
        assert (run.returncode, "Parquet" in run.stderr) == (2, True)
    else:
        assert run.returncode in (0, 1)


def valid(folder):
    system.trusted = True
    report = Package(str(folder / "datapackage.json")).validate()
    return [(task.name, error.type, error.message) for task in report.tasks for error in task.errors]


@pytest.mark.parametrize("as_csv", [False, True])
@pytest.mark.slow
def test_frictionless_finds_a_small_export_valid(tmp_path, as_csv):
    """With whole numbers, decimals and texts missing."""
    from gapbook.tables.derived import derive

    small = even()
    small.add("testers", tester_id="t1", style="mixed", own_frame="none")
    row = {"specimen_id": next(iter(small.tables["specimens"]))["specimen_id"], "tester_id": "t1", "played_on": "2026-05-01"}
    row |= {"string_material": "polyester", "main_tension": 50, "cross_tension": 50, "tension_unit": "lb"}
    small.add("playtests", playtest_id="p1", lift_vs_own=1, launch_angle_deg=11.5, **row)
    small.add("playtests", playtest_id="p2", **row)
    package = open_package(small.write(tmp_path / "package"))
    derive(package)
    out = tmp_path / "out"
    open_catalogue(package.root).export(out, csv=as_csv)
    assert valid(out) == []
    if not as_csv:
        assert str(pandas.read_parquet(out / "data" / "playtests.parquet")["lift_vs_own"].dtype) == "Int64"
        assert pq.read_table(out / "data" / "playtests.parquet")["lift_vs_own"].to_pylist() == [1, None]


@pytest.mark.slow
def test_frictionless_finds_the_whole_export_valid(exported):
    assert valid(exported) == []


def test_limits_of_columns_with_blanks_are_kept_aside(exported):
    resources = {item["name"]: item for item in json.loads((exported / "datapackage.json").read_text())["resources"]}
    fields = {field["name"]: field for field in resources["playtests"]["schema"]["fields"]}
    place = "limits" if exported.name == "parquet" else "constraints"
    assert fields["launch_angle_deg"][place]["maximum"] == 60  # schema/playtests.json
    schema = open_package(exported).schema("playtests").field("launch_angle_deg")
    assert schema.maximum == 60


def test_csv_is_what_was_read(exported):
    if exported.name != "csv":
        pytest.skip("CSV only")
    assert (exported / "data" / "frames.csv").read_bytes() == (ROOT / "catalogue" / "frames.csv").read_bytes()
    rows = list(csv.DictReader((exported / "data" / "playtests_with_beds.csv").open(encoding="utf-8")))
    whole = open_catalogue(ROOT).table("playtests_with_beds")
    assert [row["frame_id"] for row in rows] == whole["frame_id"].to_pylist()


def test_a_table_that_is_no_parquet_is_told(exported, tmp_path):
    if exported.name != "parquet":
        pytest.skip("Parquet only")
    broken = tmp_path / "broken"
    shutil.copytree(exported, broken)
    (broken / "data" / "scores.parquet").write_bytes(b"PAR1 no")
    with pytest.raises(GapbookError) as raised:
        open_catalogue(broken).sql("select * from scores")
    assert raised.value.problems[0].code == "unreadable"
    assert "scores.parquet" in str(raised.value)


@pytest.mark.skipif(shutil.which("Rscript") is None, reason="there is no R")
def test_base_r_reads_the_csv(exported):
    if exported.name != "csv":
        pytest.skip("CSV only")
    code = "s <- read.csv('data/scores.csv'); cat(nrow(subset(s, basis == 'measured' & openness_centre < 105)))"
    run = subprocess.run(["Rscript", "-e", code], capture_output=True, text=True, cwd=exported, check=True)
    expected = "select count(*) as n from scores where basis = 'measured' and openness_centre < 105"
    assert int(run.stdout) == open_catalogue(ROOT).sql(expected)["n"][0].as_py()
